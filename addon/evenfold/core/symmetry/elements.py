"""Partners of edges, faces and face corners, from the partners of vertices. Whole-array work."""

import numpy as np
from numpy.typing import NDArray

from ..figure import IntArray, Surface
from ..pairing.grid import places

_ONE, _OTHER = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


def place_numbers(surface: Surface) -> IntArray:
    """(n,) one number for all vertices at exactly one place: the lowest of them."""
    first, number = places(np.asarray(surface.positions, np.float64))
    lowest = np.full(len(first), len(number))
    np.minimum.at(lowest, number, np.arange(len(number)))
    return lowest[number]


def corner_faces(surface: Surface) -> IntArray:
    """(c,) the face of each corner."""
    lengths = np.diff(surface.face_starts)
    return np.repeat(np.arange(len(lengths)), lengths)


def following(surface: Surface) -> IntArray:
    """(c,) the next corner around the same face."""
    lengths = np.diff(surface.face_starts)
    after = np.arange(1, len(surface.corners) + 1)
    filled = lengths > 0
    after[surface.face_starts[1:][filled] - 1] = surface.face_starts[:-1][filled]
    return after


def edge_partners(image: IntArray, edges: IntArray, name: IntArray, there: IntArray) -> IntArray:
    """(e,) the edge of ``there`` (t, 2) that joins the images of each edge's ends, else -1.

    ``image`` (n,) holds each vertex's image as a name of the other mesh, -1 where unknown;
    ``name`` (m,) the name of each of the other's vertices. Where several edges join the same
    names they answer one another in stored order, and the last one answers all that are over.
    """
    ends = image[edges.reshape(-1, 2)]
    other = np.sort(name[there.reshape(-1, 2)], axis=1)
    base = len(name) + 1
    keys = np.where((ends >= 0).all(axis=1), ends.min(axis=1) * base + ends.max(axis=1), -1)
    return _answers(keys, other[:, 0] * base + other[:, 1], spread=True)


def face_partners(image: IntArray, here: Surface, name: IntArray, there: Surface) -> IntArray:
    """(f,) the face of ``there`` over the images of each face's vertices, else -1.

    Of several faces over the same vertices those answer one another whose sense around them is
    mirrored; one that is left over answers none.
    """
    corner = image[here.corners]
    keys, sense = _face_keys(corner, corner[following(here)], here.face_starts)
    named = name[there.corners]
    around = named[following(there)]
    other, other_sense = _face_keys(around, named, there.face_starts)
    return _answers(keys, other, sense, other_sense)


def corner_partners(
    image: IntArray, here: Surface, name: IntArray, there: Surface, faces: IntArray
) -> IntArray:
    """(c,) the corner of the partner face at each corner's image, else -1."""
    owner = faces[corner_faces(here)]
    base = len(name) + 1
    corner = image[here.corners]
    keys = np.where((owner >= 0) & (corner >= 0), owner * base + corner, -1)
    return _answers(keys, corner_faces(there) * base + name[there.corners])


def mixed(numbers: IntArray) -> NDArray[np.uint64]:
    """Unlike numbers thoroughly unlike, so that sums of them name a set (splitmix64: Steele, Lea, Flood 2014)."""
    out = numbers.astype(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
    out = (out ^ (out >> np.uint64(30))) * _ONE
    out = (out ^ (out >> np.uint64(27))) * _OTHER
    return out ^ (out >> np.uint64(31))


def summed(values: NDArray[np.uint64], owner: IntArray, count: int) -> NDArray[np.uint64]:
    """(count,) sums, modulo 2**64, of the values with each owner; ``owner`` ascends."""
    total = np.concatenate([np.zeros(1, np.uint64), np.cumsum(values, dtype=np.uint64)])
    ends = np.searchsorted(owner, np.arange(count + 1))
    return total[ends[1:]] - total[ends[:-1]]


def _face_keys(
    start: IntArray, end: IntArray, face_starts: IntArray
) -> tuple[NDArray[np.int64], NDArray[np.uint64]]:
    """For each face a number of its set of vertices, and one of the sense around them."""
    count = len(face_starts) - 1
    owner = np.repeat(np.arange(count), np.diff(face_starts))
    corner, after = mixed(start), mixed(end)
    keys = summed(corner, owner, count) >> np.uint64(1)
    sense = summed(mixed((corner ^ (after << np.uint64(1))).view(np.int64)), owner, count)
    return keys.astype(np.int64), sense


def _answers(
    asked: IntArray,
    given: IntArray,
    asked_sense: NDArray[np.uint64] | None = None,
    given_sense: NDArray[np.uint64] | None = None,
    *,
    spread: bool = False,
) -> IntArray:
    """For each key asked (-1 asks nothing) the position of an equal one given, else -1.

    The first of equal keys asked gets the first given, the second the second. With ``spread``
    those left over get the last. Equal keys are put in order by their senses.
    """
    found = np.full(len(asked), -1)
    wanted = np.flatnonzero(asked >= 0)
    if not len(wanted) or not len(given):
        return found
    order = _sorted(given, given_sense)
    ranked = given[order]
    mine = wanted[_sorted(asked[wanted], None if asked_sense is None else asked_sense[wanted])]
    keys = asked[mine]
    if len(keys) == len(ranked) and np.array_equal(keys, ranked):
        found[mine] = order
        return found
    low = np.searchsorted(ranked, keys)
    size = np.searchsorted(ranked, keys, side="right") - low
    rank = np.arange(len(keys)) - np.searchsorted(keys, keys)
    if spread:
        rank = np.minimum(rank, np.maximum(size - 1, 0))
    hit = rank < size
    found[mine[hit]] = order[(low + rank)[hit]]
    return found


def _sorted(keys: IntArray, sense: NDArray[np.uint64] | None) -> IntArray:
    """Ascending, equal keys by sense or as stored; the quicker sort will do where none are equal."""
    order = np.argsort(keys)
    ranked = keys[order]
    if not (ranked[1:] == ranked[:-1]).any():
        return order
    return np.argsort(keys, kind="stable") if sense is None else np.lexsort((sense, keys))
