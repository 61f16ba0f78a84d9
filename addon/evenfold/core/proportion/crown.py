"""The top of the skull: highest point of the head, unless it is a spike or an open scalp."""

import numpy as np

from ..figure import FloatArray, IntArray
from .body import Body, BoolArray
from .sample import dense
from .spot import Spot

GRID = 36
SPIKE_SHARE = 0.05
"""A top that stands out of the opened height map by more than this share of the head is a spike."""


HAIR_SHARE = 0.035
"""Where nothing is known as hair, so much of the head's size may be hair on the skull."""


def _height_map(samples: FloatArray) -> tuple[FloatArray, float]:
    low = samples[:, :2].min(axis=0)
    cell = float((samples[:, :2].max(axis=0) - low).max()) / GRID or 1.0
    index = np.minimum(((samples[:, :2] - low) / cell).astype(int), GRID - 1)
    heights = np.full((GRID + 8, GRID + 8), -np.inf)
    np.maximum.at(heights, (index[:, 0] + 4, index[:, 1] + 4), samples[:, 2])
    return heights, cell


def _opened(heights: FloatArray, radius: int) -> FloatArray:
    """Grey opening with a disk: peaks narrower than it go, a dome stays."""
    reach = range(-radius, radius + 1)
    shifts = [(i, j) for i in reach for j in reach if i * i + j * j <= radius * radius]
    lowered = np.min([np.roll(heights, shift, (0, 1)) for shift in shifts], axis=0)
    return np.asarray(np.max([np.roll(lowered, shift, (0, 1)) for shift in shifts], axis=0), float)


def find_crown(body: Body, framed: FloatArray) -> Spot:
    """The crown from what is weighted to the head and not worn; disagreement widens the range."""
    chosen = (body.head > 0.5) & ~body.worn
    faces = body.triangles[chosen[body.triangles].all(axis=1)]
    own = framed[chosen]
    top = own[np.argmax(own[:, 2])]
    width = float(np.ptp(own[:, 0])) or 1.0
    samples = own if not len(faces) else _used(framed, faces, width / 60)
    height = float(top[2])
    size = min(width, float(np.ptp(own[:, 2]))) or 1.0
    heights, _ = _height_map(samples)
    dome = float(_opened(heights, 3).max()) if len(faces) > 30 else height
    if np.isfinite(dome) and height - dome > SPIKE_SHARE * size:
        return _dome_spot(samples, dome, height, size)
    scalp = _open_scalp(body, framed, chosen, faces, height, size)
    if scalp is not None:
        return scalp
    slack = 0.004 * size
    bare = bool((body.worn & (body.head > 0.5)).any())
    below = slack if bare else HAIR_SHARE * size
    return Spot(height, top, "weights", height - below, height + slack, "highest point that follows the head bone")


def _used(framed: FloatArray, faces: IntArray, step: float) -> FloatArray:
    used, compact = np.unique(faces, return_inverse=True)
    return dense(framed[used], compact.reshape(-1, 3), step)


def _dome_spot(samples: FloatArray, dome: float, height: float, size: float) -> Spot:
    """Something narrow stands on the head: the dome below it counts, up to the tip is open."""
    cap = samples[(samples[:, 2] <= dome) & (samples[:, 2] > dome - 0.1 * size)]
    middle = np.median(cap, axis=0) if len(cap) else samples.mean(axis=0)
    estimate = dome + 0.012 * size
    point = np.array([middle[0], middle[1], estimate])
    return Spot(
        estimate, point, "weights", dome - 0.01 * size, min(height, estimate + 0.35 * (height - estimate) + 0.02 * size),
        "dome of the head below something narrow that stands on it",
    )


def _open_scalp(
    body: Body, framed: FloatArray, chosen: BoolArray, faces: IntArray, height: float, size: float
) -> Spot | None:
    """A face without a scalp under the hair: the skull lies between its rim and the hair's top."""
    hair = (body.head > 0.5) & body.worn & (framed[:, 2] > height)
    if not hair.any() or not len(faces):
        return None
    _, place = np.unique(np.round(framed / (1e-5 * size)).astype(np.int64), axis=0, return_inverse=True)
    every = body.triangles
    corners = place.reshape(-1)[every]
    edges = np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1)
    ends = np.concatenate([every[:, [0, 1]], every[:, [1, 2]], every[:, [2, 0]]])
    _, first, count = np.unique(edges, axis=0, return_index=True, return_counts=True)
    rim = ends[first[count == 1]]
    rim = rim[chosen[rim].all(axis=1)]
    lengths = np.linalg.norm(framed[rim[:, 0]] - framed[rim[:, 1]], axis=1)
    upper = framed[rim].mean(axis=1)[:, 2] > height - 0.2 * size
    if lengths[upper].sum() < 0.8 * size:
        return None
    limit = min(float(framed[hair][:, 2].max()), height + 0.25 * size)
    middle = (height + limit) / 2
    own = framed[chosen]
    point = np.array([np.median(own[:, 0]), np.median(own[:, 1]), middle])
    return Spot(
        middle, point, "weights", height, limit,
        "the head has no scalp under what is worn, so the skull ends between the two; pin the crown to settle it",
    )
