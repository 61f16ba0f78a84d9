"""One room for each layer that is compared across the mirror plane."""

from .surface import check_surfaces

LAYERS = {"surface": check_surfaces}
