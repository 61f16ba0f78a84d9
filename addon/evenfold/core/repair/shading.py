"""What a repair that moved vertices has done to custom normals, which turn with the surface they lie on."""

import numpy as np

from ..figure import Figure
from ..symmetry.matched import Matched
from ..symmetry.normals import turned
from .case import Checked
from .changes import Moved, Plan

SAME = 0.01
"""Degrees by which a normal may turn and still count as lying as before. Our choice."""


def shading_told(checked: Checked, plan: Plan, after: Figure) -> tuple[str, ...]:
    """A sentence for each object whose custom normals lie further off their mirror images than before.

    ``checked`` is the figure before the plan, ``after`` the figure as it was read again.
    """
    moved = {one.owner for one in plan.changes if isinstance(one, Moved)}
    if not moved:
        return ()
    later = Checked(after, checked.limits, checked.finder)
    told = []
    for name, compared in checked.compared.items():
        matched = compared.matched
        if matched is None or compared.half or not moved & {matched.here.name, matched.there.name}:
            continue
        count = _further_off(checked, matched, later)
        if count:
            what = "1 custom normal is" if count == 1 else f"{count:,} custom normals are"
            told.append(
                f"{name}: {what} now further off the mirror image than before: make them anew on both "
                "halves (Reset Vectors under Alt+N in Edit Mode), or undo."
            )
    return tuple(told)


def _further_off(checked: Checked, matched: Matched, later: Checked) -> int:
    names = matched.here.name, matched.there.name
    if any(name not in later.surfaces or not _alike(checked, later, name) for name in names):
        return 0
    rows = np.flatnonzero(matched.corners_once)
    before = turned(matched, checked.limits, rows)
    now = turned(later.renewed(matched, moved=False), checked.limits, rows)
    return int(((now > checked.limits.settings.normal_angle) & (now > before + SAME)).sum())


def _alike(checked: Checked, later: Checked, name: str) -> bool:
    """Whether an object's corners are still numbered alike."""
    return np.array_equal(checked.surfaces[name].corners, later.surfaces[name].corners)
