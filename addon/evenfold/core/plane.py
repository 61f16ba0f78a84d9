"""The mirror plane: its frame, how well a candidate explains points, and fitting one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .figure import FloatArray
from .findings import MirrorPlane
from .nearest import Finder, NearestFinder
from .pairing.grid import centre_alone, places, settle

PLANES = {
    "given": "as given",
    "object": "middle of the object",
    "armature": "middle of the armature",
    "world": "middle of the scene",
    "bones": "between left and right bones",
    "across": "middle of a sideways figure",
    "fitted": "fitted to the figure",
}
"""How a plane was found, in words."""
ENOUGH = 0.2
"""A candidate that explains a smaller share of the points than this is not believed. Our choice."""
CLEARLY, HARDLY = 0.05, 0.02
"""Shares of the points by which one plane explains clearly more, or hardly less, than another. Our choice."""

_SAMPLE = 1500
_ROUNDS = 40
_ROUGH_ROUNDS = 6
_DIRECTIONS = 32


@dataclass(frozen=True)
class Candidate:
    """A plane through ``point`` (3,) with its unit ``normal`` (3,), and ``how`` it was found: a key of ``PLANES``."""

    how: str
    point: FloatArray
    normal: FloatArray


def frame(normal: FloatArray) -> FloatArray:
    """(3, 3) rows: the unit normal and two unit directions in the plane."""
    unit = np.asarray(normal, float) / np.linalg.norm(normal)
    helper = np.eye(3)[int(np.argmin(np.abs(unit)))]
    first = np.cross(unit, helper)
    first /= np.linalg.norm(first)
    return np.stack([unit, first, np.cross(unit, first)])


def into_frame(points: FloatArray, point: FloatArray, normal: FloatArray) -> FloatArray:
    """(n, 3) world points with the signed distance from the plane in column 0."""
    return (points - point) @ frame(normal).T


def reflect(points: FloatArray, point: FloatArray, normal: FloatArray) -> FloatArray:
    """x' = x - 2 (n . (x - p)) n (Householder), for (n, 3) points and a unit normal."""
    return points - 2.0 * ((points - point) @ normal)[:, None] * normal


def explained(points: FloatArray, candidate: Candidate, tolerance: float) -> float:
    """Share of (n, 3) points that have a partner, or lie on the plane, within the tolerance."""
    finite = points[np.isfinite(points).all(axis=1)]
    if not len(finite):
        return 0.0
    laid = into_frame(finite, candidate.point, candidate.normal)
    partner = np.full(len(laid), -1)
    alone = centre_alone(laid, tolerance)
    partner[alone] = alone
    settle(laid, laid, partner, tolerance, ((4.0, 1), (16.0, 8)))
    return float((partner >= 0).mean())


def choose(
    points: FloatArray, candidates: list[Candidate], tolerance: float, finder: Finder,
    by_bones: Candidate | None = None, across: Sequence[Candidate] = (),
) -> MirrorPlane:
    """The candidate that explains the most points, or another plane when none explains enough.

    ``points`` (n, 3) world. On equal shares the earlier candidate is taken. Where none explains
    enough, a fitted plane, one of those ``across`` the usual ones, and the middle ``by_bones`` between
    left and right bones are tried; the last is taken where nothing else explains clearly more.
    Raises ValueError without candidates.
    """
    if not candidates:
        raise ValueError("choose needs at least one candidate plane")
    points = points[np.isfinite(points).all(axis=1)]
    if len(points):
        points = points[places(points)[0]]
    shares = [explained(points, candidate, tolerance) for candidate in candidates]
    best = int(np.argmax(np.round(shares, 3)))
    other = _other(points, shares[best], tolerance, finder, by_bones, across) if shares[best] < ENOUGH else None
    taken, share = other or (candidates[best], shares[best])
    return MirrorPlane(taken.point, taken.normal, taken.how, _why(taken, share, candidates, shares), share)


def _why(taken: Candidate, share: float, candidates: list[Candidate], shares: list[float]) -> str:
    """How much of the points match about the plane that was taken, and about the usual ones."""
    most: dict[str, float] = {}
    for one, part in zip(candidates, shares, strict=True):
        if one.how != taken.how:
            most[one.how] = max(part, most.get(one.how, 0.0))
    others = ", ".join(f"{PLANES[how]} {part:.0%}" for how, part in most.items())
    compared = f" ({others})" if others else ""
    return f"{share:.0%} of the points match about it{compared}."


def _other(
    points: FloatArray, least: float, tolerance: float, finder: Finder,
    by_bones: Candidate | None, across: Sequence[Candidate],
) -> tuple[Candidate, float] | None:
    """Another plane that explains clearly more than the share ``least``, and its share; else ``by_bones`` where
    that explains hardly less."""
    found = [one for one in (by_bones, fit(points, tolerance, finder), *across) if one is not None]
    shares = [explained(points, one, tolerance) for one in found]
    most = int(np.argmax(np.round(shares, 3))) if found else 0
    if found and shares[most] > max(least + CLEARLY, 2.0 * least):
        return found[most], shares[most]
    return (by_bones, shares[0]) if by_bones is not None and shares[0] > least - HARDLY else None


