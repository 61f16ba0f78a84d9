"""The reference drawing: load it, mark landmarks on it, match it to the model."""

from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.props import BoolProperty, StringProperty

from ...core.drawing import (
    COUNTED,
    DrawingError,
    Fit,
    fit_drawing,
    model_places,
    plane_of,
    stand_behind,
)
from ...core.errors import EvenfoldError
from ...core.spoken import plain_word
from ...host import drawing as host
from ...host.named import holds
from ...host.read.bounds import corners_of
from .. import state
from ..choice import choice_of, source_of
from ..language import tr
from ..pointing import is_navigation, ray_through, view_under
from ..properties import LANDMARKS
from ..words import length
from .shared import Reporting, names_of, redraw, undoable


class _OnDrawing(Reporting):
    """Mix-in: needs a drawing, and a mode in which what it does can be undone."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or context.scene.evenfold_drawing.item is None:
            cls.poll_message_set(tr("Choose the drawing, an empty that shows an image, or load one."))
            return False
        return undoable(cls, context)


def _drawing(context: bpy.types.Context) -> tuple[bpy.types.Object, host.Picture]:
    """The chosen drawing, as it stands now. Raises DrawingError."""
    context.view_layer.update()
    item = context.scene.evenfold_drawing.item
    picture = host.picture_of(item)
    if not holds(context.view_layer.objects, item):
        if holds(context.scene.objects, item):
            raise DrawingError(f"{item.name} is in an excluded collection: tick it in the outliner.")
        raise DrawingError(f"{item.name} is not in this scene: choose another drawing, or load it.")
    return item, picture


def _go_on(scene: bpy.types.Scene, item: bpy.types.Object) -> bool:
    """Choose what is marked next; True while the count still lacks a mark."""
    marked = host.marks_on(item)
    missing = [name for name in COUNTED if name not in marked]
    further = [name for name, _, _ in LANDMARKS if name not in marked]
    for name in (*missing, *further)[:1]:
        scene.evenfold_drawing.landmark = name
    return bool(missing)


class EVENFOLD_OT_mark_drawing(_OnDrawing, bpy.types.Operator):
    """Mark a landmark on the drawing by a click; crown, chin and sole follow one another"""

    bl_idname = "evenfold.mark_drawing"
    bl_label = "Mark on Drawing"
    bl_description = (
        "Click the landmark on the drawing in a 3D view. Crown, chin and sole follow one another "
        "until all three are marked"
    )
    bl_options = {"UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        raise DrawingError("Marking takes a click in a 3D view; without a window use the 3D cursor.")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        try:
            item, _ = _drawing(context)
            host.require_editable(item)
            if not item.visible_get():
                raise DrawingError(f"{item.name} is hidden: show it, then mark it.")
            if context.window is None:
                self.run(context)
        except EvenfoldError as error:
            self.announce({"ERROR"}, str(error))
            return {"CANCELLED"}
        self.before = host.marks_on(item)
        self.first = context.scene.evenfold_drawing.landmark
        self.marked = 0
        context.window_manager.modal_handler_add(self)
        context.window.cursor_modal_set("EYEDROPPER")
        self._say(context)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> Any:
        if is_navigation(event):
            return {"PASS_THROUGH"}
        if event.value != "PRESS":
            return {"RUNNING_MODAL"}
        if event.type in {"ESC", "RIGHTMOUSE"}:
            self.cancel(context)
            return {"CANCELLED"}
        if event.type in {"RET", "NUMPAD_ENTER"}:
            return self._end(context)
        if event.type == "LEFTMOUSE":
            try:
                if not self._mark(context, event):
                    return self._end(context)
                self._say(context)
            except EvenfoldError as error:
                self._say(context, str(error))
            redraw(context)
        return {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Put the marks back as they were; Blender calls this too when it ends the operator."""
        item = context.scene.evenfold_drawing.item
        if item is not None and self.marked:
            host.put_marks(item, self.before)
        context.scene.evenfold_drawing.landmark = self.first
        self._leave(context)

    def _mark(self, context: bpy.types.Context, event: bpy.types.Event) -> bool:
        """Mark where the mouse is; True when another click is wanted. Raises DrawingError."""
        view = view_under(context, event)
        if view is None:
            raise DrawingError("Click on the drawing in the 3D view.")
        item, picture = _drawing(context)
        origin, direction, parallel = ray_through(view, event)
        landmark = context.scene.evenfold_drawing.landmark
        host.set_mark(item, landmark, picture.hit(origin, direction, behind=parallel))
        self.marked += 1
        return _go_on(context.scene, item) and landmark in COUNTED

    def _say(self, context: bpy.types.Context, first: str = "") -> None:
        name = plain_word(context.scene.evenfold_drawing.landmark)
        keep = "   Enter: keep what is marked" if self.marked else ""
        words = f"Click the {name} on the drawing{keep}   Esc or right click: mark nothing"
        context.workspace.status_text_set(f"{tr(first)}   {tr(words)}" if first else tr(words))

    def _end(self, context: bpy.types.Context) -> set[str]:
        self._leave(context)
        return {"FINISHED"} if self.marked else {"CANCELLED"}

    @staticmethod
    def _leave(context: bpy.types.Context) -> None:
        if context.window is not None:
            context.window.cursor_modal_restore()
            context.workspace.status_text_set(None)
        redraw(context)


