"""Keys made to match, against what each is relative to. All figures invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.figure import MirrorModifier, Weights
from evenfold.core.findings import Finding
from evenfold.core.layers import ShapeKey
from evenfold.core.repair import Checked, KeyMade, RepairError, Wish, plan_repair
from evenfold.core.repair.applied import applied, dependents
from evenfold.core.repair.together import plan_together, safe_codes
from evenfold.core.symmetry.rebuilt import rebuilt
from figures.layered import MIRROR, layered
from figures.layered_parts import LEFT, RIGHT, part
from figures.mending import (
    PLAIN,
    check,
    codes,
    deltas,
    keyed,
    mended,
    plan_for,
    points,
    stood,
    the,
    turned_over,
    untouched,
)
from figures.records import figure_of
from oracles.finder import ScipyFinder

BASE = ("Basis",)


def made_of(seed=0):
    made = layered(seed)
    return made, made.figure(), made.partner, made.surface.positions


def exact_mirror(figure, left, right, partner):
    """True when two keys' places are mirror images of one another to the bit."""
    return (points(figure, left)[partner] * np.float32(MIRROR) == points(figure, right)).all()


def others_same(before, after, *changed):
    """Every key but these, and every other layer, is as it was to the last bit."""
    names = [key.name for key in the(before).layers.keys.keys if key.name not in changed]
    same = all(points(before, name).tobytes() == points(after, name).tobytes() for name in names)
    return same and points(before).tobytes() == points(after).tobytes()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("way", ["left", "right", "average"])
def test_a_weaker_smile_is_made_the_mirror_image(seed, way):
    _, figure, partner, base = made_of(seed)
    weaker = base + 0.8 * deltas(figure)["Smile.R"]
    uneven = keyed(figure, **{"Smile.R": weaker})
    assert codes(uneven) == [("key-pair-drifted", "Smile.L / Smile.R")]
    after = mended(uneven, "key-pair-drifted", way)
    assert exact_mirror(after, "Smile.L", "Smile.R", partner)
    by = deltas(after)
    assert np.abs(by["Smile.L"][partner] * MIRROR - by["Smile.R"]).max() < 2e-7
    share = {"left": 1.0, "right": 0.8, "average": 0.9}[way]
    assert np.abs(by["Smile.L"] - share * deltas(figure)["Smile.L"]).max() < 2e-7
    changed = {"left": ["Smile.R"], "right": ["Smile.L"]}.get(way, ["Smile.L", "Smile.R"])
    assert others_same(uneven, after, *changed) and untouched(uneven, after)
    assert codes(after) == []


def test_names_with_a_slash_between_blanks_are_mended_too():
    _, figure, _, base = made_of(1)
    weaker = {"name": "Mouth / Smile.R", "points": np.float32(base + 0.8 * deltas(figure)["Smile.R"])}
    uneven = keyed(figure, **{"Smile.L": {"name": "Mouth / Smile.L"}, "Smile.R": weaker})
    assert [code for code, _ in codes(uneven)] == ["key-pair-drifted"]
    assert codes(mended(uneven, "key-pair-drifted")) == []
    by = deltas(figure)["Jaw"]
    by[base[:, 0] < 0] *= 0.7
    uneven = keyed(figure, Jaw={"name": "Open / Jaw", "points": np.float32(base + by)})
    assert codes(uneven) == [("key-lopsided", "Open / Jaw")]
    assert codes(mended(uneven, "key-lopsided")) == []


def test_left_to_right_gives_back_the_very_key():
    _, figure, _, base = made_of(5)
    uneven = keyed(figure, **{"Blink.R": base + 1.3 * deltas(figure)["Blink.R"]})
    after = mended(uneven, "key-pair-drifted", "left")
    assert points(after, "Blink.R").tobytes() == points(figure, "Blink.R").tobytes()


@pytest.mark.parametrize("way", ["left", "right", "average"])
def test_a_lopsided_jaw_is_evened_out(way):
    _, figure, partner, base = made_of(1)
    by = deltas(figure)["Jaw"]
    by[base[:, 0] < 0] *= 0.7
    uneven = keyed(figure, Jaw=base + by)
    assert codes(uneven) == [("key-lopsided", "Jaw")]
    after = mended(uneven, "key-lopsided", way)
    jaw = deltas(after)["Jaw"]
    assert np.abs(jaw[partner] * MIRROR - jaw).max() < 2e-7
    side = {"left": base[:, 0] > 0, "right": base[:, 0] < 0}.get(way)
    if side is not None:
        assert points(after, "Jaw")[side].tobytes() == points(uneven, "Jaw")[side].tobytes()
    assert others_same(uneven, after, "Jaw") and codes(after) == []


