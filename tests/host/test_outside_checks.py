"""The main job against meshes and rigs that Blender itself brings.

Blender's monkey primitive: 507 vertices, an exact mirror about x = 0 with 35 of them on the
plane, two places holding two vertices each (measured in bpy 5.2.3; the primitive is code of
the host). The same mesh is no mirror about y = 0 or z = 0. Host tolerance of its mirror tools:
a partner is found at 0.000019 and lost at 0.000021 (measured).
"""

import bpy
import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.pairing import Mesh, State, pair_points
from evenfold.core.settings import Settings
from evenfold.host.nearest import KDFinder
from evenfold.host.read import find_figures, read_figure
from oracles.finder import ScipyFinder


@pytest.fixture
def monkey():
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.mesh.primitive_monkey_add()
    return bpy.context.object


def figure():
    (source,) = find_figures(bpy.context.scene)
    return read_figure(source, bpy.context.scene)


def mesh_along(axis):
    surface = figure().surfaces[0]
    points = np.roll(surface.positions.astype(float), -axis, axis=1)
    return Mesh(points, surface.edges, surface.corners, surface.face_starts)


def test_the_monkey_mirrors_exactly_about_x(monkey):
    found = pair_points(mesh_along(0), 1e-6, KDFinder)
    counts = np.bincount(found.state, minlength=len(State))
    assert counts[State.PAIRED] == 472 and counts[State.CENTRE] == 35
    assert np.nanmax(found.deviation) == 0.0


def test_partners_of_the_monkey_keep_every_edge(monkey):
    mesh = mesh_along(0)
    found = pair_points(mesh, 1e-6, KDFinder)
    edges = {tuple(sorted(edge)) for edge in mesh.edges.tolist()}
    assert {tuple(sorted(edge)) for edge in found.partner[mesh.edges].tolist()} == edges


@pytest.mark.parametrize("axis", [1, 2])
def test_the_monkey_does_not_mirror_about_y_or_z(monkey, axis):
    found = pair_points(mesh_along(axis), 1e-4, KDFinder)
    assert len(found.members(State.PAIRED)) <= 8


@pytest.mark.parametrize("amount", [0.000019, 0.000021])
def test_near_miss_draws_the_line_where_the_hosts_own_mirror_select_does(monkey, amount):
    data = monkey.data
    vertex = max(data.vertices, key=lambda one: one.co.x).index
    data.vertices[vertex].co.y += amount
    result = check_figure(figure(), Settings(tolerance=0.001), KDFinder).objects[0]
    ours = any(finding.code == "near-miss" for finding in result.findings)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    for kind in (data.vertices, data.edges, data.polygons):
        kind.foreach_set("select", np.zeros(len(kind), bool))
    data.vertices[vertex].select = True
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_mirror(extend=False)
    bpy.ops.object.mode_set(mode="OBJECT")
    found_by_host = any(one.select and one.index != vertex for one in data.vertices)
    assert ours != found_by_host


def test_the_hosts_tree_answers_as_scipys():
    rng = np.random.default_rng(0)
    points, asked = rng.normal(size=(300, 3)), rng.normal(size=(80, 3))
    for k in (1, 3):
        one, other = KDFinder(points).query(asked, k), ScipyFinder(points).query(asked, k)
        assert one[0] == pytest.approx(other[0], abs=1e-5)
        assert np.array_equal(one[1], other[1])
    distance, at = KDFinder(points[:2]).query(asked[:1], 3)
    assert np.isinf(distance[0, 2]) and at[0, 2] == -1
    assert KDFinder(np.zeros((0, 3))).query(asked, 2)[1].tolist() == [[-1, -1]] * 80
