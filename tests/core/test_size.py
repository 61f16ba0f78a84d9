"""What an engine gets of a mesh, against counts that follow from geometry. All meshes are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Part, Weights
from evenfold.core.size import FINEST, ObjectSize, Sent, Size, finer, sent_of, size_of
from figures.layered import layered
from figures.records import figure_of, surface_of
from figures.shapes import lumpy_ball, mesh_of
from hypothesis import given
from hypothesis import strategies as st

FACES = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
CUBE = mesh_of(np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float), FACES)
NORMALS = np.array([[-1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 1, 0], [0, 0, -1], [0, 0, 1]], float)
ONE = np.zeros(6, np.int64)
NET = (
    lambda x, y, z: (4 - y, z), lambda x, y, z: (1 + y, z), lambda x, y, z: (x, z),
    lambda x, y, z: (3 - x, z), lambda x, y, z: (x, -y), lambda x, y, z: (x, 1 + y),
)
"""Where each face's points lie on a net of the cube: a strip of four, with the bottom and the lid at one of them."""


def sent(slots=ONE, *at_corners):
    return sent_of(CUBE.corners, CUBE.face_starts, slots, at_corners)


def net():
    """(24, 2) UV coordinates on the net."""
    return np.array([place(*CUBE.points[vertex]) for place, face in zip(NET, FACES, strict=True) for vertex in face])


def test_a_box_with_hard_edges_has_24_vertices_and_12_triangles():
    """As the box among the sample models of the glTF 2.0 format has: 24 positions, 36 indices (from memory)."""
    assert sent(ONE, np.repeat(NORMALS, 4, axis=0)) == Sent(12, 24, 1)


def test_a_smooth_box_keeps_its_8():
    assert sent() == Sent(12, 8, 1)
    rounded = CUBE.points[CUBE.corners] - 0.5
    assert sent(ONE, rounded) == Sent(12, 8, 1)


def test_an_unfolded_box_has_the_14_corners_of_its_net():
    """A net is a disc: V - E + F = 1 (Euler), with 6 faces and 12 + 7 edges, as 7 of 12 are cut: 14."""
    assert sent(ONE, net()) == Sent(12, 14, 1)


def test_a_second_map_splits_where_the_first_does_not():
    islands = np.repeat(np.arange(6.0), 4)[:, None] + CUBE.points[CUBE.corners][:, :2] / 4
    assert sent(ONE, np.zeros((24, 2)), islands).vertices == 24


def test_two_materials_split_along_their_border():
    """The lid has 4 vertices, the rest all 8: one mesh becomes two that are drawn one after the other."""
    lid = np.where(NORMALS[:, 2] > 0, 1, 0)
    assert sent(lid) == Sent(12, 12, 2)
    assert sent(np.where(NORMALS[:, 2] > 0, 5, 2)) == Sent(12, 12, 2)


def test_faces_of_many_corners_are_cut_into_triangles():
    """n - 2 triangles make up a polygon of n corners."""
    assert sent_of(np.arange(12), np.array([0, 3, 7, 12]), np.zeros(3, np.int64), []).triangles == 1 + 2 + 3


def test_a_mesh_without_faces_is_nothing():
    assert sent_of(np.zeros(0, np.int64), np.zeros(1, np.int64), np.zeros(0, np.int64), []) == Sent(0, 0, 0)


def test_what_differs_by_less_than_an_engine_keeps_is_one():
    apart = np.zeros((24, 3))
    apart[::2] = FINEST / 5
    assert sent(ONE, apart).vertices == 8
    apart[::2] = FINEST * 5
    assert sent(ONE, apart).vertices > 8


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
def test_values_that_are_no_places_are_one(value):
    assert sent(ONE, np.full((24, 2), value, np.float32)).vertices == 8


@given(
    st.lists(st.tuples(st.integers(0, 5), *[st.integers(-3, 3)] * 5), min_size=1, max_size=40),
    st.integers(0, 3),
)
def test_as_many_as_there_are_different_corners(rows, kinds):
    """numpy's unique rows are the other judge."""
    table = np.repeat(np.array(rows), 3, axis=0)
    table[1::3, 0], table[2::3, 0] = 6, 7
    slots = np.arange(len(rows)) % (kinds + 1)
    told = sent_of(
        table[:, 0], np.arange(0, len(table) + 1, 3), slots, [table[:, 1:4].astype(float), table[:, 4:6] / 8]
    )
    wanted = np.unique(np.column_stack([table, np.repeat(slots, 3)]), axis=0)
    assert told == Sent(len(rows), len(wanted), len(np.unique(slots)))


def test_levels_that_are_not_evaluated_are_reckoned():
    """Catmull and Clark: a level makes a vertex of every vertex, edge and face, and four faces of a quad."""
    ball, _ = lumpy_ball(24, 32)
    quads = np.diff(ball.face_starts)
    assert (quads == 4).mean() > 0.9
    told = finer(Sent(2 * len(quads), len(ball.points), 1), 1)
    assert told.triangles == 8 * len(quads)
    assert told.vertices == pytest.approx(len(ball.points) + len(ball.edges) + len(quads), rel=0.05)


def figure_with(*sizes):
    """A figure of boxes, each with what an engine gets of it."""
    surfaces = [surface_of(CUBE, f"Part {number}") for number, _ in enumerate(sizes)]
    empty = np.zeros((0, 3), np.int64)
    figure = figure_of(*surfaces)
    parts = tuple(
        Part(one.name, one.world, empty, Weights.none(), sent=size) for one, size in zip(surfaces, sizes, strict=True)
    )
    return replace(figure, parts=parts, armature=Armature("Rig", (), np.eye(4)))


def test_a_figure_sums_its_objects_and_leaves_out_those_without_faces():
    size = size_of(figure_with(Sent(12, 24, 2), Sent(0, 0, 0), Sent(20, 12, 1), None))
    assert [one.name for one in size.objects] == ["Part 0", "Part 2"]
    assert (size.triangles, size.vertices, size.stored, size.meshes, size.materials) == (32, 36, 16, 2, 3)
    assert (size.bones, size.keys) == (0, 0)


def test_keys_are_those_of_the_mesh_that_has_most():
    size = Size((ObjectSize("Face", 2, 4, 4, 1, 52), ObjectSize("Ears", 2, 4, 4, 1, 3)), 12)
    assert size.keys == 52


def test_the_neutral_key_is_not_counted():
    figure = layered(3).figure()
    (part,), (surface,) = figure.parts, figure.surfaces
    size = size_of(replace(figure, parts=(replace(part, sent=Sent(2, 4, 1)),)))
    assert size.keys == len(surface.layers.keys.keys) - 1 > 0