@pytest.mark.parametrize("way", ["left", "right", "average"])
def test_keys_of_a_figure_turned_over_are_mended_to_the_turned_over_result(way):
    _, figure, _, base = made_of(2)
    by = deltas(figure)
    by["Jaw"][base[:, 0] < 0] *= 0.7
    uneven = keyed(figure, **{"Smile.R": base + 0.8 * by["Smile.R"], "Jaw": base + by["Jaw"]})
    for code, key in (("key-pair-drifted", "Smile.R"), ("key-lopsided", "Jaw")):
        straight = mended(uneven, code, way)
        over = mended(turned_over(uneven), code, way)
        assert np.abs(points(over, key) - points(turned_over(straight), key)).max() < 3e-7


def test_movement_is_against_the_key_it_builds_on_and_what_builds_on_it_follows():
    _, figure, _, _ = made_of(3)
    by = deltas(figure)
    jaw = points(figure, "Jaw").astype(float)
    chained = keyed(
        figure,
        **{"Smile.L": {"points": np.float32(jaw + by["Smile.L"]), "relative_to": "Jaw"},
           "Smile.R": {"points": np.float32(jaw + 0.8 * by["Smile.R"]), "relative_to": "Jaw"},
           "Wide": ShapeKey("Wide", np.float32(jaw + 0.8 * by["Smile.R"] + by["Jaw"]), "Smile.R")},
    )
    assert codes(chained) == [("key-pair-drifted", "Smile.L / Smile.R")]
    after = mended(chained, "key-pair-drifted", "left")
    assert np.abs(deltas(after)["Smile.R"] - by["Smile.R"]).max() < 2e-7
    assert np.abs(deltas(after)["Wide"] - deltas(chained)["Wide"]).max() < 2e-7
    assert (points(after, "Wide") != points(chained, "Wide")).any()
    assert others_same(chained, after, "Smile.R", "Wide") and codes(after) == []


def test_dependents_follow_chains_and_stop_at_circles():
    _, figure, _, _ = made_of(0)
    looped = keyed(figure, **{"Smile.L": {"relative_to": "Smile.R"}, "Smile.R": {"relative_to": "Smile.L"},
                              "Jaw": {"relative_to": "Blink.L"}, "Blink.R": {"relative_to": "Blink.R"}})
    keys = the(looped).layers.keys
    assert dependents(keys, "Basis") == {"Blink.L", "Jaw"}
    assert dependents(keys, "Smile.L") == {"Smile.R"}
    assert dependents(replace(keys, relative=False), "Basis") == {"Jaw", "Smile.L", "Smile.R", "Blink.L", "Blink.R"}


def test_keys_that_build_on_one_another_are_not_mirrored_by_guess():
    _, figure, _, _ = made_of(0)
    by = deltas(figure)
    on_left = points(figure, "Smile.L").astype(float) + 0.8 * by["Smile.R"]
    tangled = keyed(figure, **{"Smile.R": {"points": np.float32(on_left), "relative_to": "Smile.L"}})
    with pytest.raises(RepairError, match="build on one another"):
        mended(tangled, "key-pair-drifted")


def test_a_missing_key_is_made_with_the_range_of_its_counterpart():
    _, figure, _, _ = made_of(4)
    keys = the(figure).layers.keys
    less = tuple(replace(k, high=1.5, value=0.4) if k.name == "Smile.L" else k for k in keys.keys if k.name != "Smile.R")
    one = the(figure)
    lacking = replace(figure, surfaces=(replace(one, layers=replace(one.layers, keys=replace(keys, keys=less))),))
    assert codes(lacking) == [("key-unpaired", "Smile.L")]
    plan = plan_for(lacking, "key-unpaired")
    (change,) = plan.changes
    assert isinstance(change, KeyMade) and (change.key, change.like) == ("Smile.R", "Smile.L")
    after = applied(lacking, plan.changes)
    assert points(after, "Smile.R").tobytes() == points(figure, "Smile.R").tobytes()
    made = the(after).layers.keys.named("Smile.R")
    assert (made.high, made.value, made.relative_to) == (1.5, 0.0, "Basis")
    assert codes(after) == []


