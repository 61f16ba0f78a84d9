"""Ranges that stay honest where a facing or a neck is in doubt, and counts of nothing that raise nothing."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Bone
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.forward import facings_of
from evenfold.core.proportion.face.chin import _neck_outline
from evenfold.core.proportion.face.chin_fit import FaceOutline
from evenfold.core.proportion.face.chin_touch import touch_chin
from evenfold.core.proportion.face.ledge import find_ledge
from evenfold.core.proportion.face.side_outline import cuts, front_line
from evenfold.core.proportion.face.underside import find_underside
from evenfold.core.proportion.head.neck import find_necks
from evenfold.core.proportion.head.outline import ROWS, Outline
from evenfold.core.proportion.head.region import Head
from evenfold.core.proportion.parts.body import Body, gather
from evenfold.core.settings import Settings
from figures.avatars.build import build_figure
from figures.people import Person, keeper

OTHERWISE = "if the figure faces another way"


def without_feet(head, neck, turn, ponytail):
    """(figure, heads): no rig, no shoes, so that hardly anything tells front from back."""
    figure = keeper(Person(height=1.5, head=head, neck=neck, rigged=False, build="separate", ponytail=ponytail))
    parts = [replace(part, points=part.points * [turn, turn, 1]) for part in figure.parts if not part.name.startswith("Shoe")]
    return replace(figure, parts=tuple(parts)), (1.5 - 0.04 * (1.5 - head)) / head


@pytest.mark.parametrize(("head", "neck"), [(0.3, 0.04), (0.3, 0.1), (0.5, 0.04), (0.5, 0.1), (0.5, 0.2)])
def test_a_figure_taken_for_facing_backward_gets_no_narrow_range(head, neck):
    figure, heads = without_feet(head, neck, -1, ponytail=True)
    assert facings_of(figure, gather(figure))[0] @ [0.0, 1.0, 0.0] < -0.9
    found = measure(figure, Settings())
    assert found.heads_tall < 0.97 * heads
    assert found.low <= heads <= found.high
    assert OTHERWISE in [reading.method for reading in found.landmarks["chin"].readings]


@pytest.mark.parametrize("turn", [1, -1])
def test_where_feet_tell_the_front_the_other_facing_is_not_asked(turn):
    figure = keeper(Person(height=1.5, head=0.3, neck=0.1, rigged=False, build="separate"))
    figure = replace(figure, parts=tuple(replace(part, points=part.points * [turn, turn, 1]) for part in figure.parts))
    (facing,) = facings_of(figure, gather(figure))
    assert facing @ [0.0, -turn, 0.0] > 0.98
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(5.0, rel=0.01)
    assert OTHERWISE not in [reading.method for spot in found.landmarks.values() for reading in spot.readings]


@pytest.mark.parametrize(("ahead", "doubts"), [(-0.1, 0), (0.1, 1)])
def test_eye_bones_that_gainsay_the_sides_in_the_bones_names_leave_a_doubt(ahead, doubts):
    figure = keeper(Person(height=1.5, head=0.3, neck=0.1))
    bones = [bone for bone in figure.armature.bones if not bone.name.startswith("Toe")]
    for side, name in ((0.05, "Eye.L"), (-0.05, "Eye.R")):
        place = figure.armature.by_name["Head"].head + np.array([side, ahead, 0.1])
        bones.append(Bone(name, "Head", place, place + np.array([0.0, 0.0, 0.02]), np.eye(4)[:3, :3]))
    figure = replace(figure, armature=replace(figure.armature, bones=tuple(bones)))
    first, *others = facings_of(figure, gather(figure))
    assert abs(first[1]) > 0.98
    assert len(others) == doubts


def profile(rows):
    """Outline rows from (share of the height up to which, width, how far forward)."""
    levels = (np.arange(ROWS) + 0.5) / ROWS
    which = np.searchsorted([row[0] for row in rows], levels)
    width, front = (np.array([row[column] for row in rows])[which] for column in (1, 2))
    depth = front + 0.25
    spread = np.where((levels > 0.38) & (levels < 0.46), 0.9, width)
    return Outline(levels, width, depth, spread, front)


@pytest.mark.parametrize("mouth", [0.2, 0.23, 0.26])
def test_a_mouth_over_a_jaw_is_not_the_neck(mouth):
    """A trunk, a jaw far in front of it, an open mouth, the rest of the face."""
    rows = [(0.3, 0.3, 0.1), (0.46, 0.42, 0.1), (0.48, 0.4, 0.1), (0.62, 0.5, 0.32), (0.66, 0.4, mouth), (1.0, 0.5, 0.42)]
    assert find_necks(profile(rows))[0].height == pytest.approx(0.47, abs=0.02)


def test_a_chest_that_stands_out_under_a_neck_leaves_it_the_neck():
    rows = [(0.3, 0.3, 0.1), (0.5, 0.4, 0.15), (0.62, 0.42, 0.3), (0.66, 0.2, 0.1), (1.0, 0.5, 0.3)]
    assert find_necks(profile(rows))[0].height == pytest.approx(0.64, abs=0.025)


def ribbon(heights, forward, wide=0.7):
    """A face's outline in the middle, drawn out sideways: points (n, 3) and triangles."""
    count = len(heights)
    rows = [np.column_stack([np.full(count, side), forward, heights]) for side in (-wide / 2, wide / 2)]
    first = np.arange(count - 1)
    faces = [np.stack([first, first + 1, count + first], 1), np.stack([first + 1, count + first + 1, count + first], 1)]
    return np.concatenate(rows), np.concatenate(faces)


