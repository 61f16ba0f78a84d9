"""The count itself: evidence in order, ranges carried through, refusals in a sentence."""

from dataclasses import replace

import numpy as np

from ..figure import Figure, FloatArray
from ..findings import Landmark, Proportion, Reading, Span
from ..settings import Settings
from .directions.forward import facings_of
from .directions.frame import to_frame, up_of
from .directions.head_way import head_way
from .directions.named_sides import sides_are_exchanged
from .further import find_further
from .fuse import moved, widened
from .ground.plate import find_plate
from .ground.sole import find_sole
from .ground.stance import refuse_stance
from .head.against_rig import refuse_against_rig
from .head.by_weights import find_by_weights
from .head.region import pieces_of
from .head.shape import find_by_bone, find_by_shape
from .parts import words
from .parts.body import Body, gather
from .parts.named_bones import end_of_legs
from .points.sample import FEWEST_POINTS
from .spot import Spot

EXCHANGED = "Left and right look exchanged in the bones' names: judged by feet and face, the bones named left are on the figure's own right. Exchange the names, unless it faces the other way."
Spots = dict[str, Spot]
LEAST_HEAD = 0.6
"""A facing by which the head would be smaller or larger than this share of it is none. Our choice."""
SAME_CROWN, LOWER_CHIN = 0.1, 0.2
"""Two ways of looking found one head where its crowns are no further apart than the first, in heads, and the face goes on
below where a chin lies lower by the second. Our choice."""
BONE_BELOW, BONE_ABOVE = 0.3, 0.15
"""A head bone starts no further below the chin than the second share of the head, and no further above it than the first. Our choice."""
FEWEST_HEADS = 1.15
"""Fewer heads than this is a head without a body."""
FEWEST_BY_SHAPE = 1.35
"""Fewer than this where no weights tell head and legs is a bust: the shortest that is drawn stands one and a half (common
practice, no source)."""
MOST_HEADS = 12.0
"""More heads than this are not counted unless crown and chin are pinned. The tallest canons have ten
(Jombert after Duerer, as quoted at studydrawing.com; read in a quotation)."""
UNSURE = (2, 2)
"""Nor where they may be more than so many times as many, and the second more. Our choice."""
OVER_HEAD = 1.5
"""What is on the head or over it lies no further from the crown to the sides than this, in heads. Our choice."""


def _pinned(figure: Figure, forward: FloatArray, up: FloatArray) -> Spots:
    spots: Spots = {}
    for pin in figure.pins:
        point = to_frame(np.asarray(pin.point, float)[None], forward, up)[0]
        height = float(point[2])
        spots[pin.landmark] = Spot(height, point, "pinned", height, height, "pinned by the artist")
    return spots


def _head_spots(figure: Figure, body: Body, framed: FloatArray, forward: FloatArray, found: Spots) -> str | None:
    """Fill in crown and chin; returns a sentence when there is no honest way to."""
    if {"crown", "chin"} <= set(found):
        return None
    answer: tuple[Spot, Spot] | str
    if body.head_how != "none":
        answer = _known_head(figure, body, framed, forward, found.get("crown"))
    elif body.head_bone is not None and figure.armature is not None:
        start = np.asarray(figure.armature.by_name[body.head_bone].head, float)
        answer = _by_bone(body, framed, to_frame(start[None], forward, up_of(figure))[0])
    else:
        answer = find_by_shape(body, framed, pieces_of(body, framed))
    if isinstance(answer, str):
        return answer
    crown, chin = found.get("crown", answer[0]), found.get("chin", answer[1])
    trouble = refuse_against_rig(figure, crown.height, chin.height) if body.head_how == "none" else None
    if trouble is None:
        found |= {"crown": crown, "chin": chin}
    return trouble


def _known_head(figure: Figure, body: Body, framed: FloatArray, forward: FloatArray, pinned: Spot | None) -> tuple[Spot, Spot]:
    """Crown and chin of the head that weights or an object's name tell, looked at the way it looks itself."""
    up = up_of(figure)
    way = head_way(body, up, forward)
    if way is not forward:
        turn = _axes(forward, up) @ _axes(way, up).T
        own = None if pinned is None else replace(pinned, point=pinned.point @ turn)
        crown, chin = find_by_weights(figure, body, to_frame(body.points, way, up), way, own)
        return (pinned or replace(crown, point=turn @ crown.point)), replace(chin, point=turn @ chin.point)
    return _under_unnamed(figure, body, framed, find_by_weights(figure, body, framed, forward, pinned))


