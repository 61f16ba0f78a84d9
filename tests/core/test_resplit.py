"""Meshes of formats that know only triangles: cut up and split at seams without regard to the halves."""

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.figure import Surface, Weights
from evenfold.core.layers import SurfaceLayers
from evenfold.core.settings import Settings
from figures.layered import layered
from figures.records import figure_of
from figures.shapes import mesh_of
from oracles.finder import ScipyFinder


def exported(seed, drop=(), fill=(), cut=0.02, split=True):
    """The invented body as such a format stores it: each polygon a fan from a corner drawn from the
    seed, without the polygons in ``drop``, each with a copy of its own of some of its vertices."""
    rng = np.random.default_rng(seed)
    made = layered(3)
    points = list(np.asarray(made.surface.positions, float))
    faces = []
    for number, polygon in enumerate(made.faces):
        if number in drop:
            continue
        face = np.roll(polygon, rng.integers(len(polygon))).tolist()
        if rng.random() < cut:
            points += [points[one] for one in face[:2]]
            face[:2] = [len(points) - 2, len(points) - 1]
        faces += [[face[0], face[step], face[step + 1]] for step in range(1, len(face) - 1)]
    mesh = mesh_of(np.array(points), faces + [list(one) for one in fill])
    layers = SurfaceLayers(
        Weights.none(), np.zeros(len(mesh.edges), bool), np.zeros(len(mesh.face_starts) - 1, np.int64)
    )
    return Surface(
        "Body", mesh.points.astype(np.float32), mesh.edges, mesh.corners, mesh.face_starts, np.eye(4),
        layers=layers, split=split,
    )


def told(surface):
    result = check_figure(figure_of(surface), Settings(layers=("surface", "topology"), plane="world"), ScipyFinder)
    (item,) = result.objects
    return {one.code: one for one in item.findings if one.count}, item.notes


@pytest.mark.parametrize("seed", range(6))
def test_what_the_format_did_is_no_finding_and_is_said(seed):
    found, notes = told(exported(seed))
    assert found == {}
    assert any("have copies at the same place" in note for note in notes)
    assert any("has only triangles" in note for note in notes)


def test_without_the_format_it_would_be_told():
    """The same mesh drawn by an artist is not what it should be."""
    found, _ = told(exported(0, split=False))
    assert {"doubled", "edge-unmatched", "face-unmatched"} <= set(found)


@pytest.mark.parametrize("seed", range(4))
def test_a_hole_on_one_side_comes_back_and_nothing_else(seed):
    made = layered(3)
    rng = np.random.default_rng(seed)
    lengths = np.diff(made.surface.face_starts)
    sides = np.array([made.surface.positions[face][:, 0].mean() for face in made.faces])
    hole = int(rng.choice(np.flatnonzero((sides > 0.3) & (lengths == 4))))
    surface = exported(seed, drop={hole})
    found, _ = told(surface)
    assert set(found) == {"face-unmatched", "edge-unmatched"}
    across = {tuple(np.round(made.surface.positions[one] * [-1, 1, 1], 5)) for one in made.faces[hole]}
    named = found["face-unmatched"].elements
    assert len(named) == 2
    for face in named:
        corners = surface.corners[surface.face_starts[face] : surface.face_starts[face + 1]]
        assert {tuple(one) for one in np.round(surface.positions[corners].astype(float), 5)} <= across


def test_a_bridge_on_one_side_comes_back():
    made = layered(3)
    left = np.flatnonzero(made.surface.positions[:, 0] > 0.3)
    bridge = [int(left[0]), int(left[len(left) // 2]), int(left[-1])]
    found, _ = told(exported(1, fill=[bridge]))
    assert set(found) == {"face-unmatched", "edge-unmatched"}
    assert found["face-unmatched"].count == 1


def test_a_mesh_without_copies_says_nothing_of_copies():
    found, notes = told(exported(2, cut=0.0))
    assert not any("copies at the same place" in note for note in notes)
    assert found == {}
