"""Live Mirror modifiers: settings that spoil the finished model, apart from single vertices."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..figure import MirrorModifier, Surface
from ..findings import MirrorPlane, ObjectResult, Place, Readiness
from ..sides import pairs
from .half_model import Half, distances, fits, one_sided

DOUBLED = 0.5
"""From this share of vertices with a partner a stored mesh counts as whole already. Our choice."""

KEPT = 0.1
"""A bisecting modifier that keeps at most this share of a half cuts the wrong side away. Our choice."""

BEFORE = {
    "ARMATURE": "the mirrored half repeats the pose of the stored one instead of its own",
    "SUBSURF": "the two halves are smoothed apart and a crease stays down the middle",
    "MULTIRES": "the two halves are smoothed apart and a crease stays down the middle",
    "SOLIDIFY": "its rim closes the open middle and stays inside as a wall",
}
"""What goes wrong when a modifier of this kind stands above the Mirror modifier."""


@dataclass(frozen=True)
class Mirrored:
    """An object with live Mirror modifiers; ``half`` where one of them completes it."""

    surface: Surface
    result: ObjectResult
    half: Half | None
    plane: MirrorPlane
    tolerance: float

    @property
    def fitting(self) -> tuple[MirrorModifier, ...]:
        """The modifiers that mirror about the figure's plane, or about the half's own."""
        own = self.plane if self.half is None or self.half.stray is not None else MirrorPlane(
            self.half.modifier.plane_point, self.half.modifier.plane_normal, "given"
        )
        return tuple(one for one in self.surface.mirrors if fits(one, own, self.tolerance))


def mirror_readiness(mirrored: Mirrored) -> list[Readiness]:
    """The records on one object; none without a Mirror modifier about the figure's middle."""
    if not mirrored.fitting:
        return []
    return [*_twice(mirrored), *_bisect(mirrored), *_open(mirrored), *_order(mirrored), *_groups(mirrored)]


def _told(mirrored: Mirrored, code: str, level: str, words: str) -> Readiness:
    name = mirrored.surface.name
    return Readiness(f"ready-mirror-{code}", level, f"{name}: {words}", name, (Place(name),))


def _twice(mirrored: Mirrored) -> Iterator[Readiness]:
    result, fitting = mirrored.result, mirrored.fitting
    names = list(dict.fromkeys(one.name for one in fitting))
    if len(names) > 1 and not any(one.bisect for one in fitting[1:]):
        yield _told(
            mirrored, "twice", "warning",
            f"{' and '.join(names)} mirror about the same plane, so every face is there twice. Keep one.",
        )
        return
    partnered = 2 * result.pairs + result.centre
    whole = mirrored.half is None and result.pairs and partnered >= DOUBLED * result.vertices
    if whole and not any(one.bisect for one in fitting):
        yield _told(
            mirrored, "twice", "warning",
            f"both halves are stored already and {names[0]} adds them once more: remove the modifier.",
        )


def _bisect(mirrored: Mirrored) -> Iterator[Readiness]:
    cutting = next((one for one in mirrored.fitting if one.bisect), None)
    if cutting is None:
        return
    away = distances(mirrored.surface, cutting.plane_point, cutting.plane_normal) * cutting.bisect
    clear = away[np.abs(away) > mirrored.tolerance]
    if not len(clear):
        return
    kept = float((clear > 0.0).mean())
    if kept <= KEPT:
        yield _told(
            mirrored, "bisect", "error",
            f"{cutting.name} cuts the stored half away and keeps the empty side: "
            "turn Flip in its Bisect settings over, or switch Bisect off.",
        )
    elif not one_sided(clear, mirrored.tolerance):
        side = "+" if _keeps_positive(mirrored, cutting) else "-"
        yield _told(
            mirrored, "bisect", "note",
            f"both halves are stored, and {cutting.name} shows only the one towards "
            f"{side}{'XYZ'[cutting.axis]} with its mirror image: work on that one.",
        )


def _keeps_positive(mirrored: Mirrored, one: MirrorModifier) -> bool:
    """True where the side of the object's own positive axis is kept."""
    axis = mirrored.surface.to_world[:3, one.axis]
    return float(axis @ one.plane_normal) * one.bisect > 0.0


def _open(mirrored: Mirrored) -> Iterator[Readiness]:
    half = mirrored.half
    if half is not None and half.modifier.merge_limit is None and bool(half.meant.any()):
        yield _told(
            mirrored, "open", "warning",
            f"{half.modifier.name} does not merge, so the two halves stay apart down the middle: "
            "switch Merge on.",
        )


def _order(mirrored: Mirrored) -> Iterator[Readiness]:
    for name, kind in mirrored.fitting[0].before:
        if kind in BEFORE:
            yield _told(
                mirrored, "order", "warning",
                f"{name} stands above {mirrored.fitting[0].name}: {BEFORE[kind]}. "
                f"Move {mirrored.fitting[0].name} above it.",
            )


def _groups(mirrored: Mirrored) -> Iterator[Readiness]:
    layers = mirrored.surface.layers
    if mirrored.half is None or layers is None or mirrored.half.modifier.groups:
        return
    paired = pairs(layers.weights.names)
    held = {layers.weights.names[group] for group in np.unique(layers.weights.group)}
    if held & (set(paired.partner) | set(paired.singles)):
        yield _told(
            mirrored, "groups", "warning",
            f"{mirrored.half.modifier.name} does not mirror vertex groups, so both halves follow "
            "the same side's bones: switch Vertex Groups on in its data settings.",
        )
