"""When a figure that is kept current is looked at again: once the artist's hands rest.

Handlers and the timer are there only while something is kept current. They are not persistent:
the host drops them when another file has been loaded, and leaves them where that has failed.
"""

import time
from typing import Any

import bpy

from ...core.errors import EvenfoldError
from ...host.read import FigureSource
from .. import state
from ..overlay import manager
from .session import Session, begin, long_turn, quick_turn

LONG_REST = 1.5
"""Seconds without a change after which what takes longer is done. Our choice."""

HELD = ("TRANSFORM_OT_", "MESH_OT_", "SCULPT_OT_", "VIEW3D_OT_")
"""Operators during which the artist holds something, by how their names begin."""

timers = bpy.app.timers
in_background = manager.in_background

_sessions: dict[int, Session] = {}
_ended: dict[int, str] = {}
_changed: dict[int, float] = {}
"""When each scene was changed last."""
_due: dict[int, float] = {}


def session_of(scene: bpy.types.Scene) -> Session | None:
    """What is kept current in a scene, None where the switch is off."""
    return _sessions.get(scene.session_uid)


def ended(scene: bpy.types.Scene) -> str:
    """Why it was switched off, where it was not the artist who did."""
    return _ended.get(scene.session_uid, "")


def switch_on(scene: bpy.types.Scene, source: FigureSource) -> Session:
    """Keep a figure current from now on. Raises EvenfoldError where that cannot be read."""
    session = begin(scene, source)
    resume(scene, session)
    return session


def resume(scene: bpy.types.Scene, session: Session) -> None:
    """Go on with what was kept current before."""
    _sessions[scene.session_uid] = session
    _ended.pop(scene.session_uid, None)
    for handlers, handler in _HANDLERS:
        if handler not in handlers:
            handlers.append(handler)
    manager.redraw()


def switch_off(scene: bpy.types.Scene, why: str = "") -> None:
    """Let go of what is kept current in a scene, and of every handler when it was the last."""
    for table in (_sessions, _due, _changed):
        table.pop(scene.session_uid, None)
    if why:
        _ended[scene.session_uid] = why
    if not _sessions:
        _let_go()
    manager.redraw()


def stop() -> None:
    """Let go of everything."""
    _sessions.clear()
    _ended.clear()
    _let_go()


def forget() -> None:
    """After another file was loaded: the host has dropped our handlers itself."""
    for table in (_sessions, _due, _changed, _ended):
        table.clear()


def _let_go() -> None:
    _due.clear()
    _changed.clear()
    if timers.is_registered(_turn_due):
        timers.unregister(_turn_due)
    for handlers, handler in _HANDLERS:
        if handler in handlers:
            handlers.remove(handler)


def look_again(scene: bpy.types.Scene, everything: bool = True) -> None:
    """Have the figure looked at once the scene has been at rest."""
    session = session_of(scene)
    if session is None:
        return
    if everything:
        session.touched = None
    now = time.monotonic()
    _changed[scene.session_uid] = now
    _due[scene.session_uid] = now + state.AT_REST
    if not in_background() and not timers.is_registered(_turn_due):
        timers.register(_turn_due, first_interval=state.AT_REST)


def asked(scene: bpy.types.Scene) -> Session | None:
    """For panels: what is kept current; has it looked at soon where a full check came between."""
    session, results = session_of(scene), state.of(scene)
    check = None if results is None else results.check
    if session is not None and session.seen is not check and scene.session_uid not in _due:
        look_again(scene, everything=False)
    return session


def turn(scene: bpy.types.Scene, rested: float, *, forced: bool = False) -> None:
    """One turn after so many seconds of rest; ``forced`` does it however long that takes."""
    session = session_of(scene)
    if session is None:
        return
    try:
        quick_turn(scene, session, forced=forced)
        if "check" in session.passed:
            return
        if session.owed and (forced or (rested >= LONG_REST and not _holding())):
            _sessions[scene.session_uid] = long_turn(scene, session, forced=forced)
    except EvenfoldError as error:
        switch_off(scene, str(error))
    finally:
        manager.redraw()


def _holding() -> bool:
    """Whether a drag goes on: the artist only pauses in it."""
    windows = bpy.context.window_manager.windows if bpy.context.window_manager else ()
    return any(
        one.bl_idname.startswith(HELD)
        for window in windows for one in getattr(window, "modal_operators", ())
    )


def _turn_due() -> float | None:
    """The timer: takes the turns that are due, and says when the next is."""
    now = time.monotonic()
    scenes = {scene.session_uid: scene for scene in bpy.data.scenes}
    for uid in [uid for uid in _sessions if uid not in scenes]:
        _sessions.pop(uid)
        _due.pop(uid, None)
    for uid in [uid for uid, when in _due.items() if when <= now and uid in scenes]:
        rested = now - _changed.get(uid, now)
        del _due[uid]
        turn(scenes[uid], rested)
        session = _sessions.get(uid)
        if session is not None and _open(session):
            _due[uid] = max(now + state.AT_REST, _changed.get(uid, now) + LONG_REST)
    if not _sessions:
        _let_go()
        return None
    return max(0.05, min(_due.values()) - now) if _due else None


def _open(session: Session) -> bool:
    """Whether something is owed that is neither given up nor has to wait for object mode."""
    if "check" in session.passed:
        return False
    waiting = session.owed - {"anew"} if session.editing else session.owed
    given_up = {"settings": "pair", "allowances": ""}
    return any(given_up.get(one, one) not in session.passed for one in waiting)


def after_change(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """The handler at every update of a scene: notes what changed and does nothing else."""
    session = _sessions.get(scene.session_uid)
    if session is None:
        return
    hit = False
    for update in depsgraph.updates:
        if update.is_updated_geometry or update.is_updated_transform:
            hit = True
            if session.touched is not None:
                session.touched.add(update.id.original.session_uid)
        elif isinstance(update.id, bpy.types.Scene):
            hit = True
    if hit:
        look_again(scene, everything=False)


def _after_undo(*_unused: Any) -> None:
    for one in bpy.data.scenes:
        if one.session_uid in _sessions:
            look_again(one)


_HANDLERS: tuple[tuple[list[Any], Any], ...] = (
    (bpy.app.handlers.depsgraph_update_post, after_change),
    (bpy.app.handlers.undo_post, _after_undo),
    (bpy.app.handlers.redo_post, _after_undo),
)
