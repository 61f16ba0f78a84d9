"""The lowest point of the chin, where the outline of the face turns under to the neck."""

from dataclasses import dataclass, replace

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..fuse import fuse, widened
from ..head.region import Head, front_half
from ..parts.body import Body
from ..spot import Spot
from .chin_hints import WEIGHT_END, face_reading, head_share, jaw_reading, weight_end
from .chin_own import BLUR, hidden_below, is_lip, is_round, own_end
from .muzzle import muzzle_reading
from .side_outline import ChinFit, corner_over, end_of_ball, find_ledge, front_line, touch_chin
from .side_outline import cuts as cuts_of
from .underside import find_underside

OUTLINE = "outline of the chin"
SEAT = np.radians(10.0)
"""An underside that falls towards the body more steeply than this has no chin of its own."""
MUZZLE = 0.12
"""A chin further than this above the notch, in heads, may be a muzzle or a nose instead."""
BELOW = (0.5, 0.3)
"""So far below the start of the head bone, in shares of what is above it, a chin is looked for. Our choice."""
DEEPEST = 0.38
"""A chin lies no further below the start of the head bone than this share of what is above it. Our choice."""
BODY = 0.1
"""A fold of the outline further than this under the end of the head's weight, in heads, may be the collar's or
the chest's: where hardly anything there follows the head, another is looked for above it. Our choice."""
AT_RIM = (0.1, 0.14)
"""A chin so little under or over the end of the head's weight, in heads, is the head's wherever its bone starts. Our choice."""
UNDER_JAW = 0.08
"""So far under what follows the jaw bone, in heads, the fold under the chin is looked for. Our choice."""
THROAT = 0.015
"""An outline's chin further than this under all that follows the jaw bone, in heads, may be the throat. Our choice."""
ALIEN = 0.3
"""What follows the head by less than this share of its weight is none of it. Our choice."""
UNDER_RIM = 0.05
"""A chin that lies further than this under the end of the head's weight, in heads, and too deep for its bone besides,
may be a fold of the body, whose weights spilled. Our choice."""
SETBACK = 0.8
"""A neck lies no further behind the face than this share of the head's width, even behind a muzzle."""
ALONE = 0.2
"""So far under the end of the head's weight, in heads, the chin may lie where no outline shows it. Our choice."""
ABOVE = 0.12
"""An outline's chin further than this above both the head bone's start and the end of the head's weight, in
heads, may be a fringe or a nose: its range reaches down to where the weight ends. Our choice."""
NECK_SAMPLES = 20
"""Samples to the head's width there."""
NECK, NARROW, FACE = (0.2, 0.8), 0.6, 0.25
"""Unless what lies between, in these shares of the way from there up to the chin, is narrower than the second share of the
face over it, up to the third in heads: then it is the neck. Our choice."""
OVER_JAW = 0.04
"""One further than this above both all that follows the jaw bone and the end of the head's weight may be a muzzle's. Our choice."""
WEIGHTLESS = 0.06
"""So far under the end of the head's weight, in heads, the chin may lie where an outline shows it. Our choice."""
FALL = 0.35
"""Where an underside falls from the chin to the neck, the chin may be meant lower by this share of the way. Our choice."""
STUMP = 0.1
"""A head of its own that goes on further than this under its notch, in heads, has a neck on it. Our choice."""
ROUNDING = 0.15
"""A ball's lowest point lies no further under what is seen of it, in heads. Our choice."""


@dataclass(frozen=True)
class _Hints:
    """Heights that tell about where the chin is, None where unknown: the end of the head's weight in front,
    the start of the head bone, the narrowest place of the neck; and what follows the jaw bone."""

    rim: float | None
    bone: float | None
    neck: float | None
    jaw: Reading | None

    @property
    def joined(self) -> bool:
        """True where the head goes on into the neck in one piece."""
        return self.rim is not None or self.neck is not None

    def leave_in_doubt(self, height: float, size: float) -> bool:
        """True where ``height`` lies far above both the head bone's start and the end of its weight."""
        return self.rim is not None and self.bone is not None and height > max(self.bone, self.rim) + ABOVE * size