def test_a_missing_key_limited_to_a_group_gets_the_counterpart_group_or_is_refused():
    _, figure, _, _ = made_of(4)
    limited = keyed(figure, **{"Smile.L": {"mask_group": "Arm.L"}, "Smile.R": {"name": "Other"}})
    plan = plan_for(limited, "key-unpaired")
    assert plan.changes[0].mask_group == "Arm.R"
    one = the(limited)
    w = one.layers.weights
    fewer = Weights(tuple("Hat" if n == "Arm.R" else n for n in w.names), w.vertex, w.group, w.weight)
    gone = replace(limited, surfaces=(replace(one, layers=replace(one.layers, weights=fewer)),))
    with pytest.raises(RepairError, match=r"make Arm\.R first"):
        plan_for(gone, "key-unpaired")


def test_a_misspelt_counterpart_is_a_pair_and_no_third_key_is_made():
    _, figure, _, _ = made_of(4)
    odd = keyed(figure, **{"Smile.L": {"name": "mouthsmile_L"}, "Smile.R": {"name": "mouthSmileRight"}})
    assert codes(odd) == []
    twice = keyed(
        odd, mouthSmileLeft=ShapeKey("mouthSmileLeft", points(odd, "mouthsmile_L"), "Basis"),
    )
    assert codes(twice) == [("key-unpaired", "mouthsmile_L")]
    with pytest.raises(RepairError, match=r"mouthSmileRight is mouthsmile_R in another spelling"):
        plan_for(twice, "key-unpaired")


def test_a_key_with_broken_places_is_not_mended():
    _, figure, _, base = made_of(4)
    weaker = np.float32(base + 0.8 * deltas(figure)["Smile.R"])
    weaker[10] = np.nan
    broken = keyed(figure, **{"Smile.R": weaker})
    with pytest.raises(RepairError, match="no numbers"):
        mended(broken, "key-pair-drifted")


def test_a_winner_that_spills_is_cleared_first():
    _, figure, _, base = made_of(6)
    by = deltas(figure)
    far = np.flatnonzero((base[:, 0] < -0.3) & (base[:, 2] > 0.5))[:6]
    by["Blink.L"][far] = (0.0, 0.004, -0.01)
    uneven = keyed(figure, **{"Blink.L": base + by["Blink.L"], "Blink.R": base + 0.8 * by["Blink.R"]})
    assert {code for code, _ in codes(uneven)} == {"key-spill", "key-pair-drifted"}
    for way in ("left", "average"):
        with pytest.raises(RepairError, match="clear its wrong half first"):
            mended(uneven, "key-pair-drifted", way)
    assert mended(uneven, "key-pair-drifted", "right")
    assert codes(mended(mended(uneven, "key-spill"), "key-pair-drifted", "left")) == []


@pytest.mark.parametrize("share", [0.9, 0.0])
def test_copies_never_split_are_taken_as_the_check_takes_them(share):
    """Check and repair agree that the pair is one-sided: only its own half is mirrored."""
    _, figure, _, base = made_of(6)
    jaw = deltas(figure)["Jaw"]
    uneven = keyed(figure, **{"Smile.L": base + jaw, "Smile.R": base + share * jaw})
    assert ("key-spill", "Smile.L") in codes(uneven)
    cleared = mended(uneven, "key-spill", subject="Smile.L")
    after = mended(cleared, "key-pair-drifted", "left")
    right = deltas(after)["Smile.R"]
    assert ("key-pair-drifted", "Smile.L / Smile.R") not in codes(after)
    assert share or not right[base[:, 0] > 0.3].any()


def test_spill_is_cleared_beyond_the_blend_and_only_there():
    _, figure, _, base = made_of(6)
    by = deltas(figure)["Blink.L"]
    far = np.flatnonzero((base[:, 0] < -0.3) & (base[:, 2] > 0.5))[:6]
    by[far] = (0.0, 0.004, -0.01)
    spilt = keyed(figure, **{"Blink.L": base + by})
    assert codes(spilt) == [("key-spill", "Blink.L")]
    after = mended(spilt, "key-spill")
    assert points(after, "Blink.L").tobytes() == points(figure, "Blink.L").tobytes()
    assert others_same(spilt, after, "Blink.L") and codes(after) == []


