"""The lowest point of the chin, by all that tells of it: the outline, the jaw, the end of the head's weight and of its piece."""

from dataclasses import replace

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..fuse import Bracket, fuse, widened
from ..head.region import Head, front_half
from ..parts.body import Body
from ..spot import Spot
from .chin_choice import choose_chin, nearer_bone
from .chin_fit import FaceOutline
from .chin_hints import WEIGHT_END, Hints, face_reading, jaw_reading, weight_end
from .chin_own import hidden_below, is_lip, is_round, over_hidden, own_end
from .chin_seen import OUTLINE, from_outline, is_seated, seated
from .chin_touch import BLUR, ChinFit
from .muzzle import muzzle_reading
from .side_outline import cuts

OVER_NECK = Bracket(0.05, 0.3, shift=0.08)
"""How far the chin may lie off the narrowest place of the neck, and how far over it it is told. Our choice."""
AT_WEIGHT_END = Bracket(0.06, 0.16)
"""How far the chin may lie off the end of the head's weight where outline or jaw show it too. Our choice."""
ONLY_WEIGHT_END = Bracket(0.2, 0.16)
"""The same where they do not. Our choice."""
OVER_JAW = 0.04
"""An outline's chin further than this above both all that follows the jaw bone and the end of the head's weight, in heads, may
be a muzzle's. Our choice."""
OWN_NECK = 0.1
"""A head of its own that goes on further than this under its notch, in heads, has a neck on it. Our choice."""

BEHIND_FACE = (1.5, 0.8)
"""A neck lies no further behind the face than the first of the depth of its outline, or the second of the head's width where
that is more, even behind a muzzle."""

NECK_SAMPLES = 20
"""Samples to the head's width in which a neck is looked for under what may be a fringe or a nose."""
NECK_SPAN, FACE_SPAN = (0.2, 0.8), 0.25
"""Looked at are these shares of the way from the end of the head's weight up to the chin, and so much of the face over it, in
heads. Our choice."""
NARROW = 0.6
"""A neck is narrower than this share of the face. Our choice."""


def find_chin(
    body: Body, head: Head, crown: float, how: str, neck: float | None = None, bone: float | None = None
) -> Spot:
    """The chin of ``head``; ``neck`` is the height of the narrowest place below it, where known.

    ``how`` is what told the head from the body: weights, object or shape; ``bone`` the height at
    which the head bone starts.
    """
    size = crown - head.low
    front = front_half(head, head.skull)
    hints = Hints(weight_end(body, head) if how == "weights" else None, bone, neck, jaw_reading(body, head, size))
    points = np.concatenate([front, _neck_outline(body, head, front)]) if hints.joined else front
    outline = FaceOutline(points, head.low if neck is None else neck, crown, hints.joined)
    fit = choose_chin(body, head, outline, hints, size)
    if fit is not None and _is_neck_below(head, fit.height, hints, size):
        hints = replace(hints, bone=None)
    readings = _of_joined(outline, fit, hints, size) if hints.joined else _of_own(head, front, fit, hints, size)
    leader, low, high = fuse(readings)
    other = nearer_bone(outline, leader.height, hints, size)
    face = face_reading(body, head, size)
    if face is not None:
        readings.append(face)
        low, high = widened(leader.low, leader.high, readings)
    if other is not None:
        readings.append(other)
        high = max(high, other.high)
    muzzle = muzzle_reading(head, leader.height, size, weighted=how == "weights")
    if muzzle is not None:
        readings.append(muzzle)
        leader, low = muzzle, min(low, muzzle.low)
    ahead = front[np.argmin(np.abs(front[:, 2] - leader.height))] if len(front) else head.framed.mean(axis=0)
    point = np.array([head.side, ahead[1], leader.height])
    return Spot(leader.height, point, "weights" if how == "weights" else "shape", low, high, leader.method, tuple(readings))


def _of_joined(outline: FaceOutline, fit: ChinFit | None, hints: Hints, size: float) -> list[Reading]:
    """What tells of the chin of a head that goes on into a neck."""
    readings = _readings(outline.points, fit, hints, size, joined=True)
    if hints.neck is not None:
        readings.append(OVER_NECK.about("narrowest place of the neck", hints.neck, size))
    return readings


