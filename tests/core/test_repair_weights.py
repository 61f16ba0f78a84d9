"""Weights carried across: clean afterwards, nothing else written. All figures invented."""

from dataclasses import fields, replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.figure import Figure, MirrorModifier, Weights
from evenfold.core.layers import SurfaceLayers
from evenfold.core.repair import Checked, RepairError, Weighted, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.repair.together import plan_together, safe_codes
from figures.layered import layered, rig
from figures.layered_parts import LEFT, RIGHT, part
from figures.mending import PLAIN, check, codes, found, mended, plan_for, pushed, the
from figures.records import figure_of
from oracles.finder import ScipyFinder

SPINE, HEAD, ARM_L, ARM_R = range(4)
SWAP = [SPINE, HEAD, ARM_R, ARM_L]
WEIGHT = "weight-drifted"


def table_of(figure, name="Body"):
    weights = the(figure, name).layers.weights
    table = np.zeros((len(the(figure, name).positions), len(weights.names)))
    table[weights.vertex, weights.group] = weights.weight
    return table


def weights_of(table, names=("Spine", "Head", "Arm.L", "Arm.R")):
    table = np.asarray(table, np.float32)
    vertex, group = np.nonzero(table)
    return Weights(tuple(names), vertex, group, table[vertex, group].astype(float))


def with_table(figure: Figure, table, names=("Spine", "Head", "Arm.L", "Arm.R"), name="Body", **more) -> Figure:
    surfaces = tuple(
        replace(s, layers=replace(s.layers, weights=weights_of(table, names), **more)) if s.name == name else s
        for s in figure.surfaces
    )
    return replace(figure, surfaces=surfaces)


def base(seed):
    """A clean figure with its rig, its table, and vertices well inside the right arm."""
    made = layered(seed)
    figure = made.figure(rig())
    table = table_of(figure)
    rng = np.random.default_rng(seed)
    arm = np.flatnonzero((table[:, ARM_R] > 0.3) & (table[:, ARM_R] < 0.75) & (made.surface.positions[:, 0] < -0.3))
    return made, figure, table, rng.choice(arm, 20, replace=False)


def mirrored(table, partner):
    return table[partner][:, SWAP]


def only_weights_changed(before: Figure, after: Figure, name="Body") -> bool:
    one, other = the(before, name), the(after, name)
    return all(getattr(one, f.name) is getattr(other, f.name) for f in fields(one) if f.name != "layers") and all(
        getattr(one.layers, f.name) is getattr(other.layers, f.name) for f in fields(SurfaceLayers) if f.name != "weights"
    )


@pytest.mark.parametrize("seed", range(3))
def test_weaker_weights_come_back_to_the_bit_and_no_other_group_is_written(seed):
    _, figure, table, rows = base(seed)
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.9
    drifted = with_table(figure, hurt)
    plan = plan_for(drifted, WEIGHT)
    (change,) = plan.changes
    assert (change.owner, change.group, sorted(change.vertices)) == ("Body", "Arm.R", sorted(rows))
    after = applied(drifted, plan.changes)
    assert table_of(after).tobytes() == table.tobytes()
    assert only_weights_changed(drifted, after)
    assert codes(after) == []
    assert plan.elements == 20
    assert plan.largest == pytest.approx(0.1 * table[rows, ARM_R].max(), abs=1e-6)


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(2))
def test_each_way_gives_what_plain_arithmetic_says(seed, way):
    made, figure, table, rows = base(seed)
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.8
    hurt = hurt.astype(np.float32).astype(float)
    after = table_of(mended(with_table(figure, hurt), WEIGHT, way))
    wanted = hurt.copy()
    other = made.partner[rows]
    mean = 0.5 * (hurt[rows, ARM_R] + hurt[other, ARM_L])
    if way != "right":
        wanted[rows, ARM_R] = hurt[other, ARM_L] if way == "left" else mean
    if way != "left":
        wanted[other, ARM_L] = hurt[rows, ARM_R] if way == "right" else mean
    assert np.array_equal(after.astype(np.float32), wanted.astype(np.float32))


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(2))
def test_weights_that_summed_to_one_still_do(seed, way):
    _, figure, table, rows = base(seed)
    rng = np.random.default_rng(seed)
    hurt = table.copy()
    hurt[rows] *= rng.uniform(0.5, 1.5, (len(rows), 4))
    hurt[rows] /= hurt[rows].sum(axis=1, keepdims=True)
    drifted = with_table(figure, hurt)
    assert {c for c, _ in codes(drifted)} == {WEIGHT}
    (plan,) = [plan_for(drifted, WEIGHT, way, subject="Arm.L / Arm.R")]
    after = applied(drifted, plan.changes)
    assert np.abs(table_of(after).sum(axis=1) - 1.0).max() < 1e-6
    told = np.abs(hurt - table)[rows, ARM_R] > PLAIN.weight_limit
    if way == "left":
        assert told.sum() > 10 and np.abs(table_of(after) - table)[rows[told]].max() < 1e-7
    assert ("weight-drifted", "Arm.L / Arm.R") not in codes(after)
    checked, objects = of(drifted)
    every = applied(drifted, plan_together(checked, objects, {WEIGHT}, Wish(way)).changes)
    assert codes(every) == [] and np.abs(table_of(every).sum(axis=1) - 1.0).max() < 1e-6


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("scaled", [False, True])
def test_weight_of_the_other_half_goes_whichever_side_wins(way, scaled):
    made, figure, table, rows = base(3)
    stolen = made.partner[rows[:5]]
    hurt = table.copy()
    hurt[stolen, ARM_R] = 0.2
    if scaled:
        hurt[stolen] /= hurt[stolen].sum(axis=1, keepdims=True)
    drifted = with_table(figure, hurt)
    assert any("Wrong side on 5" in f.advice for _, f in found(drifted))
    after = mended(drifted, WEIGHT, way)
    assert codes(after) == []
    assert (table_of(after)[stolen, ARM_R] == 0.0).all() and (table_of(after)[rows[:5], ARM_L] == 0.0).all()
    assert np.abs(table_of(after) - table).max() < 1e-6