def test_exchanged_keys_are_exchanged_back_and_keep_their_settings():
    _, figure, _, _ = made_of(7)
    crossed = keyed(figure, **{"Blink.L": points(figure, "Blink.R"), "Blink.R": points(figure, "Blink.L")})
    crossed = keyed(crossed, **{"Blink.L": {"value": 0.3}})
    assert codes(crossed) == [("key-swapped", "Blink.L / Blink.R")]
    after = mended(crossed, "key-swapped")
    for name in ("Blink.L", "Blink.R"):
        assert points(after, name).tobytes() == points(figure, name).tobytes()
    assert the(after).layers.keys.named("Blink.L").value == 0.3
    assert codes(after) == []


def test_exchanged_keys_of_unlike_groups_are_left_to_the_artist():
    made, figure, _, _ = made_of(7)
    crossed = keyed(
        figure, **{"Blink.L": {"points": points(figure, "Blink.R"), "mask_group": "Spine"},
                   "Blink.R": points(figure, "Blink.L")},
    )
    checked = Checked.of(crossed, check(crossed), PLAIN, ScipyFinder)
    entry = check(crossed).objects[0]
    forged = Finding("key-swapped", np.array([0]), np.array([0]), np.array([1.0]), subjects=("Blink.L", "Blink.R"))
    with pytest.raises(RepairError, match="different vertex groups"):
        plan_repair(checked, entry, forged, Wish())
    assert made


def test_the_same_side_twice_is_mended_only_when_told_which_is_right():
    _, figure, _, _ = made_of(8)
    twice = keyed(figure, **{"Blink.R": points(figure, "Blink.L")})
    assert codes(twice) == [("key-same-side", "Blink.L / Blink.R")]
    after = mended(twice, "key-same-side", "left")
    assert points(after, "Blink.R").tobytes() == points(figure, "Blink.R").tobytes()
    assert codes(after) == []
    for way in ("right", "average"):
        with pytest.raises(RepairError, match=r"let Blink\.L win"):
            mended(twice, "key-same-side", way)


@pytest.mark.parametrize("scale", [1.0, 100.0])
def test_a_lip_vertex_goes_back_onto_the_plane_in_that_key_only(scale):
    made, figure, partner, base = made_of(9)
    centre = np.flatnonzero(partner == np.arange(len(partner)))
    row = int(centre[np.argmin(np.linalg.norm(base[centre] - (0, -0.35, 0.8), axis=1))])
    by = deltas(figure)["Jaw"]
    by[row, 0] = 0.0006
    off = stood(keyed(figure, Jaw=base + by), np.diag([1 / scale, 1 / scale, 1 / scale, 1.0]), scale)
    assert codes(off) == [("key-off-centre", "Jaw")]
    after = mended(off, "key-off-centre")
    assert points(after, "Jaw")[row, 0] == 0.0
    still = np.arange(len(partner)) != row
    assert points(after, "Jaw")[still].tobytes() == points(off, "Jaw")[still].tobytes()
    assert (points(after, "Jaw")[row, 1:] == points(off, "Jaw")[row, 1:]).all()
    assert others_same(off, after, "Jaw") and codes(after) == []
    assert made


def chin_edit(figure, size=0.008):
    """The neutral shape's front edited alone, with a soft fall-off; (figure, offset)."""
    base = points(figure).astype(float)
    fall = np.clip(1 - np.linalg.norm(base - (0.0, -0.6, 0.9), axis=1) / 0.4, 0, 1)[:, None]
    offset = np.float32(fall**2 * [0.0, -size, -size]).astype(float)
    one = the(figure)
    moved = np.float32(base + offset)
    keys = one.layers.keys
    changed = tuple(replace(k, points=moved) if k.name == keys.reference else k for k in keys.keys)
    layers = replace(one.layers, keys=replace(keys, keys=changed))
    return replace(figure, surfaces=(replace(one, positions=moved, layers=layers),)), offset


