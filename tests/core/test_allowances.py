"""Allowances take away exactly what they cover; baselines tell old from new. Invented meshes."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import LAYER_OF_CODE, Allowance, excuse
from evenfold.core.baseline import changes_since, compare, take
from evenfold.core.check import check_figure
from evenfold.core.figure import Figure
from evenfold.core.findings import Finding, ObjectResult
from evenfold.core.report.wording import WORDS
from evenfold.core.settings import Settings
from figures.records import figure_of, surface_of
from figures.shapes import lumpy_ball
from oracles.finder import ScipyFinder

SETTINGS = Settings(tolerance=1e-3, plane="world")


def pushed(seed: int, count: int):
    """A ball with ``count`` vertices pushed far, apart from each other; (figure, pushed, partner)."""
    mesh, partner = lumpy_ball(20, 28, seed=seed)
    rng = np.random.default_rng(seed)
    sided = np.flatnonzero(mesh.points[:, 0] > 0.3)
    chosen: list[int] = []
    for vertex in rng.permutation(sided):
        if all(np.linalg.norm(mesh.points[vertex] - mesh.points[o]) > 0.4 for o in chosen):
            chosen.append(int(vertex))
        if len(chosen) == count:
            break
    points = mesh.points.copy()
    points[chosen] *= 1.1
    return figure_of(surface_of(replace(mesh, points=points))), chosen, partner


def found_in(result) -> set[int]:
    return {
        number
        for entry in result.objects
        for finding in entry.findings
        for number in (*finding.elements.tolist(), *finding.partners.tolist())
    }


def selection(vertices, mark="a1") -> Allowance:
    return Allowance(mark, "selection", "", "badge", "Body", np.asarray(vertices, np.int64))


@pytest.mark.parametrize("seed", range(12))
def test_an_allowance_takes_away_its_own_vertices_and_no_others(seed: int) -> None:
    figure, chosen, partner = pushed(seed, 4)
    before = check_figure(figure, SETTINGS, ScipyFinder)
    assert found_in(before) == {*chosen, *(int(partner[one]) for one in chosen)}
    kept, excused = chosen[:2], chosen[2:]
    after = check_figure(replace(figure, allowances=(selection(excused),)), SETTINGS, ScipyFinder)
    assert found_in(after) == {*kept, *(int(partner[one]) for one in kept)}
    assert sum(entry.allowed for entry in after.objects) == 2
    assert sum(entry.allowed_places for entry in after.objects) == 2
    assert [use.count for use in after.allowances] == [2]
    assert not after.within
    whole = replace(figure, allowances=(selection(chosen),))
    assert check_figure(whole, SETTINGS, ScipyFinder).within


def test_an_allowance_on_the_partner_side_excuses_the_pair_too() -> None:
    figure, chosen, partner = pushed(3, 3)
    other = [int(partner[one]) for one in chosen]
    result = check_figure(replace(figure, allowances=(selection(other),)), SETTINGS, ScipyFinder)
    assert result.within
    assert sum(entry.allowed for entry in result.objects) == 3


def test_an_allowance_that_covers_nothing_is_told() -> None:
    figure, chosen, _ = pushed(5, 2)
    untouched = [v for v in range(40) if v not in chosen]
    result = check_figure(
        replace(figure, allowances=(selection(untouched, "old"),)), SETTINGS, ScipyFinder
    )
    (note,) = [entry for entry in result.readiness if entry.code == "ready-allowance-idle"]
    assert note.level == "note"
    assert note.subject == "old"
    assert "badge" in note.message


@pytest.mark.parametrize(("kind", "subject"), [("object", ""), ("layer", "surface")])
def test_whole_objects_and_layers_can_be_excused(kind: str, subject: str) -> None:
    figure, chosen, _ = pushed(7, 3)
    allowance = Allowance("x", kind, subject, "one-sided coat", "Body" if kind == "object" else "")
    result = check_figure(replace(figure, allowances=(allowance,)), SETTINGS, ScipyFinder)
    assert result.within
    assert result.allowances[0].count == len(chosen)
    other = replace(allowance, owner="Hat") if kind == "object" else replace(allowance, subject="uv")
    assert not check_figure(replace(figure, allowances=(other,)), SETTINGS, ScipyFinder).within


def named(code: str, subject: str | None, kind: str = "vertex", **more) -> Finding:
    count = len(more.get("names", ())) or 2
    numbers = np.arange(count)
    return Finding(code, numbers, np.full(count, -1), np.full(count, np.nan), subject, kind=kind, **more)


def test_a_key_allowance_covers_findings_about_that_key_alone() -> None:
    findings = (
        named("key-pair-drifted", "mouthSmileLeft / mouthSmileRight", subjects=("mouthSmileLeft", "mouthSmileRight")),
        named("key-pair-drifted", "mouthFrownLeft / mouthFrownRight", subjects=("mouthFrownLeft", "mouthFrownRight")),
        named("weight-drifted", "mouthSmileLeft"),
    )
    figure = Figure("Keeper", (), ())
    allowance = Allowance("k", "key", "mouthSmileLeft", "drives the blush too", "Body")
    (result,), (use,) = excuse(figure, [ObjectResult("Body", "mesh", 9, findings=findings)], (allowance,))
    assert [finding.subject for finding in result.findings] == [
        "mouthFrownLeft / mouthFrownRight", "mouthSmileLeft",
    ]
    assert use.count == result.allowed == 2 and result.allowed_places == 0


def test_a_key_allowance_stays_on_its_object() -> None:
    finding = named("key-lopsided", "Open / Jaw")
    allowance = Allowance("k", "key", "Open / Jaw", "a crooked grin", "Body")
    results = [ObjectResult(name, "mesh", 9, findings=(finding,)) for name in ("Body", "Shell")]
    (body, shell), (use,) = excuse(Figure("Keeper", (), ()), results, (allowance,))
    assert (body.findings, shell.findings, use.count) == ((), (finding,), 2)


def test_what_was_made_from_a_finding_covers_that_code_those_names_and_that_size() -> None:
    head = named("bone-drifted", None, "bone", names=("Arm.L",), partner_names=("Arm.R",))
    head = replace(head, sizes=np.array([0.002]))
    grown = replace(head, sizes=np.array([0.003]))
    hand = replace(head, names=("Hand.L",), partner_names=("Hand.R",))
    roll = replace(head, code="roll-drifted")
    allowance = Allowance(
        "b", "bone", "Arm.L", "a hook", "Rig", names=frozenset({"Arm.L"}), code="bone-drifted", worst=0.002
    )
    for finding, stays in ((head, 0), (grown, 1), (hand, 1), (roll, 1)):
        entry = ObjectResult("Rig", "armature", 0, findings=(finding,))
        (result,), _ = excuse(Figure("Keeper", (), ()), [entry], (allowance,))
        assert len(result.findings) == stays, finding
    elsewhere = replace(allowance, owner="Other")
    (result,), _ = excuse(Figure("K", (), ()), [ObjectResult("Rig", "armature", 0, findings=(head,))], (elsewhere,))
    assert result.findings == (head,)


@pytest.mark.parametrize(("code", "worst", "within"), [
    ("drifted", 10.0, True), ("drifted", 1e-3, False), ("weight-drifted", 10.0, False),
])
def test_vertices_excused_for_one_code_are_still_checked_for_others(code, worst, within) -> None:
    figure, chosen, _ = pushed(9, 3)
    one = replace(selection(chosen), code=code, worst=worst)
    assert check_figure(replace(figure, allowances=(one,)), SETTINGS, ScipyFinder).within is within
    other = replace(one, names=frozenset({"Smile.L"}))
    assert not check_figure(replace(figure, allowances=(other,)), SETTINGS, ScipyFinder).within


def test_a_bone_chain_is_excused_with_its_counterpart() -> None:
    from evenfold.core.figure import Armature, Bone

    zero = np.zeros(3)
    bones = (
        Bone("Ear.L", None, zero, zero, np.eye(3)),
        Bone("EarTip.L", "Ear.L", zero, zero, np.eye(3)),
        Bone("Arm.L", None, zero, zero, np.eye(3)),
    )
    figure = Figure("Keeper", (), (), Armature("Rig", bones, np.eye(4)))
    finding = named(
        "bone-drifted", None, "bone", names=("EarTip.R", "Arm.L", "Ear.L"),
        partner_names=("EarTip.L", "Arm.R", "Ear.R"),
    )
    allowance = Allowance("b", "bones", "Ear.L", "torn ear", "Rig")
    (result,), (use,) = excuse(
        figure, [ObjectResult("Rig", "armature", 0, findings=(finding,))], (allowance,)
    )
    assert result.findings[0].names == ("Arm.L",)
    assert result.findings[0].partner_names == ("Arm.R",)
    assert use.count == 2


def test_every_code_belongs_to_a_layer_and_has_words() -> None:
    assert set(LAYER_OF_CODE) <= set(WORDS)


def test_a_baseline_tells_inherited_from_new() -> None:
    figure, chosen, _ = pushed(11, 5)
    surface = figure.surfaces[0]
    before = check_figure(figure, SETTINGS, ScipyFinder).objects[0]
    base = take(before, surface)
    positions = surface.positions.copy()
    fresh = next(
        v for v in np.flatnonzero(positions[:, 0] < -0.3)
        if min(np.linalg.norm(positions[v] * [-1, 1, 1] - positions[c]) for c in chosen) > 0.4
    )
    positions[fresh] *= 1.2
    changed = figure_of(replace(surface, positions=positions))
    result = check_figure(replace(changed, baselines={"Body": base}), SETTINGS, ScipyFinder)
    told = {finding.new: finding.count for finding in result.objects[0].findings}
    assert told == {True: 1, False: 5}
    assert not [entry for entry in result.readiness if entry.code.startswith("ready-baseline")]


def test_a_renumbered_mesh_still_knows_its_inherited_differences() -> None:
    figure, _, _ = pushed(13, 4)
    surface = figure.surfaces[0]
    base = take(check_figure(figure, SETTINGS, ScipyFinder).objects[0], surface)
    order = np.random.default_rng(1).permutation(len(surface.positions))
    number = np.argsort(order)
    turned = replace(
        surface, positions=surface.positions[order], edges=number[surface.edges],
        corners=number[surface.corners],
    )
    result = check_figure(
        replace(figure_of(turned), baselines={"Body": base}), SETTINGS, ScipyFinder
    )
    assert {finding.new for finding in result.objects[0].findings} == {False}
    assert [entry.code for entry in result.readiness if "baseline" in entry.code] == [
        "ready-baseline-order"
    ]


def test_a_change_of_count_is_told_with_both_numbers() -> None:
    figure, _, _ = pushed(17, 2)
    surface = figure.surfaces[0]
    base = take(ObjectResult("Body", "mesh", 1), surface)
    fewer = replace(surface, positions=surface.positions[:-2])
    (change,) = changes_since("Body", fewer, base)
    assert str(len(surface.positions)) in change.message
    assert str(len(fewer.positions)) in change.message


def test_a_difference_that_has_grown_is_new() -> None:
    old = Finding("drifted", np.array([3, 8]), np.array([4, 9]), np.array([0.01, 0.02]))
    base = take(ObjectResult("Body", "mesh", 9, findings=(old,)), None)
    now = Finding("drifted", np.array([3, 8]), np.array([4, 9]), np.array([0.03, 0.02]))
    told = compare(ObjectResult("Body", "mesh", 9, findings=(now,)), None, base, 1e-3)
    assert {finding.new: finding.elements.tolist() for finding in told.findings} == {
        True: [3], False: [8],
    }


def test_a_pair_is_hidden_where_either_of_the_two_is() -> None:
    figure, chosen, partner = pushed(4, 3)
    hidden = np.zeros(len(figure.surfaces[0].positions), bool)
    hidden[[chosen[0], int(partner[chosen[1]])]] = True
    seen = figure_of(replace(figure.surfaces[0], hidden=hidden))
    (finding,) = [f for e in check_figure(seen, SETTINGS, ScipyFinder).objects for f in e.findings if f.count]
    assert (finding.count, finding.hidden) == (3, 2)
    less = replace(seen, allowances=(selection([chosen[0]]),))
    (finding,) = [f for e in check_figure(less, SETTINGS, ScipyFinder).objects for f in e.findings if f.count]
    assert (finding.count, finding.hidden) == (2, 1)
