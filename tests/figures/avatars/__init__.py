"""Many parametric figures, all invented, whose landmarks follow from how they are built.

``build_figure(seed, kind)`` gives a figure with its truth; kind is "rigged" or "shape". They face
-Y before they are turned. The recipes aim at what makers of small avatars bring: large heads
without a neck, hair and ears with and without names, blended weights, odd scales and stances.
Nothing in them is tuned to what the measuring finds today.
"""

from .build import Built, build_figure, from_recipe
from .recipe import Recipe, draw

__all__ = ["Built", "Recipe", "build_figure", "draw", "from_recipe"]