def fit(points: FloatArray, tolerance: float, finder: Finder) -> Candidate | None:
    """The plane about which (n, 3) points mirror best, or None for too few points.

    Starts from the principal directions and the axes, lays the mirrored copy onto the points
    by trimmed nearest neighbours, and reads the plane off the partners: its normal is the main
    direction of their differences.
    """
    finite = points[np.isfinite(points).all(axis=1)]
    if len(finite) < 4:
        return None
    middle = np.median(finite, axis=0)
    sample = finite[:: max(1, len(finite) // _SAMPLE)]
    _, _, principal = np.linalg.svd(sample - sample.mean(axis=0), full_matrices=False)
    search = finder(finite)
    starts = [*principal, *np.eye(3), *_directions(_DIRECTIONS)]
    rough = [_refine(finite, sample, middle, normal, search, _ROUGH_ROUNDS) for normal in starts]
    rough.sort(key=lambda one: _misfit(sample, one, search))
    fine = [_refine(finite, sample, one.point, one.normal, search, _ROUNDS) for one in rough[:4]]
    fine = [_polish(finite, one, tolerance) for one in fine]
    return max(fine, key=lambda one: explained(finite, one, tolerance))


def _directions(count: int) -> FloatArray:
    """(count, 3) unit directions spread evenly over half a sphere (golden-angle spiral)."""
    step = np.arange(count) + 0.5
    rise = step / count
    turn = np.pi * (1.0 + 5.0**0.5) * step
    flat = np.sqrt(1.0 - rise**2)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), rise], axis=1)


def _misfit(sample: FloatArray, one: Candidate, search: NearestFinder) -> float:
    distance, _ = search.query(reflect(sample, one.point, one.normal), 1)
    return float(np.quantile(distance[:, 0], 0.5))


def _refine(
    points: FloatArray,
    sample: FloatArray,
    point: FloatArray,
    normal: FloatArray,
    search: NearestFinder,
    rounds: int,
) -> Candidate:
    for _ in range(rounds):
        distance, at = search.query(reflect(sample, point, normal), 1)
        kept = distance[:, 0] <= np.quantile(distance[:, 0], 0.7)
        new_point, new_normal = _plane_of(sample[kept], points[at[kept, 0]], normal)
        done = (
            np.allclose(new_normal, normal, atol=1e-12)
            and abs((new_point - point) @ new_normal) < 1e-12
        )
        point, normal = new_point, new_normal
        if done:
            break
    return Candidate("fitted", point, normal)


def _plane_of(
    one: FloatArray, other: FloatArray, normal: FloatArray
) -> tuple[FloatArray, FloatArray]:
    apart = one - other
    _, vectors = np.linalg.eigh(apart.T @ apart)
    new = vectors[:, -1] if np.abs(apart).max(initial=0.0) > 0.0 else normal
    if new @ normal < 0.0:
        new = -new
    return (0.5 * (one + other)).mean(axis=0), new


def _polish(points: FloatArray, start: Candidate, tolerance: float) -> Candidate:
    current = start
    for reach in (64.0, 16.0, 4.0, 1.0, 1.0):
        laid = into_frame(points, current.point, current.normal)
        partner = np.full(len(laid), -1)
        settle(laid, laid, partner, reach * tolerance, ((4.0, 1), (16.0, 8)))
        one = np.flatnonzero(partner >= 0)
        if len(one) < 4:
            continue
        point, normal = _plane_of(points[one], points[partner[one]], current.normal)
        current = Candidate("fitted", point, normal)
    return current


def tidy(plane: MirrorPlane, left: FloatArray) -> MirrorPlane:
    """The same plane with its normal towards ``left`` (3,), so that left and right are settled."""
    if plane.normal @ left < 0.0:
        return replace(plane, normal=-plane.normal)
    return plane


def doubt(plane: MirrorPlane) -> str:
    """What to do about a plane that hardly anything matches about, in sentences; empty for one that is believed."""
    if plane.share is None or plane.share >= ENOUGH:
        return ""
    how = PLANES.get(plane.how, plane.how)
    return (
        f"Only {plane.share:.0%} of the points match about the mirror plane ({how}): it may be the wrong one, "
        "and then most of what is listed means nothing. Choose another under Mirror, or centre the figure on it."
    )


def balance(points: FloatArray, plane: MirrorPlane) -> tuple[int, int]:
    """How many (n, 3) points lie on the normal's side and on the other."""
    side = (points - plane.point) @ plane.normal
    return int((side > 0).sum()), int((side < 0).sum())