class EVENFOLD_OT_mark_drawing_cursor(_OnDrawing, bpy.types.Operator):
    """Mark the landmark on the drawing straight behind the 3D cursor"""

    bl_idname = "evenfold.mark_drawing_cursor"
    bl_label = "Mark at 3D Cursor"
    bl_description = "Mark the landmark at the place of the drawing that is nearest to the 3D cursor"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        item, picture = _drawing(context)
        place = picture.inside(np.array(context.scene.cursor.location[:]))
        host.set_mark(item, context.scene.evenfold_drawing.landmark, place)
        _go_on(context.scene, item)
        redraw(context)


class EVENFOLD_OT_unmark_drawing(_OnDrawing, bpy.types.Operator):
    """Remove a mark from the drawing"""

    bl_idname = "evenfold.unmark_drawing"
    bl_label = "Remove Mark"
    bl_description = "Remove this mark from the drawing"
    bl_options = {"REGISTER", "UNDO"}

    landmark: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        host.remove_mark(context.scene.evenfold_drawing.item, self.landmark)
        if self.landmark in {name for name, _, _ in LANDMARKS}:
            context.scene.evenfold_drawing.landmark = self.landmark
        redraw(context)


class EVENFOLD_OT_match_drawing(_OnDrawing, bpy.types.Operator):
    """Scale and move the drawing until its marks stand level with the model's landmarks"""

    bl_idname = "evenfold.match_drawing"
    bl_label = "Match to Model"
    bl_description = (
        "Scale and move the drawing until its marks stand level with the model's landmarks. "
        "The model stays as it is"
    )
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        results = state.of(context.scene)
        if results is None or results.proportion is None:
            cls.poll_message_set(tr("Measure the figure first, then match the drawing to it."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        scene, chosen = context.scene, context.scene.evenfold_drawing
        results = state.of(scene)
        if results.stale:
            raise DrawingError("The figure was changed since it was measured: measure it again, then match.")
        item, picture = _drawing(context)
        host.require_movable(item, turning=chosen.straighten)
        found = results.proportion
        plane = plane_of(picture.to_world, found)
        fit = fit_drawing(
            host.marks_in(item, picture, plane), model_places(found, plane), chosen.way,
            sideways=chosen.sideways, straighten=chosen.straighten,
        )
        start = np.array(item.matrix_world.translation)
        host.move_by(item, fit.matrix(plane), fit.scale, turning=chosen.straighten)
        context.view_layer.update()
        way = float(np.linalg.norm(np.array(item.matrix_world.translation) - start))
        metres = results.metres_per_unit
        self.announce({"INFO"}, _told(item.name, scene, fit, way * metres, plane.rise * metres))
        redraw(context)


def _told(drawing: str, scene: bpy.types.Scene, fit: Fit, way: float, metres: float) -> str:
    """What a match has done, and how far the worst mark is off; ``metres`` a unit of the fit."""
    moved = f"{drawing} scaled by {fit.scale:.4g}, moved by {length(scene, way)}"
    if abs(fit.turn) > 5e-4:
        moved = f"{moved}, turned by {abs(np.degrees(fit.turn)):.1f}°"
    name, worst = max(fit.residuals.items(), key=lambda entry: abs(entry[1]))
    size = length(scene, abs(worst) * metres)
    if size == length(scene, 0.0) or abs(worst) * metres < 1e-5:
        return f"{moved}. Every mark stands level with the model."
    if worst > 0:
        return f"{moved}. Furthest off: the {plain_word(name)}, {size} above the model's."
    return f"{moved}. Furthest off: the {plain_word(name)}, {size} below the model's."


class EVENFOLD_OT_load_drawing(Reporting, bpy.types.Operator):
    """Load a picture as the reference drawing and stand it up behind the figure"""

    bl_idname = "evenfold.load_drawing"
    bl_label = "Load Drawing…"
    bl_description = "Load a picture and stand it upright behind the figure, facing its front"
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_image: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    filter_folder: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.scene is not None and undoable(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def run(self, context: bpy.types.Context) -> None:
        scene = context.scene
        results = state.of(scene)
        found = None if results is None else results.proportion
        stand, height = stand_behind(found, corners_of(scene, _names(context, results)))
        target = context.collection
        if target is None or target.library is not None:
            target = scene.collection
        path = Path(bpy.path.abspath(self.filepath))
        scene.evenfold_drawing.item = host.load_drawing(path, target, stand, height)
        scene.evenfold_drawing.landmark = COUNTED[0]
        context.view_layer.update()
        redraw(context)
        self.announce({"INFO"}, f"{path.name} stands behind the figure: mark its crown, chin and sole.")


def _names(
    context: bpy.types.Context, results: state.SceneResults | None
) -> tuple[str, ...]:
    """The objects of the figure, measured or only chosen."""
    if results is not None:
        return tuple(results.marks)
    return names_of(source_of(context)) if choice_of(context) is not None else ()


CLASSES = (
    EVENFOLD_OT_mark_drawing,
    EVENFOLD_OT_mark_drawing_cursor,
    EVENFOLD_OT_unmark_drawing,
    EVENFOLD_OT_match_drawing,
    EVENFOLD_OT_load_drawing,
)
