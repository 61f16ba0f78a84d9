"""UVs and seams mended by their island's own layout, and nothing else. Invented figures."""

from dataclasses import fields, replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.layers import SurfaceLayers
from evenfold.core.repair import Checked, SeamsSet, UVMoved, Wish
from evenfold.core.repair.applied import applied
from evenfold.core.repair.together import plan_together
from figures.layered import layered, rig
from figures.layered_parts import LEFT, RIGHT, corner_twins, edge_twins, part
from figures.mending import PLAIN, check, codes, mended, plan_for, the, turned_over
from figures.records import figure_of
from oracles.finder import ScipyFinder

LAYOUTS = ("mirrored", "stacked", "turned")
UV, SEAM = "uv-drifted", "seam-unmatched"


def uvs(figure, name="Body"):
    return the(figure, name).layers.uv_maps[0].places


def with_uvs(figure, places, name="Body"):
    def changed(one):
        if one.name != name:
            return one
        (uv_map,) = one.layers.uv_maps
        return replace(one, layers=replace(one.layers, uv_maps=(replace(uv_map, places=places.astype(np.float32)),)))

    return replace(figure, surfaces=tuple(changed(one) for one in figure.surfaces))


def nudged(figure, rows, by, name="Body"):
    places = uvs(figure, name).astype(float)
    places[rows] += by
    return with_uvs(figure, places, name)


def corners_of(made, piece):
    return np.flatnonzero(made.face_piece[made.corner_face] == piece)


def point_of(made, corner):
    """All corners of one UV point: the same vertex at the same place of the map."""
    places, corners = made.layers.uv_maps[0].places, made.surface.corners
    return np.flatnonzero((corners == corners[corner]) & (places == places[corner]).all(axis=1))


def only_changed(before, after, field, name="Body"):
    one, other = the(before, name), the(after, name)
    return all(getattr(one, f.name) is getattr(other, f.name) for f in fields(one) if f.name != "layers") and all(
        getattr(one.layers, f.name) is getattr(other.layers, f.name) for f in fields(SurfaceLayers) if f.name != field
    )


def face_x(made):
    return np.array([made.surface.positions[face, 0].mean() for face in made.faces])[made.corner_face]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(4))
def test_moved_uv_points_come_back_and_nothing_else_changes(layout, seed):
    made = layered(seed, layout)
    figure = made.figure(rig())
    rng = np.random.default_rng(seed)
    far = np.flatnonzero((face_x(made) < -0.1) & (made.surface.positions[made.surface.corners, 0] < -0.05))
    rows = np.unique(np.concatenate([point_of(made, one) for one in rng.choice(far, 12, replace=False)]))
    by = rng.uniform(-0.02, 0.02, (len(made.partner), 2))[made.surface.corners[rows]]
    drifted = nudged(figure, rows, by)
    assert codes(drifted) == [(UV, "UVMap")]
    plan = plan_for(drifted, UV, "left")
    after = applied(drifted, plan.changes)
    assert np.abs(uvs(after) - uvs(figure)).max() < 1e-5
    still = np.setdiff1d(np.arange(len(uvs(figure))), rows)
    assert uvs(after)[still].tobytes() == uvs(figure)[still].tobytes()
    assert plan.largest == pytest.approx(np.hypot(*by.T).max(), abs=1e-5)
    assert only_changed(drifted, after, "uv_maps") and codes(after) == []


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("way", ["right", "average"])
def test_the_other_ways(layout, way):
    made = layered(5, layout)
    figure, twins = made.figure(rig()), corner_twins(made)
    far = np.flatnonzero((face_x(made) < -0.1) & (made.surface.positions[made.surface.corners, 0] < -0.05))
    rows = np.unique(np.concatenate([point_of(made, one) for one in far[::400]]))
    drifted = nudged(figure, rows, (0.01, 0.004))
    after = mended(drifted, UV, way)
    assert codes(after) == []
    went = np.linalg.norm(uvs(after)[rows] - uvs(drifted)[rows], axis=1)
    other = np.linalg.norm(uvs(after)[twins[rows]] - uvs(drifted)[twins[rows]], axis=1)
    size = np.hypot(0.01, 0.004) * (0.0 if way == "right" else 0.5)
    assert went == pytest.approx(size, abs=2e-5) and other == pytest.approx(np.hypot(0.01, 0.004) - size, abs=2e-5)
    still = np.setdiff1d(np.arange(len(twins)), np.append(rows, twins[rows]))
    assert uvs(after)[still].tobytes() == uvs(drifted)[still].tobytes()


