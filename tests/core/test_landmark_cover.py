"""A face without a scalp, under hair and under a hat."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.altered import carried, with_parts
from figures.clay.recipes import recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, _ball, _loft, keeper

PERSON = Person(height=1.8, head=0.3, neck=0.1, build="separate")
UNDER = "underside of what covers the open head"
RIM = 1.72
MIDDLE = 1.65


def opened():
    """A keeper whose head ends at a rim: it has no scalp."""
    figure = keeper(PERSON)
    (head,) = [part for part in figure.parts if part.name == "Head"]
    return with_parts(figure, replace(head, triangles=head.triangles[(head.points[head.triangles][:, :, 2] <= RIM).all(axis=1)]))


def cap(inside, outside, low):
    """A cap of hair of two layers, open below ``low``; its inner layer ends at ``inside``, its outer at ``outside``."""
    forms = []
    for top in (inside, outside):
        points, faces = _ball((0, 0, MIDDLE), (0.15 + top - inside, 0.14 + top - inside, top - MIDDLE), 41)
        forms.append((points, faces[(points[faces][:, :, 2] >= low).all(axis=1)]))
    (one, inner), (other, outer) = forms
    low_one, low_other = (np.unique(rows)[np.argsort(points[np.unique(rows), 2])] for points, rows in forms)
    seam = np.array([[low_one[0], low_other[0] + len(one), low_one[1]]])
    return np.concatenate([one, other]), np.concatenate([inner, outer + len(one), seam])


def crown_of(*parts):
    found = measure(with_parts(opened(), *parts), Settings())
    return found, found.landmarks["crown"]


@pytest.mark.parametrize("low", [1.62, 1.66])
def test_the_skull_ends_under_the_hair_that_closes_the_head(low):
    found, crown = crown_of(carried("Mesh.012", cap(1.8, 1.83, low), "Head"))
    assert crown.evidence == UNDER
    assert crown.point[2] == pytest.approx(1.8, abs=0.003)
    assert found.heads_tall == pytest.approx(6.0, rel=0.012)


@pytest.mark.parametrize("inside", [1.77, 1.785])
@pytest.mark.parametrize("brim", [1.705, 1.715])
def test_a_hat_put_over_the_hair_does_not_move_what_closes_the_head(inside, brim):
    """The hat's own inside lies lower than the hair's, as where the two were not fitted to each other."""
    hair, hat = carried("Mesh.012", cap(1.8, 1.83, 1.64), "Head"), carried("Object.003", cap(inside, 1.9, brim), "Head")
    _, alone = crown_of(hat)
    assert alone.evidence == UNDER
    assert alone.point[2] == pytest.approx(inside, abs=0.003)
    found, crown = crown_of(hair, hat)
    assert crown.evidence == UNDER
    assert crown.point[2] == pytest.approx(1.8, abs=0.003)
    assert found.heads_tall == pytest.approx(6.0, rel=0.012)


@pytest.mark.parametrize("inside", [1.7, 1.709])
def test_what_sinks_into_the_open_head_does_not_close_it(inside):
    """A hat that was let down until its inside lies under the rim, and hair under it that does close the head."""
    points, faces = cap(inside, 1.9, 1.64)
    hair, hat = carried("Mesh.012", cap(1.8, 1.83, 1.64), "Head"), carried("Object.003", (points + np.array([0, 0.004, 0]), faces), "Head")
    _, crown = crown_of(hair, hat)
    assert crown.evidence == UNDER
    assert crown.point[2] == pytest.approx(1.8, abs=0.003)


def test_a_skull_whose_skin_follows_ears_beside_the_middle_is_not_open_under_a_hat():
    """A sculpted figure with long ears: automatic weights let their bones pull most of the scalp."""
    order = recipe(102071)
    made = sculpt(replace(order, vertices=min(order.vertices, 15000)))
    found = measure(made.figure, Settings())
    assert found.heads_tall == pytest.approx(made.heads, rel=0.01)
    assert found.low <= made.heads <= found.high


@pytest.mark.parametrize("tall", [0.4, 0.6])
@pytest.mark.parametrize("wide", [0.22, 0.26])
def test_a_large_hat_called_nothing_is_no_skull(tall, wide):
    """It shows more from the front than the face, which things on it break up, and begins over the chin."""
    points, faces = _loft([(1.66, 0.02, 0.02, 0.0), (1.65, wide, wide, 0.0), (1.66, wide, wide, 0.0), (1.68, 0.18, 0.18, 0.0), (1.68 + tall, 0.01, 0.01, 0.0)])
    hat = carried("Mesh.044", (points, faces), "Head")
    plates = [carried(f"Mesh.05{n}", _ball((x, -0.14, z), (0.05, 0.02, 0.025)), "Head") for n, (x, z) in enumerate([(0.05, 1.62), (-0.05, 1.62), (0.0, 1.57)])]
    found = measure(with_parts(keeper(replace(PERSON, neck=0.0)), hat, *plates), Settings())
    assert found.landmarks["chin"].point[2] == pytest.approx(1.5, abs=0.01)
    assert found.heads_tall == pytest.approx(6.0, rel=0.03)


def shell(thick, low):
    """Hair of one layer, open below ``low``, whose outside lies ``thick`` over a skull that ends at 1.8."""
    points, faces = _ball((0, 0, MIDDLE), (0.15 + thick, 0.14 + thick, 0.15 + thick), 41)
    return points, faces[(points[faces][:, :, 2] >= low).all(axis=1)]


@pytest.mark.parametrize("thick", [0.012, 0.025, 0.04])
@pytest.mark.parametrize("rim", [1.71, 1.75])
def test_under_hair_of_one_layer_the_skull_goes_on_as_its_skin_begins(thick, rim):
    """How thick such hair is cannot be seen; the skin around the opening is round."""
    figure = keeper(PERSON)
    (head,) = [part for part in figure.parts if part.name == "Head"]
    neck = head.points[:, 2] < 1.6
    round_head = head.points.copy()
    rise = np.clip((head.points[:, 2] - MIDDLE) / 0.15, -1, 1)
    flat = np.sqrt(np.maximum(1 - rise**2, 0)) / np.maximum(np.hypot(head.points[:, 0] / 0.135, head.points[:, 1] / 0.126), 1e-9)
    round_head[~neck, :2] = (head.points[:, :2] * flat[:, None])[~neck]
    faces = head.triangles[(head.points[head.triangles][:, :, 2] <= rim).all(axis=1)]
    opened_round = with_parts(figure, replace(head, points=round_head, triangles=faces), carried("Mesh.012", shell(thick, 1.66), "Head"))
    found = measure(opened_round, Settings())
    assert found.landmarks["crown"].evidence == "dome that the skin around the opening follows"
    assert found.landmarks["crown"].point[2] == pytest.approx(1.8, abs=0.005)
    assert found.low <= 6.0 <= found.high


def test_skin_that_is_not_round_tells_no_dome():
    """Where the skin around the opening is creased, the hair over it tells, with a wide range."""
    figure = opened()
    (head,) = [part for part in figure.parts if part.name == "Head"]
    points = head.points.copy()
    points[::2, 1] *= 1.15
    creased = with_parts(figure, replace(head, points=points), carried("Mesh.012", shell(0.03, 1.66), "Head"))
    crown = measure(creased, Settings()).landmarks["crown"]
    assert crown.evidence == "inside of what covers the open head"
    assert crown.low < 1.8 < crown.high


@pytest.mark.parametrize("reach", [0.06, 0.1, 0.14])
@pytest.mark.parametrize("thick", [0.4, 0.55])
def test_a_neck_of_its_own_piece_far_up_in_the_head_is_no_face_under_a_hat(reach, thick):
    """Both are one object called the head; the figure has no rig."""
    ball = _ball((0, 0, 1.65), (0.15, 0.14, 0.15), 41)
    neck = _loft([(1.36, 0.15 * thick, 0.14 * thick, 0.0), (1.5 + reach, 0.15 * thick, 0.14 * thick, 0.0)])
    points = np.concatenate([ball[0], neck[0]])
    faces = np.concatenate([ball[1], neck[1] + len(ball[0])])
    figure = keeper(replace(PERSON, rigged=False))
    parts = [part for part in figure.parts if part.name != "Head"]
    figure = with_parts(replace(figure, parts=tuple(parts)), carried("Head", (points, faces), None))
    found = measure(figure, Settings())
    assert found.landmarks["crown"].point[2] == pytest.approx(1.8, abs=0.003)
    assert found.heads_tall == pytest.approx(6.0, rel=0.03)
