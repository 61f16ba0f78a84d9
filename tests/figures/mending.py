"""Checking, planning and mending of record figures, and what a repair may and may not touch."""

from collections import deque
from dataclasses import fields, replace

import numpy as np
from evenfold.core.check import check_figure
from evenfold.core.figure import Figure, Surface
from evenfold.core.findings import FigureResult
from evenfold.core.repair import Checked, Plan, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.settings import Settings
from oracles.finder import ScipyFinder

from figures.layered import MIRROR

PLAIN = Settings(plane="object")
_LATEST: deque[tuple[Figure, Settings, FigureResult]] = deque(maxlen=8)


def check(figure: Figure, settings: Settings = PLAIN) -> FigureResult:
    """What checking finds; one and the same record of a figure is checked once."""
    for one, asked, result in _LATEST:
        if one is figure and asked == settings:
            return result
    result = check_figure(figure, settings, ScipyFinder)
    _LATEST.append((figure, settings, result))
    return result


def found(figure: Figure, settings: Settings = PLAIN):
    """(object, finding) of everything found."""
    result = check(figure, settings)
    return [(entry, finding) for entry in result.objects for finding in entry.findings]


def codes(figure: Figure, settings: Settings = PLAIN) -> list[tuple[str, str | None]]:
    return sorted((f.code, f.subject or "") for _, f in found(figure, settings))


def plan_for(figure: Figure, code: str, way="left", only=None, settings: Settings = PLAIN, subject=None) -> Plan:
    """The joined plan of all findings of one code; asserts there is one."""
    result = check(figure, settings)
    checked = Checked.of(figure, result, settings, ScipyFinder)
    plans = [
        plan_repair(checked, entry, finding, Wish(way, only or {}))
        for entry in result.objects for finding in entry.findings
        if finding.code == code and subject in (None, finding.subject)
    ]
    assert plans, code
    return Plan(
        tuple(one for plan in plans for one in plan.changes),
        tuple(text for plan in plans for text in plan.left_alone),
        sum(plan.elements for plan in plans), max(plan.largest for plan in plans),
    )


def mended(figure: Figure, code: str, way="left", only=None, settings: Settings = PLAIN, subject=None) -> Figure:
    return applied(figure, plan_for(figure, code, way, only, settings, subject).changes)


def the(figure: Figure, name="Body") -> Surface:
    return next(one for one in figure.surfaces if one.name == name)


def points(figure: Figure, key=None, name="Body") -> np.ndarray:
    """Neutral positions, or a key's places."""
    one = the(figure, name)
    return one.positions if key is None else one.layers.keys.named(key).points


def deltas(figure: Figure, name="Body") -> dict[str, np.ndarray]:
    """Each key's movement against what it is relative to."""
    keys = the(figure, name).layers.keys
    return {
        one.name: one.points.astype(float) - keys.named(one.relative_to).points.astype(float)
        for one in keys.keys
    }


def untouched(before: Figure, after: Figure, name="Body") -> bool:
    """True when everything but places and key points is the very same."""
    one, other = the(before, name), the(after, name)
    same = all(
        getattr(one, f.name) is getattr(other, f.name)
        for f in fields(Surface) if f.name not in ("positions", "layers")
    )
    layers = all(
        getattr(one.layers, f.name) is getattr(other.layers, f.name)
        for f in fields(type(one.layers)) if f.name != "keys"
    )
    keys = zip(one.layers.keys.keys, other.layers.keys.keys, strict=True)
    return same and layers and all(_settings(a) == _settings(b) for a, b in keys)


def _settings(key) -> dict:
    return {f.name: getattr(key, f.name) for f in fields(type(key)) if f.name != "points"}


def pushed(figure: Figure, rows, by, name="Body") -> Figure:
    """The neutral shape of some vertices moved by (k, 3) with all keys along, as editing does it."""
    one = the(figure, name)
    offset = np.zeros(one.positions.shape)
    offset[rows] = by
    keys = one.layers.keys
    moved = tuple(replace(k, points=(k.points + offset).astype(np.float32)) for k in keys.keys)
    changed = replace(
        one, positions=(one.positions + offset).astype(np.float32),
        layers=replace(one.layers, keys=replace(keys, keys=moved)),
    )
    return replace(figure, surfaces=tuple(changed if s.name == name else s for s in figure.surfaces))


def keyed(figure: Figure, name="Body", **changed) -> Figure:
    """Keys with other points (n, 3) or other fields, by name; new ones are ShapeKey records."""
    one = the(figure, name)
    keys = one.layers.keys
    made = []
    for key in keys.keys:
        new = changed.pop(key.name, None)
        if isinstance(new, dict):
            made.append(replace(key, **new))
        else:
            made.append(key if new is None else replace(key, points=new.astype(np.float32)))
    made += changed.values()
    layers = replace(one.layers, keys=replace(keys, keys=tuple(made)))
    changed_one = replace(one, layers=layers)
    return replace(figure, surfaces=tuple(changed_one if s.name == name else s for s in figure.surfaces))


def turned_over(figure: Figure) -> Figure:
    """The figure with left and right exchanged in place, every name kept."""
    return replace(figure, surfaces=tuple(_turned(one) for one in figure.surfaces))


def _turned(one: Surface) -> Surface:
    flip = MIRROR.astype(np.float32)
    keys = one.layers.keys
    moved = tuple(replace(k, points=k.points * flip + 0) for k in keys.keys)
    return replace(
        one, positions=one.positions * flip + 0, layers=replace(one.layers, keys=replace(keys, keys=moved)),
    )


def stood(figure: Figure, matrix, scale=1.0, name="Body") -> Figure:
    """The object under another matrix, its stored places times ``scale``."""
    one = the(figure, name)
    keys = one.layers.keys
    sized = tuple(replace(k, points=(k.points * scale).astype(np.float32)) for k in keys.keys)
    changed = replace(
        one, positions=(one.positions * scale).astype(np.float32), to_world=np.asarray(matrix, float),
        layers=replace(one.layers, keys=replace(keys, keys=sized)),
    )
    return replace(figure, surfaces=tuple(changed if s.name == name else s for s in figure.surfaces))