@pytest.mark.parametrize("layout", ["mirrored", "stacked"])
@pytest.mark.parametrize("seed", range(3))
def test_a_nudged_island_goes_back(layout, seed):
    made = layered(seed, layout)
    figure = made.figure(rig())
    drifted = nudged(figure, corners_of(made, 2), (0.0, 0.01))
    after = mended(drifted, UV, "left")
    assert np.abs(uvs(after) - uvs(figure)).max() < 1e-6 and codes(after) == []


def test_copies_whole_tiles_apart_stay_there():
    made = layered(6, "stacked")
    figure = nudged(made.figure(rig()), corners_of(made, 2), (1.0, 0.0))
    after = mended(nudged(figure, corners_of(made, 2)[:6], (0.01, 0.0)), UV, "left")
    assert np.abs(uvs(after) - uvs(figure)).max() < 1e-6


@pytest.mark.parametrize("way", ["left", "right", "average"])
def test_a_uv_point_of_the_middle_goes_onto_the_line_and_does_not_tear(way):
    made = layered(2)
    figure = made.figure(rig())
    places = made.layers.uv_maps[0].places
    middle = np.flatnonzero((made.surface.positions[made.surface.corners, 0] == 0.0) & (places[:, 0] == 0.5))
    rows = point_of(made, middle[100])
    assert len(rows) >= 4
    drifted = nudged(figure, rows, (0.01, 0.0))
    after = mended(drifted, UV, way)
    assert np.abs(uvs(after) - uvs(figure)).max() < 1e-6 and codes(after) == []
    assert len(np.unique(uvs(after)[rows], axis=0)) == 1


def test_corners_without_a_partner_follow_the_point_they_share():
    made = layered(3, hexagons=False)
    figure = made.figure(rig())
    x = np.array([made.surface.positions[face, 0].max() for face in made.faces])
    face = int(np.flatnonzero((x < -0.2) & (made.face_piece == 0))[40])
    twin = int(np.flatnonzero([set(made.partner[made.faces[face]]) == set(f) for f in made.faces])[0])
    one = part(replace(made, face_piece=np.where(np.arange(len(made.faces)) == twin, 9, made.face_piece)), range(9))
    assert len(one.corners) == len(made.surface.corners) - len(made.faces[twin])
    figure = figure_of(one, armature=rig())
    corner_face = np.repeat(np.arange(len(one.face_starts) - 1), np.diff(one.face_starts))
    lonely = _lonely(one, made.surface.positions[made.faces[face]])
    corner = int(np.flatnonzero(corner_face == lonely)[0])
    places = one.layers.uv_maps[0].places
    rows = np.flatnonzero((one.corners == one.corners[corner]) & (places == places[corner]).all(axis=1))
    drifted = nudged(figure, rows, (0.01, 0.0))
    after = mended(drifted, UV, "left")
    assert np.abs(uvs(after)[rows] - uvs(figure)[rows]).max() < 1e-6
    assert len(np.unique(uvs(after)[rows], axis=0)) == 1


def _lonely(one, points):
    """The face of ``one`` with exactly these vertices' places."""
    wanted = {tuple(p) for p in points.tolist()}
    for face, (a, b) in enumerate(zip(one.face_starts[:-1], one.face_starts[1:], strict=True)):
        if {tuple(p) for p in one.positions[one.corners[a:b]].tolist()} == wanted:
            return face
    raise AssertionError


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_turned_over_with_names_kept_the_same_vertices_win(layout, way):
    made = layered(4, layout)
    figure = made.figure()
    far = np.flatnonzero(face_x(made) < -0.1)[::300]
    rows = np.unique(np.concatenate([point_of(made, one) for one in far]))
    drifted = nudged(figure, rows, (0.004, 0.01))
    one, two = mended(drifted, UV, way), mended(turned_over(drifted), UV, way)
    assert Checked.of(turned_over(drifted), check(turned_over(drifted)), PLAIN, ScipyFinder).sign == -1
    assert np.abs(uvs(one) - uvs(two)).max() < 1e-6
    assert codes(one) == codes(two) == []


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_second_run_changes_nothing(layout):
    made = layered(1, layout)
    drifted = nudged(made.figure(rig()), np.flatnonzero(face_x(made) < -0.2)[::90], (0.01, 0.003))
    result = check(drifted)
    checked = Checked.of(drifted, result, PLAIN, ScipyFinder)
    plan = plan_together(checked, result.objects, {UV}, Wish("left"))
    after = checked.after(plan.changes)
    assert plan.changes and codes(after.figure) == []
    again = plan_together(after, result.objects, {UV}, Wish("left"))
    later = applied(after.figure, again.changes)
    assert np.abs(uvs(later) - uvs(after.figure)).max() < 2e-6


