"""Guides and places of labels. All figures are invented."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from evenfold.core.findings import Landmark, Proportion
from evenfold.core.guides import axes_of, make_guides
from evenfold.core.labels import Room, place_labels
from scipy.optimize import minimize

SEEDS = range(12)


def keeper(crown=0.9, chin=0.3, *, turn=None, scale=1.0, by=(0, 0, 0), target=None, further=()):
    """A proportion as constructed: ``scale`` scene units a metre, turned and moved."""
    turn = np.eye(3) if turn is None else turn
    head = crown - chin
    heights = {"crown": crown, "chin": chin, "sole": 0.0, **dict(further)}
    marks = {
        name: Landmark(height, turn @ (np.array([0, -0.1, height]) * scale) + by, "shape", height, height)
        for name, height in heights.items()
    }
    return Proportion(
        crown / head, crown / head, crown / head, head, crown, crown, marks, target,
        up=turn @ [0.0, 0.0, 1.0], forward=turn @ [0.0, -1.0, 0.0],
    )


def random_turn(seed):
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    return turn * np.sign(np.linalg.det(turn))


def levels(plane, kind, up):
    """(k, 2) heights of both ends of the lines of a kind."""
    rows = np.array([own == kind for own in plane.kinds], bool)
    return plane.segments[rows] @ up


def texts(plane, kind):
    return [label.text for label in plane.labels if label.kind == kind]


@pytest.mark.parametrize("seed", SEEDS)
def test_lines_stand_every_head_from_the_crown_wherever_the_figure_is(seed):
    rng = np.random.default_rng(seed)
    crown, scale, by = rng.uniform(0.5, 2), rng.uniform(0.01, 100), rng.normal(size=3) * 5
    chin = crown * rng.uniform(0.2, 0.8)
    found = keeper(crown, chin, turn=random_turn(seed), scale=scale, by=by)
    guides = make_guides(found)
    top = found.landmarks["crown"].point @ found.up
    expected = [top - k * (crown - chin) * scale for k in range(int(crown / (crown - chin)) + 1)]
    for plane in (guides.front, guides.side):
        heads = levels(plane, "head", found.up)
        assert np.allclose(heads, np.array(expected)[:, None], atol=1e-9 * scale + 1e-9)
        partial = levels(plane, "partial", found.up)
        assert np.allclose(partial, found.landmarks["sole"].point @ found.up, atol=1e-9 * scale + 1e-9)
        assert len(partial) > 1, "the part of a head is dashed"
        offsets = (plane.segments - plane.segments[0, 0]) @ plane.normal
        crosses = np.array([kind == "landmark" for kind in plane.kinds])
        assert np.allclose(offsets[~crosses], 0, atol=1e-6 * scale), "one plane"


def test_whole_heads_have_no_partial_one():
    guides = make_guides(keeper(1.2, 0.8))
    assert texts(guides.front, "head") == ["Head 1", "Head 2", "Head 3"]
    assert not texts(guides.front, "partial") and "partial" not in guides.front.kinds
    half = make_guides(keeper(0.9, 0.3))
    assert texts(half.front, "head") == ["Head 1"] and texts(half.front, "partial") == ["0.50 of a head"]


def test_a_last_head_smaller_than_shown_is_not_called_partial():
    nearly = make_guides(keeper(3.0 + 0.004, 2.0 + 0.004))
    assert "partial" not in nearly.front.kinds
    clearly = make_guides(keeper(3.0 + 0.02, 2.0 + 0.02))
    assert texts(clearly.front, "partial") == ["0.02 of a head"]


def test_landmarks_are_named_with_their_heights_in_heads():
    guides = make_guides(keeper(further=[("eye_line", 0.6)]), heads=False)
    assert texts(guides.front, "landmark") == [
        "Crown 1.50 heads", "Chin 0.50 heads", "Sole 0.00 heads", "Eye line 1.00 heads",
    ]
    assert set(guides.front.kinds) == {"landmark"}


@pytest.mark.parametrize("scale", [1.0, 100.0])
def test_a_heads_name_stands_in_its_middle_and_crosses_have_the_figures_size(scale):
    found = keeper(1.2, 0.8, scale=scale)
    guides = make_guides(found)
    for plane in (guides.front, guides.side):
        heights = {label.text: float(label.anchor @ found.up) for label in plane.labels if label.kind == "head"}
        # by hand: three heads of 0.4 m from the crown at 1.2 m
        assert heights == pytest.approx({f"Head {n + 1}": (1.0 - 0.4 * n) * scale for n in range(3)})
        rows = [ends for ends, kind in zip(plane.segments, plane.kinds, strict=True) if kind == "landmark"]
        crosses = [ends for number, ends in enumerate(rows) if number % 3]
        sizes = [float(np.linalg.norm(ends[1] - ends[0])) for ends in crosses]
        assert sizes == pytest.approx([2 * 0.015 * 1.2 * scale] * 6)
    assert guides.size == pytest.approx(1.2 * scale)


def test_lines_reach_beyond_the_figure_and_no_label_stands_inside():
    corners = np.array([[x, y, z] for x in (-0.5, 0.7) for y in (-0.3, 0.1) for z in (0, 1.2)])
    guides = make_guides(keeper(), corners, {"crown": 1.1})
    for plane, axis, ends in ((guides.front, [1, 0, 0], (-0.5, 0.7)), (guides.side, [0, -1, 0], (-0.1, 0.3))):
        row = plane.kinds.index("head")
        reach = np.sort(plane.segments[row] @ axis)
        assert reach[0] < ends[0] - 0.01 and reach[1] > ends[1] + 0.01
        for label in plane.labels:
            along = label.anchor @ axis
            assert along <= ends[0] or along >= ends[1]
            assert (label.outward @ axis > 0) == (along > sum(ends) / 2)


def test_planes_face_the_front_and_the_side():
    found = keeper(turn=random_turn(3))
    guides = make_guides(found)
    assert np.allclose(guides.front.normal, found.forward)
    assert np.allclose(guides.side.normal, np.cross(found.up, found.forward))


@pytest.mark.parametrize(
    ("up", "forward"),
    [(None, None), ((0, 0, 0), None), (None, (0, 0, 1)), ((0, -1, 0), None), ((0, 0, 2), (0, -3, 0))],
)
def test_axes_are_unit_and_square_whatever_is_known(up, forward):
    axes = axes_of(Proportion(up=None if up is None else np.array(up, float), forward=None if forward is None else np.array(forward, float)))
    assert np.allclose(axes @ axes.T, np.eye(3))
    assert np.allclose(np.cross(axes[2], axes[1]), axes[0]), "left is positive"
    if up is None and forward is None:
        assert np.allclose(axes, [[1, 0, 0], [0, -1, 0], [0, 0, 1]])


def test_target_lines_stand_where_they_are_asked_for():
    found = keeper(scale=100.0, by=(0, 0, 7), target=2.0)
    plane = make_guides(found, target={"chin": 0.45}, heads=False, landmarks=False).front
    assert set(plane.kinds) == {"target"} and len(plane.kinds) > 5
    assert np.allclose(levels(plane, "target", found.up), 7 + 45)
    assert texts(plane, "target") == ["Target chin"]


def test_landmarks_and_targets_are_labelled_on_opposite_sides():
    """Side by side they would stand in each other's way where the target is low."""
    guides = make_guides(keeper(target=2.0), target={"chin": 0.45})
    for plane in (guides.front, guides.side):
        sides = {kind: {tuple(one.outward.round(6)) for one in plane.labels if one.kind == kind} for kind in ("landmark", "target")}
        (measured,), (wanted,) = sides["landmark"], sides["target"]
        assert np.allclose(measured, -np.array(wanted))


