"""One figure that is kept current: what is known of it, and the two kinds of turns that renew it.

A quick turn holds the known pairing against the places the vertices have now. A long turn pairs
what was built differently, or measures. Either is given up where its last run took longer than it
may; a turn never changes the artist's file.
"""

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import bpy
import numpy as np

from ...core.errors import EvenfoldError, NothingToCheckError
from ...core.figure import Figure, Surface
from ...core.findings import FigureResult, Proportion
from ...core.live import Kept, Standing, keep, pair_again, stand
from ...core.live_heads import Carried, carried_along, carry
from ...core.proportion import measure
from ...core.settings import Settings
from ...host import bone_map, store
from ...host.allowances import read_allowances
from ...host.fingerprint import Fingerprint, fingerprint
from ...host.named import find, holds, unique_name
from ...host.nearest import KDFinder
from ...host.read import FigureSource, read_figure
from ...host.read.figures import view_layer_of
from ...host.read.live import Glance, glance, surface_now
from .. import state
from ..properties import settings_of

QUICK, LONG = 0.1, 0.4
"""Seconds a quick and a long turn may take, judged by the last of its kind. Our choice."""

OF_LAYERS = {"group", "material"}
"""Kinds of allowances that cover what the figure's layers say."""


@dataclass(frozen=True)
class Heads:
    """The measuring as it stands now, None with the ``reason``; ``about`` where landmarks were carried along."""

    found: Proportion | None
    about: bool = False
    reason: str = ""

    @property
    def value(self) -> float | None:
        return None if self.found is None else self.found.heads_tall


