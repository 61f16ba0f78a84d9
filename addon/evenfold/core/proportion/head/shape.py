"""Crown and chin from the bare shape: the head is what stands over the narrowest place."""

from dataclasses import replace

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ...findings import Reading
from ..directions.middle import middle_of
from ..face.chin import find_chin
from ..parts.body import FEWEST, WELD, Body, BoolArray
from ..points.islands import label_pieces
from ..skull.crown import crown_over, find_crown
from ..spot import Spot
from .build import doubted_by_build
from .neck import Neck, find_necks
from .outline import ROWS, outline_of, surface_samples, trunk_pieces
from .region import Head, head_of

ASIDE = 1.5
"""A piece with its middle further from the head's than this, in halves of the head's width, is a raised arm's. Our choice."""
SMALL, STUMPS = 0.3, (0.45, 0.25)
"""A piece of the head ends no further below the neck than one of the second shares of what is above: the first for a head
that is lower than the first share of the figure's height, whose neck is long beside it. Our choice."""
OVER_NECK = 0.1
"""Its middle lies over the neck by more than this share of what is above. Our choice."""
BONE_OVER_NECK, OFF_BONE = 0.1, 3
"""A head bone starts so far over the neck, in heights of what is above its start; how much speaks against a neck per so
much that it is off that. Our choice."""
RIVAL, ELSEWHERE = 0.4, 0.2
"""A place whose score is within the first of the best, and that lies further off than the second, in heads, may be the neck
as well. Our choice."""
RIVAL_CHIN, RIVAL_HIGHEST, MOST_RIVALS = 0.08, 0.3, 2
"""The chin over such a place lies so far above it, and no further than the second, in heights of what is above it; so many are told. Our choice."""
BARE_CROWN, BARE_CHIN = 0.15, (0.12, 0.15)
"""Where the head bone alone tells: how far the crown may lie below the highest point, and the chin below and above the
bone's start, as shares of what is between. Our choice."""


def necks_of(body: Body, framed: FloatArray, piece: IntArray) -> list[Neck]:
    """The narrow places that may be the neck, the likeliest first."""
    own = framed[~body.worn]
    low, span = float(own[:, 2].min()), float(np.ptp(own[:, 2]))
    side = middle_of(own)
    samples, near = surface_samples(body, framed, span / ROWS)
    trunk = trunk_pieces(body, framed, piece, side)[piece[near]]
    return find_necks(outline_of(samples, trunk, low, span, side))


def head_over(body: Body, framed: FloatArray, piece: IntArray, neck: Neck) -> tuple[Head, bool]:
    """The head over a neck, and whether its own piece goes on below."""
    kept = ~body.worn
    size = neck.top - neck.height
    count = int(piece.max()) + 1
    low = np.full(count, np.inf)
    np.minimum.at(low, piece[kept], framed[kept][:, 2])
    middle = np.bincount(piece[kept], framed[kept][:, 2], count) / np.maximum(np.bincount(piece[kept], minlength=count), 1)
    is_small = size < SMALL * float(np.ptp(framed[kept][:, 2]))
    stump = STUMPS[0 if is_small else 1] * size
    whole = (low > neck.height - stump) & (middle > neck.height + OVER_NECK * size)
    own = kept & (whole[piece] | (framed[:, 2] > neck.height))
    own &= (middle[piece] > neck.height) | ~whole[piece]
    own &= _over_middle(body, framed, own, whole[piece], middle_of(framed[kept]))
    head = head_of(body, framed, piece, own)
    joined = not bool(whole[piece[head.skull][0]]) if head.skull.any() else True
    if joined:
        head = head_of(body, framed, piece, own, neck.height)
    return head, joined


def _over_middle(body: Body, framed: FloatArray, own: BoolArray, whole: BoolArray, side: float) -> BoolArray:
    """(n,) true but for what rises beside the head without being joined to it: raised hands."""
    faces = body.triangles[own[body.triangles].all(axis=1)]
    number = label_pieces(framed, faces, WELD * float(extent_of(framed).max()))
    left, right = np.full(int(number.max()) + 1, -np.inf), np.full(int(number.max()) + 1, np.inf)
    np.maximum.at(left, number, framed[:, 0])
    np.minimum.at(right, number, framed[:, 0])
    crosses = ((left >= side) & (right <= side))[number]
    middle = np.abs(framed[own & crosses, 0] - side)
    beside = np.abs((left + right) / 2 - side)[number] > ASIDE * (middle.max() if len(middle) else np.inf)
    return np.asarray((whole & ~beside) | crosses, bool)


def find_by_shape(body: Body, framed: FloatArray, piece: IntArray, bone: float | None = None) -> tuple[Spot, Spot] | str:
    """Crown and chin where a neck shows in the outline; else a sentence of refusal.

    ``bone`` is the height at which a head bone starts, where one is known.
    """
    necks = necks_of(body, framed, piece)
    if bone is not None:
        necks = sorted(necks, key=lambda neck: -neck.score + OFF_BONE * _off_bone(neck, bone))
    if not necks:
        return "No head could be told from the body by shape alone; name the head bone, or pin crown and chin."
    head, joined = head_over(body, framed, piece, necks[0])
    if head.skull.sum() < FEWEST or not head.size > 0:
        return "There is too little shape over the neck to be a head; name the head bone, or pin crown and chin."
    crown = find_crown(body, head, "shape")
    chin = find_chin(body, head, crown.height, "shape", necks[0].height if joined else None)
    crown = crown_over(body, head, "shape", crown, chin.height)
    chin = _with_rivals(chin, necks, crown.height - chin.height)
    return crown, doubted_by_build(chin, crown.height, head.width)


def _off_bone(neck: Neck, bone: float) -> float:
    """How far the ``neck`` lies off where a head bone that starts at the height ``bone`` has it, in heights of what is above."""
    above = neck.top - bone
    return abs(neck.height + BONE_OVER_NECK * above - bone) / max(above, 1e-9)


def _with_rivals(chin: Spot, necks: list[Neck], size: float) -> Spot:
    """The chin with a range that reaches towards another place that may as well be the neck."""
    rivals = [
        Reading("another narrow place", neck.height + RIVAL_CHIN * above, neck.height, neck.height + RIVAL_HIGHEST * above)
        for neck in necks[1:]
        if neck.score > necks[0].score - RIVAL and abs(neck.height - necks[0].height) > ELSEWHERE * size
        for above in [neck.top - neck.height]
    ][:MOST_RIVALS]
    if not rivals or size <= 0:
        return chin
    low, high = min(chin.low, *(rival.height for rival in rivals)), max(chin.high, *(rival.height for rival in rivals))
    return replace(chin, low=low, high=high, readings=(*chin.readings, *rivals))


def find_by_bone(body: Body, framed: FloatArray, bone_head: FloatArray) -> tuple[Spot, Spot] | str:
    """Crown above the head bone's start and chin about there: the bone starts where the neck ends."""
    own = framed[~body.worn]
    start = float(bone_head[2])
    top = float(own[:, 2].max()) if len(own) else start
    size = top - start
    if size <= 0:
        return "The head bone starts above everything that is not worn; name the right head bone, or pin crown and chin."
    at = own[np.argmax(own[:, 2])]
    crown = Spot(top, at, "bones", top - BARE_CROWN * size, top, "highest point of the body above the head bone")
    chin = Spot(start, bone_head, "bones", start - BARE_CHIN[0] * size, start + BARE_CHIN[1] * size, "start of the head bone; no weights say where the chin is")
    return crown, chin
