"""Painted masks: each value against its partner's. Invented figures."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.layers import Mask
from figures.layered import layered
from figures.layered_parts import LEFT, RIGHT, corner_twins, findings, part


def painted(made, name, rows, channel, by):
    """With these rows of a mask changed in one channel."""
    masks = []
    for mask in made.layers.masks:
        values = mask.values.copy()
        if mask.name == name:
            values[rows, channel] += np.asarray(by, np.float32)
        masks.append(replace(mask, values=values))
    return made.changed(masks=tuple(masks))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("seed", range(8))
def test_vertices_painted_otherwise_come_back(seed, side):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    rows = np.sort(rng.choice(np.flatnonzero(made.surface.positions[:, 0] * side > 0), 9, replace=False))
    by = rng.uniform(0.02, 0.5, 9) * rng.choice([-1, 1], 9)
    (found,) = findings(painted(made, "Outline", rows, 0, by).surface)
    left = rows if side > 0 else made.partner[rows]
    order = np.argsort(left)
    assert (found.code, found.kind, found.unit, found.subject) == ("mask-drifted", "vertex", "value", "Outline")
    assert found.elements.tolist() == left[order].tolist()
    assert found.partners.tolist() == made.partner[left[order]].tolist()
    assert found.sizes == pytest.approx(np.abs(by)[order], abs=1e-6)


@pytest.mark.parametrize("channel", [0, 1, 2, 3])
@pytest.mark.parametrize("seed", range(3))
def test_corners_painted_otherwise_come_back_in_any_channel(seed, channel):
    made = layered(seed)
    rng = np.random.default_rng(seed)
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])[made.corner_face]
    rows = np.sort(rng.choice(np.flatnonzero(x > 0), 9, replace=False))
    (found,) = findings(painted(made, "Shade", rows, channel, 0.25).surface)
    assert (found.kind, found.subject) == ("corner", "Shade")
    assert found.elements.tolist() == rows.tolist()
    assert found.partners.tolist() == corner_twins(made)[rows].tolist()
    assert found.vertices.tolist() == np.unique(made.surface.corners[rows]).tolist()
    assert found.sizes == pytest.approx(0.25, abs=1e-6)


def test_a_mask_painted_on_the_left_only_is_one_finding():
    made = layered(1)
    x = made.surface.positions[:, 0]
    values = np.where(x > 0.2, 1.0, 0.0).astype(np.float32)[:, None]
    (found,) = findings(made.changed(masks=(*made.layers.masks, Mask("Lantern glow", "vertex", values))).surface)
    assert (found.subject, found.elements.tolist()) == ("Lantern glow", np.flatnonzero(x > 0.2).tolist())


def test_below_the_limit_and_on_the_centre_is_fine():
    made = layered(2)
    vertex = int(np.flatnonzero(made.surface.positions[:, 0] > 0.2)[0])
    assert findings(painted(made, "Outline", [vertex], 0, 0.009).surface) == []
    assert findings(painted(made, "Outline", [vertex], 0, 0.009).surface, mask_limit=0.005)[0].count == 1
    centre = np.flatnonzero(made.partner == np.arange(len(made.partner)))
    assert findings(painted(made, "Outline", centre, 0, 0.3).surface) == []


def test_values_that_are_not_numbers_claim_nothing():
    """An image says nothing on faces of other materials."""
    made = layered(3)
    values = np.full((len(made.surface.corners), 1), np.nan, np.float32)
    values[::3] = 0.5
    image = Mask("Rim width", "corner", values, "image", "UVMap")
    assert findings(made.changed(masks=(image,)).surface) == []


def with_image(made, by=0.0, rows=()):
    """With an image that is even about the map's middle line, sampled at the corners; ``rows`` painted over."""
    (uv_map,) = made.layers.uv_maps
    values = np.abs(uv_map.places[:, :1] - np.float32(0.5)) * np.float32(1.5)
    values[list(rows)] += np.float32(by)
    return made.changed(masks=(*made.layers.masks, Mask("Rim width", "corner", values, "image", uv_map.name)))


def left_corners(made):
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])[made.corner_face]
    return np.flatnonzero(x > 0)


@pytest.mark.parametrize("seed", range(3))
def test_a_moved_uv_corner_is_told_once_though_the_image_differs_there(seed):
    """The other faces' corners that are painted otherwise are still told."""
    made = layered(seed)
    left = left_corners(made)
    row, painted_row = int(left[len(left) // 3]), int(left[len(left) // 2])
    assert made.corner_face[row] != made.corner_face[painted_row]
    (uv_map,) = made.layers.uv_maps
    places = uv_map.places.copy()
    places[row] += np.float32([0.04, 0.0])
    moved = made.changed(uv_maps=(replace(uv_map, places=places),))
    (found,) = findings(with_image(moved).surface)
    assert (found.code, found.elements.tolist()) == ("uv-drifted", [row])
    _, found = findings(with_image(moved, 0.2, [painted_row]).surface)
    assert (found.code, found.subject, found.elements.tolist()) == ("mask-drifted", "Rim width", [painted_row])


@pytest.mark.parametrize("split", [False, True])
def test_two_objects_are_compared_mask_by_mask(split):
    made = layered(4)
    rows = np.flatnonzero(np.isin(made.face_piece[made.corner_face], RIGHT))[10:14]
    hit = painted(made, "Shade", rows, 1, 0.2)
    left = part(made, LEFT, "Glove.L", split)
    assert findings(left, part(made, RIGHT, "Glove.R", split)) == []
    (found,) = findings(left, part(hit, RIGHT, "Glove.R", split))
    assert (found.subject, found.count, found.partner_object) == ("Shade", 4, "Glove.R")
