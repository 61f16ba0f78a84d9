"""What counts as measured now: the last measuring, or what is kept current where that is out of date."""

from dataclasses import dataclass
from typing import Any

import bpy

from ..core.errors import EvenfoldError
from ..core.figure import Figure
from ..core.findings import Proportion
from ..core.planning.plan import Plan
from . import live, planning, state


@dataclass(frozen=True, eq=False)
class Shown:
    """A measuring with its plan, and the figure's name and the ``names`` of the objects it was made of.

    ``how`` is measured, stale or kept; ``refusal`` says why there is no plan to the target.
    """

    figure: str
    proportion: Proportion
    plan: Plan | None
    names: tuple[str, ...]
    how: str
    refusal: str = ""

    def same_as(self, other: "Shown") -> bool:
        """Whether both are made from the very same records."""
        return self.proportion is other.proportion and self.plan is other.plan and self.how == other.how


_kept: dict[int, tuple[Proportion, tuple[Any, ...], Shown]] = {}
"""By scene, what is kept current, the settings of the plan, and what is shown of both."""


def measured(scene: bpy.types.Scene) -> Shown | None:
    """The last measuring; None before the first."""
    results = state.of(scene)
    if results is None or results.proportion is None:
        return None
    how = "stale" if results.stale else "measured"
    return Shown(
        results.figure_name, results.proportion, results.plan, tuple(results.marks), how, results.plan_refusal
    )


def kept_current(scene: bpy.types.Scene) -> Shown | None:
    """What is kept current; the same record until it or what is asked of the plan has changed."""
    session = live.session_of(scene)
    found = None if session is None else session.heads.found
    if session is None or found is None:
        _kept.pop(scene.session_uid, None)
        return None
    asked = planning.target_of(scene), scene.evenfold_plan.keep, scene.evenfold_plan.canon
    known = _kept.get(scene.session_uid)
    if known is None or known[0] is not found or known[1] != asked:
        known = _kept[scene.session_uid] = found, asked, _followed(scene, session.kept.figure, found)
    return known[2]


def _followed(scene: bpy.types.Scene, figure: Figure, found: Proportion) -> Shown:
    names = tuple(one.name for one in figure.surfaces)
    try:
        return Shown(figure.name, found, planning.plan_of(scene, found), names, "kept")
    except EvenfoldError as refusal:
        return Shown(figure.name, found, None, names, "kept", str(refusal))


def shown_of(scene: bpy.types.Scene) -> Shown | None:
    """What is to be shown; None where nothing was measured and nothing is kept current."""
    last = measured(scene)
    if last is not None and last.how == "measured":
        return last
    return kept_current(scene) or last


def forget() -> None:
    _kept.clear()