@pytest.mark.parametrize("seed", range(3))
def test_an_edit_of_the_neutral_shape_is_carried_over(seed):
    _, figure, _, _ = made_of(seed)
    before = deltas(figure)
    edited, _ = chin_edit(figure)
    assert ("key-stale", "") in codes(edited)
    after = mended(edited, "key-stale")
    assert points(after).tobytes() == points(edited).tobytes()
    for name, by in deltas(after).items():
        assert np.abs(by - before[name]).max() < 1e-6, name
    assert codes(after) == [] and untouched(edited, after)


@pytest.mark.parametrize("seed", range(3))
def test_vertices_that_some_keys_move_by_themselves_are_listed_as_they_are_carried_over(seed):
    _, figure, partner, base = made_of(seed)
    _, offset = chin_edit(figure)
    size = np.linalg.norm(offset, axis=1)
    there = np.flatnonzero(size > 0.3 * size.max())
    rows = np.unique([np.argmax(size), partner[np.argmax(size)]])
    other = np.setdiff1d(there, rows)
    keys = {}
    for number, name in enumerate(f"Word {n}" for n in range(9)):
        by = np.zeros_like(base, float)
        by[np.flatnonzero(base[:, 2] < 0.3)[number], 2] = 0.01
        if number % 2:
            by[rows, 1] = 0.002 * (number + 1)
        keys[name] = ShapeKey(name, np.float32(base + by), "Basis")
    plain = keyed(figure, **keys)
    names = [key.name for key in the(plain).layers.keys.keys if key.name not in ("Basis", *keys)]
    by = deltas(plain)
    for number, name in enumerate(names[:4]):
        by[name][rows, 1] += 0.003 * (number + 1)
    plain = keyed(plain, **{name: base + by[name] for name in names[:4]})
    edited, _ = chin_edit(plain)
    (finding,) = [f for one in check(edited).objects for f in one.findings if f.code == "key-stale"]
    assert np.isin(other, finding.elements).all() and np.isin(rows, finding.elements).all()
    plan = plan_for(edited, "key-stale")
    moved = {int(v) for one in plan.changes for v in one.vertices}
    listed = set(finding.elements.tolist())
    small = 1e-4 * np.ptp(base[:, 2])
    assert listed <= moved and all(size[v] < 2 * small for v in moved - listed)


def test_a_key_made_after_the_edit_and_a_chain_are_told_apart():
    _, figure, _, _ = made_of(2)
    by = deltas(figure)
    longer = ShapeKey("Wide", np.float32(points(figure, "Jaw") + by["Jaw"]), "Jaw")
    edited, _ = chin_edit(keyed(figure, Wide=longer))
    neutral = points(edited).astype(float)
    later = keyed(edited, Later=ShapeKey("Later", np.float32(neutral + by["Jaw"] * [1, 0, 0]), "Basis"))
    after = mended(later, "key-stale")
    assert points(after, "Later").tobytes() == points(later, "Later").tobytes()
    assert np.abs(deltas(after)["Wide"] - by["Jaw"]).max() < 1e-6
    assert np.abs(deltas(after)["Jaw"] - by["Jaw"]).max() < 1e-6


def test_a_key_that_would_be_left_without_movement_is_not_carried_over():
    _, figure, _, base = made_of(2)
    edited, _ = chin_edit(keyed(figure, Empty=ShapeKey("Empty", np.float32(base), "Basis")))
    plan = plan_for(edited, "key-stale")
    assert {one.key for one in plan.changes} == {"Smile.L", "Smile.R", "Blink.L", "Blink.R", "Jaw"}
    assert len(plan.left_alone) == 1 and "Empty" in plan.left_alone[0]


def test_other_keys_are_mended_with_a_word_on_the_edit_not_carried_over():
    _, figure, _, base = made_of(2)
    uneven = keyed(figure, **{"Smile.R": base + 0.8 * deltas(figure)["Smile.R"]})
    edited, _ = chin_edit(uneven)
    assert {"key-stale", "key-pair-drifted"} <= {code for code, _ in codes(edited)}
    plan = plan_for(edited, "key-pair-drifted")
    assert plan.changes and any("earlier neutral shape" in text for text in plan.left_alone)
    result = check(edited)
    checked = Checked.of(edited, result, PLAIN, ScipyFinder)
    plan = plan_together(checked, result.objects, ("key-stale", "key-pair-drifted"), Wish("left"))
    assert plan.left_alone == ()
    assert codes(applied(edited, plan.changes)) == []


