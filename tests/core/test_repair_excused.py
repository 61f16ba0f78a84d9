"""What is excused stays as it is, whichever repair runs, and what has outgrown its excuse does not.

All figures invented. Allowances here are made from findings, as the panel makes them.
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.figure import Weights
from evenfold.core.repair import Checked, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.repair.together import plan_together
from figures.layered import layered, rig
from figures.layered_parts import part
from figures.mending import (
    PLAIN,
    check,
    codes,
    deltas,
    found,
    keyed,
    mended,
    plan_for,
    points,
    pushed,
    the,
)
from figures.records import figure_of
from oracles.finder import ScipyFinder

SPINE, HEAD, ARM_L, ARM_R = range(4)
NAMES = ("Spine", "Head", "Arm.L", "Arm.R")
WAYS = ("left", "right", "average")


def table_of(figure):
    weights = the(figure).layers.weights
    table = np.zeros((len(the(figure).positions), len(NAMES)))
    table[weights.vertex, weights.group] = weights.weight
    return table


def with_table(figure, table):
    vertex, group = np.nonzero(table)
    weights = Weights(NAMES, vertex, group, np.float32(table)[vertex, group].astype(float))
    return replace(figure, surfaces=tuple(
        replace(s, layers=replace(s.layers, weights=weights)) if s.name == "Body" else s for s in figure.surfaces
    ))


def the_finding(figure, code, subject=None):
    (one,) = [f for _, f in found(figure) if f.code == code and subject in (None, f.subject)]
    return one


def excused(figure, finding, vertices=None, worst=None):
    """The figure with an allowance made from the finding, on its elements unless others are given."""
    rows = finding.elements if vertices is None else np.asarray(vertices)
    allowance = Allowance(
        "m", "selection", "", "meant", "Body", rows, frozenset(finding.about), finding.code,
        finding.worst if worst is None else worst,
    )
    return replace(figure, allowances=(*figure.allowances, allowance))


def together(figure, codes, way):
    result = check(figure)
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    return plan_together(checked, result.objects, codes, Wish(way))


def two_groups_off(seed):
    """Head and Arm.R are off on some vertices each, and on five both; weights sum to 1."""
    made = layered(seed)
    figure = made.figure(rig())
    table = table_of(figure)
    x = made.surface.positions[:, 0]
    arm = np.flatnonzero((table[:, ARM_R] > 0.3) & (table[:, ARM_R] < 0.75) & (x < -0.3))[:10]
    head = np.flatnonzero((table[:, HEAD] > 0.3) & (table[:, SPINE] > 0.1) & (x < -0.05))
    head = np.append(np.setdiff1d(head, arm)[:8], arm[:5])
    table[arm, ARM_R] *= 0.8
    table[head, HEAD] += 0.15
    table[arm] /= table[arm].sum(axis=1, keepdims=True)
    table[head] /= table[head].sum(axis=1, keepdims=True)
    return with_table(figure, table), made.partner


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("alone", [False, True])
def test_excused_weights_stay_when_another_group_is_mended(way, alone):
    drifted, partner = two_groups_off(1)
    head = the_finding(drifted, "weight-drifted", "Head")
    drifted = excused(drifted, head)
    arm = the_finding(drifted, "weight-drifted", "Arm.L / Arm.R")
    assert np.intersect1d(arm.elements, np.append(head.elements, partner[head.elements])).size
    plan = plan_for(drifted, "weight-drifted", way, subject=arm.subject) if alone else together(drifted, {"weight-drifted"}, way)
    held = np.append(head.elements, partner[head.elements])
    assert plan.changes
    for change in plan.changes:
        assert not np.isin(change.vertices, held).any(), change.group
    assert any("meant to differ" in text for text in plan.left_alone)
    assert table_of(applied(drifted, plan.changes))[held].tobytes() == table_of(drifted)[held].tobytes()


@pytest.mark.parametrize("alone", [False, True])
def test_weights_that_outgrew_their_excuse_are_mended(alone):
    drifted, _ = two_groups_off(2)
    head = the_finding(drifted, "weight-drifted", "Head")
    bound = float(np.median(head.sizes))
    drifted = excused(drifted, head, worst=bound / 1.1 - 1e-9)
    listed = the_finding(drifted, "weight-drifted", "Head")
    assert 0 < listed.count < head.count
    plan = plan_for(drifted, "weight-drifted", subject="Head") if alone else together(drifted, {"weight-drifted"}, "left")
    assert np.isin(listed.partners, np.concatenate([c.vertices for c in plan.changes])).sum() >= listed.count // 2
    left = np.setdiff1d(head.elements, listed.elements)
    before, after = table_of(drifted), table_of(applied(drifted, plan.changes))
    assert before[left].tobytes() == after[left].tobytes()
    assert ("weight-drifted", "Head") not in codes(applied(drifted, plan.changes))


def test_a_finding_from_before_the_excuse_leaves_the_excused_uvs_and_seams():
    made = layered(7)
    figure = made.figure(rig())
    rows = np.flatnonzero(made.face_piece[made.corner_face] == 2)
    body = the(figure)
    (uv_map,) = body.layers.uv_maps
    places = uv_map.places.astype(float)
    places[rows] += (0.0, 0.01)
    seams = body.layers.seams.copy()
    edges = np.flatnonzero((body.positions[body.edges, 0] < -0.1).all(axis=1) & ~seams)[:6]
    seams[edges] = True
    layers = replace(body.layers, seams=seams, uv_maps=(replace(uv_map, places=np.float32(places)),))
    drifted = replace(figure, surfaces=tuple(replace(s, layers=layers) if s is body else s for s in figure.surfaces))
    result = check(drifted)
    vertices = {"uv-drifted": np.unique(body.corners[rows])[:20], "seam-unmatched": np.unique(body.edges[edges[:2]])}
    for code, held in vertices.items():
        (finding,) = [f for f in result.objects[0].findings if f.code == code]
        checked = Checked.of(excused(drifted, finding, held), result, PLAIN, ScipyFinder)
        plan = plan_repair(checked, result.objects[0], finding, Wish("left"))
        after = the(applied(drifted, plan.changes)).layers
        if code == "uv-drifted":
            kept = np.isin(body.corners, held)
            assert after.uv_maps[0].places[kept].tobytes() == layers.uv_maps[0].places[kept].tobytes()
            assert (after.uv_maps[0].places != layers.uv_maps[0].places).any()
        else:
            assert after.seams[edges[:2]].all() and not after.seams[edges[2:]].all()


def test_a_vertex_at_the_place_of_an_excused_one_does_not_take_it_along():
    made = layered(2, shuffle=False)
    exact = figure_of(part(made, split=True))
    number = np.unique(points(exact), axis=0, return_inverse=True)[1].reshape(-1)
    place = next(n for n in np.unique(number[points(exact)[:, 0] < -0.2]) if (number == n).sum() > 1)
    rows = np.flatnonzero(number == place)
    drifted = pushed(exact, rows, np.tile([0.0, 0.001, 0.0], (len(rows), 1)))
    listed = the_finding(drifted, "drifted")
    inside = np.intersect1d(rows, np.append(listed.elements, listed.partners))
    assert (points(mended(drifted, "drifted", "left"))[inside] != points(drifted)[inside]).any(axis=1).all()
    for held in inside:
        only = excused(drifted, listed, [held])
        if ("drifted", "") in codes(only):
            after = mended(only, "drifted", "left")
            assert points(after)[held].tobytes() == points(drifted)[held].tobytes()
            break
    else:
        pytest.fail("no vertex at this place is listed without the others")


def weak_smile(share):
    made = layered(0)
    figure, base = made.figure(), made.surface.positions
    return keyed(figure, **{"Smile.R": base + share * deltas(figure)["Smile.R"]})


def test_a_key_that_outgrew_its_excuse_is_mended():
    small = the_finding(weak_smile(0.9), "key-pair-drifted")
    grown = excused(weak_smile(0.6), small)
    assert the_finding(grown, "key-pair-drifted").count
    after = mended(grown, "key-pair-drifted", "left")
    assert codes(after) == []


def test_an_excuse_for_one_key_holds_no_other_key():
    drifted = weak_smile(0.9)
    smile = the_finding(drifted, "key-pair-drifted")
    by = deltas(drifted)["Blink.R"]
    drifted = keyed(drifted, **{"Blink.R": points(drifted) + 0.8 * by})
    blink = np.flatnonzero(np.linalg.norm(by, axis=1) > 0.0)
    drifted = excused(drifted, smile, np.append(smile.elements, blink))
    after = mended(drifted, "key-pair-drifted", "left")
    assert points(after, "Smile.R").tobytes() == points(drifted, "Smile.R").tobytes()
    assert np.abs(deltas(after)["Blink.R"] - by).max() < 2e-7


def test_an_excused_key_gets_no_edit_carried_over():
    figure = layered(2).figure()
    body, base = the(figure), points(figure).astype(float)
    fall = np.clip(1 - np.linalg.norm(base - (0.0, -0.6, 0.9), axis=1) / 0.4, 0, 1)[:, None]
    edited = np.float32(base + fall**2 * [0.0, -0.008, -0.008])
    keys = tuple(replace(k, points=edited) if k.name == "Basis" else k for k in body.layers.keys.keys)
    layers = replace(body.layers, keys=replace(body.layers.keys, keys=keys))
    stale = replace(figure, surfaces=(replace(body, positions=edited, layers=layers),))
    assert ("key-stale", "") in codes(stale)
    held = replace(stale, allowances=(Allowance("k", "key", "Jaw", "meant so", "Body"),))
    plan = plan_for(held, "key-stale")
    assert "Jaw" not in {one.key for one in plan.changes} and len(plan.changes) > 1
    assert plan.left_alone == ("Jaw: left as it is, it is meant to differ.",)