@pytest.mark.parametrize("way", ["left", "average"])
def test_a_group_may_reach_a_tenth_of_the_half_width_beyond_the_middle(way):
    made, figure, table, _ = base(3)
    x = made.surface.positions[:, 0]
    width = float(np.abs(x).max())
    rows = np.flatnonzero((x > 0.1) & (x < 0.9 * width) & (table[:, ARM_L] == 0.0) & (table[:, ARM_R] == 0.0))[:2]
    to = np.array([0.099, 0.101]) * width - x[rows]
    both = np.append(rows, made.partner[rows])
    figure = pushed(figure, both, np.append(to, -to)[:, None] * [1.0, 0.0, 0.0])
    assert codes(figure) == []
    hurt = table.copy()
    hurt[rows, ARM_R] = 0.2
    drifted = with_table(figure, hurt)
    (finding,) = [f for _, f in found(drifted) if f.code == WEIGHT]
    assert finding.count == 2 and "Wrong side on 1 vertices" in finding.advice
    inside, outside = rows
    kept = 0.2 if way == "left" else 0.1
    after = table_of(mended(drifted, WEIGHT, way))
    assert (after[outside, ARM_R], after[made.partner[outside], ARM_L]) == (0.0, 0.0)
    assert (after[inside, ARM_R], after[made.partner[inside], ARM_L]) == pytest.approx((kept, kept), abs=1e-6)


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(2))
def test_centre_vertices_are_made_even(seed, way):
    made, figure, table, _ = base(seed)
    centre = np.flatnonzero(made.partner == np.arange(len(table)))[5:15]
    hurt = table.copy()
    hurt[centre] *= 0.7
    hurt[centre, ARM_L], hurt[centre, ARM_R] = 0.2, 0.1
    drifted = with_table(figure, hurt / hurt.sum(axis=1, keepdims=True))
    after = table_of(mended(drifted, WEIGHT, way))
    assert codes(with_table(figure, after)) == []
    assert np.array_equal(after[centre, ARM_L], after[centre, ARM_R]) and (after[centre, ARM_L] > 0).all()
    assert np.abs(after.sum(axis=1) - 1.0).max() < 1e-6


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(2))
def test_the_other_way_round_gives_the_mirrored_outcome(seed, way):
    made, figure, table, rows = base(seed)
    rng = np.random.default_rng(seed)
    hurt = table.copy()
    hurt[rows] *= rng.uniform(0.5, 1.5, (len(rows), 4))
    hurt[rows[:10]] /= hurt[rows[:10]].sum(axis=1, keepdims=True)
    turned = mirrored(hurt, made.partner)
    other = {"left": "right", "right": "left"}.get(way, way)
    one, two = (plan_together(*of(with_table(figure, t)), {WEIGHT}, Wish(w)) for t, w in ((hurt, way), (turned, other)))
    first = table_of(applied(with_table(figure, hurt), one.changes))
    second = table_of(applied(with_table(figure, turned), two.changes))
    assert np.array_equal(mirrored(first, made.partner), second)


