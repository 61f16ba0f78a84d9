"""Plans and comparisons from what was measured, made whenever a measuring or a setting changes."""

import json
import tomllib
from dataclasses import fields, replace
from typing import Any

import bpy

from ..core.canon import Canon
from ..core.errors import EvenfoldError, SettingsError
from ..core.findings import Proportion
from ..core.planning.canons import CANONS, canon_named
from ..core.planning.compare import Comparison, compare, compare_figures
from ..core.planning.plan import Plan, make_plan, retargeted
from ..core.profile import NO_NAME, read_canons, with_canon
from ..core.settings import Settings
from ..host.kept import DAMAGED
from ..host.read.place import metres_per_unit
from . import state
from .budgeting import budget_of, put_budget

NONE = NO_NAME
CANON, FIGURE = "canon:", "figure:"
PANEL_FIELDS = frozenset({"tolerance", "target_heads", "plane", "keep", "canon", "canons", "budget"})
"""Settings that have a field of their own in the panels; the rest is kept as the profile's limits."""

_read: dict[str, tuple[Canon, ...]] = {}


def own_canons(scene: bpy.types.Scene) -> tuple[Canon, ...]:
    """The canons a profile brought, or that were saved from a figure; kept with the scene as TOML."""
    text = scene.evenfold_plan.own_canons
    if text not in _read:
        _read.clear()
        try:
            _read[text] = read_canons(tomllib.loads(text).get("canons", {}))
        except (*DAMAGED, SettingsError):
            _read[text] = ()
    return _read[text]


def add_canons(scene: bpy.types.Scene, canons: tuple[Canon, ...]) -> None:
    """Keep canons with the scene, in place of own ones of the same names."""
    text = scene.evenfold_plan.own_canons
    for canon in canons:
        text = with_canon(text, canon)
    scene.evenfold_plan.own_canons = text


def remove_canon(scene: bpy.types.Scene, key: str) -> None:
    """Take an own canon out of the scene; what used it goes back to none. The profile keeps it."""
    wanted = scene.evenfold_plan
    left = tuple(canon for canon in own_canons(scene) if canon.key != key)
    built_in = key in CANONS
    if wanted.canon == key and not built_in:
        wanted.canon = NONE
    if wanted.compare_with == CANON + key and not built_in:
        wanted.compare_with = NONE
    wanted.own_canons = ""
    add_canons(scene, left)
    refresh(scene)


def limits_of(scene: bpy.types.Scene) -> Settings:
    """What a loaded profile limits beyond what the panels show; the defaults without one."""
    try:
        kept: dict[str, Any] = json.loads(scene.evenfold_plan.limits or "{}")
        known = {entry.name for entry in fields(Settings)} - PANEL_FIELDS
        values: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in kept.items()
            if name in known
        }
        return Settings(**values)
    except (*DAMAGED, SettingsError):
        return Settings()


def keep_limits(scene: bpy.types.Scene, settings: Settings) -> None:
    """Keep with the scene what a profile sets beyond the panels' own fields."""
    plain = Settings()
    kept = {
        entry.name: getattr(settings, entry.name)
        for entry in fields(Settings)
        if entry.name not in PANEL_FIELDS
        and getattr(settings, entry.name) != getattr(plain, entry.name)
    }
    scene.evenfold_plan.limits = json.dumps(kept) if kept else ""


def refresh(scene: bpy.types.Scene) -> None:
    """Make plan and comparison anew from the scene's last measuring."""
    results = state.of(scene)
    if results is None:
        return
    results.plan, results.plan_refusal = None, ""
    results.comparison, results.comparison_refusal = None, ""
    results.compared_with, results.other_stale = "", False
    if results.proportion is None:
        return
    try:
        results.plan = plan_of(scene, results.proportion)
    except EvenfoldError as refusal:
        results.plan_refusal = str(refusal)
    try:
        results.comparison = _comparison(scene, results)
    except EvenfoldError as refusal:
        results.comparison_refusal = str(refusal)


