"""What every operator has in common: refusals become error reports in one place."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy

from ...core.errors import EvenfoldError
from ...core.figure import Figure
from ...host.read import FigureSource, read_figure
from ...host.write.mode import object_mode
from ..choice import choice_of, missing, source_of
from ..language import tr, tr_report
from ..overlay import manager
from ..state import SceneResults, compare, marks_of


class Reporting:
    """Mix-in for operators: ``run`` does the work, a refusal is shown and changes nothing."""

    def run(self, context: bpy.types.Context) -> None:
        raise NotImplementedError

    def announce(self, kinds: set[str], text: str) -> None:
        """A report in the language of reports."""
        self.report(kinds, tr_report(text))

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            self.run(context)
        except EvenfoldError as error:
            self.announce({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


class InScene(Reporting):
    """Mix-in for operators that need a scene and nothing in it."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None:
            cls.poll_message_set(tr("There is no scene."))
            return False
        return True


class NeedsFigure(Reporting):
    """Mix-in for operators that read the figure the panel means."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or choice_of(context) is None:
            cls.poll_message_set(tr(missing(context) if context.scene else "There is no scene."))
            return False
        return True


UNDOABLE = ("OBJECT", "POSE")
"""In other modes Blender's undo does not cover what is kept on an object."""

PAINTED = ("PAINT_WEIGHT", "PAINT_VERTEX")
"""Modes of painting whose undo covers it too; sculpting's and texture painting's do not."""

OBJECT_FIRST = "Go to object mode first, so that this can be undone."


def undoable(cls: type, context: bpy.types.Context) -> bool:
    """For polls: whether a change of an object's own properties can be undone in this mode."""
    if context.mode not in UNDOABLE:
        cls.poll_message_set(tr(OBJECT_FIRST))
        return False
    return True


@contextmanager
def one_step(context: bpy.types.Context, label: str) -> Iterator[None]:
    """What is written inside on objects and scenes is taken back by one step of undo.

    An edit session's own undo holds its mesh or bones alone: it is left for the writing and for
    the step, then goes on. For operators without UNDO in ``bl_options``, since Blender's step
    after them would be the session's. Raises EvenfoldError in modes that cannot undo this; a
    refusal inside makes no step.
    """
    active = context.view_layer.objects.active
    editing = context.mode.startswith("EDIT_")
    if not editing and context.mode not in (*UNDOABLE, *PAINTED):
        raise EvenfoldError(OBJECT_FIRST)
    with object_mode([active] if editing and active is not None else []):
        yield
        push: Any = bpy.ops.ed.undo_push
        if push.poll():
            push(message=label)


def require_fresh(results: SceneResults | None) -> None:
    """Raises EvenfoldError when the figure was changed since it was measured."""
    if results is not None and results.stale:
        raise EvenfoldError("The figure was changed since it was measured: measure it again first.")


def names_of(source: FigureSource) -> tuple[str, ...]:
    """The names of every object of a figure."""
    rig = (source.armature_name,) if source.armature_name else ()
    return (*rig, *source.mesh_names)


def read_chosen(context: bpy.types.Context, *, layers: bool = False) -> tuple[Figure, SceneResults]:
    """The figure the panel means, and an empty record for its results."""
    source = source_of(context)
    scene = context.scene
    context.view_layer.update()
    figure = read_figure(source, scene, layers=layers)
    names = names_of(source)
    results = SceneResults(
        figure.name, figure.metres_per_unit, marks_of(scene, names), notes=figure.notes,
        humanoid=dict(figure.humanoid),
    )
    return figure, results


def changed(context: bpy.types.Context) -> None:
    """What the artist says was changed: results that rest on it are out of date."""
    compare(context.scene)
    redraw(context)


def redraw(_context: bpy.types.Context) -> None:
    """Have the 3D views and their sidebars show new results; there are none in the background."""
    manager.redraw()


def usual_path(context: bpy.types.Context, ending: str) -> str:
    """A file beside the open one, named after the figure."""
    choice = choice_of(context)
    name = bpy.path.clean_name(choice.name if choice is not None else "figure")
    folder = Path(bpy.data.filepath).parent if bpy.data.filepath else Path.home()
    return str(folder / f"{name}{ending}")
