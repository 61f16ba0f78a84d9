"""How far a figure's arms reach, as far as its landmarks tell."""

import numpy as np

from ..findings import Landmark, Proportion


def arm_length(found: Proportion) -> float | None:
    """Shoulder to the farthest known place of the arm in metres, a lower bound; None if unknown.

    Taken from the arm span and shoulder width, and from the places of fingertip, wrist and
    elbow; an elbow alone counts twice (forearm with hand no shorter than the upper arm: common
    practice, no source).
    """
    known: list[float] = []
    span, width = found.spans.get("arm_span"), found.spans.get("shoulder_width")
    if span is not None and width is not None and span.length > width.length:
        known.append((span.length - width.length) / 2)
    shoulder = found.landmarks.get("shoulder")
    if shoulder is not None:
        for name, times in (("fingertip", 1.0), ("wrist", 1.0), ("elbow", 2.0)):
            mark = found.landmarks.get(name)
            if mark is not None:
                known.append(times * _apart(found, shoulder, mark))
    return max(known) if known else None


def _apart(found: Proportion, one: Landmark, other: Landmark) -> float:
    """Metres between two landmarks: at least their drop, and the way between places on one side."""
    drop = abs(one.height - other.height)
    metres = _metres_per_unit(found)
    if metres is None:
        return drop
    between = float(np.linalg.norm(one.point - other.point)) * metres
    return between if np.isfinite(between) and between > drop and _one_side(found, one, other) else drop


def _one_side(found: Proportion, one: Landmark, other: Landmark) -> bool:
    """True when both places lie on the same side of the body, so that a line joins one arm."""
    crown = found.landmarks.get("crown")
    if crown is None or found.up is None or found.forward is None:
        return False
    left = np.cross(found.up, found.forward)
    sides = [float((mark.point - crown.point) @ left) for mark in (one, other)]
    return sides[0] * sides[1] > 0.0


def _metres_per_unit(found: Proportion) -> float | None:
    crown, sole = found.landmarks.get("crown"), found.landmarks.get("sole")
    if crown is None or sole is None or found.up is None:
        return None
    rise = float((crown.point - sole.point) @ found.up)
    return (crown.height - sole.height) / rise if np.isfinite(rise) and rise > 0 else None
