"""What closes the skull's own skin over the middle though it is called hair or follows other bones: hair, roots of ears, paint."""

from dataclasses import replace

import numpy as np

from ...figure import FloatArray
from ..head.region import Head
from ..middle import WITHIN_QUARTER, in_middle
from ..parts.body import Body, BoolArray

UPPER = 0.4
"""What grows over the skull lies over this share of the head's height. Our choice."""
SPAN = 0.3
"""What closes over the skull spans the middle from front to back by this share of the head's width; ears do not."""
ROWS, ON_TOP = 12, 0.3
"""What is highest along the second of the way from front to back, looked at in so many rows, closes the head. Our choice."""
NEARLY_ALL = 0.8
"""What closes the skin is of one kind where more than this share of it is. Our choice."""


def grown_over(body: Body, head: Head) -> Head | None:
    """The head with hair of bones of its own that closes the same skin over the middle; None without."""
    mixed = body.worn[body.triangles].any(axis=1) & head.skull[body.triangles].any(axis=1)
    if not mixed.any():
        return None
    grown = body.worn & np.isin(head.piece, np.unique(head.piece[head.skull])) & (head.framed[:, 2] > head.low + UPPER * head.size)
    amid = in_middle(head.framed, head, WITHIN_QUARTER)
    middle = grown & amid
    bare = head.skull & amid
    if not middle.any() or not bare.any() or float(np.ptp(head.framed[middle][:, 1])) < SPAN * head.width:
        return None
    if not _is_on_top(head.framed[bare | middle], middle[bare | middle]):
        return None
    rows = head.skull | grown
    kept = ~(body.worn & ~grown)[body.triangles].any(axis=1)
    return replace(head, own=head.own | grown, skull=rows, faces=body.triangles[kept], top=float(head.framed[rows][:, 2].max()))


def _is_on_top(points: FloatArray, mine: BoolArray) -> bool:
    """True where ``mine`` (n,) of points (n, 3) holds the highest places of enough of the way from front to back."""
    row = np.minimum(((points[:, 1] - points[:, 1].min()) / max(float(np.ptp(points[:, 1])), 1e-12) * ROWS).astype(int), ROWS - 1)
    own, rest = np.full(ROWS, -np.inf), np.full(ROWS, -np.inf)
    np.maximum.at(own, row[mine], points[mine, 2])
    np.maximum.at(rest, row[~mine], points[~mine, 2])
    return bool((own > rest).sum() >= ON_TOP * ROWS)


def is_between_roots(body: Body, head: Head) -> bool:
    """True where what closes the skin over the middle only follows ears or horns: it is the skull's own."""
    closing = _closing(body, head)
    return bool(len(body.beside) and closing.any() and body.beside[closing].mean() > NEARLY_ALL)


def is_painted(body: Body, head: Head) -> bool:
    """True where what closes the skin over the middle is hair by the name of its material and follows none of hair."""
    closing = _closing(body, head)
    return bool(len(body.painted) and closing.any() and body.painted[closing].mean() > NEARLY_ALL)


def _closing(body: Body, head: Head) -> BoolArray:
    """(n,) what of the skull's own skin over the middle is worn."""
    return head.skull & body.worn & in_middle(head.framed, head, WITHIN_QUARTER)