def test_keys_of_two_objects_are_mirrored_across():
    made, _, _, _ = made_of(1)
    rng = np.random.default_rng(1)
    left, right = part(made, LEFT, "Left"), part(made, RIGHT, "Right")
    one = figure_of(left, right)
    by = rng.normal(size=left.positions.shape) * 0.01
    twin = {tuple(p): n for n, p in enumerate((right.positions * np.float32(MIRROR)).tolist())}
    at = np.array([twin[tuple(p)] for p in left.positions.tolist()])
    over = np.zeros(right.positions.shape)
    over[at] = by * MIRROR
    smile_l = np.float32(left.positions + by)
    figure = keyed(one, "Left", **{"Smile.L": smile_l})
    figure = keyed(figure, "Right", **{"Smile.R": np.float32(right.positions + over * 0.5)})
    figure = keyed(figure, "Right", **{"Smile.L": right.positions})
    figure = keyed(figure, "Left", **{"Smile.R": left.positions})
    assert "key-pair-drifted" in {code for code, _ in codes(figure)}
    after = mended(figure, "key-pair-drifted", "left")
    assert np.abs(deltas(after, "Right")["Smile.R"] - over).max() < 2e-7
    assert points(after, "Smile.L", "Left").tobytes() == smile_l.tobytes()
    back = mended(figure, "key-pair-drifted", "right")
    assert np.abs(deltas(back, "Left")["Smile.L"] - 0.5 * by).max() < 2e-7


def test_excused_vertices_and_those_not_chosen_keep_their_movement():
    _, figure, partner, base = made_of(0)
    uneven = keyed(figure, **{"Smile.R": base + 0.8 * deltas(figure)["Smile.R"]})
    moving = np.flatnonzero(np.linalg.norm(deltas(figure)["Smile.R"], axis=1) > 0.01)
    excused = replace(uneven, allowances=(Allowance("one", "selection", "", "scar", "Body", vertices=moving[:2]),))
    after = mended(excused, "key-pair-drifted", "left")
    assert points(after, "Smile.R")[moving[:2]].tobytes() == points(uneven, "Smile.R")[moving[:2]].tobytes()
    assert codes(after) == []
    only = {"Body": partner[moving[2:3]]}
    after = mended(uneven, "key-pair-drifted", "left", only)
    changed = np.flatnonzero((points(after, "Smile.R") != points(uneven, "Smile.R")).any(axis=1))
    assert changed.tolist() == [int(moving[2])]


def split_unevenly(seed=3):
    """The figure with each face's vertices its own, but for one half of the faces, which share theirs."""
    made = layered(seed)
    whole = figure_of(part(made, split=True))
    one = the(whole)
    places = one.positions
    named = {}
    keep, at = [], np.zeros(len(places), int)
    for row, place in enumerate(places.tolist()):
        own = (*place, row) if place[0] <= 0.0 and row % 3 else tuple(place)
        if own not in named:
            named[own] = len(keep)
            keep.append(row)
        at[row] = named[own]
    rows = np.array(keep)
    keys = one.layers.keys
    fewer = tuple(replace(key, points=key.points[rows]) for key in keys.keys)
    layers = replace(one.layers, keys=replace(keys, keys=fewer), weights=Weights.none(), masks=())
    edges = np.unique(np.sort(at[one.edges], axis=1), axis=0)
    layers = replace(layers, seams=np.zeros(len(edges), bool))
    surface = replace(one, positions=places[rows], corners=at[one.corners], edges=edges, layers=layers)
    return figure_of(surface)


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize(("code", "key"), [("key-pair-drifted", "Smile.R"), ("key-lopsided", "Jaw")])
def test_vertices_stored_several_times_at_one_place_move_alike_in_keys(way, code, key):
    figure = split_unevenly()
    base, by = points(figure), deltas(figure)[key]
    by[base[:, 0] < 0] *= 0.7
    uneven = keyed(figure, **{key: base + by})
    settings = replace(PLAIN, layers=("shape_keys",))
    assert {f.code for f in check(uneven, settings).objects[0].findings} == {code}
    after = mended(uneven, code, way, settings=settings)
    together = np.unique(base, axis=0, return_inverse=True)[1].ravel()
    moved = deltas(after)[key]
    spread = [np.ptp(moved[together == place], axis=0).max() for place in np.unique(together[by.any(axis=1)])]
    assert max(spread) < 1e-6
    assert [f.code for f in check(after, settings).objects[0].findings] == []


