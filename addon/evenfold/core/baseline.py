"""What a base came with: telling inherited differences from new ones."""

import zlib
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .figure import FloatArray, IntArray, Surface
from .findings import Finding, ObjectResult, Readiness

GROWN = 1.1
"""An inherited difference that has grown by more than a tenth counts as new. Our choice."""


@dataclass(frozen=True)
class Shape:
    """What an object was made of: counts, a checksum of its faces' vertex numbers, its keys."""

    vertices: int
    edges: int
    faces: int
    order: int
    keys: tuple[str, ...] = ()


@dataclass(frozen=True)
class Inherited:
    """One finding of the base. ``places`` (k, 3) are its vertices' local places, for kinds that
    have them; ``names`` stand for elements of named kinds."""

    code: str
    subject: str | None
    kind: str
    elements: IntArray
    sizes: FloatArray
    places: FloatArray
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Baseline:
    """An object as it was when the baseline was taken."""

    shape: Shape | None
    findings: tuple[Inherited, ...]


def shape_of(surface: Surface) -> Shape:
    """The object's counts and the checksum that changes with the order of its vertices."""
    order = zlib.crc32(
        np.ascontiguousarray(surface.corners).tobytes(),
        zlib.crc32(np.ascontiguousarray(surface.face_starts).tobytes()),
    )
    order = zlib.crc32(np.ascontiguousarray(surface.edges).tobytes(), order)
    keys = surface.layers.keys if surface.layers is not None else None
    names = tuple(key.name for key in keys.keys) if keys is not None else ()
    return Shape(
        len(surface.positions), len(surface.edges), len(surface.face_starts) - 1, order, names
    )


def take(result: ObjectResult, surface: Surface | None) -> Baseline:
    """The baseline of an object from its result, before anything was excused."""
    return Baseline(
        None if surface is None else shape_of(surface),
        tuple(_inherited(finding, surface) for finding in result.findings),
    )


def _inherited(finding: Finding, surface: Surface | None) -> Inherited:
    places = np.zeros((0, 3))
    if surface is not None and finding.kind == "vertex":
        places = np.asarray(surface.positions, float)[finding.elements]
    return Inherited(
        finding.code, finding.subject, finding.kind, finding.elements, finding.sizes, places,
        finding.names,
    )


def compare(
    result: ObjectResult, surface: Surface | None, baseline: Baseline, tolerance: float
) -> ObjectResult:
    """The result with every finding told apart: inherited elements (new False) and new ones.

    ``tolerance`` is a length in the object's own units within which a renumbered vertex is
    known again by its place.
    """
    renumbered = _renumbered(surface, baseline)
    found: list[Finding] = []
    for finding in result.findings:
        known = _known(finding, baseline, surface if renumbered else None, tolerance)
        if known is None:
            found.append(finding)
            continue
        for wanted, new in ((~known, True), (known, False)):
            if wanted.any():
                found.append(_part(finding, wanted, new))
    return replace(result, findings=tuple(found))


def _renumbered(surface: Surface | None, baseline: Baseline) -> bool:
    if surface is None or baseline.shape is None:
        return False
    now = shape_of(surface)
    return replace(now, keys=()) != replace(baseline.shape, keys=())


def _known(
    finding: Finding, baseline: Baseline, moved: Surface | None, tolerance: float
) -> NDArray[np.bool_] | None:
    """(count,) which elements the baseline holds; None where that cannot be told any more."""
    known = np.zeros(finding.count, bool)
    for old in baseline.findings:
        if (old.code, old.subject, old.kind) != (finding.code, finding.subject, finding.kind):
            continue
        if finding.names:
            known |= np.array([name in old.names for name in finding.names], bool)
        elif moved is None:
            known |= _same_numbers(finding, old)
        elif finding.kind == "vertex":
            known |= _same_places(finding, old, moved, tolerance)
        else:
            return None
    return known


def _same_numbers(finding: Finding, old: Inherited) -> NDArray[np.bool_]:
    order = np.argsort(old.elements)
    numbers = old.elements[order]
    at = np.searchsorted(numbers, finding.elements).clip(0, max(len(numbers) - 1, 0))
    if not len(numbers):
        return np.zeros(finding.count, bool)
    same = numbers[at] == finding.elements
    return same & _not_grown(finding.sizes, old.sizes[order][at])


def _same_places(
    finding: Finding, old: Inherited, surface: Surface, tolerance: float
) -> NDArray[np.bool_]:
    """By cells of the tolerance's size and their neighbours, whole-array."""
    if not len(old.places):
        return np.zeros(finding.count, bool)
    places = np.asarray(surface.positions, float)[finding.elements]
    cell = max(4.0 * tolerance, 1e-12)
    steps = np.stack(np.meshgrid(*[[-0.5, 0.5]] * 3), axis=-1).reshape(-1, 3)
    wanted = np.floor(old.places / cell).astype(np.int64)
    found = np.zeros(finding.count, bool)
    for step in steps:
        rows = np.floor(places / cell + step).astype(np.int64)
        both, number = np.unique(np.concatenate([wanted, rows]), axis=0, return_inverse=True)
        held = np.zeros(len(both), bool)
        number = number.reshape(-1)
        held[number[: len(wanted)]] = True
        found |= held[number[len(wanted) :]]
    return found


def _not_grown(now: FloatArray, before: FloatArray) -> NDArray[np.bool_]:
    unsized = ~np.isfinite(now) | ~np.isfinite(before)
    return unsized | (now <= GROWN * before + 1e-12)


def _part(finding: Finding, wanted: NDArray[np.bool_], new: bool) -> Finding:
    rows = np.flatnonzero(wanted)
    if finding.names:
        partners = finding.partner_names
        return replace(
            finding, new=new, elements=np.arange(len(rows)), partners=finding.partners[rows],
            sizes=finding.sizes[rows], names=tuple(finding.names[row] for row in rows),
            partner_names=tuple(partners[row] for row in rows) if partners else (),
        )
    return replace(
        finding, new=new, elements=finding.elements[rows], partners=finding.partners[rows],
        sizes=finding.sizes[rows],
    )


def changes_since(name: str, surface: Surface, baseline: Baseline) -> Iterable[Readiness]:
    """What happened to the object's make-up since the baseline, in sentences."""
    old = baseline.shape
    if old is None:
        return
    now = shape_of(surface)
    if now.vertices != old.vertices:
        yield Readiness(
            "ready-baseline-count", "warning",
            f"{name} has {now.vertices:,} vertices, its baseline {old.vertices:,}: keys and bindings "
            "made for the old ones no longer fit.", name,
        )
    elif now.order != old.order:
        yield Readiness(
            "ready-baseline-order", "warning",
            f"{name} has as many vertices as its baseline, but their order or their faces changed: "
            "keys and bindings made for the old order no longer fit.", name,
        )
    gone = [key for key in old.keys if key not in now.keys]
    if gone:
        yield Readiness(
            "ready-baseline-keys", "warning",
            f"{name} has lost {len(gone)} shape keys since its baseline: {', '.join(gone[:5])}.", name,
        )
