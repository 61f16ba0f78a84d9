"""One room for each layer that is compared across the mirror plane."""

from dataclasses import replace

from ..figure import Figure
from ..findings import MirrorPlane
from ..settings import Settings
from . import bones, masks, materials, normals, physics, shape_keys, topology, uv, weights
from .bones import unnamed_pairs
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


def limits_of(figure: Figure, tolerance: float, plane: MirrorPlane, settings: Settings) -> Limits:
    """What every layer of one figure is checked with; ``tolerance`` in scene units."""
    limits = Limits(tolerance, figure.metres_per_unit, plane, settings)
    return replace(limits, unnamed=unnamed_pairs(figure.armature, limits))


__all__ = [
    "ARMATURE_LAYERS",
    "LAYERS",
    "SURFACE_LAYERS",
    "Compared",
    "Limits",
    "Matched",
    "check_surfaces",
    "limits_of",
]