@dataclass
class Session:
    """What is known, by rows of the figure's surfaces; no reference to Blender's data is held.

    ``owed`` names what only a long turn can do: pair, measure, anew. ``took`` are the seconds of
    the last turn of each kind, ``passed`` those that were given up. ``touched`` are the numbers of
    data that may have changed since the last turn, None for anything. ``rig`` marks the armature. ``regrown``
    is True where vertices came or went, which the measured figure does not know of.
    """

    source: FigureSource
    settings: Settings
    uids: tuple[int, ...]
    kept: Kept
    glances: list[Glance]
    now: Standing
    found: Proportion
    heads: Heads
    carried: Carried | None
    first: Mapping[str, int]
    first_heads: float | None
    rig: Fingerprint | None = None
    seen: FigureResult | None = None
    owed: set[str] = field(default_factory=set)
    took: dict[str, float] = field(default_factory=dict)
    passed: dict[str, float] = field(default_factory=dict)
    touched: set[int] | None = field(default_factory=set)
    regrown: bool = False

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that are being edited instead of the neutral shape."""
        return tuple(dict.fromkeys(one.key for one in self.glances if one.key))

    @property
    def editing(self) -> bool:
        return any(one.editing for one in self.glances)


class LostError(EvenfoldError):
    """What was kept current is not there any more."""


@contextmanager
def _timed(took: dict[str, float], kind: str) -> Iterator[None]:
    start = time.perf_counter()
    yield
    took[kind] = time.perf_counter() - start


def begin(scene: bpy.types.Scene, source: FigureSource) -> Session:
    """Read, measure and pair a figure. Raises EvenfoldError where there is nothing to keep current."""
    took: dict[str, float] = {}
    settings = settings_of(scene)
    with _timed(took, "anew"):
        figure = read_figure(source, scene)
        if any(one.kind in OF_LAYERS for one in figure.allowances):
            figure = read_figure(source, scene, layers=True)
        with _timed(took, "measure"):
            found = measure(figure, settings)
        with _timed(took, "pair"):
            kept = keep(figure, settings, found, KDFinder)
        items = _items_named(scene, figure)
        if len(items) != len(figure.surfaces):
            raise NothingToCheckError("Some meshes of this figure cannot be followed: make them part of this scene.")
        glances = [glance(item, view_layer_of(scene)) for item in items]
        with _timed(took, "check"):
            now = stand(kept, [one.positions for one in kept.figure.surfaces])
    results = state.of(scene)
    return Session(
        source, settings, tuple(item.session_uid for item in items), kept, glances, now, found,
        _heads_of(found), carry(figure, found), dict(now.counts), found.heads_tall,
        _rig_mark(source, None), None if results is None else results.check, took=took,
    )


def _heads_of(found: Proportion) -> Heads:
    return Heads(found, False, "" if found.heads_tall is not None else found.refusal or "")


def _items_named(scene: bpy.types.Scene, figure: Figure) -> list[bpy.types.Object]:
    layer = view_layer_of(scene)
    found = [find(layer.objects, one.name) or find(bpy.data.objects, one.name) for one in figure.surfaces]
    return [item for item in found if item is not None]


def _items(session: Session) -> list[bpy.types.Object | None]:
    """The objects by rows, whatever they are called now; None for those that are gone or no mesh now."""
    by_uid = {item.session_uid: item for item in bpy.data.objects if item.type == "MESH"}
    return [by_uid.get(uid) for uid in session.uids]


def quick_turn(scene: bpy.types.Scene, session: Session, *, forced: bool = False) -> None:
    """Hold the known pairing against the places now. Raises LostError where nothing is left of it."""
    if _given_up(session, "check", np.inf if forced else QUICK):
        return
    with _timed(session.took, "check"):
        items = _items(session)
        if not any(item is not None and _in_scene(scene, item) for item in items):
            raise LostError(_lost(session))
        settings = settings_of(scene)
        if settings != session.settings:
            session.settings = settings
            session.owed.add("settings")
        _allowances_again(scene, session)
        names = [one.name for one in session.kept.figure.surfaces]
        if any(item is None or unique_name(item) != name for item, name in zip(items, names, strict=True)):
            session.owed.add("anew")
        if _look(scene, session, items) and None not in items:
            _stand(session)


def _in_scene(scene: bpy.types.Scene, item: bpy.types.Object) -> bool:
    """Whether it is in the scene, or in a collection that an empty shows there."""
    if holds(scene.objects, item) or scene in item.users_scene:
        return True
    shown = (one.instance_collection for one in scene.objects if one.type == "EMPTY")
    return any(one is not None and item in one.all_objects.values() for one in shown)


def _lost(session: Session) -> str:
    """Why nothing is left to follow."""
    for item in bpy.data.objects:
        if item.type != "MESH" and item.session_uid in session.uids:
            return f"{item.name} is no mesh any more: convert it back, or choose another figure."
    return f"{session.source.name} is gone from this scene."


def _given_up(session: Session, kind: str, bound: float) -> bool:
    """Whether a turn of this kind would take too long; then that is kept to be said."""
    last = session.took.get(kind, 0.0)
    if last > bound:
        session.passed[kind] = last
        return True
    session.passed.pop(kind, None)
    return False


def _allowances_again(scene: bpy.types.Scene, session: Session) -> None:
    """A full check was made meanwhile: what is excused may be other than it was."""
    results = state.of(scene)
    check = None if results is None else results.check
    if check is not session.seen:
        session.seen = check
        session.owed.add("allowances")


def _look(scene: bpy.types.Scene, session: Session, items: list[bpy.types.Object | None]) -> bool:
    """Read what may have changed; True where the known pairing still tells all of it."""
    layer, touched = view_layer_of(scene), session.touched
    session.touched = set()
    for row, item in enumerate(items):
        if item is None:
            session.glances[row] = replace(session.glances[row], editing=False, key="")
        elif touched is None or touched & _uids(item):
            before = session.glances[row]
            session.glances[row] = after = glance(item, layer)
            if after.frame != before.frame:
                session.owed.add("anew")
            if not np.array_equal(after.positions, before.positions):
                session.owed.add("measure")
    if _rig_mark(session.source, touched) not in (None, session.rig):
        session.owed.add("anew")
    if not all(map(_same_build, session.kept.figure.surfaces, session.glances)):
        session.owed.add("pair")
        return False
    return True


def _uids(item: bpy.types.Object) -> set[int]:
    keys = item.data.shape_keys
    return {item.session_uid, item.data.session_uid} | ({keys.session_uid} if keys else set())


def _rig_mark(source: FigureSource, touched: set[int] | None) -> Fingerprint | None:
    """What tells a change of the armature, poses apart; None where it was not touched or is gone."""
    rig = find(bpy.data.objects, source.armature_name) if source.armature_name else None
    if rig is None or not (touched is None or touched & {rig.session_uid, rig.data.session_uid}):
        return None
    return fingerprint(rig)


def _same_build(surface: Surface, seen: Glance) -> bool:
    """Whether vertices and edges are those that were paired; faces by their number alone."""
    counts = (len(surface.positions), len(surface.edges), len(surface.face_starts) - 1)
    return counts == seen.counts and (seen.edges is None or np.array_equal(surface.edges, seen.edges))


def _stand(session: Session) -> None:
    session.now = stand(session.kept, [one.positions for one in session.glances])
    if session.now.anew:
        session.owed.add("pair")
    if "measure" in session.owed and session.carried is not None and not session.regrown:
        found = carried_along(session.carried, session.now.figure.surfaces)
        session.heads = Heads(found, True, "" if found is not None else "Crown, chin and sole do not lie above each other.")


def long_turn(scene: bpy.types.Scene, session: Session, *, forced: bool = False) -> Session:
    """Do what is owed, as far as it may take that long; the session that goes on from there."""
    if "anew" in session.owed and not session.editing:
        if forced or not _given_up(session, "anew", LONG):
            return _anew(scene, session)
        return session
    bound = np.inf if forced else LONG
    if "settings" in session.owed and not _given_up(session, "pair", bound):
        _keep_again(session)
    if "allowances" in session.owed:
        _excuse_again(session)
    if "pair" in session.owed and not _given_up(session, "pair", bound):
        _pair(scene, session)
    if "measure" in session.owed and not _given_up(session, "measure", bound):
        _measure(session)
    return session


def _anew(scene: bpy.types.Scene, session: Session) -> Session:
    """Everything read again: after renaming, moving, other modifiers, or vertices that came and went."""
    items = [item for item in _items(session) if item is not None]
    if not items:
        raise LostError(_lost(session))
    names = tuple(unique_name(item) for item in items)
    rig = next((unique_name(item) for item in _rig(session)), None)
    try:
        fresh = begin(scene, replace(session.source, mesh_names=names, armature_name=rig))
    except NothingToCheckError as error:
        raise LostError(str(error)) from error
    fresh.first, fresh.first_heads = session.first, session.first_heads
    return fresh


def _keep_again(session: Session) -> None:
    """Other limits, or another plane: the places are known, only the pairing is not."""
    with _timed(session.took, "pair"):
        figure = session.now.figure
        session.kept = keep(figure, session.settings, session.found, KDFinder)
        session.now = stand(session.kept, [one.positions for one in figure.surfaces])
    session.owed.discard("settings")
    session.owed.add("measure")


def _excuse_again(session: Session) -> None:
    session.owed.discard("allowances")
    items = [item for item in _items(session) if item is not None]
    said = read_allowances((*items, *_rig(session)))
    if any(one.kind in OF_LAYERS for one in said):
        session.owed.add("anew")
        return
    session.kept = replace(session.kept, allowances=pair_again(session.kept, {}, said, KDFinder).allowances)
    if all(map(_same_build, session.kept.figure.surfaces, session.glances)):
        _stand(session)


def _rig(session: Session) -> list[bpy.types.Object]:
    name = session.source.armature_name
    rig = find(bpy.data.objects, name) if name else None
    return [] if rig is None else [rig]


def _pair(scene: bpy.types.Scene, session: Session) -> None:
    """Pair anew what was built differently, or where a vertex without a partner moved."""
    with _timed(session.took, "pair"):
        items, layer = _items(session), view_layer_of(scene)
        changed = {}
        for row, (item, old) in enumerate(zip(items, session.kept.figure.surfaces, strict=True)):
            built = _same_build(old, session.glances[row])
            if item is not None and (not built or old.name in session.now.anew):
                changed[row] = surface_now(item, layer, old)
                session.regrown = session.regrown or not built
        for row, item in enumerate(items):
            if row in changed and item is not None:
                session.glances[row] = glance(item, layer)
        said = session.kept.allowances
        if session.regrown:
            said = read_allowances([*(item for item in items if item is not None), *_rig(session)])
        session.kept = pair_again(session.kept, changed, said, KDFinder)
        session.owed.discard("pair")
        _stand(session)
        session.owed.discard("pair")
    if session.regrown:
        session.owed.add("anew")


def _measure(session: Session) -> None:
    """Measure what stands there; where modifiers shape it only reading it anew tells."""
    figure = session.now.figure
    if session.regrown or any(part.how != "stored" for part in figure.parts):
        session.owed.discard("measure")
        session.owed.add("anew")
        return
    with _timed(session.took, "measure"):
        parts = tuple(
            replace(part, points=surface.world)
            for part, surface in zip(figure.parts, figure.surfaces, strict=True)
        )
        items = [item for item in _items(session) if item is not None]
        rig = _rig(session)
        figure = store.with_notes(replace(figure, parts=parts), [*rig, *items])
        if rig:
            figure = bone_map.with_bones(figure, rig[0])
        session.found = found = measure(figure, session.settings)
        session.heads, session.carried = _heads_of(found), carry(figure, found)
    session.owed.discard("measure")