def of(figure):
    result = check(figure)
    return Checked.of(figure, result, PLAIN, ScipyFinder), result.objects


@pytest.mark.parametrize("seed", range(2))
def test_a_second_run_changes_nothing(seed):
    _, figure, table, rows = base(seed)
    hurt = table.copy()
    hurt[rows] *= np.random.default_rng(seed).uniform(0.5, 1.5, (len(rows), 4))
    drifted = with_table(figure, hurt)
    checked, objects = of(drifted)
    plan = plan_together(checked, objects, safe_codes(), Wish("left"))
    after = checked.after(plan.changes)
    assert plan.changes and codes(after.figure) == []
    for entry in objects:
        for finding in entry.findings:
            assert plan_repair(after, entry, finding, Wish("left")).changes == ()


def test_locked_groups_stay_and_are_named():
    _, figure, table, rows = base(1)
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.9
    plan = plan_for(with_table(figure, hurt, locked_groups=frozenset({"Arm.R"})), WEIGHT)
    assert plan.changes == () and plan.left_alone == ("Arm.R is locked: its weights were left as they are.",)
    plan = plan_for(with_table(figure, hurt, locked_groups=frozenset({"Arm.L"})), WEIGHT)
    assert [c.group for c in plan.changes] == ["Arm.R"] and plan.left_alone == ()


def test_a_locked_bystander_stays_and_the_rest_makes_room():
    _, figure, table, rows = base(2)
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.5
    hurt[rows] /= hurt[rows].sum(axis=1, keepdims=True)
    drifted = with_table(figure, hurt, locked_groups=frozenset({"Spine"}))
    plan = plan_for(drifted, WEIGHT, subject="Arm.L / Arm.R")
    after = applied(drifted, plan.changes)
    assert np.array_equal(table_of(after)[:, SPINE], table_of(drifted)[:, SPINE])
    assert np.abs(table_of(after).sum(axis=1) - 1.0).max() < 1e-6
    assert plan.left_alone == ("Spine is locked: its weights were left as they are.",)


def test_an_empty_winner_is_refused():
    _, figure, table, _ = base(4)
    hurt = table.copy()
    hurt[:, ARM_L] += hurt[:, ARM_R]
    hurt[:, ARM_R] = 0.0
    drifted = with_table(figure, hurt)
    for way in ("right", "average"):
        with pytest.raises(RepairError, match=r"Arm\.R is empty: let the left side win"):
            plan_for(drifted, WEIGHT, way, subject="Arm.L / Arm.R")
    after = mended(drifted, WEIGHT, "left")
    assert codes(after) == []
    assert np.abs(table_of(after) - table).max() < PLAIN.weight_limit


def test_what_only_the_engine_sees_is_mended_too():
    made, figure, table, rows = base(5)
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Neck")
    hurt = np.concatenate([table, np.zeros((len(table), 1))], axis=1)
    hurt[rows] = [0.19, 0.2, 0.21, 0.212, 0.188]
    hurt[made.partner[rows]] = [0.191, 0.2, 0.212, 0.209, 0.188 + 4e-3]
    drifted = with_table(figure, hurt, names, deform_groups=frozenset(names))
    listed = [f for _, f in found(drifted) if f.code == WEIGHT]
    assert listed and all("Seen only" in f.advice for f in listed)
    checked, objects = of(drifted)
    after = applied(drifted, plan_together(checked, objects, {WEIGHT}, Wish("left")).changes)
    assert codes(after) == []
    for finding in listed:
        assert codes(mended(drifted, WEIGHT, subject=finding.subject)) == []


def test_excused_and_unchosen_vertices_are_never_written():
    made, figure, table, rows = base(6)
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.9
    allowed = Allowance("a", "selection", "", "burnt sleeve", "Body", rows[:8])
    drifted = replace(with_table(figure, hurt), allowances=(allowed,))
    (change,) = plan_for(drifted, WEIGHT).changes
    assert set(change.vertices) == set(rows[8:])
    chosen = {"Body": np.append(rows[8:10], made.partner[rows[12]])}
    (change,) = plan_for(drifted, WEIGHT, only=chosen).changes
    assert set(change.vertices) == {*rows[8:10], rows[12]}


