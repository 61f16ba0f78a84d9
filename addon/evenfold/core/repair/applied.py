"""What changes make of the records: the one place that knows how keys are carried along."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..errors import EvenfoldError
from ..figure import Figure, IntArray, Surface
from ..layers import Float32Array, ShapeKey, ShapeKeys
from .applied_layers import with_layer_change
from .changes import Change, KeyMade, KeyMoved, Moved

_ON_KEYS = (Moved, KeyMoved, KeyMade)


def applied(figure: Figure, changes: Iterable[Change]) -> Figure:
    """The figure after the changes, in their order."""
    for one in changes:
        if isinstance(one, _ON_KEYS):
            surfaces = {surface.name: surface for surface in figure.surfaces}
            surfaces[one.owner] = _on_surface(surfaces[one.owner], one)
            figure = replace(figure, surfaces=tuple(surfaces.values()))
        else:
            figure = with_layer_change(figure, one)
    return figure


def _on_surface(surface: Surface, change: Moved | KeyMoved | KeyMade) -> Surface:
    keys = surface.layers.keys if surface.layers is not None else None
    positions = np.asarray(surface.positions, np.float32)
    positions, keys = with_change(positions, keys, change)
    layers = surface.layers if surface.layers is None else replace(surface.layers, keys=keys)
    return replace(surface, positions=positions, layers=layers)


def with_change(
    positions: Float32Array, keys: ShapeKeys | None, change: Moved | KeyMoved | KeyMade
) -> tuple[Float32Array, ShapeKeys | None]:
    """Neutral positions (n, 3) and keys after one change; what it does not touch stays the same object.

    Raises EvenfoldError when the change names a key that is not there, or one that is there already.
    """
    if isinstance(change, Moved):
        moved = positions.copy()
        moved[change.vertices] = change.places
        if keys is None:
            return moved, None
        return moved, _moved(keys, keys.reference, change.vertices, change.places)
    if keys is None:
        raise EvenfoldError(f"{change.owner} has no shape keys any more: check again.")
    if isinstance(change, KeyMade):
        return positions, _with_new(keys, change)
    if keys.named(change.key) is None:
        raise EvenfoldError(f"{change.owner} has no key {change.key} any more: check again.")
    return positions, _moved(keys, change.key, change.vertices, change.places)


def _with_new(keys: ShapeKeys, change: KeyMade) -> ShapeKeys:
    like = keys.named(change.like)
    if like is None or keys.named(change.relative_to) is None:
        raise EvenfoldError(f"{change.owner} has no key {change.like} any more: check again.")
    if keys.named(change.key) is not None:
        raise EvenfoldError(f"{change.owner} has a key {change.key} already: check again.")
    made = ShapeKey(
        change.key, change.points.astype(np.float32), change.relative_to, 0.0, like.low, like.high,
        like.muted, change.mask_group,
    )
    return replace(keys, keys=(*keys.keys, made))


def dependents(keys: ShapeKeys, name: str) -> frozenset[str]:
    """The keys that build on this one, directly or through a chain; without itself."""
    if not keys.relative:
        every = frozenset(key.name for key in keys.keys)
        return every - {name} if name == keys.reference else frozenset()
    children: dict[str, list[str]] = {}
    known = {key.name for key in keys.keys}
    for key in keys.keys:
        base = key.relative_to if key.relative_to in known else keys.reference
        if base != key.name:
            children.setdefault(base, []).append(key.name)
    found: set[str] = set()
    todo = list(children.get(name, ()))
    while todo:
        one = todo.pop()
        if one not in found and one != name:
            found.add(one)
            todo += children.get(one, ())
    return frozenset(found)


def _moved(keys: ShapeKeys, name: str, rows: IntArray, places: NDArray[np.floating]) -> ShapeKeys:
    """One key's vertices at their new places, and what builds on it moved by the same offset."""
    root = keys.named(name)
    if root is None:
        return keys
    new = places.astype(np.float32)
    offset = new.astype(np.float64) - root.points[rows].astype(np.float64)
    along = dependents(keys, name)
    made = []
    for key in keys.keys:
        if key.name == name:
            made.append(replace(key, points=_with_rows(key.points, rows, new)))
        elif key.name in along:
            carried = (key.points[rows].astype(np.float64) + offset).astype(np.float32)
            made.append(replace(key, points=_with_rows(key.points, rows, carried)))
        else:
            made.append(key)
    return replace(keys, keys=tuple(made))


def _with_rows(points: Float32Array, rows: IntArray, places: Float32Array) -> Float32Array:
    changed = points.copy()
    changed[rows] = places
    return changed
