"""Humanoid joints that stand outside the limb they bend."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..figure import Bone, Figure, FloatArray, Part
from ..findings import Place, Readiness
from ..humanoid_table import SIDES, label

JOINTS = {
    "elbow": ("UpperArm", "LowerArm"),
    "wrist": ("LowerArm", "Hand"),
    "knee": ("UpperLeg", "LowerLeg"),
    "ankle": ("LowerLeg", "Foot"),
}
"""Each joint with the standard's bones above and below it."""

SHARED = 0.1
"""A vertex belongs to the bend where both bones hold at least this weight. Our choice."""

FEWEST = 6
"""So many vertices must surround a joint before it is judged. Our choice."""

BEYOND = 0.15
"""A joint is outside from this share of the limb's radius beyond its surface. Our choice."""

DIRECTIONS = 64


def joints_readiness(figure: Figure) -> list[Readiness]:
    """``ready-joint-outside`` for each joint that lies outside the vertices bending around it."""
    return [entry for side in SIDES for entry in _of_side(figure, side)]


def _of_side(figure: Figure, side: str) -> Iterator[Readiness]:
    if figure.armature is None:
        return
    bones = figure.armature.by_name
    for joint, (above, below) in JOINTS.items():
        names = figure.humanoid.get(side + above), figure.humanoid.get(side + below)
        one, other = bones.get(names[0] or ""), bones.get(names[1] or "")
        if one is None or other is None:
            continue
        beyond = _beyond(_ring(figure, one.name, other.name), one, other)
        if beyond > 0.0:
            yield Readiness(
                "ready-joint-outside", "warning",
                f"The {label(side + ' ' + joint).lower()} (head of {other.name}) stands "
                f"{beyond * figure.metres_per_unit * 1000.0:.4g} mm outside the limb it bends: move it "
                "to the middle of the limb in the rest pose.", other.name,
                (Place(figure.armature.name, "bone", (other.name,)),),
            )


def _ring(figure: Figure, above: str, below: str) -> FloatArray:
    """(k, 3) the points that bend: those that follow both bones, or the faces between the two."""
    found = [np.zeros((0, 3))]
    for part in figure.parts:
        if above in part.weights.names and below in part.weights.names:
            held = [part.weights.of_groups({name}, len(part.points)) for name in (above, below)]
            shared = (held[0] >= SHARED) & (held[1] >= SHARED)
            found.append(part.points[shared if shared.any() else _between(part, held)])
    points = np.concatenate(found)
    return points[np.isfinite(points).all(axis=1)]


def _between(part: Part, held: list[FloatArray]) -> NDArray[np.bool_]:
    """(m,) the vertices of faces that join what follows one bone to what follows the other."""
    one, other = (weight[part.triangles] > 0.0 for weight in held)
    joining = np.zeros(len(part.points), bool)
    joining[part.triangles[one.any(axis=1) & other.any(axis=1)]] = True
    return joining


def _beyond(ring: FloatArray, above: Bone, below: Bone) -> float:
    """How far the joint lies beyond the ring seen along the limb, in scene units; 0 if inside.

    Seen so, the ring's outline is taken as convex: a joint in it is never reported.
    """
    along = below.tail - above.head
    length = float(np.linalg.norm(along))
    if len(ring) < FEWEST or length <= 0.0:
        return 0.0
    along = along / length
    aside = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    aside /= np.linalg.norm(aside)
    across = np.stack([aside, np.cross(along, aside)], axis=1)
    flat, joint = ring @ across, below.head @ across
    turn = 2.0 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    looks = np.stack([np.cos(turn), np.sin(turn)])
    reach = (flat @ looks).max(axis=0)
    radius = float((reach + np.roll(reach, DIRECTIONS // 2)).mean()) / 2.0
    beyond = float((joint @ looks - reach).max())
    return beyond if radius > 0.0 and beyond > BEYOND * radius else 0.0
