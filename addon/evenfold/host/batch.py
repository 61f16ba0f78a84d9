"""Checking files one after the other; none of them stops the others."""

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import bpy

from ..core.check import check_figure
from ..core.errors import EvenfoldError, NothingToCheckError
from ..core.figure import Figure
from ..core.findings import FigureResult, FileResult
from ..core.humanoid_table import newer_names
from ..core.portrait import portrait_of
from ..core.settings import Settings
from .files import Opened, open_input
from .nearest import KDFinder
from .read import FigureSource, find_figures, read_figure
from .read.vrm import with_springs


def check_files(
    paths: Iterable[Path | str],
    settings: Settings,
    on_result: Callable[[FileResult], None] | None = None,
    pictures: bool = False,
) -> list[FileResult]:
    """One result for each path, in order. Whatever goes wrong becomes that file's ``error``.

    ``pictures`` adds each figure's portrait.
    """
    results: list[FileResult] = []
    for path in paths:
        results.append(check_file(path, settings, pictures))
        if on_result is not None:
            on_result(results[-1])
    return results


def check_file(path: Path | str, settings: Settings, pictures: bool = False) -> FileResult:
    """Open, read and check one file; replaces what is open."""
    began = time.perf_counter()
    error: str | None = None
    figures: tuple[FigureResult, ...] = ()
    try:
        figures = _check_open(Path(path), settings, pictures)
    except EvenfoldError as refusal:
        error = str(refusal)
    except Exception as failure:  # noqa: BLE001 - one file's trouble must not cost the others their verdict
        error = f"Checking stopped with {type(failure).__name__}: {failure}. Please report this."
    return FileResult(str(path), error, time.perf_counter() - began, figures)


def _check_open(path: Path, settings: Settings, pictures: bool) -> tuple[FigureResult, ...]:
    opened = open_input(path)
    found = tuple(
        _checked(_with_said(read_figure(source, scene, layers=True), opened), settings, pictures)
        for scene, source in figures_of_file()
    )
    if not found:
        raise NothingToCheckError(f"{path.name} holds no mesh: there is nothing to check.")
    return found


def figures_of_file() -> Iterator[tuple[bpy.types.Scene, FigureSource]]:
    """The figures of every scene of the open file, those of the open scene first, each once.

    A figure all of whose meshes were in one before is the same again and left out. Where two go by
    one name, the later one's says its scene. Read each before asking for the next: scenes are
    brought up to date in turn.
    """
    met: set[tuple[str | None, str]] = set()
    names: set[str] = set()
    for scene in [bpy.context.scene, *(s for s in bpy.data.scenes if s != bpy.context.scene)]:
        scene.view_layers[0].update()
        before = frozenset(names)
        for source in find_figures(scene):
            parts = {(source.instancer, mesh) for mesh in source.mesh_names}
            if parts <= met:
                continue
            met |= parts
            name = f"{source.name} ({scene.name})" if source.name in before else source.name
            names.add(name)
            yield scene, replace(source, name=name)


def _checked(figure: Figure, settings: Settings, pictures: bool) -> FigureResult:
    result = check_figure(figure, settings, KDFinder)
    return replace(result, portrait=portrait_of(figure, result)) if pictures else result


def _with_said(figure: Figure, opened: Opened) -> Figure:
    """The figure with what its file says: how it stores meshes, its bone table and springs."""
    if opened.split:
        figure = replace(figure, surfaces=tuple(replace(one, split=True) for one in figure.surfaces))
    if figure.armature is None:
        return figure
    named = newer_names(opened.humanoid)
    known = {bone: name for bone, name in named.items() if name in figure.armature.by_name}
    armature = with_springs(figure.armature, opened.springs) if opened.springs else figure.armature
    return replace(figure, humanoid=known or figure.humanoid, armature=armature)
