"""The surface layer on figure records; every mesh is invented, every defect planted."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.figure import MirrorModifier
from evenfold.core.settings import Settings
from figures.layered import layered
from figures.records import figure_of, surface_of
from figures.shapes import joined, lumpy_ball, mesh_of
from oracles.finder import ScipyFinder
from scipy.spatial.transform import Rotation

SETTINGS = Settings(tolerance=1e-3)


def check(*surfaces, settings=SETTINGS, **more):
    return check_figure(figure_of(*surfaces, **more), settings, ScipyFinder)


def codes(result):
    return {finding.code: finding for finding in result.findings}


@pytest.mark.parametrize(("axes", "scale"), [
    ((1, 1, 1), 1.0), ((2, 2, 2), 2.0), ((-3, 3, 3), 3.0), ((8, 1, 1), 2.0), ((1e-6, 1e-6, 1e-6), 1e-6),
    ((0, 1, 1), 1.0), ((0, 0, 0), 1.0), ((np.nan, 1, 1), 1.0), ((np.inf, 1, 1), 1.0),
])
def test_an_objects_scale_is_told_and_one_where_there_is_none(axes, scale):
    surface = surface_of(lumpy_ball(4, 6, seed=1)[0], to_world=np.diag([*axes, 1.0]))
    assert surface.scale == pytest.approx(scale)


def test_a_flattened_object_has_near_misses_beyond_the_hosts_bound_only():
    ball, _ = lumpy_ball(40, 60, seed=3)
    pushed = ball.points.copy()
    row = np.flatnonzero(pushed[:, 0] > 0.2)[4]
    pushed[row, 1] += 1e-6
    flat = np.diag([1.0, 1.0, 0.0, 1.0])
    found = codes(check(surface_of(replace(ball, points=pushed), to_world=flat)).objects[0])
    assert "near-miss" not in found


def test_seven_moved_among_many_are_exactly_seven():
    """Planted row: 7 vertices off by 1 mm, nothing else, each with its distance."""
    ball, truth = lumpy_ball(60, 80, seed=1)
    rng = np.random.default_rng(1)
    left = np.flatnonzero(ball.points[:, 0] > 0.1)
    moved = np.sort(rng.choice(left, 7, replace=False))
    points = ball.points.copy()
    points[moved, 1] += 0.02
    (result,) = check(surface_of(replace(ball, points=points))).objects
    assert list(codes(result)) == ["drifted"]
    finding = result.findings[0]
    assert finding.elements.tolist() == moved.tolist()
    assert finding.partners.tolist() == truth[moved].tolist()
    assert finding.sizes == pytest.approx(0.02, abs=1e-6)


@pytest.mark.parametrize("scale", [1.0, 0.01])
def test_below_the_tolerance_yet_too_far_for_the_hosts_tools_is_a_near_miss(scale):
    """The host finds a partner at 0.000019 and loses it at 0.000021 (measured in the host)."""
    ball, truth = lumpy_ball(seed=2)
    ball = replace(ball, points=ball.points * 0.5)
    vertex = int(np.flatnonzero(ball.points[:, 0] > 0.2)[0])
    for amount, expected in ((0.000015, []), (0.00003, ["near-miss"])):
        points = ball.points.copy()
        points[vertex, 2] += amount
        matrix = np.diag([scale, scale, scale, 1.0])
        (result,) = check(surface_of(replace(ball, points=points), to_world=matrix)).objects
        assert list(codes(result)) == expected
        for finding in result.findings:
            assert {*finding.elements, *finding.partners} == {vertex, truth[vertex]}


def test_hidden_vertices_are_still_reported_and_counted():
    ball, _ = lumpy_ball(seed=3)
    vertex = int(np.flatnonzero(ball.points[:, 0] > 0.5)[0])
    points = ball.points.copy()
    points[vertex] += 0.05
    hidden = np.zeros(len(points), bool)
    hidden[vertex] = True
    (result,) = check(surface_of(replace(ball, points=points), hidden=hidden)).objects
    assert codes(result)["drifted"].hidden == 1


def test_any_plane_gives_the_same_findings():
    ball, _ = lumpy_ball(seed=4)
    points = ball.points.copy()
    points[[5, 50]] += 0.07
    plain = check(surface_of(replace(ball, points=points))).objects[0]
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("xyz", [0.5, 0.3, 1.0]).as_matrix()
    matrix[:3, 3] = [3.0, -2.0, 1.0]
    turned = check(surface_of(replace(ball, points=points), to_world=matrix))
    assert turned.plane.how == "object"
    assert [f.code for f in turned.objects[0].findings] == [f.code for f in plain.findings]
    for one, other in zip(plain.findings, turned.objects[0].findings, strict=True):
        assert one.elements.tolist() == other.elements.tolist()


def test_objects_on_either_side_are_partners_of_each_other():
    ball, _ = lumpy_ball(8, 12, seed=5)
    body, _ = lumpy_ball(seed=6)
    left = replace(ball, points=ball.points * 0.1 + [0.4, -0.9, 0.2])
    right = replace(left, points=left.points * [-1, 1, 1], corners=left.corners)
    points = left.points.copy()
    points[7] += [0.0, 0.02, 0.0]
    result = check(
        surface_of(body),
        surface_of(replace(left, points=points), "Left button"),
        surface_of(right, "Right button"),
    )
    found = {one.name: one for one in result.objects}
    assert not found["Body"].findings
    listed = [f for one in result.objects for f in one.findings]
    assert [(f.code, f.elements.tolist(), f.partners.tolist()) for f in listed] == [
        ("drifted", [7], [7])
    ]
    assert listed[0].partner_object in ("Left button", "Right button")


def test_a_near_miss_between_two_objects_names_the_other_object():
    ball, _ = lumpy_ball(8, 12, seed=5)
    left = replace(ball, points=ball.points * 0.1 + [0.4, -0.9, 0.2])
    right = replace(left, points=left.points * [-1, 1, 1])
    points = right.points.copy()
    points[7, 1] += 0.0003
    objects = check(
        surface_of(left, "Left button"), surface_of(replace(right, points=points), "Right button")
    ).objects
    listed = [(one.name, f) for one in objects for f in one.findings]
    assert [(name, f.code, f.elements.tolist(), f.partners.tolist()) for name, f in listed] == [
        ("Right button", "near-miss", [7], [7])
    ]
    assert listed[0][1].partner_object == "Left button"


def test_asking_for_an_armatures_plane_without_one_is_said():
    ball, _ = lumpy_ball(seed=1)
    plane = check(surface_of(ball), settings=Settings(tolerance=1e-3, plane="armature")).plane
    assert plane.how == "object" and plane.why.startswith("The figure has no armature.")


def test_a_one_sided_strand_is_one_finding_of_one_island():
    ball, _ = lumpy_ball(seed=7)
    strand, _ = lumpy_ball(5, 8, seed=3)
    strand = replace(strand, points=strand.points * 0.1 + [2.0, 0.0, 0.0])
    (result,) = check(surface_of(joined(ball, strand))).objects
    assert list(codes(result)) == ["unpaired"]
    assert result.findings[0].count == len(strand.points)
    assert result.findings[0].islands == 1


def test_a_half_under_a_mirror_modifier_is_checked_on_its_middle_edge_only():
    ball, _ = lumpy_ball(seed=8)
    keep = ball.points[:, 0] >= 0.0
    number = np.cumsum(keep) - 1
    faces = [
        ball.corners[a:b]
        for a, b in zip(ball.face_starts[:-1], ball.face_starts[1:], strict=True)
        if keep[ball.corners[a:b]].all()
    ]
    half = mesh_of(ball.points[keep], [[int(number[c]) for c in face] for face in faces])
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]))
    settings = Settings(tolerance=1e-3, plane="world")
    (clean,) = check(surface_of(half, mirrors=(mirror,)), settings=settings).objects
    assert not clean.findings and clean.notes
    middle = int(np.flatnonzero(half.points[:, 0] == 0.0)[3])
    points = half.points.copy()
    points[middle, 0] = 0.004
    (off,) = check(
        surface_of(replace(half, points=points), mirrors=(mirror,)), settings=settings
    ).objects
    assert [(f.code, f.elements.tolist()) for f in off.findings] == [("off-centre", [middle])]


def test_an_empty_mesh_has_a_result_without_findings():
    ball, _ = lumpy_ball(seed=1)
    empty = replace(
        ball,
        points=np.zeros((0, 3)),
        edges=np.zeros((0, 2), np.int64),
        corners=np.zeros(0, np.int64),
        face_starts=np.zeros(1, np.int64),
    )
    (result,) = check(surface_of(empty)).objects
    assert (result.vertices, result.pairs, result.findings) == (0, 0, ())


def test_doubled_vertices_have_no_size_because_only_their_number_differs():
    mesh, _ = lumpy_ball(12, 16, seed=4)
    there = int(np.argmax(mesh.points[:, 0]))
    points = np.concatenate([mesh.points, mesh.points[[there]]])
    result = check(surface_of(replace(mesh, points=points)))
    (doubled,) = [one for one in result.objects[0].findings if one.code == "doubled"]
    assert set(doubled.elements.tolist()) == {there, len(mesh.points)} and doubled.worst is None


def test_layers_that_are_not_named_are_left_out_and_so_is_the_surface():
    made = layered(0)
    rows = np.flatnonzero(made.partner != np.arange(len(made.partner)))
    positions = made.surface.positions.copy()
    positions[rows[0]] += np.float32(0.01)
    seams = made.layers.seams.copy()
    seams[0] = not seams[0]
    off = made.changed(seams=seams).surface
    off = replace(off, positions=positions)
    by_layers = {
        layers: {f.code for one in check(off, settings=replace(SETTINGS, layers=layers)).objects for f in one.findings}
        for layers in ((), ("surface",), ("uv",), ("surface", "uv"), ("bones",))
    }
    assert by_layers["surface",] == {"drifted"} and by_layers["uv",] == {"seam-unmatched"}
    assert by_layers["surface", "uv"] == {"drifted", "seam-unmatched"} and by_layers["bones",] == set()
    assert by_layers[()] >= {"drifted", "seam-unmatched"}
    bare = check(replace(off, layers=None), settings=replace(SETTINGS, layers=("bones",)))
    assert bare.within and bare.objects[0].pairs > 0