@pytest.mark.parametrize("seed", range(3))
def test_a_missing_group_is_made_from_the_mirrored_weights(seed):
    _, figure, table, _ = base(seed)
    lone = table[:, [SPINE, HEAD, ARM_L]]
    lone[:, SPINE] += table[:, ARM_R]
    names = ("Spine", "Head", "Arm.L")
    drifted = with_table(figure, lone, names, deform_groups=frozenset(names))
    assert ("group-unpaired", "Arm.L") in codes(drifted)
    after = mended(drifted, "group-unpaired")
    assert the(after).layers.weights.names == (*names, "Arm.R")
    assert np.abs(table_of(after).sum(axis=1) - 1.0).max() < 1e-6
    assert np.abs(table_of(after)[:, ARM_R] - table[:, ARM_R]).max() < 1e-6
    assert np.abs(table_of(after) - table).max() < 1e-6
    assert codes(after) == []


def test_a_group_that_covers_both_halves_hands_the_far_one_over():
    _, figure, table, _ = base(2)
    both = table[:, [SPINE, HEAD, ARM_L]]
    both[:, 2] += table[:, ARM_R]
    after = mended(with_table(figure, both, ("Spine", "Head", "Arm.L")), "group-unpaired")
    assert np.abs(table_of(after) - table).max() < 1e-6


def test_a_lone_group_that_deforms_nothing_is_only_added_to():
    made, figure, table, rows = base(1)
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Cloth_L")
    cloth = np.concatenate([table, np.zeros((len(table), 1))], axis=1)
    cloth[made.partner[rows], 4] = 0.5
    plan = plan_for(with_table(figure, cloth, names, deform_groups=frozenset(names[:4])), "group-unpaired")
    (change,) = plan.changes
    assert change.group == "Cloth_R" and set(change.vertices) == set(rows) and (change.weights == 0.5).all()


def test_under_a_live_mirror_the_group_is_made_empty():
    made, figure, _, _ = base(0)
    surface = made.surface
    kept = surface.positions[:, 0] >= 0
    faces = [f for f in made.faces if kept[f].all()]
    place = np.cumsum(kept) - 1
    corners = np.concatenate([place[f] for f in faces])
    starts = np.concatenate([[0], np.cumsum([len(f) for f in faces])])
    edges = place[surface.edges[kept[surface.edges].all(axis=1)]]
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0, 0]), 0.001)
    table = table_of(figure)[kept][:, [SPINE, HEAD, ARM_L]]
    layers = SurfaceLayers(weights_of(table, ("Spine", "Head", "Arm.L")), np.zeros(len(edges), bool), np.zeros(len(faces), np.int64))
    half = replace(surface, positions=surface.positions[kept], edges=edges, corners=corners, face_starts=starts, layers=layers, mirrors=(mirror,))
    figure = figure_of(half, armature=rig())
    assert codes(figure) == [("group-unpaired", "Arm.L")]
    (change,) = plan_for(figure, "group-unpaired").changes
    assert isinstance(change, Weighted)
    assert (change.group, len(change.vertices)) == ("Arm.R", 0)
    assert codes(applied(figure, [change])) == []


def test_weights_go_between_a_left_and_a_right_object():
    made = layered(4)
    gloves = [part(made, LEFT, "Glove.L"), part(made, RIGHT, "Glove.R")]
    figure = figure_of(*gloves, armature=rig())
    table = table_of(figure, "Glove.R")
    rows = np.flatnonzero(table[:, ARM_R] > 0.2)[:9]
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.7
    drifted = with_table(figure, hurt, name="Glove.R")
    after = mended(drifted, WEIGHT, "left")
    assert table_of(after, "Glove.R").tobytes() == table.tobytes()
    assert the(after, "Glove.L") is the(drifted, "Glove.L") and codes(after) == []
    assert table_of(mended(drifted, WEIGHT, "right"), "Glove.R").tobytes() == table_of(drifted, "Glove.R").tobytes()
    assert codes(mended(drifted, WEIGHT, "average")) == []