def find_chin(
    body: Body, head: Head, crown: float, how: str, neck: float | None = None, bone: float | None = None
) -> Spot:
    """The chin of ``head``; ``neck`` is the height of the narrowest place below it, where known.

    ``how`` is what told the head from the body: weights, object or shape; ``bone`` the height at
    which the head bone starts.
    """
    size = crown - head.low
    front = front_half(head, head.skull)
    hints = _Hints(weight_end(body, head) if how == "weights" else None, bone, neck, jaw_reading(body, head, size))
    outline = np.concatenate([front, _neck_outline(body, head, front)]) if hints.joined else front
    anchor = head.low if neck is None else neck
    fit = _choose(outline, anchor, crown, size, hints)
    if fit is not None and hints.rim is not None and _is_collar(body, head, fit, hints.rim, size):
        nearer = _fit(outline, anchor, crown, hints.joined, fit.height + 0.02 * size)
        fit = nearer if nearer is not None and abs(nearer.height - hints.rim) < abs(fit.height - hints.rim) else fit
    if fit is not None and not hints.joined and is_lip(head, fit, size):
        fit = None
    neck_on_it = fit is not None and not hints.joined and fit.notch > head.low + STUMP * size
    if fit is not None and hints.leave_in_doubt(fit.height, size) and _is_neck_below(head, fit.height, hints.rim or 0.0, size):
        hints = replace(hints, bone=None)
    readings = _readings(outline, fit, hints, size, joined=hints.joined or neck_on_it)
    if not hints.joined:
        fit = None if fit is not None and not neck_on_it and _is_seated(outline, fit, size) else fit
        readings += [own_end(head, fit, size), *hidden_below(head, front, fit, size)]
        if is_round(head, fit, size):
            readings = [replace(one, low=min(one.low, head.low - BLUR * size)) if one.method == OUTLINE else one for one in readings]
    if neck is not None:
        readings.append(Reading("narrowest place of the neck", neck + 0.08 * size, neck - 0.05 * size, neck + 0.3 * size))
    leader, low, high = fuse(readings)
    other = _nearer_bone(outline, anchor, crown, leader.height, hints, size)
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


def _choose(outline: FloatArray, anchor: float, crown: float, size: float, hints: _Hints) -> ChinFit | None:
    """The chin on the outline: the lowest rounding, unless the head bone's start or the jaw say that it is another's."""
    joined, rim, bone, jaw = hints.joined, hints.rim, hints.bone, hints.jaw
    floor = anchor - (0.3 if joined else 0.05) * size
    if rim is not None and hints.neck is None:
        lowest = _fit(outline, anchor, crown, joined, max(floor, rim - 0.2 * size))
        if lowest is not None and -AT_RIM[0] * size < lowest.height - rim < AT_RIM[1] * size and (jaw is None or lowest.height >= jaw.height - THROAT * size):
            return lowest
    floors = [floor] if rim is None else _floors(max(floor, rim - 0.2 * size), bone, crown)
    if hints.neck is not None:
        floors = [max(floor, _fold(outline, hints.neck, size) - 0.04 * size)]
    fit = _fit(outline, anchor, crown, joined, floors[0])
    if fit is not None and bone is not None and fit.height < bone - DEEPEST * (crown - bone):
        nearer = _fit(outline, anchor, crown, joined, floors[-1])
        fit = nearer if nearer is not None and nearer.height < bone + 0.1 * (crown - bone) else fit
    if jaw is not None and (fit is None or fit.height < jaw.height - THROAT * size):
        nearer = _fit(outline, anchor, crown, joined, jaw.height - UNDER_JAW * size)
        fit = nearer if nearer is not None and abs(nearer.height - jaw.height) < 2 * THROAT * size else fit
    return fit


