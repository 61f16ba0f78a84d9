"""Vertices put back: exactly, with every key along, and nothing else touched. All figures invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.figure import MirrorModifier
from evenfold.core.findings import Finding
from evenfold.core.repair import LEFT_ALONE, Checked, RepairError, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.repair.together import plan_together, safe_codes
from figures.layered import MIRROR, layered
from figures.layered_parts import LEFT, RIGHT, part
from figures.mending import (
    PLAIN,
    check,
    codes,
    deltas,
    found,
    mended,
    plan_for,
    points,
    pushed,
    stood,
    the,
    turned_over,
    untouched,
)
from figures.records import figure_of
from oracles.finder import ScipyFinder


def turn(angle, axis):
    a, b = (axis + 1) % 3, (axis + 2) % 3
    matrix = np.eye(4)
    matrix[a, a] = matrix[b, b] = np.cos(angle)
    matrix[a, b], matrix[b, a] = -np.sin(angle), np.sin(angle)
    return matrix


def placed(x, y, z):
    matrix = np.eye(4)
    matrix[:3, 3] = x, y, z
    return matrix


MATRICES = {
    "plain": (np.eye(4), 1.0),
    "moved and turned": (placed(3.1, -2.2, 0.7) @ turn(0.7, 2) @ turn(0.3, 0), 1.0),
    "negative": (np.diag([-1.0, 1.0, 1.0, 1.0]) @ placed(0.4, 0.0, 0.0), 1.0),
    "non-uniform": (placed(0.0, 1.0, 0.0) @ turn(1.1, 0) @ np.diag([0.7, 1.3, 2.0, 1.0]), 1.0),
    "centimetres": (np.diag([0.01, 0.01, 0.01, 1.0]), 100.0),
    "parented": (placed(1.3, 0.0, 0.2) @ turn(-1.9, 1) @ np.diag([0.3, 0.3, 0.3, 1.0]), 1.0),
}


def planted(seed, side, count=12, scale=1.0):
    """A figure with vertices of one side pushed by 0.2 to 2 mm, keys along; (exact, drifted, rows)."""
    made = layered(seed)
    rng = np.random.default_rng(seed)
    rows = np.flatnonzero(made.surface.positions[:, 0] * side > 0.15)
    rows = rng.choice(rows, count, replace=False)
    by = rng.normal(size=(count, 3))
    by *= (rng.uniform(2e-4, 2e-3, count) / np.linalg.norm(by, axis=1))[:, None]
    exact = made.figure()
    return exact, pushed(exact, rows, by * scale), rows


@pytest.mark.parametrize("seed", range(4))
def test_pushed_vertices_come_back_to_the_bit_and_nothing_else_moves(seed):
    exact, drifted, rows = planted(seed, -1)
    assert codes(drifted) == [("drifted", "")]
    after = mended(drifted, "drifted", "left")
    assert points(after).tobytes() == points(exact).tobytes()
    assert untouched(drifted, after)
    for name, by in deltas(drifted).items():
        assert np.abs(deltas(after)[name] - by).max() <= 1e-6
        still = np.setdiff1d(np.arange(len(by)), rows)
        assert points(after, name)[still].tobytes() == points(drifted, name)[still].tobytes()
    assert codes(after) == []


@pytest.mark.parametrize("kind", MATRICES)
def test_any_transform_mirrors_exactly_in_the_objects_own_space(kind):
    matrix, scale = MATRICES[kind]
    exact, drifted, _ = planted(3, -1)
    exact, drifted = (stood(one, matrix, scale) for one in (exact, drifted))
    assert {code for code, _ in codes(drifted)} == {"drifted"}
    after = mended(drifted, "drifted", "left")
    assert points(after).tobytes() == points(exact).tobytes()
    assert codes(after) == []


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(2))
def test_every_way_ends_in_exact_mirror_images(seed, way):
    exact, drifted, rows = planted(seed, 1)
    partner = layered(seed).partner
    after = mended(drifted, "drifted", way)
    assert (points(after)[partner] * MIRROR.astype(np.float32) == points(after)).all()
    moved = np.flatnonzero((points(after) != points(drifted)).any(axis=1))
    wanted = {"left": partner[rows], "right": rows, "average": np.concatenate([rows, partner[rows]])}[way]
    assert set(moved.tolist()) == set(wanted.tolist())
    if way == "average":
        half = 0.5 * (points(exact)[rows].astype(float) + points(drifted)[rows])
        assert np.abs(points(after)[rows] - half).max() < 1e-7
    assert codes(after) == []


@pytest.mark.parametrize("way", ["left", "right", "average"])
def test_a_figure_turned_over_is_mended_to_the_turned_over_result(way):
    _, drifted, _ = planted(5, 1)
    straight = mended(drifted, "drifted", way)
    over = mended(turned_over(drifted), "drifted", way)
    assert (points(over) == points(turned_over(straight))).all()
    for key in deltas(straight):
        assert np.abs(points(over, key) - points(turned_over(straight), key)).max() < 3e-7


def test_a_plane_that_is_not_the_objects_own_leaves_no_visible_difference():
    exact, drifted, _ = planted(2, -1)
    tilted = placed(0.013, 0.0, 0.0) @ turn(0.0004, 2)
    after = mended(stood(drifted, tilted), "drifted", "left")
    assert np.abs(points(after) - points(exact)).max() < 1e-6
    assert codes(after) == []


def test_a_second_run_has_nothing_to_do():
    _, drifted, _ = planted(1, -1)
    result = check(drifted)
    plan = plan_for(drifted, "drifted", "average")
    after = applied(drifted, plan.changes)
    checked = Checked.of(after, result, PLAIN, ScipyFinder)
    entry = result.objects[0]
    again = plan_repair(checked, entry, entry.findings[0], Wish("average"))
    assert again.changes == () and again.largest == 0.0


def test_what_the_plan_says_is_what_it_does():
    exact, drifted, rows = planted(6, -1)
    plan = plan_for(drifted, "drifted", "left")
    far = np.linalg.norm(points(drifted)[rows].astype(float) - points(exact)[rows], axis=1)
    assert plan.elements == len(rows) and plan.unit == "metres"
    assert plan.largest == pytest.approx(far.max(), abs=1e-7)


def test_a_vertex_only_the_hosts_tools_miss_is_tightened_to_the_bit():
    made = layered(4)
    row = int(np.flatnonzero(made.surface.positions[:, 0] < -0.2)[7])
    loose = pushed(made.figure(), [row], [[0.0, 0.00003, 0.0]])
    assert codes(loose) == [("near-miss", "")]
    after = mended(loose, "near-miss", "left")
    assert points(after).tobytes() == made.surface.positions.tobytes()
    assert codes(after) == []


def test_a_mesh_in_centimetres_is_tightened_too():
    made = layered(4)
    row = int(np.flatnonzero(made.surface.positions[:, 0] < -0.2)[7])
    exact = stood(made.figure(), np.diag([0.01, 0.01, 0.01, 1.0]), 100.0)
    loose = pushed(exact, [row], [[0.0, 0.001, 0.0]])
    assert codes(loose) == [("near-miss", "")]
    assert points(mended(loose, "near-miss", "left")).tobytes() == points(exact).tobytes()


@pytest.mark.parametrize("kind", ["plain", "moved and turned", "centimetres"])
def test_the_centre_goes_straight_onto_the_plane_and_keys_along(kind):
    made = layered(7)
    matrix, scale = MATRICES[kind]
    centre = np.flatnonzero(made.partner == np.arange(len(made.partner)))[[5, 20]]
    exact = stood(made.figure(), matrix, scale)
    off = pushed(exact, centre, np.array([[0.002, 0.0, 0.0], [-0.001, 0.0, 0.0]]) * scale)
    assert {code for code, _ in codes(off)} <= {"off-centre", "key-off-centre"}
    after = mended(off, "off-centre")
    assert (points(after)[centre, 0] == 0.0).all()
    assert points(after).tobytes() == points(exact).tobytes()
    for name, by in deltas(off).items():
        assert np.abs(deltas(after)[name] - by).max() <= 1e-6 * scale
    assert codes(after) == []


def test_the_chain_of_keys_that_build_on_one_another_is_carried_along():
    made = layered(8)
    figure = made.figure()
    keys = the(figure).layers.keys
    base = {key.name: key for key in keys.keys}
    more = 2 * base["Blink.L"].points - base["Basis"].points
    more_of = {"Jaw": {"relative_to": "Smile.L"}, "Blink.R": {"muted": True}}
    chained = (
        *(replace(key, **more_of.get(key.name, {})) for key in keys.keys),
        replace(base["Blink.L"], name="Blink more", relative_to="Blink.L", points=more),
        replace(base["Jaw"], name="Alone", relative_to="Alone"),
    )
    one = the(figure)
    figure = replace(figure, surfaces=(replace(one, layers=replace(one.layers, keys=replace(keys, keys=chained))),))
    row = int(np.flatnonzero(made.surface.positions[:, 0] < -0.2)[11])
    drifted = pushed(figure, [row], [[0.0, 0.001, 0.0005]])
    after = mended(drifted, "drifted", "left")
    assert points(after, "Alone").tobytes() == points(drifted, "Alone").tobytes()
    for name, by in deltas(drifted).items():
        assert np.abs(deltas(after)[name] - by).max() <= 1e-6
    assert points(after).tobytes() == points(figure).tobytes()
    assert untouched(drifted, after)


@pytest.mark.parametrize(("way", "moved"), [("left", "Right"), ("right", "Left")])
def test_partners_in_another_object_are_found_and_only_the_losing_object_moves(way, moved):
    made = layered(9)
    left, right = part(made, LEFT, "Left"), part(made, RIGHT, "Right")
    exact = figure_of(left, right)
    drifted = pushed(exact, [4, 30], [[0.001, 0.0, 0.0], [0.0, 0.002, 0.0]], "Right")
    assert {code for code, _ in codes(drifted)} == {"drifted"}
    after = mended(drifted, "drifted", way)
    kept = "Left" if moved == "Right" else "Right"
    assert points(after, name=kept).tobytes() == points(drifted, name=kept).tobytes()
    assert (points(after, name=moved) != points(drifted, name=moved)).any(axis=1).sum() == 2
    if way == "left":
        assert points(after, name="Right").tobytes() == points(exact, name="Right").tobytes()
    assert codes(after) == []


def test_vertices_stored_several_times_at_one_place_stay_together():
    made = layered(3)
    exact = figure_of(part(made, split=True))
    places = the(exact).positions
    row = int(np.flatnonzero(places[:, 0] < -0.2)[40])
    rows = np.flatnonzero((places == places[row]).all(axis=1))
    assert len(rows) > 2
    drifted = pushed(exact, rows, np.tile([0.0, 0.001, 0.0], (len(rows), 1)))
    assert "drifted" in {code for code, _ in codes(drifted)}
    after = mended(drifted, "drifted", "left")
    assert points(after).tobytes() == points(exact).tobytes()
    # The other half follows as one where fewer of the vertices there are known as partners.
    other = mended(drifted, "drifted", "right")
    assert len(np.unique(points(other), axis=0)) == len(np.unique(points(exact), axis=0))


def test_what_is_excused_is_never_moved():
    _, drifted, rows = planted(4, -1)
    partner = layered(4).partner
    excused = replace(drifted, allowances=(
        Allowance("one", "selection", "", "a dent", "Body", vertices=rows[:3]),
        Allowance("two", "selection", "", "a badge", "Body", vertices=partner[rows[3:5]]),
    ))
    for way in ("left", "right", "average"):
        after = mended(excused, "drifted", way)
        held = np.concatenate([rows[:5], partner[rows[:5]]])
        assert points(after)[held].tobytes() == points(drifted)[held].tobytes()
        assert codes(after) == []


def test_only_chosen_pairs_are_mended():
    _, drifted, rows = planted(0, -1)
    partner = layered(0).partner
    only = {"Body": np.array([rows[0], partner[rows[1]]])}
    after = mended(drifted, "drifted", "left", only)
    moved = np.flatnonzero((points(after) != points(drifted)).any(axis=1))
    assert set(moved.tolist()) == {int(rows[0]), int(rows[1])}
    elsewhere = plan_for(drifted, "drifted", "left", {"Hat": np.array([1])})
    assert elsewhere.changes == ()


@pytest.mark.parametrize("code", sorted(LEFT_ALONE))
def test_what_has_no_sure_partner_is_refused_with_a_reason(code):
    _, drifted, rows = planted(0, -1)
    result = check(drifted)
    checked = Checked.of(drifted, result, PLAIN, ScipyFinder)
    finding = Finding(code, rows, np.full(len(rows), -1), np.full(len(rows), np.nan))
    with pytest.raises(RepairError, match=r"\.$"):
        plan_repair(checked, result.objects[0], finding, Wish())


def test_an_unknown_way_or_kind_is_refused():
    _, drifted, _ = planted(0, -1)
    result = check(drifted)
    checked = Checked.of(drifted, result, PLAIN, ScipyFinder)
    entry = result.objects[0]
    with pytest.raises(RepairError, match="left, right or average"):
        plan_repair(checked, entry, entry.findings[0], Wish("up"))
    with pytest.raises(RepairError, match="no repair"):
        plan_repair(checked, entry, replace(entry.findings[0], code="diagonal-unmatched"), Wish())


def test_half_a_model_under_a_mirror_modifier_is_not_mirrored_once_more():
    made = layered(2)
    half = part(made, LEFT)
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    figure = figure_of(replace(half, mirrors=(mirror,)))
    result = check(figure)
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    assert checked.is_half("Body")
    forged = Finding("drifted", np.array([1]), np.array([2]), np.array([0.1]))
    with pytest.raises(RepairError, match="Mirror modifier"):
        plan_repair(checked, result.objects[0], forged, Wish())


def test_all_that_is_safe_is_mended_in_one_go():
    made = layered(5)
    exact = made.figure()
    right = np.flatnonzero(made.surface.positions[:, 0] < -0.2)
    centre = np.flatnonzero(made.partner == np.arange(len(made.partner)))[9]
    drifted = pushed(exact, right[:3], np.tile([0.0, 0.001, 0.0], (3, 1)))
    drifted = pushed(drifted, [right[40]], [[0.0, 0.00004, 0.0]])
    drifted = pushed(drifted, [centre], [[0.001, 0.0, 0.0]])
    result = check(drifted)
    assert {f.code for e in result.objects for f in e.findings} == {"drifted", "near-miss", "off-centre"}
    checked = Checked.of(drifted, result, PLAIN, ScipyFinder)
    plan = plan_together(checked, result.objects, safe_codes(), Wish("left"))
    after = applied(drifted, plan.changes)
    assert points(after).tobytes() == points(exact).tobytes()
    assert plan.elements == 5 and plan.left_alone == ()
    assert found(after) == []


def test_what_lies_far_off_is_left_to_the_artist():
    made = layered(5)
    right = np.flatnonzero(made.surface.positions[:, 0] < -0.2)
    drifted = pushed(made.figure(), right[[3, 60]], [[0.0, 0.001, 0.0], [0.0, 0.05, 0.0]])
    result = check(drifted)
    checked = Checked.of(drifted, result, PLAIN, ScipyFinder)
    plan = plan_together(checked, result.objects, safe_codes(), Wish("left"), careful=True)
    (told,) = plan.left_alone
    assert told.startswith("Body: 1 of those away from their mirror image") and "Large Differences Too" in told
    single = plan_for(drifted, "drifted")
    assert single.left_alone == (told,) and single.elements == 1
    after = applied(drifted, plan.changes)
    assert points(after)[right[60]].tobytes() == points(drifted)[right[60]].tobytes()
    assert points(after)[right[3]].tobytes() == made.surface.positions[right[3]].tobytes()
    asked = plan_together(checked, result.objects, safe_codes(), Wish("left", far=True), careful=True)
    assert points(applied(drifted, asked.changes)).tobytes() == made.surface.positions.tobytes()
