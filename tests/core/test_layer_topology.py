"""Edges, faces and splits: planted faults come back exactly, and nothing with them. Invented."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.figure import Surface, Weights
from evenfold.core.findings import MirrorPlane
from evenfold.core.layers import SurfaceLayers
from evenfold.core.settings import Settings
from evenfold.core.symmetry import masks, materials, normals, topology, uv
from evenfold.core.symmetry.matched import Limits, Matched
from figures.layered import layered
from figures.layered_parts import LEFT, RIGHT, corner_twins, edge_twins, face_twins, findings, part
from figures.records import figure_of
from figures.shapes import mesh_of
from oracles.finder import ScipyFinder


def bare(points, faces, name="Body", loose=()):
    """A surface whose only layer is its split, each face a fan from its first corner."""
    mesh = mesh_of(points, faces)
    edges = np.concatenate([mesh.edges, np.array(loose, np.int64).reshape(-1, 2)])
    fans = [
        ((a, a + i, a + i + 1), n)
        for n, (a, face) in enumerate(zip(mesh.face_starts[:-1], faces, strict=True))
        for i in range(1, len(face) - 1)
    ]
    layers = SurfaceLayers(
        Weights.none(), np.zeros(len(edges), bool), np.zeros(len(faces), np.int64),
        triangles=np.array([one for one, _ in fans], np.int64).reshape(-1, 3), triangle_face=np.array([one for _, one in fans], np.int64),
    )
    return Surface(name, points, edges, mesh.corners, mesh.face_starts, np.eye(4), layers=layers)


def sided(made, side, size=4):
    """Faces of the body with so many corners that lie wholly on one side."""
    x = made.surface.positions[:, 0] * side
    return [n for n, face in enumerate(made.faces) if len(face) == size and (x[face] > 0).all() and made.face_piece[n] == 0]


@pytest.mark.parametrize("seed", range(5))
def test_partners_of_edges_faces_and_corners_are_those_looked_up_plainly(seed):
    made = layered(seed)
    lone = np.random.default_rng(seed).choice(len(made.partner), 40, replace=False)
    unknown = np.union1d(lone, made.partner[lone])
    partner = made.partner.copy()
    partner[unknown] = -1
    matched = Matched(made.surface, made.surface, made.surface.world, partner, np.zeros(len(partner), bool))
    lost = np.isin(np.arange(len(partner)), unknown)
    faces = [-1 if lost[face].any() else twin for face, twin in zip(made.faces, face_twins(made), strict=True)]
    np.testing.assert_array_equal(matched.face_partner, faces)
    edges = np.where(lost[made.surface.edges].any(axis=1), -1, edge_twins(made))
    np.testing.assert_array_equal(matched.edge_partner, edges)
    corners = np.where(np.array(faces)[made.corner_face] < 0, -1, corner_twins(made))
    np.testing.assert_array_equal(matched.corner_partner, corners)
    once = matched.faces_once
    assert once.sum() * 2 == np.count_nonzero(matched.face_partner >= 0)
    assert not (once & once[matched.face_partner])[matched.face_partner >= 0].any()


@pytest.mark.parametrize("form", ["whole", "split", "left", "apart", "apart and split"])
@pytest.mark.parametrize("seed", range(3))
def test_a_clean_figure_reports_nothing_in_any_form(seed, form):
    made = layered(seed)
    if "apart" in form:
        split = "split" in form
        surfaces = [part(made, LEFT, "Glove.L", split), part(made, RIGHT, "Glove.R", split)]
    else:
        surfaces = [part(made, split="left" if form == "left" else form == "split")]
    assert findings(*surfaces) == []


def test_an_edge_within_one_place_is_no_edge_where_vertices_are_split():
    made = layered(0)
    surface = part(made, split="left")
    places, number, uses = np.unique(surface.positions, axis=0, return_inverse=True, return_counts=True)
    shared = int(np.flatnonzero((uses > 1) & (places[:, 0] > 0.1))[0])
    ends = np.flatnonzero(number.reshape(-1) == shared)[:2]
    edges = np.concatenate([surface.edges, ends[None]])
    layers = replace(surface.layers, seams=np.append(surface.layers.seams, False))
    assert findings(replace(surface, edges=edges, layers=layers)) == []


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("side", [1, -1])
def test_a_face_cut_on_one_side_shows_as_its_edge_and_faces(seed, side):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    cut = int(rng.choice(sided(made, side)))
    a, b, c, d = made.faces[cut]
    faces = [list(face) for face in made.faces]
    faces[cut] = [a, b, c]
    faces.append([a, c, d])
    surface = bare(made.surface.positions, faces)
    edge, face = findings(surface)
    assert (edge.code, edge.kind, face.code, face.kind) == ("edge-unmatched", "edge", "face-unmatched", "face")
    assert sorted(surface.edges[edge.elements].ravel().tolist()) == sorted([a, c])
    assert edge.partners.tolist() == [-1]
    assert edge.vertices.tolist() == sorted([a, c])
    assert face.elements.tolist() == sorted([cut, face_twins(made)[cut], len(faces) - 1])
    assert set(face.vertices) == {a, b, c, d, *made.partner[[a, b, c, d]]}


def test_a_loose_edge_on_one_side_is_an_edge_alone():
    made = layered(1)
    quad = made.faces[sided(made, 1)[5]]
    surface = bare(made.surface.positions, made.faces, loose=[(quad[0], quad[2])])
    (found,) = findings(surface)
    assert (found.code, found.elements.tolist()) == ("edge-unmatched", [len(surface.edges) - 1])


def ripped(made, vertex, face):
    """The mesh with one face cut loose at a vertex: a second vertex at the same place."""
    old, new = made.surface, len(made.surface.positions)
    corners = old.corners.copy()
    own = slice(old.face_starts[face], old.face_starts[face + 1])
    corners[own] = np.where(corners[own] == vertex, new, corners[own])
    ring = corners[own].tolist()
    at = ring.index(new)
    gone = {tuple(sorted((vertex, ring[at - 1]))), tuple(sorted((vertex, ring[(at + 1) % len(ring)])))}
    shared = {tuple(sorted((a, b))) for n, f in enumerate(made.faces) if n != face for a, b in pairwise([*f, f[0]])}
    kept = [tuple(sorted(edge)) not in gone - shared for edge in old.edges.tolist()]
    more = [(new, ring[at - 1]), (new, ring[(at + 1) % len(ring)])]
    edges = np.concatenate([old.edges[kept], np.array(more)])
    return replace(old, positions=np.concatenate([old.positions, old.positions[[vertex]]]), edges=edges, corners=corners, layers=None)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("corner", range(4))
def test_a_ripped_vertex_is_doubled_and_no_face_is_reported_with_it(side, corner):
    made = layered(0)
    face = sided(made, side)[20]
    surface = ripped(made, made.faces[face][corner], face)
    empty = SurfaceLayers(Weights.none(), np.zeros(len(surface.edges), bool), np.zeros(len(made.faces), np.int64))
    result = check_figure(figure_of(replace(surface, layers=empty)), Settings(tolerance=1e-4), ScipyFinder)
    assert [one.code for one in result.objects[0].findings] == ["doubled"]


@pytest.mark.parametrize("flip", [False, True])
def test_doubled_faces_answer_one_another_and_one_left_over_is_reported(flip):
    made = layered(2)
    face = sided(made, 1)[3]
    twin = face_twins(made)[face]
    copies = [made.faces[face], made.faces[twin]]
    if flip:
        copies = [copy[::-1] for copy in copies]
    assert findings(bare(made.surface.positions, [*made.faces, *copies])) == []
    (found,) = findings(bare(made.surface.positions, [*made.faces, copies[0]]))
    assert found.code == "face-unmatched"
    assert set(found.elements) <= {face, len(made.faces)} and found.count == 1


def test_faces_doubled_the_other_way_round_answer_by_their_sense():
    """Each side has the face once either way round, stored in another order."""
    made = layered(3)
    face = sided(made, 1)[3]
    twin = face_twins(made)[face]
    faces = [list(one) for one in made.faces]
    faces[twin] = faces[twin][::-1]
    count = len(faces)
    faces += [faces[face][::-1], faces[twin][::-1]]
    surface = bare(made.surface.positions, faces)
    matched = Matched(surface, surface, surface.world, made.partner, np.zeros(len(made.partner), bool))
    assert matched.face_partner[[face, count, twin, count + 1]].tolist() == [count + 1, twin, count, face]


def flipped(surface, face):
    """The split of a quad along its other diagonal."""
    layers, start = surface.layers, surface.face_starts[face]
    triangles = layers.triangles.copy()
    triangles[layers.triangle_face == face] = start + np.array([[1, 2, 3], [1, 3, 0]])
    return replace(surface, layers=replace(layers, triangles=triangles))


def bend(made, face):
    """How far the fourth corner of a quad lies off the plane of the others."""
    a, b, c, d = made.surface.positions[made.faces[face]].astype(float)
    normal = np.cross(b - a, c - a)
    return abs((d - a) @ normal) / np.linalg.norm(normal)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("side", [1, -1])
def test_bent_faces_split_otherwise_are_told_by_pair(seed, side):
    made = layered(seed)
    bent = [face for face in sided(made, side) if bend(made, face) > 1e-3]
    chosen = np.random.default_rng(seed).choice(bent, 3, replace=False)
    surface = made.surface
    for face in chosen:
        surface = flipped(surface, face)
    (found,) = findings(surface)
    assert (found.code, found.kind, found.unit) == ("diagonal-unmatched", "face", "metres")
    twins = np.array(face_twins(made))
    left = np.sort(chosen if side > 0 else twins[chosen])
    assert found.elements.tolist() == left.tolist()
    assert found.partners.tolist() == twins[left].tolist()
    rise = [bend(made, face) for face in left]
    assert (found.sizes > 0.3 * np.array(rise)).all() and (found.sizes < 1.1 * np.array(rise)).all()
    assert set(found.vertices) == {v for face in left for v in made.faces[face]}


def test_flat_faces_may_be_split_either_way():
    points = np.array([[x, y, 0.0] for x in (-2, -1, 0, 1, 2) for y in (0, 1, 2.5)])
    faces = [[i, i + 3, i + 4, i + 1] for k in range(4) for i in (3 * k, 3 * k + 1)]
    assert findings(bare(points, faces)) == []
    raised = points.copy()
    raised[[0, 12], 2] = 0.2
    (found,) = findings(bare(raised, faces))
    assert (found.code, found.elements.tolist(), found.partners.tolist()) == ("diagonal-unmatched", [6], [0])


@pytest.mark.parametrize("side", ["Glove.L", "Glove.R"])
def test_between_two_objects_what_either_lacks_is_told_on_the_left_one(side):
    made = layered(4)
    surfaces = {name: part(made, pieces, name) for name, pieces in (("Glove.L", LEFT), ("Glove.R", RIGHT))}
    old = surfaces[side]
    starts = old.face_starts
    faces = [old.corners[a:b].tolist() for a, b in pairwise(starts)]
    quad = next(face for face in faces if len(face) == 4)
    surfaces[side] = bare(old.positions, faces, side, loose=[(quad[0], quad[2])])
    other = "Glove.R" if side == "Glove.L" else "Glove.L"
    same = surfaces[other]
    starts = same.face_starts
    surfaces[other] = bare(same.positions, [same.corners[a:b].tolist() for a, b in pairwise(starts)], other)
    (found,) = findings(*surfaces.values())
    assert (found.code, found.partner_object) == ("edge-unmatched", "Glove.R")
    if side == "Glove.L":
        assert (found.kind, found.elements.tolist()) == ("edge", [len(surfaces[side].edges) - 1])
    else:
        assert (found.kind, set(found.partners), found.subject) == ("vertex", {quad[0], quad[2]}, "Glove.R")
        mirrored = surfaces["Glove.L"].positions[found.elements] * [-1, 1, 1]
        np.testing.assert_array_equal(mirrored, surfaces["Glove.R"].positions[found.partners])


@pytest.mark.parametrize(
    ("points", "faces", "loose"),
    [
        ([], [], []),
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0]], [], []),
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0]], [], [(0, 2), (2, 1)]),
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0]], [[0, 2, 1]], []),
        ([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, np.nan, 0]], [[0, 2, 1], [0, 3, 1]], []),
    ],
    ids=["empty", "points", "wire", "one face", "no number"],
)
def test_scraps_of_mesh_give_no_findings_of_these_layers(points, faces, loose):
    surface = bare(np.array(points, float).reshape(-1, 3), faces, loose=loose)
    matched = Matched(surface, surface, surface.world, np.array([1, 0, 2, -1])[: len(points)], np.zeros(len(points), bool))
    limits = Limits(1e-4, 1.0, MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), "world"), Settings())
    for layer in (topology, normals, uv, materials, masks):
        assert list(layer.check(matched, limits)) == []