def test_excused_and_unchosen_corners_stay():
    made = layered(7)
    figure = made.figure(rig())
    rows = corners_of(made, 2)
    drifted = nudged(figure, rows, (0.0, 0.01))
    vertices = np.unique(made.surface.corners[rows])
    allowed = Allowance("a", "selection", "", "a painted patch", "Body", vertices[:20])
    after = mended(replace(drifted, allowances=(allowed,)), UV, "left")
    kept = np.isin(made.surface.corners, vertices[:20])
    assert uvs(after)[kept].tobytes() == uvs(drifted)[kept].tobytes()
    assert (uvs(after)[np.isin(made.surface.corners, vertices[20:])] != uvs(drifted)[np.isin(made.surface.corners, vertices[20:])]).any()
    after = mended(drifted, UV, "left", only={"Body": vertices[:1]})
    changed = np.flatnonzero((uvs(after) != uvs(drifted)).any(axis=1))
    assert set(made.surface.corners[changed]) == {vertices[0]}


def test_two_objects():
    made = layered(4)
    gloves = [part(made, LEFT, "Glove.L"), part(made, RIGHT, "Glove.R")]
    figure = figure_of(*gloves, armature=rig())
    drifted = nudged(figure, np.arange(0, 90, 7), (0.01, 0.0), "Glove.R")
    plan = plan_for(drifted, UV, "left")
    assert {(type(c), c.owner) for c in plan.changes} == {(UVMoved, "Glove.R")}
    after = applied(drifted, plan.changes)
    assert np.abs(uvs(after, "Glove.R") - uvs(figure, "Glove.R")).max() < 1e-6 and codes(after) == []
    assert {c.owner for c in plan_for(drifted, UV, "right").changes} == {"Glove.L"}


def with_seams(figure, edges, marked, name="Body"):
    one = the(figure, name)
    seams = one.layers.seams.copy()
    seams[edges] = marked
    return replace(figure, surfaces=tuple(replace(one, layers=replace(one.layers, seams=seams)) if s.name == name else s for s in figure.surfaces))


@pytest.mark.parametrize("seed", range(3))
def test_seams_follow_the_side_that_wins(seed):
    made = layered(seed)
    figure, twins = made.figure(rig()), edge_twins(made)
    x = made.surface.positions[made.surface.edges, 0].mean(axis=1)
    rng = np.random.default_rng(seed)
    left, right = (rng.choice(np.flatnonzero(s * x > 0.1), 5, replace=False) for s in (1, -1))
    right = np.setdiff1d(right, twins[left])
    drifted = with_seams(figure, np.append(left, right), True)
    seams = the(drifted).layers.seams
    for way, wanted in (
        ("left", seams & ~np.isin(np.arange(len(x)), right)), ("right", seams & ~np.isin(np.arange(len(x)), left)), ("average", seams),
    ):
        after = mended(drifted, SEAM, way)
        wish = wanted.copy()
        gone = {"left": right, "right": left, "average": []}[way]
        wish[twins[np.setdiff1d(np.append(left, right), gone).astype(int)]] = True
        assert np.array_equal(the(after).layers.seams, wish)
        assert codes(after) == [] and only_changed(drifted, after, "seams")


def test_one_missing_seam_is_one_change():
    made = layered(2)
    twins = edge_twins(made)
    edge = int(np.flatnonzero(made.surface.positions[made.surface.edges, 0].min(axis=1) > 0.1)[7])
    drifted = with_seams(made.figure(rig()), [edge], True)
    (change,) = plan_for(drifted, SEAM, "left").changes
    assert isinstance(change, SeamsSet)
    assert (change.seam, change.edges.tolist()) == (True, [twins[edge]])
    (change,) = plan_for(drifted, SEAM, "right").changes
    assert (change.seam, change.edges.tolist()) == (False, [edge])
