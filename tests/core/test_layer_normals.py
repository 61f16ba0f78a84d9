"""Custom normals: turned ones come back, quantised ones do not. Invented figures."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.figure import transform_points
from evenfold.core.settings import Settings
from figures.layered import layered
from figures.layered_parts import LEFT, RIGHT, corner_twins, findings, part
from figures.records import figure_of
from oracles.finder import ScipyFinder
from scipy.spatial.transform import Rotation


def turned(made, rows, degrees, rng):
    """With these corners' normals turned by so many degrees about lines across them."""
    normals = made.layers.corner_normals.astype(float)
    about = np.cross(normals[rows], rng.normal(size=(len(rows), 3)))
    about /= np.linalg.norm(about, axis=1, keepdims=True)
    amount = np.radians(np.broadcast_to(degrees, len(rows)))[:, None]
    normals[rows] = Rotation.from_rotvec(about * amount).apply(normals[rows])
    return made.changed(corner_normals=normals.astype(np.float32))


def of_side(made, side):
    """The corners of faces on one side."""
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])[made.corner_face]
    return np.flatnonzero(x * side > 0)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("seed", range(8))
def test_turned_normals_come_back_with_their_angles(seed, side):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    rows = np.sort(rng.choice(of_side(made, side), 12, replace=False))
    angles = rng.uniform(1.2, 170.0, 12)
    (found,) = findings(turned(made, rows, angles, rng).surface)
    twins = corner_twins(made)
    left = rows if side > 0 else twins[rows]
    order = np.argsort(left)
    assert (found.code, found.kind, found.unit) == ("normal-drifted", "corner", "degrees")
    assert found.elements.tolist() == left[order].tolist()
    assert found.partners.tolist() == twins[left[order]].tolist()
    assert found.sizes == pytest.approx(angles[order], abs=1e-3)
    assert found.vertices.tolist() == np.unique(made.surface.corners[left]).tolist()


def test_noise_of_the_hosts_storage_does_not_fire():
    """The host keeps custom normals as two 16-bit angles; a tenth of a degree is generous."""
    made = layered(1)
    rng = np.random.default_rng(1)
    noisy = turned(made, np.arange(len(made.surface.corners)), 0.1, rng)
    assert findings(noisy.surface) == []
    assert findings(noisy.surface, normal_angle=0.01)[0].count > 100


@pytest.mark.parametrize("scale", [(1, 1, 1), (2.0, 1.0, 0.5), (-1, 1, 1)], ids=str)
def test_under_any_placing_of_the_object(scale):
    """Normals go by the inverse transpose, so a stretched figure stays even."""
    made = layered(2)
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("xyz", [0.3, 0.2, 0.9]).as_matrix() @ np.diag(scale)
    matrix[:3, 3] = [1.0, 2.0, 3.0]
    placed = replace(made.surface, to_world=matrix)
    assert findings(placed) == []
    rows = np.sort(np.random.default_rng(2).choice(of_side(made, 1), 5, replace=False))
    hit = replace(turned(made, rows, 20.0, np.random.default_rng(2)).surface, to_world=matrix)
    (found,) = findings(hit)
    expected = rows if scale[0] > 0 else corner_twins(made)[rows]
    assert set(found.elements) | set(found.partners) >= set(rows) and found.count == 5
    assert found.elements.tolist() == np.sort(expected).tolist()
    normals = turned(made, rows, 20.0, np.random.default_rng(2)).layers.corner_normals
    mine = [across(matrix, normals[row]) for row in found.elements]
    other = [across(matrix, normals[row] * [-1, 1, 1]) for row in found.partners]
    cosine = np.clip(np.einsum("ij,ij->i", mine, other), -1, 1)
    assert found.sizes == pytest.approx(np.degrees(np.arccos(cosine)), abs=0.02)


def across(matrix, normal):
    """The unit normal of the plane that the plane across a normal becomes."""
    one = np.cross(normal, [0.3, 0.5, 0.8])
    placed = np.cross(matrix[:3, :3] @ one, matrix[:3, :3] @ np.cross(normal, one))
    return placed / np.linalg.norm(placed) * np.sign(np.linalg.det(matrix[:3, :3]))


def test_figures_without_custom_normals_are_not_asked():
    made = layered(3)
    assert findings(made.changed(corner_normals=None).surface) == []


@pytest.mark.parametrize("split", [False, True])
def test_two_objects_each_placed_on_its_own(split):
    made = layered(4)
    rng = np.random.default_rng(4)
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("xyz", [0.4, 0.1, 0.2]).as_matrix()

    def pair(of):
        right = part(of, RIGHT, "Glove.R", split)
        back = transform_points(np.linalg.inv(matrix), right.positions)
        normals = right.layers.corner_normals.astype(float) @ matrix[:3, :3]
        layers = replace(right.layers, corner_normals=normals, keys=None)
        left = part(of, LEFT, "Glove.L", split)
        left = replace(left, layers=replace(left.layers, keys=None))
        return left, replace(right, positions=back, to_world=matrix, layers=layers)

    assert findings(*pair(made)) == []
    rows = rng.choice(np.flatnonzero(np.isin(made.face_piece[made.corner_face], RIGHT)), 7, replace=False)
    (found,) = findings(*pair(turned(made, rows, 15.0, rng)))
    assert (found.count, found.partner_object) == (7, "Glove.R")
    assert found.sizes == pytest.approx(15.0, abs=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_normals_about_a_drifted_vertex_are_not_told_besides(seed):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    vertex = int(rng.choice(np.flatnonzero(made.surface.positions[:, 0] < -0.2)))
    around = np.flatnonzero(made.surface.corners == vertex)
    far = of_side(made, -1)
    near = np.unique(made.surface.corners[np.isin(made.corner_face, made.corner_face[around])])
    away = far[~np.isin(made.surface.corners[far], near)][:1]
    crooked = turned(made, np.concatenate([around, away]), 20.0, rng)
    positions = crooked.surface.positions.copy()
    positions[vertex] += (0.0, 0.004, 0.0)
    moved = replace(crooked.surface, positions=positions)
    result = check_figure(figure_of(moved), Settings(plane="world", layers=("surface", "normals")), ScipyFinder)
    told = {f.code: f.count for f in result.objects[0].findings if f.count}
    assert told == {"drifted": 1, "normal-drifted": 1}
