"""Which half an element lies on, against a plain answer element by element. All figures are invented."""

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Surface
from evenfold.core.findings import MirrorPlane
from evenfold.core.halves import Halves, halves_of


def plain(points, plane, tolerance):
    away = sum(float((point - plane.point) @ plane.normal) for point in points) / len(points)
    return 0 if abs(away) <= tolerance else 1 if away > 0 else -1


@pytest.mark.parametrize("seed", range(8))
def test_every_element_lies_where_its_middle_does(seed):
    random = np.random.default_rng(seed)
    places = random.normal(size=(40, 3))
    places[:5, 0] = 0.3
    matrix = np.eye(4)
    matrix[:3, 3] = random.normal(size=3)
    normal = np.array([1.0, 0.0, 0.0]) if seed == 0 else random.normal(size=3)
    plane = MirrorPlane(matrix[:3, 3] + [0.3, 0, 0], normal / np.linalg.norm(normal), "given")
    faces = [random.choice(40, size, replace=False) for size in random.integers(3, 6, 20)]
    edges = random.integers(0, 40, (30, 2))
    starts = np.concatenate([[0], np.cumsum([len(face) for face in faces])])
    surface = Surface("Keeper", places, edges, np.concatenate(faces), starts, matrix)
    world = places + matrix[:3, 3]
    bone = Bone("Arm.L", None, world[0], world[1], np.eye(3))
    figure = Figure("Keeper", (surface,), (), Armature("Rig", (bone,), np.eye(4)))
    found = halves_of(figure, plane, 0.05)
    own = found["Keeper"].elements
    assert own["vertex"].tolist() == [plain([point], plane, 0.05) for point in world]
    assert own["edge"].tolist() == [plain(world[edge], plane, 0.05) for edge in edges]
    assert own["face"].tolist() == [plain(world[face], plane, 0.05) for face in faces]
    assert found["Rig"].bones == {"Arm.L": plain([world[0], world[1]], plane, 0.05)}
    assert {-1, 1} <= set(own["vertex"].tolist()) and (seed or 0 in own["vertex"])


def test_an_object_that_is_not_known_is_left_whole():
    numbers = np.array([3, 5])
    assert Halves().on(1, "vertex", numbers) is numbers
    known = Halves({"vertex": np.array([1, 1, 1, -1])})
    assert known.on(1, "vertex", numbers).tolist() == [] and known.on(-1, "vertex", numbers).tolist() == [3]