@pytest.mark.parametrize("back", [0.5, 0.6, 0.7, 0.78])
@pytest.mark.parametrize("under", [0.12, 0.16])
def test_the_chin_behind_a_long_muzzle_is_seen_over_a_neck_far_back(back, under):
    """A neck, a chin in front of it at 0, and a muzzle over the chin; ``back`` in widths of the head."""
    muzzle = 0.3
    neck = muzzle - back * 0.7
    chin = neck + 0.17
    heights = np.array([-0.6, -0.01, 0.0, under, under + 0.03, 0.25, 0.35, 0.45, 1.0])
    points, faces = ribbon(heights, np.array([neck, neck, chin, chin + 0.06, muzzle - 0.1, muzzle, muzzle, muzzle - 0.1, neck]))
    skull, worn = points[:, 2] >= 0.0, np.zeros(len(points), bool)
    zero = np.zeros(len(points))
    body = Body(points, faces, skull.astype(float), zero, zero, worn, "weights", "Head", ())
    head = Head(points, skull, skull, np.zeros(len(points), np.int64), faces, 0.0, 0.7, 0.0, 1.0)
    front = cuts(points, head.faces_of(skull), 0.0, 0.7)
    front = front[(front[:, 1] > muzzle - 0.2) & (front[:, 2] < 0.5)]
    fit = FaceOutline(np.concatenate([front, _neck_outline(body, head, front)]), 0.17, 1.0, True).chin_over(-0.08)
    assert fit.height == pytest.approx(0.0, abs=0.01)


NOTHING = np.zeros((0, 3))
FEW = np.column_stack([np.zeros(30), np.linspace(0.0, 0.3, 30), np.linspace(-0.2, 0.8, 30)])


@pytest.mark.parametrize("points", [NOTHING, FEW[:1], FEW, FEW * 0.0], ids=["none", "one", "few", "all in one place"])
@pytest.mark.parametrize(("low", "high"), [(0.0, 0.5), (0.5, 0.0), (0.2, -3.0), (0.3, 0.3), (5.0, 6.0)])
@pytest.mark.parametrize("size", [1.0, 1e-12, 0.0, -1.0])
def test_outlines_of_nothing_and_heights_upside_down_raise_nothing(points, low, high, size):
    with np.errstate(all="ignore"):
        for found in (find_ledge(points, low, high, size), find_underside(points, low, high, 0.0, size), touch_chin(points, low, 0.0, high, size)):
            assert found is None or size > 0
        heights, front = front_line(points, low, high)
    assert len(heights) == len(front)


@pytest.mark.parametrize("count", [-3, 0])
def test_an_outline_in_no_rows_is_empty(count):
    heights, front = front_line(FEW, 0.0, 0.5, count)
    assert len(heights) == len(front) == 0


@pytest.mark.parametrize("share", [0.05, 0.13])
def test_where_only_weights_tell_the_chin_and_end_too_high_the_range_holds_it(share, monkeypatch):
    figure = keeper(Person(height=1.5, head=0.5, neck=0.1))
    (part,) = figure.parts
    names, height = np.array(part.weights.names), part.points[part.weights.vertex][:, 2]
    head, neck = (int(np.flatnonzero(names == name)[0]) for name in ("Head", "Neck"))
    group = np.where((part.weights.group == head) & (height < 1.0 + share * 0.5), neck, part.weights.group)
    high = replace(figure, parts=(replace(part, weights=replace(part.weights, group=group)),))
    monkeypatch.setattr(FaceOutline, "chin_over", lambda *asked: None)
    found = measure(high, Settings())
    assert [reading.method for reading in found.landmarks["chin"].readings] == ["where the head's weight ends in front"]
    assert found.heads_tall > 3.05
    assert found.low <= 3.0 <= found.high


def test_an_outline_far_above_the_head_bone_and_its_weight_gets_a_range_that_reaches_down():
    """A head of few faces whose fringe is one skin with it: the outline is seen too high, and that is said."""
    built = build_figure(53047, "rigged")
    found = measure(built.figure, Settings())
    assert found.low <= built.heads <= found.high
    assert found.landmarks["chin"].readings[0].low < built.truth["chin"]