def retarget(scene: bpy.types.Scene) -> None:
    """Hold the last measuring against the target as it is set now."""
    results = state.of(scene)
    if results is None or results.proportion is None:
        return
    results.proportion = aimed(scene, results.proportion)
    refresh(scene)


def aimed(scene: bpy.types.Scene, found: Proportion) -> Proportion:
    """A measuring held against the target as it is set now."""
    return retargeted(found, target_of(scene), limits_of(scene).target_band)


def plain(value: float) -> float:
    """A field's number as it was typed: the host keeps seven digits, and makes 2.2 of it 2.2000000477."""
    return float(f"{value:.7g}")


def target_of(scene: bpy.types.Scene) -> float | None:
    """The heads the panel aims at; None while no target is set."""
    panel = scene.evenfold
    return plain(panel.target_heads) if panel.has_target else None


def plan_of(scene: bpy.types.Scene, found: Proportion) -> Plan | None:
    """The plan from a measuring to the target as the panel asks for it; None without a target. Raises EvenfoldError."""
    wanted, target = scene.evenfold_plan, target_of(scene)
    if target is None:
        return None
    canon = canon_named(wanted.canon, own_canons(scene)) if wanted.canon not in ("", NONE) else None
    return make_plan(found, target, wanted.keep, canon)


def _comparison(scene: bpy.types.Scene, results: state.SceneResults) -> Comparison | None:
    choice = scene.evenfold_plan.compare_with
    if choice.startswith(CANON):
        canon = canon_named(choice.removeprefix(CANON), own_canons(scene))
        return compare(results.proportion, canon)
    name = choice.removeprefix(FIGURE)
    if choice.startswith(FIGURE) and name in state.remembered():
        results.compared_with, results.other_stale = name, state.changed_since(name)
        return compare_figures(results.proportion, state.remembered()[name], name)
    if choice != NONE:  # the host answers with an empty text for a choice that is gone
        raise EvenfoldError("What this figure was compared with is not there any more: choose again.")
    return None


def forget_choice(scene: bpy.types.Scene) -> None:
    """Compare with nothing where the choice is a figure; before the figures are forgotten."""
    if scene.evenfold_plan.compare_with.startswith(FIGURE):
        scene.evenfold_plan.compare_with = NONE


def apply_profile(scene: bpy.types.Scene, settings: Settings) -> None:
    """Put a profile's settings into the panels. Raises nothing a read profile could cause."""
    panel, wanted = scene.evenfold, scene.evenfold_plan
    add_canons(scene, settings.canons)
    keep_limits(scene, settings)
    panel.tolerance = (settings.tolerance or 0.0) / metres_per_unit(scene)
    panel.plane = settings.plane
    panel.has_target = settings.target_heads is not None
    if settings.target_heads is not None:
        panel.target_heads = settings.target_heads
    wanted.keep = settings.keep
    put_budget(scene, settings.budget)
    if settings.canon:
        wanted.compare_with = CANON + settings.canon
    retarget(scene)


def panel_settings(scene: bpy.types.Scene) -> Settings:
    """What the panels say by themselves, without the limits of an earlier profile."""
    panel = scene.evenfold
    metres = plain(panel.tolerance * metres_per_unit(scene))
    return replace(
        Settings(), tolerance=metres if panel.tolerance > 0 else None, target_heads=target_of(scene),
        plane=panel.plane, keep=scene.evenfold_plan.keep, budget=budget_of(scene),
    )


def canon_of(scene: bpy.types.Scene) -> str:
    """The key of the canon that is compared with, "" for none."""
    choice = scene.evenfold_plan.compare_with
    return choice.removeprefix(CANON) if choice.startswith(CANON) else ""


def every_canon(scene: bpy.types.Scene) -> tuple[Canon, ...]:
    """Own canons first, then those that come with the add-on."""
    own = own_canons(scene)
    names = {canon.key for canon in own}
    return (*own, *(canon for canon in CANONS.values() if canon.key not in names))
