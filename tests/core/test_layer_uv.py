"""UV layouts and seams: outliers of a decided layout and nothing else. Invented figures."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.layers import UVMap
from evenfold.core.symmetry.uv_layout import uv_islands
from figures.layered import layered
from figures.layered_parts import LEFT, RIGHT, corner_twins, edge_twins, findings, notes, part

LAYOUTS = ("mirrored", "stacked", "turned")


def moved(made, rows, by):
    """With the UVs of these corners moved."""
    (uv_map,) = made.layers.uv_maps
    places = uv_map.places.copy()
    places[rows] += np.asarray(by, np.float32)
    return made.changed(uv_maps=(replace(uv_map, places=places),))


def mapped(made, change):
    """With all UVs put through ``change``, as float32."""
    (uv_map,) = made.layers.uv_maps
    places = change(uv_map.places.astype(float)).astype(np.float32)
    return made.changed(uv_maps=(replace(uv_map, places=places),))


def corners_of(made, piece):
    return np.flatnonzero(made.face_piece[made.corner_face] == piece)


def is_about(found, made, left):
    """The finding names exactly these left corners with their partners."""
    assert (found.code, found.kind, found.unit, found.subject) == ("uv-drifted", "corner", "uv", "UVMap")
    assert found.elements.tolist() == np.sort(left).tolist()
    assert found.partners.tolist() == corner_twins(made)[np.sort(left)].tolist()
    assert found.vertices.tolist() == np.unique(made.surface.corners[left]).tolist()


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(4))
def test_mirrored_stacked_and_turned_islands_are_clean(layout, seed):
    made = layered(seed, layout)
    assert findings(made.surface) == []
    assert not any("UV map" in note for note in notes(made.surface))


def turned_about(angle):
    cos, sin = np.cos(angle), np.sin(angle)
    return lambda p: (p - 0.5) @ np.array([[cos, sin], [-sin, cos]]) + 0.5


@pytest.mark.parametrize(
    "change",
    [lambda p: p[:, ::-1], lambda p: p * 0.7 + [0.13, 0.02], lambda p: p - [0.37, 2.0], turned_about(0.7)],
    ids=["level line", "other line", "shifted", "slanting line"],
)
def test_any_line_of_the_map_will_do(change):
    assert findings(mapped(layered(5), change).surface) == []


def test_copies_whole_tiles_apart_count_as_stacked():
    made = layered(6, "stacked")
    pushed = moved(made, corners_of(made, 2), (1.0, 0.0))
    assert findings(pushed.surface) == []
    nudged = moved(pushed, corners_of(made, 2), (0.01, 0.0))
    is_about(findings(nudged.surface)[0], made, corners_of(made, 1))


@pytest.mark.parametrize("layout", ["mirrored", "stacked"])
@pytest.mark.parametrize("piece", [1, 2, 3, 4])
@pytest.mark.parametrize("seed", range(3))
def test_one_island_nudged_is_one_finding_with_its_corners(layout, piece, seed):
    made = layered(seed, layout)
    (found,) = findings(moved(made, corners_of(made, piece), (0.0, 0.01)).surface)
    is_about(found, made, corners_of(made, piece if piece in LEFT else piece - 1))
    assert found.sizes == pytest.approx(0.01, abs=1e-6)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(8))
def test_single_corners_moved_come_back_exactly(layout, seed):
    made = layered(seed, layout)
    rng = np.random.default_rng(seed)
    rows = np.concatenate([rng.choice(corners_of(made, piece), 4, replace=False) for piece in range(5)])
    gap = rng.uniform(0.001, 0.03, (len(rows), 2)) * rng.choice([-1, 1], (len(rows), 2))
    (found,) = findings(moved(made, rows, gap).surface)
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])[made.corner_face]
    twins = corner_twins(made)
    is_about(found, made, np.unique(np.where(x[rows] > 0, rows, twins[rows])))
    alone = np.isin(twins[found.elements], rows) ^ np.isin(found.elements, rows)
    size = dict(zip(rows.tolist(), np.hypot(*gap.T), strict=True))
    wanted = [size[c] if c in size else size[t] for c, t in zip(found.elements.tolist(), found.partners.tolist(), strict=True)]
    assert found.sizes[alone] == pytest.approx(np.array(wanted)[alone], abs=1e-5)


def test_corners_moved_by_less_than_the_limit_are_fine():
    made = layered(7)
    assert findings(moved(made, [3, 40, 99], (0.0004, 0.0)).surface) == []
    assert findings(moved(made, [3], (0.0004, 0.0)).surface, uv_limit=0.0003)[0].count == 1


@pytest.mark.parametrize(
    ("change", "told"),
    [(lambda p: p, "mirrors across u = 0.5."), (lambda p: p[:, ::-1] + [0.0, 0.25], "mirrors across v = 0.75."),
     (turned_about(0.7), "wherever it was packed")],
    ids=["upright", "level", "slanting"],
)
def test_a_finding_says_how_the_map_lies(change, told):
    made = mapped(layered(5), change)
    (found,) = findings(moved(made, [3], (0.01, 0.01)).surface)
    assert told in found.advice
    half = layered(5, "stacked")
    gloves = part(half, LEFT, "Glove.L"), part(moved(half, corners_of(half, 4)[:2], (0.01, 0.0)), RIGHT, "Glove.R")
    assert "over each other" in findings(*gloves)[0].advice


@pytest.mark.parametrize("seed", range(5))
def test_islands_are_those_a_plain_search_finds(seed):
    rng = np.random.default_rng(seed)
    face = np.repeat(np.arange(60), 4)
    corners = rng.integers(0, 60, 240)
    places = rng.integers(0, 3, (240, 2)).astype(np.float32) / 2 * rng.choice([-1, 1], (240, 1))
    group = list(range(60))
    spots = {}
    for corner in range(240):
        spots.setdefault((corners[corner], *places[corner]), []).append(face[corner])
    for faces in spots.values():
        roots = {group[one] for one in faces}
        group = [min(roots) if one in roots else one for one in group]
    found = uv_islands(corners, face, places)
    for one in range(240):
        assert [group[face[one]] == group[f] for f in face] == (found == found[one]).tolist()
    assert set(found.tolist()) == set(range(len(set(group)))) and len(set(group)) > 3


@pytest.mark.parametrize("seed", range(3))
def test_free_islands_are_noted_and_not_reported_and_the_rest_still_is(seed):
    made = layered(seed, "free")
    assert findings(made.surface) == []
    (note,) = [one for one in notes(made.surface) if "UV map UVMap" in one]
    assert "not compared (2 of 3)" in note
    row = corners_of(made, 0)[5]
    (found,) = findings(moved(made, [row], (0.0, 0.02)).surface)
    assert row in (*found.elements, *found.partners) and found.count == 1


def test_a_map_of_noise_claims_nothing():
    rng = np.random.default_rng(0)
    noise = mapped(layered(8), lambda p: rng.uniform(size=p.shape))
    assert findings(noise.surface) == []
    assert any("laid out freely" in note for note in notes(noise.surface))


def test_a_face_that_agrees_by_chance_decides_nothing():
    rng = np.random.default_rng(1)
    made = mapped(layered(8), lambda p: rng.uniform(size=p.shape))
    rows = corners_of(made, 1)[:4]
    twins = corner_twins(made)[rows[:3]]
    same = moved(made, twins, made.layers.uv_maps[0].places[rows[:3]] - made.layers.uv_maps[0].places[twins])
    assert len(np.unique(made.corner_face[rows])) == 1
    assert findings(same.surface) == []


def test_each_map_has_its_own_layout_and_finding():
    made = layered(9)
    other = layered(9, "stacked").layers.uv_maps[0]
    places = made.layers.uv_maps[0].places.copy()
    places[7, 0] += 0.01
    maps = (UVMap("Skin", places), UVMap("Bake", other.places))
    (found,) = findings(made.changed(uv_maps=maps).surface)
    assert (found.subject, found.count) == ("Skin", 1)
    wrong = other.places.copy()
    wrong[7, 0] += 0.01
    both = findings(made.changed(uv_maps=(maps[0], UVMap("Bake", wrong))).surface)
    assert [one.subject for one in both] == ["Skin", "Bake"]


@pytest.mark.parametrize("split", [False, True])
def test_two_objects_are_compared_with_one_another(split):
    made = layered(10)
    right = corners_of(made, 2)
    nudged = moved(made, right, (0.0, 0.01))
    pair = [part(nudged, pieces, name, split) for pieces, name in ((LEFT, "Glove.L"), (RIGHT, "Glove.R"))]
    clean = [part(made, pieces, name, split) for pieces, name in ((LEFT, "Glove.L"), (RIGHT, "Glove.R"))]
    assert findings(*clean) == []
    (found,) = findings(*pair)
    assert (found.code, found.partner_object, found.count) == ("uv-drifted", "Glove.R", len(right))


@pytest.mark.parametrize("seed", range(3))
def test_a_nudged_island_shows_where_vertices_are_split_at_faces(seed):
    made = layered(seed)
    nudged = part(moved(made, corners_of(made, 2), (0.0, 0.01)), split=True)
    (found,) = findings(nudged)
    assert found.elements.tolist() == corners_of(made, 1).tolist()


@pytest.mark.parametrize("seed", range(6))
def test_a_seam_missing_on_one_side_is_one_finding(seed):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    x = made.surface.positions[made.surface.edges, 0]
    sided = np.flatnonzero((np.abs(x) > 1e-3).all(axis=1))
    twins = edge_twins(made)
    seams = made.layers.seams.copy()
    marked = rng.choice(sided, 30, replace=False)
    seams[marked] = seams[twins[marked]] = True
    assert findings(made.changed(seams=seams).surface) == []
    gone = marked[0]
    seams[gone] = False
    (found,) = findings(made.changed(seams=seams).surface)
    left = gone if x[gone].mean() > 0 else twins[gone]
    assert (found.code, found.kind) == ("seam-unmatched", "edge")
    assert (found.elements.tolist(), found.partners.tolist()) == ([left], [twins[left]])
    assert found.vertices.tolist() == sorted(made.surface.edges[left].tolist())


def test_seams_along_the_middle_are_their_own_partners():
    made = layered(11)
    assert made.layers.seams.any()
    assert findings(made.changed(seams=~made.layers.seams).surface) == []
