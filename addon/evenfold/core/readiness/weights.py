"""Weights an engine can take: four influences, sums of one, no vertex left behind."""

import numpy as np

from ..figure import Surface
from ..findings import Place, Readiness
from ..influences import INFLUENCES

SUM_LIMIT = 0.01
"""How far a vertex's deforming weights may sum off 1. Our choice; exporters scale them to 1."""


def weights_readiness(surface: Surface) -> list[Readiness]:
    """The records on one object; none without an armature, or where no vertex follows a bone."""
    layers = surface.layers
    if layers is None or not layers.deform_groups:
        return []
    weights = layers.weights
    deforms = np.array([name in layers.deform_groups for name in weights.names], bool)
    kept = deforms[weights.group] & (weights.weight > 0.0)
    count = np.bincount(weights.vertex[kept], minlength=len(surface.positions))
    total = np.bincount(weights.vertex[kept], weights.weight[kept], minlength=len(count))
    if not count.any():
        return []
    many = np.flatnonzero(count > INFLUENCES)
    loose = np.flatnonzero(count == 0)
    uneven = np.flatnonzero((np.abs(total - 1.0) > SUM_LIMIT) & (count > 0))
    told = (
        ("ready-influences", "warning", many, f"follow more than {INFLUENCES} bones: engines drop the weakest. Limit the influences to {INFLUENCES}.", f"follows more than {INFLUENCES} bones: engines drop the weakest. Limit the influences to {INFLUENCES}."),
        ("ready-unweighted", "warning", loose, "follow no bone: they stay behind when the figure moves. Give them weights.", "follows no bone: it stays behind when the figure moves. Give it weights."),
        ("ready-weights-sum", "note", uneven, "have weights that do not sum to 1: exporters scale them. Normalise them.", "has weights that do not sum to 1: exporters scale them. Normalise them."),
    )
    return [
        Readiness(
            code, level,
            f"1 vertex of {surface.name} {one}" if len(rows) == 1 else f"{len(rows):,} vertices of {surface.name} {words}",
            surface.name, (Place(surface.name, "vertex", (), rows),),
        )
        for code, level, rows, words, one in told
        if len(rows)
    ]
