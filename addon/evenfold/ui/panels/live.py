"""What is kept current while the artist works."""

from collections.abc import Iterator
from typing import Any

import bpy

from ...core.report.wording import counted
from .. import live, state
from ..planning import aimed
from ..words import length
from .heads import draw_target
from .shared import Sidebar, fact, say


class EVENFOLD_PT_live(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_live"
    bl_label = "While You Work"
    bl_order = 0
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        session = live.asked(context.scene)
        self.layout.operator(
            "evenfold.keep_current", icon="PAUSE" if session is not None else "PLAY",
            depress=session is not None,
        )
        if session is not None:
            draw_session(self.layout, context, session)
            return
        why = live.ended(context.scene)
        if why:
            say(self.layout, context, "Switched off by itself.", "INFO")
            say(self.layout, context, why, "BLANK1")


def draw_session(
    layout: bpy.types.UILayout, context: bpy.types.Context, session: live.Session
) -> None:
    """Heads tall and the differences now, how far they have changed, and how sure that is."""
    scene, now = context.scene, session.now
    box = layout.box().column(align=True)
    box.label(text=session.kept.figure.name, icon="USER")
    draw_heads(box, context, session)
    for code in sorted(set(now.counts) | set(session.first)):
        count, before = now.counts.get(code, 0), session.first.get(code, 0)
        icon: Any = "CHECKMARK" if not count else "DOT"
        say(box, context, counted(code, count) + change(count - before), icon)
    if not now.counts and not session.first:
        say(box, context, "No vertex differs", "CHECKMARK")
    if now.worst is not None:
        fact(box, "Worst", length(scene, now.worst))
    row = layout.row(align=True)
    row.prop(scene.evenfold_findings, "show", toggle=True)
    row.prop(scene.evenfold_guides, "show", toggle=True)
    for text, icon in told(session):
        say(layout, context, text, icon)
    if session.passed:
        layout.operator("evenfold.bring_up_to_date", icon="FILE_REFRESH")
    results = state.of(scene)
    if results is not None and results.stale:
        say(layout, context, "The panels below show the last measuring and the last full check.", "INFO")
    else:
        say(layout, context, "Only vertices are compared here; Check Symmetry compares all layers.", "INFO")


def draw_heads(
    layout: bpy.types.UILayout, context: bpy.types.Context, session: live.Session
) -> None:
    heads = session.heads
    if heads.value is None:
        say(layout, context, heads.reason or "No count.", "BLANK1")
        return
    words = f"about {heads.value:.2f} heads tall" if heads.about else f"{heads.value:.2f} heads tall"
    since = 0.0 if session.first_heads is None else round(heads.value - session.first_heads, 2)
    say(layout, context, words + (f" ({since:+.2f})" if since else ""), "BLANK1")
    if heads.found is not None:
        draw_target(layout, context, aimed(context.scene, heads.found))


def change(step: int) -> str:
    """How many more or fewer than when the switch was turned on."""
    return f" ({step:+,})" if step else ""


def told(session: live.Session) -> Iterator[tuple[str, Any]]:
    """Sentences on how current it is: what waits, what was given up, what cannot be told here."""
    if "check" in session.passed:
        yield f"Not current: checking takes {session.passed['check']:.1f} s, too long while you work.", "ERROR"
        return
    for kind, sentence in GIVEN_UP.items():
        if kind in session.passed:
            yield sentence.format(seconds=f"{session.passed[kind]:.1f}"), "ERROR"
    waiting = session.owed - set(session.passed)
    if "anew" in waiting and session.editing:
        yield "Heads tall is measured again when you leave Edit Mode.", "TIME"
    elif waiting & {"measure", "anew"} and session.heads.about:
        yield "Heads tall is carried along with its landmarks until you pause.", "TIME"
    if "pair" in waiting:
        yield "Some vertices are paired anew when you pause.", "TIME"
    if session.keys:
        yield f"You are editing the key {', '.join(session.keys)}: compared is the neutral shape.", "SHAPEKEY_DATA"


GIVEN_UP = {
    "pair": "Vertices were added or lost their partner: pairing takes {seconds} s, too long while you work.",
    "measure": "Heads tall is only carried along: measuring takes {seconds} s, too long while you work.",
    "anew": "The figure was changed at large: reading it takes {seconds} s, too long while you work.",
}


CLASSES = (EVENFOLD_PT_live,)