def test_vertices_split_at_their_seams_stay_together():
    made = layered(2, shuffle=False)
    split = part(made, split=True)
    figure = figure_of(split, armature=rig())
    table = table_of(figure)
    place = np.unique(split.positions, axis=0, return_inverse=True)[1].reshape(-1)
    start = np.flatnonzero((table[:, ARM_R] > 0.3) & (table[:, ARM_R] < 0.7))[::97]
    rows = np.flatnonzero(np.isin(place, place[start]))
    hurt = table.copy()
    hurt[rows, ARM_R] *= 0.8
    after = mended(with_table(figure, hurt), WEIGHT, "left")
    assert codes(after) == [] and np.array_equal(table_of(after), table)
    one = mended(with_table(figure, hurt), WEIGHT, "left", only={"Body": rows[:1]})
    wrong = set(np.flatnonzero((table_of(one) != table).any(axis=1)))
    assert wrong == set(rows) - set(np.flatnonzero(place == place[rows[0]])) and len(wrong) < len(rows) - 1


@pytest.mark.parametrize("seed", [1, 5, 6, 8])
def test_many_shared_groups_are_even_after_one_run(seed):
    """What mending one group leaves to do in another on the same vertices is done in the same run."""
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Leg.L", "Leg.R", "Foot.L", "Foot.R")
    swap = [0, 1, 3, 2, 5, 4, 7, 6]
    made, figure, _, rows = base(seed)
    rng = np.random.default_rng(seed)

    def drawn(count):
        table = rng.random((count, 8)) * (rng.random((count, 8)) < 0.6)
        table[:, 0] += 0.05
        return table / table.sum(axis=1)[:, None]

    table = drawn(len(made.partner))
    own = made.partner == np.arange(len(table))
    left = made.surface.positions[:, 0] > 0
    table = np.where(left[:, None], table, table[made.partner][:, swap])
    table[own] = (table[own] + table[own][:, swap]) / 2
    table[rows] = drawn(len(rows))
    if seed % 2:
        table[rows] *= rng.choice([1, 0.98], len(rows))[:, None]
    hurt = with_table(figure, table, names)
    result = check(hurt)
    plan = plan_together(Checked.of(hurt, result, PLAIN, ScipyFinder), result.objects, (WEIGHT,), Wish("left"))
    assert WEIGHT not in {code for code, _ in codes(applied(hurt, plan.changes))}
    assert plan.elements == sum(f.count for f in result.objects[0].findings if f.code == WEIGHT)


def foreign_words(figure, left="li", right="re"):
    """The figure with side words that nobody knows on its groups and bones."""
    def named(name):
        return name.replace(".L", f"_{left}").replace(".R", f"_{right}")

    one = the(figure)
    w = replace(one.layers.weights, names=tuple(named(name) for name in one.layers.weights.names))
    deform = one.layers.deform_groups and frozenset(named(name) for name in one.layers.deform_groups)
    armature = rig()
    bones = tuple(replace(bone, name=named(bone.name)) for bone in armature.bones)
    surface = replace(one, layers=replace(one.layers, weights=w, deform_groups=deform))
    return replace(figure, surfaces=(surface,), armature=replace(armature, bones=bones))


def test_groups_of_bones_that_pair_by_place_only_are_one_finding_on_the_names():
    figure = foreign_words(layered(0).figure())
    assert codes(figure) == [("bone-unpaired", "")]
    advice = found(figure)[0][1].advice
    assert "the names do not pair" in advice and "weights of such bones are not compared" in advice
    assert codes(foreign_words(layered(0).figure(), "lft", "rgt")) == []


def test_what_pairs_by_place_only_is_not_carried_across_with_a_centre_group():
    made = layered(0)
    figure = foreign_words(made.figure())
    one = the(figure)
    w = one.layers.weights
    spine, arm = w.names.index("Spine"), w.names.index("Arm_li")
    both = np.intersect1d(w.vertex[w.group == arm], w.vertex[w.group == spine])
    hurt = both[made.partner[both] != both][:1]
    assert len(hurt)
    weight = np.where((w.group == spine) & np.isin(w.vertex, hurt), 0.3 * w.weight, w.weight)
    off = replace(figure, surfaces=(replace(one, layers=replace(one.layers, weights=replace(w, weight=weight))),))
    assert ("weight-drifted", "Spine") in codes(off)
    for way in ("left", "right", "average"):
        after = the(mended(off, "weight-drifted", way)).layers.weights
        groups = {after.names[g] for g in after.group[np.isin(after.vertex, made.partner[hurt])]}
        assert "Arm_li" not in groups
