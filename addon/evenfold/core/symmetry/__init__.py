"""One room for each layer that is compared across the mirror plane."""

from .surface import check_surfaces

__all__ = ["check_surfaces"]
