"""What the preferences say a new file begins with."""

from dataclasses import replace
from pathlib import Path

import bpy

from ..core.budget import AMOUNTS
from ..core.settings import Settings, read_profile
from ..host.read.place import metres_per_unit
from . import planning
from .overlay import palette

OWN = ("figure_from", "has_target", "target_heads", "tolerance", "plane")
OWN_PLAN = ("keep", "canon", "compare_with", "profile", "own_canons", "limits")
OWN_BUDGET = (*AMOUNTS, "source")
"""Settings of a scene; where none of them was ever set, the file is new to us."""


def any_set() -> bool:
    """Whether the preferences hold a default at all."""
    own = palette.preferences()
    return own is not None and bool(own.has_target or own.tolerance > 0 or own.profile.strip())


def untouched(scene: bpy.types.Scene) -> bool:
    """Whether none of our settings was ever set in this scene."""
    ours = ((scene.evenfold, OWN), (scene.evenfold_plan, OWN_PLAN), (scene.evenfold_budget, OWN_BUDGET))
    return not any(group.is_property_set(name) for group, names in ours for name in names)


def apply(scene: bpy.types.Scene) -> None:
    """Put the preferences' defaults into the scene; the profile's word counts before the others'.

    Raises SettingsError, with nothing changed, when the profile cannot be read.
    """
    own = palette.preferences()
    if own is None:
        return
    given = own.profile.strip()
    settings = replace(
        Settings(),
        target_heads=planning.plain(own.target_heads) if own.has_target else None,
        tolerance=planning.plain(own.tolerance) / 1000.0 if own.tolerance > 0 else None,
    )
    if given:
        planning.apply_profile(scene, read_profile(Path(bpy.path.abspath(given)), settings))
        scene.evenfold_plan.profile = given
        return
    panel = scene.evenfold
    panel.has_target = own.has_target
    panel.target_heads = own.target_heads
    panel.tolerance = (settings.tolerance or 0.0) / metres_per_unit(scene)
    planning.retarget(scene)


def apply_if_new(scene: bpy.types.Scene) -> None:
    """The same for a scene in which nothing of ours was ever set. Raises SettingsError."""
    if any_set() and untouched(scene) and scene.library is None:
        apply(scene)