def _nearer_bone(outline: FloatArray, anchor: float, crown: float, chin: float, hints: _Hints, size: float) -> Reading | None:
    """Another fold of the outline over a ``chin`` far under the start of the head bone and under the end of the head's weight."""
    bone, rim = hints.bone, hints.rim
    if bone is None or rim is None or chin > min(bone - DEEPEST * (crown - bone), rim - UNDER_RIM * size):
        return None
    fit = _fit(outline, anchor, crown, hints.joined, chin + BODY * size)
    if fit is None or fit.height > bone + 0.1 * (crown - bone):
        return None
    return Reading("fold of the outline nearer to the start of the head bone", fit.height, fit.height - BLUR * size, fit.height + BLUR * size)


def _is_collar(body: Body, head: Head, fit: ChinFit, rim: float, size: float) -> bool:
    """True where a fold lies far under the end of the head's weight and hardly anything about it follows the head."""
    return fit.height < rim - BODY * size and head_share(body, head, fit.height, fit.forward, size) < ALIEN


def _is_neck_below(head: Head, chin: float, rim: float, size: float) -> bool:
    """True where what follows the head between the end of its weight and a ``chin`` over it is as narrow as a neck, no face."""
    own = head.samples(head.own, head.width / NECK_SAMPLES)
    shares = (own[:, 2] - rim) / max(chin - rim, 1e-12)
    below = own[(shares > NECK[0]) & (shares < NECK[1])]
    over = own[(own[:, 2] > chin) & (own[:, 2] < chin + FACE * size)]
    return bool(len(below) and len(over) and np.ptp(below[:, 0]) < NARROW * np.ptp(over[:, 0]))


def _readings(outline: FloatArray, fit: ChinFit | None, hints: _Hints, size: float, *, joined: bool) -> list[Reading]:
    """What jaw, outline and weights say; ``joined`` is true for a head that goes on into a neck."""
    rim, jaw = hints.rim, hints.jaw
    readings = [] if jaw is None else [jaw]
    if fit is not None and ((fit.ball and joined) or not _is_seated(outline, fit, size)):
        readings.append(_doubted(_from_outline(fit, size), fit.height, hints, size))
    elif fit is not None and joined and (jaw is None or jaw.height > fit.notch - BLUR * size):
        readings.append(_doubted(_seated(fit, size), fit.notch, hints, size))
    if rim is not None:
        readings.append(Reading(WEIGHT_END, rim, rim - (WEIGHTLESS if readings else ALONE) * size, rim + 0.16 * size))
    return readings


def _doubted(seen: Reading, height: float, hints: _Hints, size: float) -> Reading:
    """What was seen at ``height``; far above the head bone's start and the end of its weight it may be something else."""
    rim, jaw = hints.rim, hints.jaw
    if hints.leave_in_doubt(height, size) and rim is not None:
        return replace(seen, low=min(seen.low, rim - WEIGHTLESS * size))
    if rim is not None and jaw is not None and height > max(jaw.height, rim) + OVER_JAW * size:
        return replace(seen, low=min(seen.low, jaw.height - BLUR * size))
    return seen


def _floors(floor: float, bone: float | None, crown: float) -> list[float]:
    """Heights from which a chin is looked for upward, the second where the first finds it too deep."""
    if bone is None:
        return [floor]
    return [max(floor, bone - share * (crown - bone)) for share in BELOW]


def _neck_outline(body: Body, head: Head, front: FloatArray) -> FloatArray:
    """The outline of what the skull's own piece goes on with below the head, no further back than a neck is."""
    on = np.isin(head.piece, np.unique(head.piece[head.skull])) & ~body.worn
    below = cuts_of(head.framed, head.faces_of(on), head.side, head.width)
    if not len(front):
        return below
    centre = float(np.median(front[:, 1])) - max(1.5 * float(np.ptp(front[:, 1])), SETBACK * head.width)
    below = below[below[:, 2] < np.median(front[:, 2])]
    return np.column_stack([below[:, 0], np.maximum(below[:, 1], centre), below[:, 2]])


def _fold(outline: FloatArray, neck: float, size: float) -> float:
    """The height about the neck at which the outline lies furthest back."""
    heights, front = front_line(outline, neck - 0.2 * size, neck + 0.2 * size, 60)
    return float(heights[np.argmin(front)]) if len(heights) > 30 else neck - 0.2 * size


