"""Quads stored as triangles: split along the other diagonal, bent or flat. Invented sheets."""

import numpy as np
import pytest
from evenfold.core.findings import MirrorPlane
from evenfold.core.settings import Settings
from evenfold.core.symmetry import topology
from evenfold.core.symmetry.matched import Limits, Matched
from figures.records import surface_of
from figures.shapes import mesh_of

SIDE = 8


def sheet(seed: int, bent: bool):
    """A mirrored grid of quads with (columns, rows) of vertices; (points, quads, partner)."""
    rng = np.random.default_rng(seed)
    across = np.arange(-SIDE, SIDE + 1)
    x, y = np.meshgrid(across, np.arange(5), indexing="ij")
    rise = rng.normal(size=(SIDE + 1, 5)) if bent else np.zeros((SIDE + 1, 5))
    z = rise[np.abs(x), y]
    points = np.stack([x, y, z], axis=2).reshape(-1, 3).astype(float)
    number = np.arange(len(points)).reshape(x.shape)
    quads = np.stack(
        [number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], axis=2
    ).reshape(-1, 4)
    return points, quads, number[::-1].reshape(-1)


def split(points, quads, turned):
    """Triangles of quads, mirrored but for those ``turned``; each quad's two lie together."""
    faces = []
    for place, (a, b, c, d) in enumerate(quads):
        left = points[[a, b, c, d], 0].mean() > 0
        along = left != (place in turned)
        faces += [[a, b, c], [a, c, d]] if along else [[b, c, d], [b, d, a]]
    return faces


def found(points, faces, partner):
    surface = surface_of(mesh_of(points, faces))
    matched = Matched(surface, surface, surface.world, partner, np.zeros(len(partner), bool))
    plane = MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), "world")
    return list(topology.check(matched, Limits(1e-3, 1.0, plane, Settings())))


@pytest.mark.parametrize("seed", range(10))
def test_bent_quads_split_otherwise_come_back_and_flat_ones_do_not(seed: int) -> None:
    points, quads, partner = sheet(seed, bent=True)
    assert found(points, split(points, quads, set()), partner) == []
    rng = np.random.default_rng(seed)
    turned = set(rng.choice(len(quads) // 2, 3, replace=False).tolist())
    (finding,) = found(points, split(points, quads, turned), partner)
    assert (finding.code, finding.kind) == ("diagonal-unmatched", "face")
    mirrored = {_mirror(quads, partner, one) for one in turned}
    assert sorted(finding.elements.tolist()) == sorted(
        face for quad in mirrored for face in (2 * quad, 2 * quad + 1)
    )
    assert (finding.sizes > 1e-3).all()
    points, quads, partner = sheet(seed, bent=False)
    assert found(points, split(points, quads, turned), partner) == []


def _mirror(quads, partner, one: int) -> int:
    wanted = set(partner[quads[one]].tolist())
    return next(n for n, quad in enumerate(quads) if set(quad.tolist()) == wanted)


def test_a_missing_triangle_is_still_a_missing_face() -> None:
    points, quads, partner = sheet(1, bent=True)
    faces = split(points, quads, set())
    codes = {one.code: one.count for one in found(points, faces[:-1], partner)}
    assert codes["face-unmatched"] == 1
    assert "diagonal-unmatched" not in codes


def test_the_gap_is_the_distance_of_the_two_diagonals() -> None:
    points = np.array([[1, 0, 0], [3, 0, 0], [3, 2, 0], [1, 2, 0]], float)
    points[[0, 2], 2] = 0.3
    both = np.concatenate([points, points * [-1, 1, 1]])
    faces = [[0, 1, 2], [0, 2, 3], [5, 4, 7], [5, 7, 6]]
    partner = np.array([4, 5, 6, 7, 0, 1, 2, 3])
    (finding,) = found(both, faces, partner)
    assert finding.elements.tolist() == [0, 1]
    np.testing.assert_allclose(finding.sizes, 0.3)
