"""What colours tell of a figure: where hair begins that is one smooth skin with the head, and which way a head looks.

The figures are sculpted and invented; crown, chin and sole follow from how they are built.
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Part, Weights
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.by_paint import upper_paint, vote_of_paint
from evenfold.core.proportion.head.region import head_of, pieces_of
from evenfold.core.proportion.parts.body import Body, gather
from evenfold.core.proportion.parts.painted import seen_along
from evenfold.core.proportion.skull.paint import find_paint
from evenfold.core.settings import Settings
from figures.clay.recipes import recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, keeper

UP = np.array([0.0, 0.0, 1.0])
AHEAD = np.array([0.0, -1.0, 0.0])
SKIN, HAIR, RED = (0.6, 0.42, 0.33), (0.02, 0.015, 0.01), (0.5, 0.02, 0.02)


def measured(seed, **changed):
    made = sculpt(replace(recipe(seed), vertices=4000), painted=True)
    assert not made.off
    figure = replace(made.figure, parts=tuple(replace(part, **changed) for part in made.figure.parts))
    return measure(figure, Settings()), made.heads


@pytest.mark.parametrize("seed", [130230, 130279, 130401, 130461, 130471])
def test_hair_and_hats_in_one_smooth_skin_are_told_by_their_colour(seed):
    found, heads = measured(seed)
    assert found.heads_tall == pytest.approx(heads, rel=0.01)
    assert found.low <= heads <= found.high
    bare, _ = measured(seed, paint=np.zeros((0, 3), np.float32))
    assert abs(bare.heads_tall / heads - 1) > 0.03, "without colours these are misread: they show what colours are for"


@pytest.mark.parametrize("seed", [130043, 130267])
def test_colours_tell_front_from_back(seed):
    found, heads = measured(seed)
    assert found.heads_tall == pytest.approx(heads, rel=0.01)
    bare, _ = measured(seed, paint=np.zeros((0, 3), np.float32))
    assert abs(bare.heads_tall / heads - 1) > 0.03


def painted_keeper(colour_of, **person):
    """A keeper whose triangles are painted by their middle: its height and how far ahead, both in heads over the chin."""
    one = Person(height=1.8, head=0.6, **person)
    figure = keeper(one)
    parts = []
    for part in figure.parts:
        middle = part.points[part.triangles].mean(axis=1)
        colours = [colour_of((z - (one.height - one.head)) / one.head, -y / one.head) for _, y, z in middle]
        parts.append(replace(part, paint=np.array(colours, np.float32)))
    return replace(figure, parts=tuple(parts))


def paint_of(figure):
    body = gather(figure)
    piece = pieces_of(body, body.points * [1, -1, 1])
    head = head_of(body, body.points * [1, -1, 1], piece, body.head > 0.5)
    return find_paint(body, head, 1.2, 1.8)


def hood(line):
    return lambda level, ahead: HAIR if level > line or ahead < -0.1 else SKIN


@pytest.mark.parametrize("line", [0.55, 0.7, 0.85])
def test_the_hairline_is_where_the_faces_colour_ends(line):
    found = paint_of(painted_keeper(hood(line)))
    assert found.covered and found.share == pytest.approx(line, abs=0.06)
    assert found.step < 0.02, "it is painted on: nothing stands out"


def test_a_head_of_one_colour_with_a_mouth_is_bare():
    found = paint_of(painted_keeper(lambda level, ahead: RED if 0.2 < level < 0.28 and ahead > 0.2 else SKIN))
    assert found is not None and not found.covered


def test_where_nothing_is_drawn_colours_tell_nothing():
    assert paint_of(painted_keeper(lambda _level, _ahead: SKIN)) is None
    figure = painted_keeper(hood(0.7))
    assert paint_of(replace(figure, parts=tuple(replace(one, paint=one.paint * np.nan) for one in figure.parts))) is None
    assert paint_of(keeper(Person(height=1.8, head=0.6))) is None


def vote(figure, forward=AHEAD):
    return vote_of_paint(upper_paint(gather(figure), UP), UP, forward)


def test_hair_ends_higher_over_the_face_than_over_the_nape():
    figure = painted_keeper(hood(0.7))
    assert vote(figure) > 0.5
    assert vote(figure, -AHEAD) == pytest.approx(-vote(figure))


def test_a_cap_that_ends_level_all_around_says_nothing():
    assert abs(vote(painted_keeper(lambda level, _ahead: RED if level > 0.7 else SKIN))) < 0.2


def test_eyes_and_a_mouth_say_where_the_face_is():
    drawn = painted_keeper(lambda level, ahead: HAIR if int(level * 16) % 2 and ahead > 0.1 else SKIN)
    assert vote(drawn) > 0.3


def test_what_is_seen_is_the_nearest_in_each_cell():
    rng = np.random.default_rng(4)
    cells, near = rng.integers(-1, 12, 300), rng.uniform(size=300)
    plain = [max((row for row in range(300) if cells[row] == cell), key=lambda row: near[row]) for cell in sorted(set(cells[cells >= 0]))]
    assert seen_along(cells, near).tolist() == plain
    assert seen_along(np.full(3, -1), np.zeros(3)).tolist() == []


def test_colours_of_lost_triangles_are_left_out_with_them():
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [np.nan, 0, 1]])
    part = Part("Scrap", points, np.array([[0, 1, 3], [0, 1, 2]]), Weights.none(), paint=np.array([RED, SKIN], np.float32))
    body: Body = gather(replace(keeper(Person(height=1.8, head=0.6)), parts=(part,)))
    assert body.triangles.tolist() == [[0, 1, 2]]
    np.testing.assert_allclose(body.colour, [SKIN], rtol=1e-6)
