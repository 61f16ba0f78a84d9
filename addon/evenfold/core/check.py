"""Measuring and checking one figure, from its record to its result."""

from dataclasses import replace

import numpy as np

from .allowances import AllowanceUse, excuse
from .baseline import changes_since, compare
from .figure import Armature, Figure, FloatArray
from .findings import FigureResult, Finding, MirrorPlane, ObjectResult, Proportion, Readiness
from .nearest import Finder
from .plane import choose, explained, tidy
from .plane_candidates import (
    plane_along_bones,
    plane_between_bones,
    plane_candidates,
    planes_across,
)
from .proportion import measure
from .proportion.parts.body import BEYOND
from .readiness import readiness_of_figure
from .readiness.size import size_readiness
from .settings import Settings
from .size import size_of
from .symmetry import ARMATURE_LAYERS, SURFACE_LAYERS, Compared, Limits, check_surfaces, limits_of
from .symmetry.half_model import astray
from .symmetry.mirror_modifier import Mirrored, mirror_readiness
from .symmetry.rebuilt import rebuilt

HALF_LAYERS = ("weights", "shape_keys")
"""The layers that say something about half a model under a Mirror modifier."""

PLANE_SAMPLE = 60000
"""Points looked at when choosing a plane."""


def check_figure(figure: Figure, settings: Settings, finder: Finder) -> FigureResult:
    """Measure the figure and compare its two halves; nothing is changed.

    What the figure's allowances cover is left out of the findings and counted; where it has
    baselines, findings are told apart into inherited and new ones.
    """
    proportion = measure(figure, settings)
    tolerance = tolerance_of(figure, proportion, settings)
    plane = mirror_plane(figure, settings, tolerance, finder)
    limits = limits_of(figure, tolerance, plane, settings)
    compared, told = compare_halves(figure, limits, finder)
    objects, uses = excuse(figure, compared, figure.allowances)
    size = size_of(figure)
    readiness = [*readiness_of(proportion), *size_readiness(size, settings.budget), *told, *readiness_of_figure(figure)]
    readiness += [idle(use) for use in uses if not use.count]
    if figure.baselines:
        objects, changes = _since_baseline(figure, objects, tolerance)
        readiness += changes
    return FigureResult(
        figure.name,
        proportion,
        plane,
        tolerance * figure.metres_per_unit,
        objects,
        tuple(readiness),
        figure.notes,
        uses,
        size=size,
    )


def compare_halves(
    figure: Figure, limits: Limits, finder: Finder
) -> tuple[tuple[ObjectResult, ...], list[Readiness]]:
    """Every layer of every object, nothing excused; and what stands behind whole kinds of findings."""
    compared = check_surfaces(
        figure.surfaces, limits.plane, limits.tolerance, limits.metres, finder
    )
    objects = tuple(_with_layers(one, limits) for one in compared)
    told: list[Readiness] = []
    for one, surface, result in zip(compared, figure.surfaces, objects, strict=True):
        told += mirror_readiness(
            Mirrored(surface, result, one.mirrored, limits.plane, limits.tolerance)
        )
        told += _rebuilt(one, result, limits)
    if figure.armature is not None and _wanted(limits.settings, set(ARMATURE_LAYERS)):
        objects = (*objects, check_armature(figure.armature, limits))
    return objects, told


def _rebuilt(one: Compared, result: ObjectResult, limits: Limits) -> list[Readiness]:
    """The signature of a rebuilt half; only looked for where keys or weights differ at all."""
    differ = any(f.code.startswith(("key-", "weight-")) for f in result.findings)
    if one.matched is None or one.half or not differ:
        return []
    found = rebuilt(one.matched, limits)
    return [] if found is None else [found]


def idle(use: AllowanceUse) -> Readiness:
    """The note that an allowance excuses nothing any more."""
    one = use.allowance
    what = one.subject or one.owner
    return Readiness(
        "ready-allowance-idle", "note",
        f"The allowance for {what} ({one.reason or 'no reason given'}) no longer covers any "
        "difference: it can go.", one.mark,
    )


def _since_baseline(
    figure: Figure, objects: tuple[ObjectResult, ...], tolerance: float
) -> tuple[tuple[ObjectResult, ...], list[Readiness]]:
    surfaces = {surface.name: surface for surface in figure.surfaces}
    told: list[ObjectResult] = []
    changes: list[Readiness] = []
    for result in objects:
        base, surface = figure.baselines.get(result.name), surfaces.get(result.name)
        if base is None:
            told.append(result)
            continue
        scale = 1.0
        if surface is not None:
            changes += changes_since(result.name, surface, base)
            scale = surface.scale
        told.append(compare(result, surface, base, tolerance / scale))
    return tuple(told), changes


