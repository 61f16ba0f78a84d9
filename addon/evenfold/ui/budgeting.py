"""The scene's budget, and the last check's readiness held against it as it is now."""

import bpy

from ..core.budget import AMOUNTS, Budget
from ..core.findings import FigureResult, Readiness
from ..core.readiness.size import CODE, size_readiness


def budget_of(scene: bpy.types.Scene) -> Budget:
    """The limits as the panel has them."""
    kept = scene.evenfold_budget
    return Budget(**{name: getattr(kept, name) for name in AMOUNTS}, source=kept.source)


def put_budget(scene: bpy.types.Scene, budget: Budget) -> None:
    """Put limits into the panel, with the words on where they come from."""
    kept = scene.evenfold_budget
    for name in AMOUNTS:
        setattr(kept, name, getattr(budget, name))
    kept.source = budget.source


def readiness_now(scene: bpy.types.Scene, result: FigureResult) -> list[Readiness]:
    """What a check told, its size held against the budget as it is now: a new limit needs no new check."""
    told = [one for one in result.readiness if one.code != CODE]
    over = size_readiness(result.size, budget_of(scene)) if result.size is not None else ()
    return [*over, *told]