def _of_own(head: Head, front: FloatArray, fit: ChinFit | None, hints: Hints, size: float) -> list[Reading]:
    """What tells of the chin of a head that is a piece of its own, with the outline ``front`` (n, 3)."""
    if fit is not None and is_lip(head, fit, size):
        fit = None
    has_neck = fit is not None and fit.notch > head.low + OWN_NECK * size
    readings = _readings(front, fit, hints, size, joined=has_neck)
    if fit is not None and not has_neck and is_seated(front, fit, size):
        fit = None
    meets = hidden_below(head, front, fit, size)
    over = over_hidden(front, meets[0].height, head.low + size) if meets else None
    if over is not None:
        fit, meets = over, []
        readings = _readings(front, fit, hints, size, joined=True)
    readings += [own_end(head, fit, size), *meets]
    if is_round(head, fit, size):
        lowest = head.low - BLUR * size
        readings = [replace(one, low=min(one.low, lowest)) if one.method == OUTLINE else one for one in readings]
    return readings


def _readings(outline: FloatArray, fit: ChinFit | None, hints: Hints, size: float, *, joined: bool) -> list[Reading]:
    """What jaw, outline (n, 3) and weights say; ``joined`` is true for a head that goes on into a neck."""
    rim, jaw = hints.rim, hints.jaw
    readings = [] if jaw is None else [jaw]
    if fit is not None and ((fit.ball and joined) or not is_seated(outline, fit, size)):
        readings.append(_doubted(from_outline(fit, size), fit.height, hints, size))
    elif fit is not None and joined and (jaw is None or jaw.height > fit.notch - BLUR * size):
        readings.append(_doubted(seated(fit, size), fit.notch, hints, size))
    if rim is not None:
        readings.append((AT_WEIGHT_END if readings else ONLY_WEIGHT_END).about(WEIGHT_END, rim, size))
    return readings


def _doubted(seen: Reading, height: float, hints: Hints, size: float) -> Reading:
    """What was seen at ``height``; far above the head bone's start and the end of its weight it may be something else."""
    rim, jaw = hints.rim, hints.jaw
    if hints.leave_in_doubt(height, size) and rim is not None:
        return replace(seen, low=min(seen.low, rim - AT_WEIGHT_END.below * size))
    if rim is not None and jaw is not None and height > max(jaw.height, rim) + OVER_JAW * size:
        return replace(seen, low=min(seen.low, jaw.height - BLUR * size))
    return seen


def _is_neck_below(head: Head, chin: float, hints: Hints, size: float) -> bool:
    """True where what follows the head between the end of its weight and a ``chin`` far over it is as narrow as a neck, no face."""
    if hints.rim is None or not hints.leave_in_doubt(chin, size):
        return False
    own = head.samples(head.own, head.width / NECK_SAMPLES)
    shares = (own[:, 2] - hints.rim) / max(chin - hints.rim, 1e-12)
    below = own[(shares > NECK_SPAN[0]) & (shares < NECK_SPAN[1])]
    over = own[(own[:, 2] > chin) & (own[:, 2] < chin + FACE_SPAN * size)]
    return bool(len(below) and len(over) and np.ptp(below[:, 0]) < NARROW * np.ptp(over[:, 0]))


def _neck_outline(body: Body, head: Head, front: FloatArray) -> FloatArray:
    """The outline (m, 3) of what the skull's own piece goes on with below the head, no further back than a neck is."""
    on = np.isin(head.piece, np.unique(head.piece[head.skull])) & ~body.worn
    below = cuts(head.framed, head.faces_of(on), head.side, head.width)
    if not len(front):
        return below
    centre = float(np.median(front[:, 1])) - max(BEHIND_FACE[0] * float(np.ptp(front[:, 1])), BEHIND_FACE[1] * head.width)
    below = below[below[:, 2] < np.median(front[:, 2])]
    return np.column_stack([below[:, 0], np.maximum(below[:, 1], centre), below[:, 2]])
