"""Landmarks beyond crown, chin and sole: from the standard's bones, or from shape."""

from dataclasses import dataclass

import numpy as np

from ..figure import Figure, FloatArray
from .fingertips import Tips, tips_by_shape, tips_of_hands
from .ground.between_legs import Legs, find_crotch
from .ground.foot import find_foot_sole
from .parts.body import Body
from .points.sample import FEWEST_POINTS
from .spot import Spot

JOINTS = {
    "shoulder": ("UpperArm", "start of the upper arm bones, the shoulder joints"),
    "elbow": ("LowerArm", "start of the lower arm bones"),
    "wrist": ("Hand", "start of the hand bones"),
    "hip": ("UpperLeg", "start of the upper leg bones, the hip joints"),
    "knee": ("LowerLeg", "start of the lower leg bones"),
    "ankle": ("Foot", "start of the foot bones"),
}
"""Landmarks that are joints on both sides; where a joint bone starts is the standard's own rule."""
MIDDLE = {
    "waist": ("spine", "start of the spine bone, which the avatar standard puts at the top of the pelvis"),
    "neck_base": ("neck", "start of the neck bone, which the avatar standard puts at the base of the neck"),
}
ARM = frozenset({"elbow", "wrist", "fingertip"})
SLACK = 0.01
"""How far off a joint bone may sit, as a share of the height; common practice, no source."""
NO_CHIN = 0.9
"""Where there is no chin it is taken to lie so high, as a share of the height. Our choice."""
OUTSIDE = 0.02
"""A landmark lies no further below the sole or above the crown than this share of the height. Our choice."""
HANGING, LEVEL = 65, 12
"""Arms that fall by more than the first hang, by less than the second either way they are level; in degrees. Our choice."""
UNEVEN = 0.02
"""A difference between left and right, as a share of the height, that is told."""


@dataclass(frozen=True)
class Stretch:
    """A width between two places, both (3,) in the figure's frame; lengths in scene units.

    ``path`` is its length where it does not run straight (along the arms), else None.
    """

    start: FloatArray
    end: FloatArray
    how: str
    evidence: str
    path: float | None = None

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.end - self.start)) if self.path is None else self.path


@dataclass(frozen=True)
class _Frame:
    """Where bones start, (left, right) by landmark, in the figure's frame; ``height`` of the body."""

    joints: dict[str, tuple[FloatArray, FloatArray]]
    middle: dict[str, FloatArray]
    height: float


def find_further(
    figure: Figure, body: Body, framed: FloatArray, axes: FloatArray, spots: dict[str, Spot]
) -> tuple[dict[str, Spot], dict[str, Stretch]]:
    """Landmarks and widths that can be known; what cannot is left out.

    ``framed`` (n, 3) are the body's points as side (left positive), forward, up; ``axes``
    (3, 3) rows lead from world to that frame; ``spots`` holds crown, chin and sole, and pins.
    Landmarks that ``spots`` already holds are not looked for.
    """
    own = framed[~body.worn]
    if len(own) < FEWEST_POINTS:
        return {}, {}
    low, high = _ends(own, spots)
    if not high > low:
        return {}, {}
    frame = _frame(figure, axes, high - low)
    chin = spots["chin"].height if "chin" in spots else low + NO_CHIN * (high - low)
    tips = tips_of_hands(figure, body, framed, axes) or tips_by_shape(own, low, high, chin)
    found = _joints(frame)
    eyes = _eyes(figure, axes, frame.height, spots)
    if eyes is not None:
        found["eye_line"] = eyes
    if tips is not None:
        found["fingertip"] = _pair_spot((tips.left, tips.right), tips.how, tips.evidence, tips.slack * frame.height, frame.height)
    legs = Legs(low, high, frame.joints.get("hip"), frame.joints.get("knee"), chin if "chin" in spots else None)
    crotch = find_crotch(body, framed, legs)
    if crotch is not None:
        found["crotch"] = crotch
    foot = find_foot_sole(figure, body, framed, axes, spots["sole"], frame.height) if "sole" in spots else None
    if foot is not None:
        found["foot_sole"] = foot
    found = {name: _with_pose(name, spot, frame) for name, spot in found.items()}
    slack = OUTSIDE * frame.height
    kept = {
        name: spot for name, spot in found.items()
        if name not in spots and low - slack <= spot.height <= high + slack
    }
    return kept, _spans(frame, tips)


def _ends(own: FloatArray, spots: dict[str, Spot]) -> tuple[float, float]:
    low = spots["sole"].height if "sole" in spots else float(own[:, 2].min())
    high = spots["crown"].height if "crown" in spots else float(own[:, 2].max())
    return low, high


