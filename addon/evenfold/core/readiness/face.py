"""The face-tracking set over a whole figure: how much of it is there, spelt right, and moving."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from ..face_shapes import SHAPES, Coverage, coverage, key_pairs, shape_of
from ..figure import Surface
from ..findings import Place, Readiness
from ..layers import ShapeKey, ShapeKeys
from ..symmetry.paired_rows import shown
from .far_keys import far_readiness

STILL = 1e-6
"""A key that moves nothing further than this share of the object's size is dead. Our choice."""


Places = Mapping[str, tuple[Place, ...]]
"""By key, the objects that have it."""


def face_readiness(surfaces: Sequence[Surface]) -> list[Readiness]:
    """The records on all keys of one figure's objects.

    The face-tracking set is spoken of only where a good part of it is there; a shape may stand
    on any of the objects, and is dead only if it moves nothing on all of them.
    """
    reach: dict[str, float] = {}
    owners: dict[str, list[str]] = {}
    for surface in surfaces:
        for key, far in _reaches(surface):
            reach[key.name] = max(reach.get(key.name, 0.0), far)
            owners.setdefault(key.name, []).append(surface.name)
    at = {name: tuple(Place(owner, "key", (name,)) for owner in whose) for name, whose in owners.items()}
    found = coverage(reach)
    told = [one for surface in surfaces for one in _broken(surface)]
    told += _dead(reach, found, _mirrored(surfaces), at)
    told += [one for surface in surfaces for check in (_ranges, _relative) for one in check(surface)]
    if found is not None:
        told += far_readiness(surfaces)
    return told if found is None else [*_covered(found), *_misspelt(found, at), *told]


def _reaches(surface: Surface) -> Iterator[tuple[ShapeKey, float]]:
    """Each key but the neutral one, with its largest movement as a share of the object's size."""
    keys = surface.layers.keys if surface.layers is not None else None
    if keys is None or not len(surface.positions):
        return
    sound = surface.positions[np.isfinite(surface.positions).all(axis=1)]
    size = float(np.ptp(sound, axis=0).max()) if len(sound) else 0.0
    size = size or 1.0
    points = {key.name: key.points for key in keys.keys}
    neutral = points.get(keys.reference, surface.positions)
    for key in keys.keys:
        if key.name != keys.reference:
            base = points.get(key.relative_to, neutral) if keys.relative else neutral
            away = np.abs(np.subtract(key.points, base, dtype=np.float32))
            yield key, float(away[np.isfinite(away)].max(initial=0.0)) / size


def _broken(surface: Surface) -> Iterator[Readiness]:
    """Keys with places that are no numbers, where the object's own places are."""
    keys = surface.layers.keys if surface.layers is not None else None
    if keys is None:
        return
    good = np.isfinite(surface.positions).all(axis=1)
    for key in keys.keys:
        rows = np.flatnonzero(good & ~np.isfinite(key.points).all(axis=1))
        if len(rows):
            first = ", ".join(str(row) for row in rows[:5]) + (" …" if len(rows) > 5 else "")
            yield Readiness(
                "ready-key-broken", "error",
                f"{key.name} of {surface.name} has {len(rows):,} places that are no numbers (vertices "
                f"{first}): clear them or sculpt the key anew.", key.name,
                (Place(surface.name, "key", (key.name,), rows),),
            )


def _mirrored(surfaces: Sequence[Surface]) -> set[str]:
    """Left and right keys of half a model: the half that is there leaves one of the two still."""
    found: set[str] = set()
    for surface in surfaces:
        if surface.mirrors and surface.layers is not None and surface.layers.keys is not None:
            found |= set(key_pairs(key.name for key in surface.layers.keys.keys).partner)
    return found


def _covered(found: Coverage) -> Iterator[Readiness]:
    there, all_of_them = len(found.present), len(SHAPES)
    if there == all_of_them:
        yield Readiness("ready-face-shapes", "note", f"All {all_of_them} face-tracking shapes are there.")
        return
    words = f"{there} of the {all_of_them} face-tracking shapes are there."
    if found.missing:
        words += f" Missing: {', '.join(found.missing)}."
    yield Readiness("ready-face-shapes", "warning", words)


def _misspelt(found: Coverage, at: Places) -> Iterator[Readiness]:
    for name, wanted in found.misspelt:
        words = f"{name} is not spelt as face tracking asks: call it {wanted}."
        yield Readiness("ready-face-spelling", "warning", words, name, at.get(name, ()))


def _dead(
    reach: dict[str, float], found: Coverage | None, mirrored: set[str], at: Places
) -> Iterator[Readiness]:
    for name, far in reach.items():
        if far <= STILL and name not in mirrored:
            tracked = found is not None and shape_of(name) is not None
            level = "warning" if tracked else "note"
            yield Readiness("ready-key-dead", level, f"{name} moves nothing: sculpt it or remove it.", name, at.get(name, ()))


def _ranges(surface: Surface) -> Iterator[Readiness]:
    """Pairs of keys whose values run over unlike ranges."""
    keys: ShapeKeys | None = surface.layers.keys if surface.layers is not None else None
    if keys is None:
        return
    named = {key.name: key for key in keys.keys}
    paired = key_pairs(named)
    for left, right in zip(paired.left, paired.right, strict=True):
        one, other = named[left], named[right]
        if (one.low, one.high) != (other.low, other.high):
            yield Readiness(
                "ready-key-range", "warning",
                f"{left} runs from {one.low:g} to {one.high:g}, {right} from {other.low:g} to "
                f"{other.high:g}: give both the same range.", f"{left} / {right}",
                (Place(surface.name, "key", (left,)),),
            )


def _relative(surface: Surface) -> Iterator[Readiness]:
    """Keys made relative to another one than the neutral shape, where that moves anything."""
    keys: ShapeKeys | None = surface.layers.keys if surface.layers is not None else None
    if keys is None or not keys.relative:
        return
    points = {key.name: key.points for key in keys.keys}
    neutral = points.get(keys.reference, surface.positions)
    own = {name for name, places in points.items() if np.array_equal(places, neutral, equal_nan=True)}
    names = [
        key.name for key in keys.keys
        if key.relative_to in points and key.relative_to not in own and key.relative_to != key.name
    ]
    if names:
        name = keys.reference
        yield Readiness(
            "ready-key-relative", "warning",
            f"Keys of {surface.name} that build on another key than {name}: {shown(names)}. Engines measure "
            f"every key from the neutral shape: make them relative to {name} and look at them again.",
            surface.name, (Place(surface.name, "key", tuple(names)),),
        )