def test_a_second_run_of_any_way_changes_nothing():
    _, figure, _, base = made_of(3)
    uneven = keyed(figure, **{"Smile.R": base + 0.8 * deltas(figure)["Smile.R"]})
    result = check(uneven)
    entry = result.objects[0]
    for way in ("left", "right"):
        after = mended(uneven, "key-pair-drifted", way)
        checked = Checked.of(after, result, PLAIN, ScipyFinder)
        assert plan_repair(checked, entry, entry.findings[0], Wish(way)).changes == ()


def test_keys_limited_to_groups_that_are_no_mirror_images_are_told_and_left():
    _, figure, _, base = made_of(3)
    uneven = keyed(
        figure, **{"Smile.L": {"mask_group": "Head"}, "Smile.R": {"points": np.float32(base + 0.8 * deltas(figure)["Smile.R"]), "mask_group": ""}},
    )
    plan = plan_for(uneven, "key-pair-drifted", "left")
    assert any("limit these keys" in text for text in plan.left_alone)


def test_under_a_live_mirror_the_key_is_put_on_the_plane():
    made, figure, partner, base = made_of(9)
    keep = np.flatnonzero(made.surface.positions[:, 0] >= 0)
    row = int(np.flatnonzero(partner == np.arange(len(partner)))[30])
    assert row in keep
    by = deltas(figure)["Jaw"]
    by[row] = (0.0006, 0.0, 0.0)
    off = keyed(figure, Jaw=base + by)
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    off = replace(off, surfaces=(replace(the(off), mirrors=(mirror,)),))
    checked = Checked.of(off, check(off), PLAIN, ScipyFinder)
    forged = Finding("key-off-centre", np.array([row]), np.array([row]), np.array([0.0006]), "Jaw")
    plan = plan_repair(checked, check(off).objects[0], forged, Wish())
    assert points(applied(off, plan.changes), "Jaw")[row, 0] == 0.0


def rebuilt_figure(direction):
    """As a rebuilt half leaves it: kept side's keys and groups on both halves, the other's empty."""
    made, figure, partner, base = made_of(4)
    kept, lost = ("L", "R") if direction > 0 else ("R", "L")
    keys = {}
    for stem in ("Smile", "Blink"):
        by = deltas(figure)[f"{stem}.{kept}"]
        keys[f"{stem}.{kept}"] = base + np.where(by.any(axis=1)[:, None], by, by[partner] * MIRROR)
        keys[f"{stem}.{lost}"] = base
    figure = keyed(figure, **keys)
    one = the(figure)
    w = one.layers.weights
    mine, its = (w.names.index(f"Arm.{side}") for side in (kept, lost))
    group = np.where(w.group == its, mine, w.group)
    return made, replace(figure, surfaces=(replace(one, layers=replace(one.layers, weights=replace(w, group=group))),))


def blended(figure, direction):
    """The same with the blend at the centre that stays in the other side's keys and groups."""
    one, lost = the(figure), "R" if direction > 0 else "L"
    base, kept = one.positions, "L" if direction > 0 else "R"
    keys = {}
    for stem in ("Smile", "Blink"):
        by = deltas(figure)[f"{stem}.{kept}"]
        reach = np.abs(base[by.any(axis=1), 0]).max()
        height = base[by.any(axis=1), 2]
        near = (np.abs(base[:, 0]) < 0.35 * reach) & (base[:, 2] >= height.min()) & (base[:, 2] <= height.max())
        assert near.any()
        keys[f"{stem}.{lost}"] = base + near[:, None] * np.array([0.0, 0.0, 0.02 * np.abs(by).max()])
    figure = keyed(figure, **keys)
    one = the(figure)
    w = one.layers.weights
    arm = np.unique(w.vertex[w.group == w.names.index(f"Arm.{kept}")])
    rows = np.flatnonzero(np.abs(base[:, 0]) < 0.3 * np.abs(base[arm, 0]).max())
    more = Weights(
        w.names, np.append(w.vertex, rows), np.append(w.group, np.full(len(rows), w.names.index(f"Arm.{lost}"))),
        np.append(w.weight, np.full(len(rows), 0.05)),
    )
    return replace(figure, surfaces=(replace(one, layers=replace(one.layers, weights=more)),))


