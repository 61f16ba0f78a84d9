"""What was taken for a head by its shape alone, held against the rig's arms and legs."""

import numpy as np

from ...figure import Figure
from ..directions.frame import up_of
from ..parts.named_bones import carrying_bones

OVER_ARMS = 0.4
"""A head rises over where the arms begin by more than this share of itself, even one that sits between the shoulders. Our choice."""
REFUSAL = "No bone carries a head, and by its shape it would lie beside the rig's arms or legs; name the head bone, or pin crown and chin."


def refuse_against_rig(figure: Figure, crown: float, chin: float) -> str | None:
    """A sentence where a head between these heights (along up, in scene units) is none for the bones' sake: it begins
    below the legs' start, or hardly rises over the arms'."""
    arms, legs = _starts(figure, "UpperArm"), _starts(figure, "UpperLeg")
    beside_arms = arms is not None and crown - arms < OVER_ARMS * (crown - chin)
    return REFUSAL if beside_arms or (legs is not None and chin < legs) else None


def _starts(figure: Figure, key: str) -> float | None:
    """The height at which both bones of a name begin, where both carry something; None else."""
    armature = figure.armature
    names = [figure.humanoid.get(f"{side}{key}", "") for side in ("left", "right")]
    if armature is None or not set(names) <= carrying_bones(figure) & set(armature.by_name):
        return None
    heights = np.array([armature.by_name[name].head for name in names], float) @ up_of(figure)
    return float(heights.mean()) if np.isfinite(heights).all() else None
