"""Heads tall: landmarks of a figure, the count and an honest range."""

from .heads import measure

__all__ = ["measure"]