def _under_unnamed(figure: Figure, body: Body, framed: FloatArray, told: tuple[Spot, Spot]) -> tuple[Spot, Spot]:
    """Crown and chin by weights; by shape where the head bone is not called one and the shape's head goes on far below.

    Of a bone that was told by the skeleton's build alone the face's lower part may follow the one before it.
    """
    bone = body.head_bone
    if bone is None or body.head_how != "weights" or bone == figure.head_bone or words.has_word(bone, words.HEAD, words.HEAD_SIGNS):
        return told
    shape = find_by_shape(body, framed, pieces_of(body, framed))
    if isinstance(shape, str):
        return told
    (crown, chin), (other_crown, other_chin) = told, shape
    size = crown.height - chin.height
    if abs(other_crown.height - crown.height) > SAME_CROWN * size or other_chin.height > chin.height - LOWER_CHIN * size:
        return told
    reading = Reading("where the weight of a bone ends that is called no head", chin.height, chin.low, chin.high)
    return other_crown, replace(other_chin, high=max(other_chin.high, chin.height), readings=(*other_chin.readings, reading))


def _other_facings(figure: Figure, body: Body, others: list[FloatArray], spots: Spots) -> list[Spots]:
    """Crown and chin as they would be if the figure faced one of the ``others``, where that gives a head at all."""
    up, size = up_of(figure), max(spots["crown"].height - spots["chin"].height, 1e-12)
    turned: list[Spots] = []
    for forward in others:
        found = _pinned(figure, forward, up)
        if _head_spots(figure, body, to_frame(body.points, forward, up), forward, found) is not None:
            continue
        if LEAST_HEAD < (found["crown"].height - found["chin"].height) / size < 1 / LEAST_HEAD:
            turned.append(found)
    return turned


def _widened_by(spots: Spots, turned: list[Spots]) -> Spots:
    """``spots`` with crown and chin that reach as far as the other facings put them."""
    wide = dict(spots)
    for found in turned:
        for name in ("crown", "chin"):
            spot, other = wide[name], found[name]
            if not spot.low <= other.height <= spot.high:
                reading = Reading("if the figure faces another way", other.height, other.low, other.high)
                wide[name] = replace(spot, low=min(spot.low, other.low), high=max(spot.high, other.high), readings=(*spot.readings, reading))
    return wide


def _by_bone(body: Body, framed: FloatArray, start: FloatArray) -> tuple[Spot, Spot] | str:
    """Crown and chin by shape, checked by the head bone's start; by the bone alone where no neck shows."""
    shape = find_by_shape(body, framed, pieces_of(body, framed), float(start[2]))
    if isinstance(shape, str):
        return find_by_bone(body, framed, start)
    crown, chin = shape
    size = crown.height - chin.height
    bone = Reading("start of the head bone", float(start[2]), float(start[2]) - BONE_BELOW * size, float(start[2]) + BONE_ABOVE * size)
    low, high = widened(chin.low, chin.high, [bone])
    return crown, replace(chin, low=low, high=high, readings=(*chin.readings, bone))


def _axes(forward: FloatArray, up: FloatArray) -> FloatArray:
    """(3, 3) rows from world to side, forward, up."""
    return np.stack([np.cross(up, forward), forward, up])


def _landmarks(figure: Figure, spots: Spots, forward: FloatArray) -> dict[str, Landmark]:
    up = up_of(figure)
    axes = _axes(forward, up)
    scale = figure.metres_per_unit
    zero = spots["sole"].height if "sole" in spots else 0.0
    return {
        name: Landmark(
            (spot.height - zero) * scale, spot.point @ axes, spot.how,
            (spot.low - zero) * scale, (spot.high - zero) * scale, spot.evidence,
            tuple(moved(reading, zero, scale) for reading in spot.readings),
        )
        for name, spot in spots.items()
    }


def _count(crown: float, chin: float, sole: float) -> float:
    return (crown - sole) / (crown - chin)


def _without_plate(body: Body, framed: FloatArray) -> Body:
    """A base plate under the feet is not the figure; what is named or weighted as the head is none, nor all that follows the legs."""
    plate = find_plate(framed, framed[:, 2], pieces_of(body, framed), ~body.worn)
    if not plate.any() or (plate & body.follows_head).any():
        return body
    legs = ~body.worn & body.follows_legs
    if legs.any() and not (legs & ~plate).any():
        return body
    sentence = "A flat piece under the figure is left out as its base."
    return replace(body, worn=body.worn | plate, guesses=(*body.guesses, sentence))


def _too_little(kept: FloatArray) -> bool:
    return len(kept) < FEWEST_POINTS or not np.isfinite(kept).all() or float(np.ptp(kept[:, 2])) <= 0