@pytest.mark.parametrize("blend", [False, True])
@pytest.mark.parametrize("direction", [1, -1])
def test_a_rebuilt_half_is_named_and_its_keys_are_not_mended(direction, blend):
    _, figure = rebuilt_figure(direction)
    figure = blended(figure, direction) if blend else figure
    result = check(figure)
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    told = rebuilt(checked.compared["Body"].matched, checked.limits)
    assert told is not None and told.code == "ready-rebuilt-half"
    assert "Symmetrize" in told.message and "backup" in told.message
    asked = [f for f in result.objects[0].findings if f.code.startswith("key-")]
    assert asked
    for finding in asked:
        with pytest.raises(RepairError, match="backup"):
            plan_repair(checked, result.objects[0], finding, Wish("left"))
    assert any(finding.code == "weight-drifted" for finding in result.objects[0].findings)
    safe = [code for code in safe_codes() if code.startswith(("key-", "weight-"))]
    for way in ("left", "right", "average"):
        plan = plan_together(checked, result.objects, safe, Wish(way), careful=True)
        assert plan.changes == () and plan.left_alone == (told.message,)
    arms = next(f for f in result.objects[0].findings if f.subject == "Arm.L / Arm.R")
    with pytest.raises(RepairError, match="is empty"):
        plan_repair(checked, result.objects[0], arms, Wish("right" if direction > 0 else "left"))


def never_split(figure, base, share):
    """Keys copied for both sides, the right one weaker, and never cut in two."""
    by = deltas(figure)
    both = {stem: by[f"{stem}.L"] + by[f"{stem}.R"] for stem in ("Smile", "Blink")}
    keys = {f"{stem}.L": base + one for stem, one in both.items()}
    return keyed(figure, **keys, **{f"{stem}.R": base + share * one for stem, one in both.items()})


@pytest.mark.parametrize("seed", range(3))
def test_other_faults_are_no_rebuilt_half(seed):
    _, figure, _, base = made_of(seed)
    faults = [
        figure,
        keyed(figure, **{"Smile.R": base}),
        keyed(figure, **{"Blink.R": points(figure, "Blink.L")}),
        keyed(figure, **{"Smile.R": base + 0.8 * deltas(figure)["Smile.R"]}),
        never_split(figure, base, 1.0),
        never_split(figure, base, 0.5),
    ]
    for one in faults:
        checked = Checked.of(one, check(one), PLAIN, ScipyFinder)
        assert rebuilt(checked.compared["Body"].matched, checked.limits) is None


def test_what_lies_far_off_in_keys_is_told_once_with_the_keys_and_sizes_keep_their_units():
    _, figure, _, base = made_of(3)
    moves, keys = deltas(figure), {}
    for name in ("Smile.L", "Blink.L"):
        by = moves[name]
        away = np.argsort(base[:, 0])[:2]
        by[away] = (0.0, 0.0, 0.2)
        keys[name] = base + by
    figure = keyed(figure, **keys)
    one = the(figure)
    w = one.layers.weights
    row = int(np.flatnonzero((base[:, 0][w.vertex] > 0.2) & (w.weight > 0.5))[0])
    weight = w.weight.copy()
    weight[row] -= np.float32(0.125)
    figure = replace(figure, surfaces=(replace(one, layers=replace(one.layers, weights=replace(w, weight=weight))),))
    result = check(figure)
    assert {"key-spill", "weight-drifted"} <= {f.code for e in result.objects for f in e.findings}
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    plan = plan_together(checked, result.objects, safe_codes(), Wish("left"), careful=True)
    (told,) = [text for text in plan.left_alone if "so far off" in text]
    assert told.startswith("Body, Smile.L, Blink.L: 4 of those moved on the wrong half")
    asked = plan_together(checked, result.objects, safe_codes(), Wish("left", far=True), careful=True)
    sizes = {unit: size for size, unit in ((asked.largest, asked.unit), *asked.further)}
    assert sizes["metres"] == pytest.approx(0.2, abs=1e-4) and 0.1 < sizes["weight"] < 0.5 and len(sizes) == 2