def _fit(outline: FloatArray, anchor: float, crown: float, joined: bool, floor: float) -> ChinFit | None:
    """The chin's rounding on the outline, over the notch under the chin."""
    size = crown - anchor
    ledge = find_ledge(outline, floor, anchor + (0.45 if joined else 0.3) * size, size)
    if ledge is None:
        return None
    floor, back, face = ledge
    fit = _over_notch(outline, floor, back, face, size)
    if fit is None:
        return None
    fit = replace(fit, notch=corner_over(outline, floor, back, size))
    end = end_of_ball(outline, fit, crown, size) if fit.turn > 0 else None
    if end is not None and fit.touched - ROUNDING * size < end <= fit.touched:
        return replace(fit, height=end, ball=True)
    return fit


def _over_notch(outline: FloatArray, floor: float, back: float, face: float, size: float) -> ChinFit | None:
    """The rounding over a notch at ``floor`` that lies at ``back``, under a ``face`` that reaches so far forward."""
    seen = find_underside(outline, floor - 0.003 * size, floor + 0.45 * size, back, size)
    if seen is not None:
        fall = seen.height - seen.lowest
        return ChinFit(seen.height - min(fall / 2, BLUR * size), seen.lowest, seen.bend, 0.0, seen.forward, floor)
    best: ChinFit | None = None
    for share in (0.4, 0.25, 0.12):
        fit = touch_chin(outline, floor - 0.003 * size, back + share * (face - back), floor + 0.45 * size, size)
        if fit is None or fit.turn > np.radians(58):
            continue
        if best is None or fit.touched < best.touched - 0.04 * size or fit.turn < best.turn - np.radians(20):
            best = fit
    if best is None or best.touched > floor + MUZZLE * size:
        return _under_muzzle(outline, floor, back, size) or best
    return best


def _under_muzzle(outline: FloatArray, floor: float, back: float, size: float) -> ChinFit | None:
    """A chin close over the notch, behind something that stands further forward above it."""
    heights, line = front_line(outline, floor, floor + 0.11 * size, 24)
    if not len(heights):
        return None
    face = float(line.max())
    if face - back < 0.05 * size:
        return None
    fit = touch_chin(outline, floor - 0.003 * size, back + 0.4 * (face - back), floor + 0.14 * size, size)
    return fit if fit is not None and fit.turn < np.radians(50) else None


def _from_outline(fit: ChinFit, size: float) -> Reading:
    """A chin that was touched straight from below is exact; else its rounding was followed down.

    Where an almost level underside is lowest behind its front end, either may be meant: a little under
    the front end is told.
    """
    hidden = max(fit.touched - fit.height, 0.0)
    height = fit.height + (0.0 if fit.ball else 0.1 * hidden)
    low = min(fit.height - 0.3 * hidden, fit.touched, fit.height - FALL * (fit.height - fit.notch)) - BLUR * size
    high = max(fit.touched, fit.height) + BLUR * size + (0.3 * (fit.bend - fit.touched) if fit.turn > 0.2 else 0.0)
    return Reading(OUTLINE, height, low, high)


def _is_seated(outline: FloatArray, fit: ChinFit, size: float) -> bool:
    """True when the underside runs down to the body straight or bulging, as a ball's does.

    Under a face that turns to a neck the outline is hollow there.
    """
    if fit.turn < SEAT or fit.touched < fit.notch + 0.02 * size:
        return False
    heights, front = front_line(outline, fit.notch + 0.004 * size, fit.touched, 24)
    if len(heights) < 6:
        return False
    chord = np.interp(heights, [heights[0], heights[-1]], [front[0], front[-1]])
    return bool((front - chord).min() > -0.012 * size)


def _seated(fit: ChinFit, size: float) -> Reading:
    """A round head that sits on the body ends where the two meet in front."""
    reach = max(fit.touched - fit.notch, 0.0)
    return Reading("where the head meets the body in front", fit.notch, fit.notch - BLUR * size, fit.notch + BLUR * size + 0.7 * reach)