def test_a_landmark_at_its_target_gets_no_second_line():
    found = keeper(target=2.0)
    plane = make_guides(found, target={"crown": 0.9, "chin": 0.45, "sole": 0.0}).front
    assert texts(plane, "target") == ["Target chin"]
    plane = make_guides(found, target={"crown": 0.904, "chin": 0.31}).front
    assert texts(plane, "target") == ["Target crown", "Target chin"]
    plane = make_guides(found, target={"knee": 0.3}).front
    assert texts(plane, "target") == ["Target knee"], "it is the chin that is there"


def test_without_a_count_there_are_landmarks_only():
    found = replace(keeper(), heads_tall=None, refusal="No.")
    plane = make_guides(found, target={"chin": 0.4}).front
    assert "head" not in plane.kinds and texts(plane, "landmark") == ["Crown", "Chin", "Sole"]
    nothing = make_guides(Proportion()).side
    assert nothing.segments.shape == (0, 2, 3) and nothing.labels == ()


def boxes(seed, count=14):
    rng = np.random.default_rng(seed)
    room = Room(40.0, 30.0, 700.0, 500.0)
    anchors = np.c_[rng.uniform(-100, 800, count), rng.uniform(room.bottom, room.top, count)]
    anchors[: count // 2] = np.c_[np.full(count // 2, 500), rng.normal(250, 10, count // 2)]
    sizes = np.c_[rng.uniform(30, 140, count), rng.uniform(12, 22, count)]
    rightward = anchors[:, 0] > 350
    return anchors, sizes, rightward, rng.integers(0, 4, count), room


def overlapping(corners, sizes):
    shown = [n for n in range(len(corners)) if np.isfinite(corners[n]).all()]
    return [
        (a, b) for a in shown for b in shown
        if a < b and all(corners[a][k] < corners[b][k] + sizes[b][k] - 1e-6 and corners[b][k] < corners[a][k] + sizes[a][k] - 1e-6 for k in (0, 1))
    ]


@pytest.mark.parametrize("seed", range(40))
def test_labels_never_overlap_nor_leave_the_room(seed):
    anchors, sizes, rightward, priority, room = boxes(seed)
    start = np.c_[anchors[:, 0], anchors[:, 1] - sizes[:, 1] / 2]
    assert overlapping(start, sizes), "the trial must have something to push apart"
    corners = place_labels(anchors, sizes, rightward, priority, room, 3.0)
    assert not overlapping(corners, sizes)
    shown = np.isfinite(corners).all(axis=1)
    assert shown.sum() >= 10
    assert (corners[shown] >= (room.left - 1e-6, room.bottom - 1e-6)).all()
    assert (corners[shown] + sizes[shown] <= (room.right + 1e-6, room.top + 1e-6)).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_labels_stay_as_near_as_can_be(seed):
    """The independent answer: least squares under the same gaps, by scipy's solver."""
    rng = np.random.default_rng(seed)
    count, gap = 6, 3.0
    anchors = np.c_[np.full(count, 100.0), rng.uniform(180, 260, count)]
    sizes = np.c_[np.full(count, 50.0), rng.uniform(12, 22, count)]
    room = Room(0, 150.0, 500.0, 320.0)
    corners = place_labels(anchors, sizes, np.ones(count, bool), np.zeros(count, int), room, gap)
    wanted = anchors[:, 1] - sizes[:, 1] / 2
    order = np.argsort(anchors[:, 1])
    rules = [
        {"type": "ineq", "fun": lambda y, a=a, b=b: y[b] - y[a] - sizes[a, 1] - gap}
        for a, b in pairwise(order)
    ]
    limits = [(room.bottom, room.top - high) for high in sizes[:, 1]]
    start = np.empty(count)
    start[order] = np.linspace(160, 290, count)
    best = minimize(lambda y: ((y - wanted) ** 2).sum(), start, bounds=limits, constraints=rules, method="SLSQP")
    assert best.success
    assert ((corners[:, 1] - wanted) ** 2).sum() == pytest.approx(best.fun, rel=1e-3, abs=1e-3)


def test_labels_that_are_alone_stand_beside_their_lines():
    corners = place_labels(
        np.array([[100.0, 200.0], [300.0, 200.0]]), np.array([[40.0, 16.0], [40.0, 16.0]]),
        np.array([False, True]), np.array([0, 0]), Room(0, 0, 500, 400), 4.0,
    )
    assert corners.tolist() == [[56.0, 192.0], [304.0, 192.0]]


def test_labels_of_lines_out_of_sight_are_left_out_and_the_important_ones_kept():
    room = Room(0, 0, 200, 50)
    anchors = np.array([[100, 25.0], [100, 26.0], [100, 27.0], [100, 60.0], [np.nan, np.nan], [100, -5.0]])
    sizes = np.full((6, 2), 16.0)
    corners = place_labels(anchors, sizes, np.ones(6, bool), np.array([1, 5, 0, 9, 9, 9]), room, 5.0)
    assert np.isfinite(corners).all(axis=1).tolist() == [True, True, False, False, False, False]
    assert len(place_labels(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, bool), np.zeros(0, int), room, 1.0)) == 0


def test_without_every_only_the_main_landmarks_are_shown():
    from evenfold.core.guides import MAIN

    names = ("crown", "chin", "sole", "elbow", "knee", "wrist")
    marks = {
        name: Landmark(1.0 - 0.1 * place, np.array([0.0, 0.0, 1.0 - 0.1 * place]), "pinned", 0, 0)
        for place, name in enumerate(names)
    }
    found = Proportion(2.0, landmarks=marks)
    target = {"chin": 0.7, "elbow": 0.2}
    few = {label.text.split()[0].lower() for label in make_guides(found, None, target, heads=False, every=False).front.labels}
    assert few == {"crown", "chin", "sole", "knee", "target"}
    many = [label.text for label in make_guides(found, None, target, heads=False).front.labels]
    assert len(many) == len(names) + 2
    assert {"crown", "chin", "sole"} <= set(MAIN)
