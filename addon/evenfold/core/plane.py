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

NEARLY = 0.9
"""A plane that explains as large a share of the points is the right one: no other is looked for. Our choice."""

_ALIKE = 0.999
"""The cosine from which two normals are not told apart while fitting roughly."""
_ROUGH_SAMPLE = 400
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
    by_bones: Candidate | None = None, across: Sequence[Candidate] = (), near: Candidate | None = None,
) -> MirrorPlane:
    """The candidate that explains the most points, or another plane when none explains enough.

    ``points`` (n, 3) world. On equal shares the earlier candidate is taken. Where none explains
    enough, a fitted plane, one of those ``across`` the usual ones, and the middle ``by_bones`` between
    left and right bones are tried; the last is taken where nothing else explains clearly more. Fitting
    starts ``near`` a plane if one is given.
    Raises ValueError without candidates.
    """
    if not candidates:
        raise ValueError("choose needs at least one candidate plane")
    points = points[np.isfinite(points).all(axis=1)]
    if len(points):
        points = points[places(points)[0]]
    shares = [explained(points, candidate, tolerance) for candidate in candidates]
    best = int(np.argmax(np.round(shares, 3)))
    other = None
    if shares[best] < ENOUGH:
        other = _other(points, shares[best], tolerance, finder, by_bones, across, near)
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
    by_bones: Candidate | None, across: Sequence[Candidate], near: Candidate | None,
) -> tuple[Candidate, float] | None:
    """Another plane that explains clearly more than the share ``least``, and its share; else ``by_bones`` where
    that explains hardly less."""
    found = [] if by_bones is None else [by_bones]
    shares = [explained(points, one, tolerance) for one in found]
    if max(shares, default=0.0) < NEARLY:
        fitted = fit(points, tolerance, finder, near)
        found += [one for one in (fitted, *across) if one is not None]
        shares += [explained(points, one, tolerance) for one in found[len(shares) :]]
    most = int(np.argmax(np.round(shares, 3))) if found else 0
    if found and shares[most] > max(least + CLEARLY, 2.0 * least):
        return found[most], shares[most]
    return (by_bones, shares[0]) if by_bones is not None and shares[0] > least - HARDLY else None


def fit(points: FloatArray, tolerance: float, finder: Finder, near: Candidate | None = None) -> Candidate | None:
    """The plane about which (n, 3) points mirror best, or None for too few points.

    Starts ``near`` a plane, if one is given, then from the principal directions, the axes and many more,
    lays the mirrored copy onto the points by trimmed nearest neighbours, and reads the plane off the
    partners: its normal is the main direction of their differences. The first plane that explains nearly
    everything is taken, else the best of the few that promise most.
    """
    finite = points[np.isfinite(points).all(axis=1)]
    if len(finite) < 4:
        return None
    if near is not None:
        polished = _polish(finite, near, tolerance)
        if explained(finite, polished, tolerance) >= NEARLY:
            return polished
    middle = np.median(finite, axis=0)
    sample = finite[:: max(1, len(finite) // _SAMPLE)]
    few = sample[:: max(1, len(sample) // _ROUGH_SAMPLE)]
    _, _, principal = np.linalg.svd(sample - sample.mean(axis=0), full_matrices=False)
    search = finder(finite)
    rough: list[tuple[float, int, Candidate]] = []
    tried: list[FloatArray] = []
    for normal in (*principal, *np.eye(3), *_directions(_DIRECTIONS)):
        one = _refine(finite, few, middle, normal, search, _ROUGH_ROUNDS)
        rough.append((_misfit(few, one, search), len(rough), one))
        if rough[-1][0] <= tolerance and not any(abs(one.normal @ other) > _ALIKE for other in tried):
            tried.append(one.normal)
            polished = _polish(finite, one, tolerance)
            if explained(finite, polished, tolerance) >= NEARLY:
                return polished
    fine: list[tuple[float, Candidate]] = []
    for _, _, one in sorted(rough)[:4]:
        polished = _polish(finite, _refine(finite, sample, one.point, one.normal, search, _ROUNDS), tolerance)
        fine.append((explained(finite, polished, tolerance), polished))
        if fine[-1][0] >= NEARLY:
            break
    return max(fine, key=lambda one: one[0])[1]


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