def bone_place(figure: Figure, standard: str, axes: FloatArray) -> FloatArray | None:
    """Where a standard bone starts, (3,) in the figure's frame; None without such a bone."""
    armature = figure.armature
    bone = armature.by_name.get(figure.humanoid.get(standard, "")) if armature is not None else None
    return None if bone is None else np.asarray(axes @ np.asarray(bone.head, float), float)


def _frame(figure: Figure, axes: FloatArray, height: float) -> _Frame:
    joints: dict[str, tuple[FloatArray, FloatArray]] = {}
    for name, (part, _) in JOINTS.items():
        left, right = (bone_place(figure, side + part, axes) for side in ("left", "right"))
        if left is not None and right is not None:
            joints[name] = (left, right)
    middle: dict[str, FloatArray] = {}
    for name, (part, _) in MIDDLE.items():
        place = bone_place(figure, part, axes)
        if place is not None:
            middle[name] = place
    return _Frame(joints, middle, height)


def _joints(frame: _Frame) -> dict[str, Spot]:
    slack = SLACK * frame.height
    found = {
        name: _pair_spot(pair, "bones", JOINTS[name][1], slack, frame.height) for name, pair in frame.joints.items()
    }
    for name, place in frame.middle.items():
        height = float(place[2])
        found[name] = Spot(height, place, "bones", height - slack, height + slack, MIDDLE[name][1])
    return found


def _pair_spot(pair: tuple[FloatArray, FloatArray], how: str, evidence: str, slack: float, height: float) -> Spot:
    """The mean of left and right; the range covers both, and a clear difference is told."""
    levels = float(pair[0][2]), float(pair[1][2])
    apart = levels[0] - levels[1]
    if abs(apart) > UNEVEN * height:
        evidence += f"; the left one is {abs(apart) / height * 100:.1f} % of the height {'higher' if apart > 0 else 'lower'} than the right one"
    point = (pair[0] + pair[1]) / 2
    return Spot(float(point[2]), point, how, min(levels) - slack, max(levels) + slack, evidence)


def _eyes(figure: Figure, axes: FloatArray, height: float, spots: dict[str, Spot]) -> Spot | None:
    places = [place for side in ("left", "right") if (place := bone_place(figure, f"{side}Eye", axes)) is not None]
    if not places:
        return None
    words = "start of the eye bones" if len(places) == 2 else "start of the only eye bone"
    eyes = _pair_spot((places[0], places[-1]), "bones", words, SLACK * height, height)
    bounds = [spots[name].height for name in ("chin", "crown") if name in spots]
    if len(bounds) == 2 and not bounds[0] < eyes.height < bounds[1]:
        return None
    return eyes


def _with_pose(name: str, spot: Spot, frame: _Frame) -> Spot:
    """How the arms are held decides where elbow, wrist and fingertip are, so it is said."""
    if name not in ARM or "shoulder" not in frame.joints or "wrist" not in frame.joints:
        return spot
    falls = []
    for shoulder, wrist in zip(frame.joints["shoulder"], frame.joints["wrist"], strict=True):
        way = wrist - shoulder
        falls.append(np.degrees(np.arctan2(-way[2], np.linalg.norm(way[:2]))))
    fall = float(np.mean(falls))
    pose = "hanging" if fall > HANGING else "level" if abs(fall) < LEVEL else f"{abs(fall):.0f} degrees {'below' if fall > 0 else 'above'} level"
    return Spot(spot.height, spot.point, spot.how, spot.low, spot.high, f"{spot.evidence}; the arms are {pose} at rest")


def _spans(frame: _Frame, tips: Tips | None) -> dict[str, Stretch]:
    """Shoulder and hip width from joint to joint, the arm span along the arms."""
    spans: dict[str, Stretch] = {}
    for name, joint in (("shoulder_width", "shoulder"), ("hip_width", "hip")):
        if joint in frame.joints:
            left, right = frame.joints[joint]
            spans[name] = Stretch(left, right, "bones", f"from {joint} joint to {joint} joint, not over the surface")
    if tips is None:
        return spans
    if {"shoulder", "elbow", "wrist"} <= set(frame.joints):
        length = spans["shoulder_width"].length
        for side, tip in enumerate((tips.left, tips.right)):
            stops = [frame.joints[name][side] for name in ("shoulder", "elbow", "wrist")]
            length += float(np.linalg.norm(np.diff([*stops, tip], axis=0), axis=1).sum())
        spans["arm_span"] = Stretch(
            tips.left, tips.right, tips.how, "both arms along their bones to the fingertips and the shoulder width, however the arms are held", length
        )
    elif tips.how == "shape":
        spans["arm_span"] = Stretch(tips.left, tips.right, "shape", "from fingertip to fingertip, the arms being level")
    return spans
