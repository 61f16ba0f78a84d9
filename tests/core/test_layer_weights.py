"""Weights: planted differences come back exactly, and nothing else. All figures invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import MirrorModifier, Weights
from evenfold.core.findings import MirrorPlane
from evenfold.core.influences import Entries, trimmed
from evenfold.core.readiness.weights import weights_readiness
from evenfold.core.settings import Settings
from evenfold.core.symmetry.matched import Limits, Matched
from evenfold.core.symmetry.weights import check
from figures.layered import layered

PLANE = MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "object")
LIMITS = Limits(1e-4, 1.0, PLANE, Settings())


def matched_of(figure, **layers):
    surface = replace(figure.surface, layers=replace(figure.layers, **layers))
    return Matched(
        surface, surface, surface.world, figure.partner, np.zeros(len(figure.partner), bool)
    )


def table_of(weights, count):
    table = np.zeros((count, len(weights.names)))
    table[weights.vertex, weights.group] = weights.weight
    return table


def weights_of(names, table):
    vertex, group = np.nonzero(table)
    return Weights(tuple(names), vertex, group, table[vertex, group])


def planted(seed):
    figure = layered(seed)
    table = table_of(figure.layers.weights, len(figure.partner))
    return figure, table, np.random.default_rng(seed)


def found(figure, table, names=None, limits=LIMITS, **layers):
    weights = weights_of(names or figure.layers.weights.names, table)
    return list(check(matched_of(figure, weights=weights, **layers), limits))


def on_the_right(figure, table, group, seed, count=20):
    rng = np.random.default_rng(seed)
    members = np.flatnonzero((table[:, group] > 0.1) & (figure.surface.positions[:, 0] < -0.05))
    return rng.choice(members, count, replace=False)


@pytest.mark.parametrize("seed", range(10))
def test_a_clean_figure_says_nothing(seed):
    figure = layered(seed)
    assert list(check(matched_of(figure), LIMITS)) == []


@pytest.mark.parametrize("seed", range(15))
def test_weaker_right_weights_come_back_with_their_size(seed):
    figure, table, _ = planted(seed)
    hurt = on_the_right(figure, table, 3, seed)
    lost = 0.1 * table[hurt, 3]
    table[hurt, 3] *= 0.9
    (finding,) = found(figure, table)
    assert (finding.code, finding.subject, finding.unit) == ("weight-drifted", "Arm.L / Arm.R", "weight")
    assert set(finding.elements) == set(figure.partner[hurt])
    assert np.array_equal(figure.partner[finding.elements], finding.partners)
    assert finding.worst == pytest.approx(max(lost), abs=1e-9)
    assert (np.sort(finding.sizes) >= np.sort(lost) - 1e-9).all()


def test_a_lone_group_weakened_by_a_tenth_differs_by_a_tenth():
    figure, table, _ = planted(1)
    hurt = on_the_right(figure, table, 3, 1)
    table[hurt] = [0, 0, 0, 1.0]
    table[figure.partner[hurt]] = [0, 0, 1.0, 0]
    assert found(figure, table) == []
    table[hurt, 3] = 0.9
    (finding,) = found(figure, table)
    assert finding.worst == pytest.approx(0.1, abs=1e-9)
    assert finding.count == 20


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("side", [1, -1])
def test_weight_of_the_other_hand_is_told_as_the_wrong_side(seed, side):
    figure, table, rng = planted(seed)
    x = figure.surface.positions[:, 0] * side
    hurt = rng.choice(np.flatnonzero(x > 0.6), 5, replace=False)
    table[hurt, 3 if side > 0 else 2] = 0.2
    (finding,) = found(figure, table)
    assert set(finding.elements) == set(hurt)
    assert np.array_equal(figure.partner[finding.elements], finding.partners)
    assert finding.worst == pytest.approx(0.2)
    assert "Wrong side on 5" in finding.advice


@pytest.mark.parametrize("seed", range(5))
def test_the_wrong_side_follows_the_groups_not_the_plane(seed):
    """A figure that faces the other way has its left groups on the right half."""
    figure, table, rng = planted(seed)
    table = table[:, [0, 1, 3, 2]]
    assert found(figure, table) == []
    hurt = rng.choice(np.flatnonzero(figure.surface.positions[:, 0] < -0.6), 5, replace=False)
    table[hurt, 3] = 0.2
    (finding,) = found(figure, table)
    assert set(finding.elements) == set(hurt)
    assert "Wrong side on 5" in finding.advice


@pytest.mark.parametrize("seed", range(8))
def test_a_centre_group_mirrors_onto_itself(seed):
    figure, table, rng = planted(seed)
    head = np.flatnonzero((table[:, 1] > 0.3) & (figure.surface.positions[:, 0] > 0.05))
    hurt = rng.choice(head, 7, replace=False)
    table[hurt, 1] -= 0.2
    table[hurt, 0] += 0.2
    both = found(figure, table)
    assert [one.subject for one in both] == ["Spine", "Head"]
    for finding in both:
        assert set(finding.elements) == set(hurt)
        assert finding.worst == pytest.approx(0.2)


def test_a_difference_on_the_centre_line_names_the_vertex_itself():
    figure, table, _ = planted(0)
    middle = np.flatnonzero(figure.partner == np.arange(len(figure.partner)))[:3]
    table[middle, 2] = 0.3
    (finding,) = found(figure, table)
    assert set(finding.elements) == set(middle)
    assert np.array_equal(finding.elements, finding.partners)
    table[middle, 3] = 0.3
    assert found(figure, table) == []


def test_differences_below_the_limit_are_silent():
    figure, table, _ = planted(0)
    hurt = on_the_right(figure, table, 3, 0)
    table[hurt, 3] += 0.004
    assert found(figure, table) == []
    assert found(figure, table, limits=replace(LIMITS, settings=Settings(weight_limit=0.003)))


def test_a_missing_counterpart_is_one_finding_with_its_vertices():
    figure, table, _ = planted(0)
    (finding,) = found(figure, table[:, :3], ("Spine", "Head", "Arm.L"))
    assert (finding.code, finding.subject, finding.kind) == ("group-unpaired", "Arm.L", "group")
    assert finding.names == ("Arm.L",) and finding.partner_names == (None,)
    assert finding.elements.tolist() == [0] and finding.partners.tolist() == [-1]
    assert set(finding.vertices) == set(np.flatnonzero(table[:, 2]))


def test_a_glued_side_asks_for_a_counterpart_only_where_the_group_keeps_to_one_half():
    figure, table, _ = planted(0)
    (finding,) = found(figure, table[:, :3], ("Spine", "Head", "ArmL"))
    assert (finding.code, finding.subject) == ("group-unpaired", "ArmL")
    assert found(figure, table, ("Spine_L1", "Head", "Arm.L", "Arm.R")) == []


def test_under_a_live_mirror_a_missing_counterpart_says_what_follows():
    figure, table, _ = planted(0)
    kept = table[:, :3] * (figure.surface.positions[:, :1] >= 0)
    modifier = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    matched = matched_of(figure, weights=weights_of(("Spine", "Head", "Arm.L"), kept))
    surface = replace(matched.here, mirrors=(modifier,))
    own = np.where(figure.partner == np.arange(len(table)), figure.partner, -1)
    (finding,) = check(replace(matched, here=surface, there=surface, partner=own), LIMITS)
    assert (finding.code, finding.subject) == ("group-unpaired", "Arm.L")
    assert "mirrored half would follow Arm.L" in finding.advice


def test_groups_that_only_look_sided_ask_for_nothing():
    figure, table, _ = planted(0)
    table = np.concatenate([table, np.zeros((len(table), 5))], axis=1)
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Eye_Bright", "Upright", "Leftover", "cleft", "Bottle")
    assert found(figure, table, names) == []


STYLES = [
    "X.L X.R", "X_l X_r", "L_X R_X", "LeftX RightX", "XLeft XRight", "P_L_X P_R_X", "ns:LeftX ns:RightX",
    "x_left_y x_right_y", "X_L_twist X_R_twist", "X.L.001 X.R.001", "左腕 右腕", "XL XR", "lX rX",
]


@pytest.mark.parametrize("style", STYLES)
def test_every_spelling_of_a_side_pairs(style):
    left, right = style.replace("X", "Arm").split()
    figure, table, _ = planted(0)
    names = ("Spine", "Head", left, right)
    assert found(figure, table, names) == []
    hurt = on_the_right(figure, table, 3, 0)
    table[hurt, 3] *= 0.5
    (finding,) = found(figure, table, names)
    assert finding.subject == f"{left} / {right}"


def test_more_than_four_influences_are_compared_after_trimming():
    """The fifth, weakest influence differs below the limit, yet decides which four remain."""
    figure, table, _ = planted(0)
    x = figure.surface.positions[:, 0]
    hurt = np.flatnonzero(x > 0.65)[:6]
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Belt", "Collar")
    table = np.concatenate([table, np.zeros((len(table), 2))], axis=1)
    row = np.array([0.3, 0.25, 0.2, 0.05, 0.1, 0.1])
    table[hurt] = row
    table[figure.partner[hurt]] = row[[0, 1, 3, 2, 4, 5]]
    deforming = frozenset(names)
    assert found(figure, table, names, deform_groups=deforming) == []
    table[hurt, 4] += 0.002
    table[hurt, 5] -= 0.002
    table[figure.partner[hurt], 5] += 0.002
    table[figure.partner[hurt], 4] -= 0.002
    both = found(figure, table, names, deform_groups=deforming)
    assert [one.subject for one in both] == ["Belt", "Collar"]
    assert all(set(one.elements) == set(hurt) for one in both)
    assert all("engine" in one.advice for one in both)
    assert both[0].worst == pytest.approx(0.102 / 0.852)


def test_groups_that_do_not_deform_are_compared_as_stored():
    figure, table, _ = planted(0)
    table = np.concatenate([table, table[:, 2:4]], axis=1)
    names = ("Spine", "Head", "Arm.L", "Arm.R", "Fade.L", "Fade.R")
    assert found(figure, table, names) == []
    table[:, 5] *= 0.5
    (finding,) = found(figure, table, names)
    assert finding.subject == "Fade.L / Fade.R"


def test_a_locked_group_is_compared_and_told():
    figure, table, _ = planted(0)
    table[on_the_right(figure, table, 3, 0), 3] *= 0.5
    (finding,) = found(figure, table, locked_groups=frozenset({"Arm.R"}))
    assert "Locked in the file: Arm.R." in finding.advice


def test_symmetrize_is_recognised_by_what_it_leaves():
    figure, table, _ = planted(0)
    table[:, 2] += table[:, 3]
    table[:, 3] = 0.0
    (finding,) = found(figure, table)
    assert finding.subject == "Arm.L / Arm.R"
    assert "Arm.R is empty." in finding.advice and "Symmetrize" in finding.advice
    figure, table, _ = planted(0)
    table[:, 3] = 0.0
    (finding,) = found(figure, table)
    assert "Arm.R is empty." in finding.advice and "Symmetrize" not in finding.advice


def test_a_left_object_is_compared_with_the_right_one():
    figure, table, _ = planted(2)
    rows = figure.vertices_of(3), figure.vertices_of(4)
    place = {int(v): i for i, v in enumerate(rows[1])}
    partner = np.array([place[int(figure.partner[v])] for v in rows[0]])
    names = figure.layers.weights.names

    def part(name, kept):
        layers = replace(figure.layers, weights=weights_of(names, kept))
        return replace(figure.surface, name=name, positions=np.zeros((len(kept), 3)), layers=layers)

    points = figure.surface.world[rows[0]]
    left = part("Mitt.L", table[rows[0]])
    still = np.zeros(len(partner), bool)
    assert list(check(Matched(left, part("Mitt.R", table[rows[1]]), points, partner, still), LIMITS)) == []
    table[rows[1][:4], 3] -= 0.25
    (finding,) = check(Matched(left, part("Mitt.R", table[rows[1]]), points, partner, still), LIMITS)
    assert finding.partner_object == "Mitt.R"
    assert set(finding.partners) == {0, 1, 2, 3}
    assert np.array_equal(partner[finding.elements], finding.partners)
    assert finding.worst == pytest.approx(0.25)


@pytest.mark.parametrize("seed", range(6))
def test_trimming_is_that_of_a_plain_loop(seed):
    rng = np.random.default_rng(seed)
    table = rng.uniform(size=(60, 9)) * (rng.uniform(size=(60, 9)) < 0.6)
    row, group = np.nonzero(table)
    mixed = rng.permutation(len(row))
    got = trimmed(Entries(row[mixed], group[mixed], table[row, group][mixed]), 60)
    wanted = np.zeros_like(table)
    for number, values in enumerate(table):
        best = np.argsort(-values)[:4]
        if values[best].sum():
            wanted[number, best] = values[best] / values[best].sum()
    made = np.zeros_like(table)
    made[got.row, got.group] = got.weight
    assert np.allclose(made, wanted)


@pytest.mark.parametrize("seed", range(10))
def test_many_changes_come_back_as_a_plain_table_tells_them(seed):
    """The sparse comparison against one dense table for each side."""
    figure, table, rng = planted(seed)
    hurt = rng.choice(len(table), 80, replace=False)
    table[hurt, rng.integers(0, 4, 80)] = rng.uniform(0.0, 1.0, 80)
    findings = found(figure, table, deform_groups=None)
    apart = np.abs(table - table[figure.partner][:, [0, 1, 3, 2]]) > 0.005
    for pair, columns in {"Spine": [0], "Head": [1], "Arm.L / Arm.R": [2, 3]}.items():
        wanted = {frozenset((v, int(figure.partner[v]))) for v in np.flatnonzero(apart[:, columns].any(axis=1))}
        got = [one for one in findings if one.subject == pair]
        told = {frozenset(p) for one in got for p in zip(one.elements.tolist(), one.partners.tolist(), strict=True)}
        assert told == wanted and len(got) == bool(wanted)
        assert sum(one.count for one in got) == len(wanted)


def test_readiness_counts_influences_sums_and_loose_vertices():
    figure, table, _ = planted(0)
    assert weights_readiness(figure.surface) == []
    table = np.concatenate([table, np.zeros((len(table), 2))], axis=1)
    names = (*figure.layers.weights.names, "Belt", "Fade")
    table[:30] = [0.4, 0.3, 0.1, 0.1, 0.1, 0.7]
    table[30:35, :5] = 0.0
    table[35:42] *= 0.5
    layers = replace(figure.layers, weights=weights_of(names, table), deform_groups=frozenset(names[:5]))
    told = weights_readiness(replace(figure.surface, layers=layers))
    assert {one.code: one.message.split()[0] for one in told} == {
        "ready-influences": "30", "ready-unweighted": "5", "ready-weights-sum": "7"
    }
    assert all(one.subject == "Body" for one in told)
    shown = {one.code: (one.places[0].kind, one.places[0].owner, one.places[0].vertices.tolist()) for one in told}
    assert shown == {
        "ready-influences": ("vertex", "Body", [*range(30)]), "ready-unweighted": ("vertex", "Body", [*range(30, 35)]),
        "ready-weights-sum": ("vertex", "Body", [*range(35, 42)]),
    }


def test_large_counts_have_their_thousands_apart():
    rows = np.arange(12345)
    figure, _, _ = planted(0)
    weights = weights_of(("Spine", "Head"), np.full((len(rows), 2), [0.3, 0.3]))
    layers = replace(figure.layers, weights=weights, deform_groups=frozenset(("Spine", "Head")))
    (one,) = weights_readiness(replace(figure.surface, positions=np.zeros((len(rows), 3)), layers=layers))
    assert one.message.startswith("12,345 vertices of Body have weights")


def test_one_vertex_is_told_as_one():
    figure, table, _ = planted(0)
    names = figure.layers.weights.names
    table[4] = 0.0
    layers = replace(figure.layers, weights=weights_of(names, table), deform_groups=frozenset(names))
    (one,) = weights_readiness(replace(figure.surface, layers=layers))
    assert one.message == "1 vertex of Body follows no bone: it stays behind when the figure moves. Give it weights."