def _wanted(settings: Settings, names: set[str]) -> set[str]:
    return names & set(settings.layers) if settings.layers else names


def _with_layers(one: Compared, limits: Limits) -> ObjectResult:
    """The surface's own result and the findings of every further layer that is wanted.

    Of half a model under a Mirror modifier only the layers that say something about its centre.
    The surface is always paired, since the other layers need its partners.
    """
    names = set(HALF_LAYERS if one.half else SURFACE_LAYERS)
    surface = one.result.findings if _wanted(limits.settings, {"surface"}) else ()
    if one.matched is None or one.matched.here.layers is None:
        return replace(one.result, findings=surface)
    found: list[Finding] = []
    told: list[str] = [*one.matched.here.layers.notes]
    for name, layer in SURFACE_LAYERS.items():
        if name in _wanted(limits.settings, names):
            found += layer.check(one.matched, limits)
            told += layer.notes(one.matched, limits) if hasattr(layer, "notes") else ()
    return replace(
        one.result,
        findings=(*surface, *found),
        notes=(*one.result.notes, *told),
    )


def check_armature(armature: Armature, limits: Limits) -> ObjectResult:
    """The findings on an armature's bones."""
    found: list[Finding] = []
    for name, layer in ARMATURE_LAYERS.items():
        if name in _wanted(limits.settings, set(ARMATURE_LAYERS)):
            found += layer.check(armature, limits)
    return ObjectResult(armature.name, "armature", 0, findings=tuple(found))


def tolerance_of(figure: Figure, proportion: Proportion, settings: Settings) -> float:
    """The tolerance in scene units: as set, else a share of the height (of the size, if unknown)."""
    if settings.tolerance is not None:
        return settings.tolerance / figure.metres_per_unit
    height = proportion.height or proportion.full_height
    if height:
        return settings.tolerance_share * height / figure.metres_per_unit
    points = _points(figure, 0.0)
    points = points[(np.abs(points) < BEYOND).all(axis=1)]
    span = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    return settings.tolerance_share * (span or 1.0)


def mirror_plane(
    figure: Figure, settings: Settings, tolerance: float, finder: Finder
) -> MirrorPlane:
    """The plane the settings name, or the one that explains the figure's points best."""
    left = np.array([1.0, 0.0, 0.0])
    candidates, points = plane_candidates(figure), _points(figure, tolerance)
    if settings.plane != "automatic":
        named = [one for one in candidates if one.how == settings.plane]
        if named:
            share = explained(points, named[0], tolerance) if len(points) else None
            return tidy(MirrorPlane(named[0].point, named[0].normal, named[0].how, "As set.", share), left)
    if not len(points):
        taken = candidates[0]
        return MirrorPlane(taken.point, taken.normal, taken.how, "There are no points to compare.")
    between, across, near = plane_between_bones(figure), planes_across(figure, candidates), plane_along_bones(figure)
    plane = tidy(choose(points, candidates, tolerance, finder, between, across, near), left)
    if settings.plane == "automatic":
        return plane
    return replace(plane, why=f"The figure has no {settings.plane}. {plane.why}")


def _points(figure: Figure, tolerance: float) -> FloatArray:
    """Points for choosing a plane: every vertex, or whole objects up to a bound, largest first.

    Half models under a Mirror modifier count with their evaluated shape, unless that mirrors
    them about something that is not their middle.
    """
    taken: list[FloatArray] = []
    total = 0
    parts = {part.name: part.points for part in figure.parts}
    for surface in sorted(figure.surfaces, key=lambda one: -len(one.positions)):
        if astray(surface, None, tolerance) is not None:
            continue
        points = parts.get(surface.name, surface.world) if surface.mirrors else surface.world
        points = points[np.isfinite(points).all(axis=1)]
        if taken and total + len(points) > PLANE_SAMPLE:
            break
        taken.append(points)
        total += len(points)
    return np.concatenate(taken) if taken else np.zeros((0, 3))


def readiness_of(proportion: Proportion) -> list[Readiness]:
    """What the count says about the target."""
    if proportion.heads_tall is None:
        level = "warning" if proportion.target is None else "error"
        return [Readiness("heads-unknown", level, proportion.refusal or "No count could be made.")]
    if proportion.target is None or proportion.within_target:
        return []
    return [
        Readiness(
            "heads-off-target",
            "error",
            f"{proportion.heads_tall:.2f} heads tall, wanted {proportion.target:.2f}.",
        )
    ]
