"""The report of the figure at hand: the page or the JSON file that the headless script writes."""

import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.findings import FileResult
from ...core.portrait import portrait_of
from ...core.report.as_page import page
from ...core.report.written import json_text, write_all
from ...host.paths import is_folder
from ..properties import profile_of
from .check import check_figure_now
from .shared import NeedsFigure, redraw, usual_path

FORMS = (
    ("PAGE", "Page", "A page with pictures, for any browser"),
    ("JSON", "JSON", "The same for other programs"),
)
SUFFIXES = {"PAGE": ".html", "JSON": ".json"}

_written: dict[int, Path] = {}
"""The last report of each scene, for this session."""


def last_written(scene: bpy.types.Scene) -> Path | None:
    return _written.get(scene.session_uid)


def forget() -> None:
    _written.clear()


def report_text(context: bpy.types.Context, form: str) -> str:
    """Check the figure and say the result as the script says it. Raises EvenfoldError."""
    began = time.perf_counter()
    figure, result = check_figure_now(context)
    if form == "PAGE":
        result = replace(result, portrait=portrait_of(figure, result))
    path = bpy.data.filepath or f"{figure.name}, not saved yet"
    files = [FileResult(path, None, time.perf_counter() - began, (result,))]
    settings, host = profile_of(context.scene), f"Blender {bpy.app.version_string}"
    return page(files, settings, host) if form == "PAGE" else json_text(files, settings, host)


class EVENFOLD_OT_save_report(NeedsFigure, bpy.types.Operator):
    """Check the figure and write a report on it"""

    bl_idname = "evenfold.save_report"
    bl_label = "Save Report"
    bl_description = "Check the figure and write a report: the one that the headless script writes"
    bl_options = {"REGISTER"}

    form: EnumProperty(name="Form", items=FORMS, default="PAGE", options={"SKIP_SAVE"})
    filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    check_existing: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    filter_glob: StringProperty(default="*.html;*.json", options={"HIDDEN", "SKIP_SAVE"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        self.filter_glob = f"*{SUFFIXES[self.form]}"
        if not self.filepath:
            self.filepath = usual_path(context, f"-report{SUFFIXES[self.form]}")
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def check(self, _context: bpy.types.Context) -> bool:
        """Called while the dialog is open: the file gets its ending."""
        before = self.filepath
        self.filepath = bpy.path.ensure_ext(before, SUFFIXES[self.form])
        return before != self.filepath

    def run(self, context: bpy.types.Context) -> None:
        if not self.filepath:
            raise EvenfoldError("Name a file for the report first.")
        path = Path(bpy.path.abspath(self.filepath))
        if path.suffix.lower() != SUFFIXES[self.form]:
            path = path.with_name(path.name + SUFFIXES[self.form])
        if not is_folder(path.parent):
            raise EvenfoldError(f"The folder {path.parent} does not exist: create it first.")
        if is_folder(path):
            raise EvenfoldError(f"{path} is a folder: name a file for the report.")
        text = report_text(context, self.form)
        try:
            write_all({path: text})
        except OSError as error:
            raise EvenfoldError(
                f"The report {path} cannot be written: {error.strerror}. Choose another place."
            ) from error
        _written[context.scene.session_uid] = path
        redraw(context)
        self.announce({"INFO"}, f"{path.name}: report written.")


CLASSES = (EVENFOLD_OT_save_report,)