def measure(figure: Figure, settings: Settings) -> Proportion:
    """Count the heads of ``figure``; lengths in metres, heights above the sole.

    Evidence is taken in this order: pins, weights to the head bone, bones, shape. A figure
    that has no honest count gets none, and ``refusal`` says why. Raises nothing.
    """
    target = settings.target_heads
    body = gather(figure)
    if not len(body.points):
        return Proportion(target=target, refusal="This figure holds no points; choose an object with a mesh.")
    up = up_of(figure)
    forward, *others = facings_of(figure, body)
    framed = to_frame(body.points, forward, up)
    body = _without_plate(body, framed)
    if sides_are_exchanged(figure, forward):
        body = replace(body, guesses=(*body.guesses, EXCHANGED))
    spots = _pinned(figure, forward, up)
    if body.worn.all() and not {"crown", "chin", "sole"} <= set(spots):
        return Proportion(target=target, guesses=body.guesses, refusal="Everything here is named as worn; say which object is the body.")
    if not {"crown", "chin", "sole"} <= set(spots) and _too_little(framed[~body.worn]):
        return Proportion(target=target, guesses=body.guesses, refusal="There is too little shape here to count heads on; choose the whole figure.")
    refusal = refuse_stance(figure, body, framed)
    trouble = _head_spots(figure, body, framed, forward, spots) if refusal is None or body.head_how != "none" else None
    turned = _other_facings(figure, body, others, spots) if refusal is None and trouble is None else []
    sole = spots.get("sole") or (find_sole(body, framed, end_of_legs(figure)) if refusal is None else None)
    if sole is not None:
        spots["sole"] = sole
    refusal = refusal or trouble
    if refusal is not None:
        shown = _landmarks(figure, spots, forward) if "sole" in spots else {}
        return Proportion(target=target, guesses=body.guesses, refusal=refusal, landmarks=shown)
    return _proportion(figure, body, framed, spots, turned, forward, settings)


def _range(crown: Spot, chin: Spot, sole: Spot) -> tuple[float, float]:
    """The least and the most heads the brackets allow; the most is infinite where crown and chin may meet."""
    high = _count(crown.low, chin.high, sole.low) if crown.low > chin.high else float("inf")
    return _count(crown.high, min(chin.low, chin.height), sole.high), high


def _proportion(
    figure: Figure, body: Body, framed: FloatArray, spots: Spots, turned: list[Spots], forward: FloatArray, settings: Settings
) -> Proportion:
    crown, chin, sole = spots["crown"], spots["chin"], spots["sole"]
    spots = _widened_by(spots, turned)
    landmarks = _landmarks(figure, spots, forward)
    if not crown.height > chin.height > sole.height:
        crossed = "Crown, chin and sole do not lie above each other; pin the one that is wrong."
        if "pinned" in (crown.how, chin.how, sole.how):
            crossed = "Crown, chin and sole do not lie above each other; take a wrong pin away, or set it anew."
        return Proportion(target=settings.target_heads, guesses=body.guesses, landmarks=landmarks, refusal=crossed)
    heads = _count(crown.height, chin.height, sole.height)
    ranges = [_range(crown, chin, sole), *(_range(one["crown"], one["chin"], sole) for one in turned)]
    low, high = min(one for one, _ in ranges), max(one for _, one in ranges)
    told = {spot.how for spot in (crown, chin, sole)}
    trouble = _doubt(heads, high, FEWEST_BY_SHAPE if told == {"shape"} else FEWEST_HEADS, sure=crown.how == chin.how == "pinned")
    if trouble is not None:
        return Proportion(target=settings.target_heads, guesses=body.guesses, landmarks=landmarks, refusal=trouble)
    scale, target = figure.metres_per_unit, settings.target_heads
    axes = _axes(forward, up_of(figure))
    more, stretches = find_further(figure, body, framed, axes, spots)
    top = _full_top(body, framed, crown, chin)
    return Proportion(
        heads, min(low, heads), max(high, heads),
        (crown.height - chin.height) * scale, (crown.height - sole.height) * scale,
        (top - sole.height) * scale, landmarks | _landmarks(figure, {"sole": sole} | more, forward), target,
        None if target is None else bool(abs(heads - target) <= settings.target_band + 1e-9),
        None, body.guesses, _count(top, chin.height, sole.height),
        {name: Span(float(np.linalg.norm(one.end - one.start)) * scale, one.start @ axes, one.end @ axes, one.how, one.evidence) for name, one in stretches.items()},
        up_of(figure), forward,
    )


def _doubt(heads: float, high: float, fewest: float, *, sure: bool) -> str | None:
    """A sentence where a count would not be honest."""
    if heads < fewest:
        return "There is hardly a body below this head; choose the whole figure, or pin crown, chin and sole."
    if (heads > MOST_HEADS and not sure) or not np.isfinite(high) or high > UNSURE[0] * heads + UNSURE[1]:
        return "Crown and chin are too uncertain for a count; pin them, or name the head bone."
    return None


def _full_top(body: Body, framed: FloatArray, crown: Spot, chin: Spot) -> float:
    """The highest point of all that is on the head or over it, raised hands left out."""
    size = crown.height - chin.height
    over = np.linalg.norm(framed[:, :2] - crown.point[:2], axis=1) < OVER_HEAD * size
    if body.head_how == "weights":
        over &= body.follows_head | body.worn
    return max(float(framed[over][:, 2].max(initial=-np.inf)), crown.height)
