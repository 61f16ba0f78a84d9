"""One room for each layer that is compared across the mirror plane."""

from . import bones, masks, materials, normals, physics, shape_keys, topology, uv, weights
from .matched import Limits, Matched
from .surface import Compared, check_surfaces

SURFACE_LAYERS = {
    "topology": topology,
    "normals": normals,
    "uv": uv,
    "materials": materials,
    "weights": weights,
    "shape_keys": shape_keys,
    "masks": masks,
}
"""The layers of mesh objects, in the order they are reported after the surface itself."""

ARMATURE_LAYERS = {"bones": bones, "physics": physics}
"""The layers of an armature, in the order they are reported."""

LAYERS = ("surface", *SURFACE_LAYERS, *ARMATURE_LAYERS)

__all__ = [
    "ARMATURE_LAYERS",
    "LAYERS",
    "SURFACE_LAYERS",
    "Compared",
    "Limits",
    "Matched",
    "check_surfaces",
]
