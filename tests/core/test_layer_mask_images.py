"""Mask images inside the faces: what is painted between corners is found, and nothing is claimed where halves lie
otherwise on the pixels. Invented figures and pictures; the place of each fault follows from its construction."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.layers import Mask, Picture
from evenfold.core.symmetry import mask_areas
from figures.layered import layered
from figures.layered_parts import LEFT, RIGHT, corner_twins, face_twins, findings, notes, part

SIZE = 256


def painted(paint, size=SIZE):
    """(size, size, 1) bytes of ``paint(u, v)`` in 0..1 at the middles of the pixels."""
    v, u = (np.mgrid[0:size, 0:size] + 0.5) / size
    return np.round(255 * paint(u, v)).astype(np.uint8)[:, :, None]


def between(picture, places):
    """(c, 1) values between the middles of pixels, one corner after another."""
    high, wide = picture.pixels.shape[:2]
    found = []
    for u, v in places:
        x, y = u * wide - 0.5, v * high - 0.5
        i, j = int(np.floor(x)), int(np.floor(y))
        spots = [(i + a, j + b, (a or 1 - x % 1) * (b or 1 - y % 1) * (x % 1 if a else 1) * (y % 1 if b else 1)) for a in (0, 1) for b in (0, 1)]
        found.append(sum(share * picture.pixels[b % high, a % wide, 0] / 255 for a, b, share in spots))
    return np.array(found, np.float32)[:, None]


def with_picture(made, pixels):
    (uv_map,) = made.layers.uv_maps
    picture = Picture(pixels, (0,), True)
    return made.changed(masks=(Mask("Rim width", "corner", between(picture, uv_map.places), "image", uv_map.name, picture),))


def waves(u, v):
    """Even about the middle line."""
    return 0.5 + 0.3 * np.sin(9 * np.abs(u - 0.5)) * np.cos(7 * v)


def left_faces(made, piece=0):
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])
    return np.flatnonzero((x > 0.02) & (made.face_piece == piece))


def uvs_of(made, face):
    starts = made.surface.face_starts
    return made.layers.uv_maps[0].places[starts[face] : starts[face + 1]]


def corners_of(made, face):
    return np.flatnonzero(made.corner_face == face)


def test_an_even_picture_is_even():
    assert findings(with_picture(layered(0), painted(waves)).surface) == []


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("hexagons", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_one_pixel_inside_a_face_is_found(seed, hexagons, side):
    """The finding names all corners of the left face, whichever side was painted over."""
    made = layered(seed, hexagons=hexagons)
    size = 512
    face = int(np.random.default_rng(seed).choice(left_faces(made)))
    place = uvs_of(made, (face, face_twins(made)[face])[side]).mean(axis=0)
    pixels = painted(waves, size)
    column, row = (place * size).astype(int)
    pixels[row, column] += np.uint8(90)
    (found,) = findings(with_picture(made, pixels).surface)
    rows = corners_of(made, face)
    assert (found.code, found.kind, found.unit, found.subject) == ("mask-drifted", "corner", "value", "Rim width")
    assert found.elements.tolist() == rows.tolist()
    assert found.partners.tolist() == corner_twins(made)[rows].tolist()
    assert found.sizes == pytest.approx(90 / 255, abs=0.02)
    assert found.vertices.tolist() == np.unique(made.surface.corners[rows]).tolist()


def test_every_pixel_inside_a_face_has_a_point_in_it():
    """Each in turn, in a face that lies askew."""
    corners = np.array([[[10.3, 10.1], [22.7, 14.9], [19.2, 25.4], [7.1, 18.2]]]) / 64
    empty = np.zeros((64, 64, 1), np.uint8)
    missed = []
    for row, column in np.ndindex(64, 64):
        square = np.array([[column, row], [column + 1, row], [column + 1, row + 1], [column, row + 1]], float)
        if not all(mask_areas._inside(corners[[0]] * 64, one[None])[0] for one in square):
            continue
        pixels = empty.copy()
        pixels[row, column] = 255
        sides = [mask_areas.Side(Picture(one, (0,), True), corners) for one in (pixels, empty)]
        around = tuple(mask_areas.Surroundings(one.picture) for one in sides)
        areas = mask_areas.compare(*sides, around, np.zeros(1, np.int64), 0.01)
        missed += [(row, column)] * int(areas.apart[0] != 1.0)
    assert missed == []


def test_corners_painted_otherwise_are_named_alone():
    """An area that reaches into faces from one of their corners: that corner of each."""
    made = layered(1)
    face = int(left_faces(made)[40])
    spot = max(uvs_of(made, face).tolist())
    pixels = painted(lambda u, v: waves(u, v) + 0.2 * (np.hypot(u - spot[0], v - spot[1]) < 1.5 / SIZE))
    (found,) = findings(with_picture(made, pixels).surface)
    at_spot = np.flatnonzero((made.layers.uv_maps[0].places == spot).all(axis=1))
    assert found.elements.tolist() == at_spot.tolist()


def turned(made, angle, shift, scale=1.0):
    """The right eye's and mitt's UVs turned about their middle, scaled and moved; and the way back for places."""
    (uv_map,) = made.layers.uv_maps
    cos, sin = np.cos(angle), np.sin(angle)
    turn, middle = np.array([[cos, sin], [-sin, cos]]), np.array([0.125, 0.125])
    rows = np.isin(made.face_piece[made.corner_face], RIGHT)
    places = uv_map.places.astype(float)
    places[rows] = scale * (places[rows] - middle) @ turn + middle + shift
    moved = made.changed(uv_maps=(replace(uv_map, places=places.astype(np.float32)),))

    def back(u, v):
        at = (np.stack([u, v], axis=-1) - middle - shift) @ turn.T / scale + middle
        mine = (u < 0.26) & (v < 0.22)
        return np.where(mine, at[..., 0], u), np.where(mine, at[..., 1], v)

    return moved, back


def shapes(u, v):
    """Hard-edged stripes and soft dabs, even about the middle line."""
    across = np.abs(u - 0.5)
    stripes = ((across * 31 + v * 17) % 1.0 < 0.5) * 0.5
    return np.clip(stripes + 0.4 * np.sin(190 * across) ** 2 * np.sin(170 * v) ** 2, 0, 1)


@pytest.mark.parametrize("scale", [1.0, 0.7])
@pytest.mark.parametrize("angle", [0.3, 1.1, np.pi / 2])
@pytest.mark.parametrize("size", [256, 512])
def test_islands_packed_apart_are_not_alike_to_the_pixel_and_not_told(angle, size, scale):
    made, back = turned(layered(3), angle, [0.0031, -0.0017], scale)
    assert findings(with_picture(made, painted(lambda u, v: shapes(*back(u, v)), size)).surface) == []


@pytest.mark.parametrize("line", [0.5, 0.4937, 0.4802])
def test_a_line_of_the_map_that_lies_between_pixels_does_no_harm(line):
    made = layered(2)
    (uv_map,) = made.layers.uv_maps
    moved = made.changed(uv_maps=(replace(uv_map, places=uv_map.places + np.float32([line - 0.5, 0])),))
    assert findings(with_picture(moved, painted(lambda u, v: shapes(u - line + 0.5, v))).surface) == []


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.2])
def test_what_lies_beside_an_island_does_not_count(angle):
    """The one half's surroundings are painted from the first pixel whose middle lies outside, the other's otherwise."""
    corners = np.array([[[10.3, 10.1], [42.7, 14.9], [39.2, 45.4], [7.1, 38.2]]]) / 64
    cos, sin = np.cos(angle), np.sin(angle)
    other = (corners - 0.4) @ np.array([[cos, sin], [-sin, cos]]) * [-1, 1] + [0.5073, 0.5041]
    sides = []
    for places, beside in ((corners, 0), (other, 255)):
        pixels = np.full((64, 64, 1), beside, np.uint8)
        for row, column in np.ndindex(64, 64):
            at = np.array([column + 0.5, row + 0.5]) / 64
            steps = np.roll(places[0], -1, axis=0) - places[0]
            turns = steps[:, 0] * (at - places[0])[:, 1] - steps[:, 1] * (at - places[0])[:, 0]
            if (turns > 0).all() or (turns < 0).all():
                pixels[row, column] = 100
        sides.append(mask_areas.Side(Picture(pixels, (0,), True), places))
    around = tuple(mask_areas.Surroundings(one.picture) for one in sides)
    assert mask_areas.compare(*sides, around, np.zeros(1, np.int64), 0.01).apart.tolist() == [0.0]


def test_a_blob_in_an_island_packed_apart_is_found():
    made, back = turned(layered(3), 0.3, [0.0031, -0.0017])
    face = int(left_faces(made, LEFT[1])[20])
    spot = uvs_of(made, face_twins(made)[face]).mean(axis=0)
    pixels = painted(lambda u, v: np.clip(waves(*back(u, v)) + 0.3 * (np.hypot(u - spot[0], v - spot[1]) < 1.2 / 1024), 0, 1), 1024)
    (found,) = findings(with_picture(made, pixels).surface)
    assert set(found.elements.tolist()) == set(corners_of(made, face).tolist())


def test_a_picture_says_nothing_on_other_materials_faces():
    made = layered(0)
    face = int(left_faces(made)[30])
    pixels = painted(waves)
    column, row = (uvs_of(made, face).mean(axis=0) * SIZE).astype(int)
    pixels[row, column] = 255
    there = with_picture(made, pixels)
    (mask,) = there.layers.masks
    for gone in (face, face_twins(made)[face]):
        values = mask.values.copy()
        values[corners_of(made, gone)] = np.nan
        assert findings(made.changed(masks=(replace(mask, values=values),)).surface) == []
    assert findings(there.surface)


def test_a_generous_limit_for_uvs_asks_for_no_more_pixels(monkeypatch):
    made = layered(1)
    row = int(corners_of(made, int(left_faces(made)[30]))[0])
    (uv_map,) = made.layers.uv_maps
    places = uv_map.places.copy()
    places[row] += np.float32([0.04, 0.0])
    moved = with_picture(made.changed(uv_maps=(replace(uv_map, places=places),)), painted(waves))
    reaches = []
    plain = mask_areas.Surroundings.beyond

    def watched(self, values, at, reach):
        reaches.append(int(reach.max(initial=0)))
        return plain(self, values, at, reach)

    monkeypatch.setattr(mask_areas.Surroundings, "beyond", watched)
    assert {found.code for found in findings(moved.surface, uv_limit=0.1)} <= {"mask-drifted"}
    assert max(reaches) == mask_areas.FURTHEST


def test_a_moved_uv_corner_is_not_told_as_painted_between_the_corners():
    made = layered(1)
    face = int(left_faces(made)[30])
    (uv_map,) = made.layers.uv_maps
    places = uv_map.places.copy()
    places[corners_of(made, face)[0]] += np.float32([0.03, 0.02])
    moved = made.changed(uv_maps=(replace(uv_map, places=places),))
    (found,) = findings(with_picture(moved, painted(shapes)).surface)
    assert found.code == "uv-drifted"


def test_where_not_every_pixel_is_looked_at_a_note_says_so(monkeypatch):
    made = with_picture(layered(0), painted(waves))
    assert not any("too many pixels" in note for note in notes(made.surface))
    monkeypatch.setattr(mask_areas, "MOST", 2000)
    (told,) = [note for note in notes(made.surface) if "too many pixels" in note]
    assert told.startswith("The mask image Rim width has too many pixels to look at each: painted areas smaller than ")


def test_memory_stays_small_whatever_the_number_of_points(monkeypatch):
    """Points are looked at a batch at a time."""
    sizes = []
    plain = mask_areas._differing

    def watched(here, there, corners, weights, *rest):
        sizes.append(len(corners[0]) * weights.shape[1])
        return plain(here, there, corners, weights, *rest)

    monkeypatch.setattr(mask_areas, "_differing", watched)
    monkeypatch.setattr(mask_areas, "AT_ONCE", 500)
    assert findings(with_picture(layered(0), painted(waves, 1024)).surface) == []
    assert len(sizes) > 10 and max(sizes) <= 500


@pytest.mark.parametrize("split", [False, True])
def test_two_objects_share_a_picture(split):
    made = layered(4)
    face = int(left_faces(made, LEFT[1])[20])
    pixels = painted(waves, 1024)
    column, row = (uvs_of(made, face).mean(axis=0) * 1024).astype(int)
    pixels[row, column] += np.uint8(60)
    both = with_picture(made, pixels)
    left, right = part(both, LEFT, "Glove.L", split), part(both, RIGHT, "Glove.R", split)
    (found,) = findings(left, right)
    assert (found.subject, found.count, found.partner_object) == ("Rim width", len(made.faces[face]), "Glove.R")


@pytest.mark.parametrize("line", [0.5, 0.4937])
def test_a_faint_area_on_an_even_rise_is_found(line):
    """It differs by less than neighbouring pixels do."""
    made = layered(0)
    (uv_map,) = made.layers.uv_maps
    moved = made.changed(uv_maps=(replace(uv_map, places=uv_map.places + np.float32([line - 0.5, 0])),))
    face = int(left_faces(made)[40])
    spot = uvs_of(moved, face).mean(axis=0)

    def rise(u, v):
        return ((5 * np.abs(u - line) + 5 * v) * SIZE / 2000) % 1.0

    def faint(u, v):
        return rise(u, v) + 0.04 * (np.hypot(u - spot[0], v - spot[1]) < 3 / 1024)

    assert findings(with_picture(moved, painted(rise, 1024)).surface) == []
    (found,) = findings(with_picture(moved, np.minimum(painted(faint, 1024), 255)).surface)
    assert found.elements.tolist() == corners_of(made, face).tolist()
