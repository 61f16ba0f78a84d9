"""Repairs that would do harm leave the harmful part alone and say so. All figures invented."""

from dataclasses import replace

import numpy as np
import pytest
from core.test_pairing_rings import belt
from evenfold.core.findings import Finding
from evenfold.core.repair import Checked, RepairError, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.repair.guarded import without_far
from evenfold.core.repair.together import plan_together, safe_codes
from evenfold.core.settings import Settings
from figures.layered import layered
from figures.mending import PLAIN, check, deltas, keyed, points, pushed, the
from figures.records import figure_of, surface_of
from figures.shapes import Mesh
from oracles.finder import ScipyFinder


def turned_over(before, after):
    """How many faces look the other way."""
    one, other = the(before), the(after)
    count = 0
    for low, high in zip(one.face_starts[:-1], one.face_starts[1:], strict=True):
        ring = one.corners[low:high]
        areas = []
        for place in (one.world, other.world):
            spokes = place[ring[1:]] - place[ring[0]]
            areas.append(np.cross(spokes[:-1], spokes[1:]).sum(axis=0))
        count += areas[0] @ areas[1] < 0
    return count


def count_of(figure, code):
    return sum(f.count for one in check(figure).objects for f in one.findings if f.code == code)


@pytest.mark.parametrize("seed", range(4))
def test_partners_shifted_by_a_place_are_not_followed_and_the_true_one_is(seed):
    made = layered(seed)
    right = np.flatnonzero(made.surface.positions[:, 0] < -0.2)
    figure = pushed(made.figure(), [right[60]], [[0.0, 0.001, 0.0]])
    result = check(figure)
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    edges = made.surface.edges[np.isin(made.surface.edges, right).all(axis=1)]
    edges = edges[~np.isin(edges, right[60]).any(axis=1)][seed::40][:6]
    mine = np.concatenate([[right[60]], edges[:, 0]])
    its = made.partner[np.concatenate([[right[60]], edges[:, 1]])]
    forged = Finding("drifted", mine, its, np.full(len(mine), 0.03))
    plan = plan_repair(checked, result.objects[0], forged, Wish("left", far=True))
    after = applied(figure, plan.changes)
    assert any("left alone" in text and "counterparts" in text for text in plan.left_alone)
    assert points(after).tobytes() == made.surface.positions.tobytes()


TIGHT = Settings(plane="object", tolerance=1e-4)
NEAR, BEYOND = 0.0099, 0.0101
"""Metres on both sides of a hundred tolerances."""


def test_of_vertices_without_edges_those_within_a_hundred_tolerances_are_moved_unasked():
    places, none = np.random.default_rng(3).uniform(0.1, 0.5, (6, 3)), np.zeros(0, np.int64)
    figure = figure_of(surface_of(Mesh(places, none.reshape(0, 2), none, np.zeros(1, np.int64))))
    checked = Checked.of(figure, check(figure, TIGHT), TIGHT, ScipyFinder)
    finding = Finding("drifted", np.array([0, 1, 2]), np.array([3, 4, -1]), np.array([NEAR, BEYOND, np.nan]))
    near, far = without_far(checked, the(figure), the(figure), finding)
    assert (near.elements.tolist(), near.partners.tolist(), far) == ([0, 2], [3, -1], 1)


def test_in_a_key_a_hundred_tolerances_are_mended_together_unasked():
    made = layered(2)
    figure, base = made.figure(), made.surface.positions
    x = base[:, 0]
    rows = np.flatnonzero((x < -0.3) & ~deltas(figure)["Smile.L"].any(axis=1))[:2]
    spilt = deltas(figure)["Smile.L"]
    spilt[rows, 2] = NEAR, BEYOND
    drifted = keyed(figure, **{"Smile.L": base + spilt})
    result = check(drifted, TIGHT)
    (finding,) = [f for f in result.objects[0].findings if f.code == "key-spill"]
    assert sorted(finding.elements.tolist()) == sorted(rows.tolist())
    checked = Checked.of(drifted, result, TIGHT, ScipyFinder)
    plan = plan_together(checked, result.objects, ("key-spill",), Wish("left"), careful=True)
    assert len(plan.left_alone) == 1 and plan.left_alone[0].startswith("Body, Smile.L: 1 of those")
    (change,) = plan.changes
    assert change.vertices.tolist() == [rows[0]]
    asked = plan_together(checked, result.objects, ("key-spill",), Wish("left", far=True), careful=True)
    assert sorted(asked.changes[0].vertices.tolist()) == sorted(rows.tolist())


def test_a_far_move_back_is_sound_and_silent():
    made = layered(1)
    right = np.flatnonzero(made.surface.positions[:, 0] < -0.2)
    figure = pushed(made.figure(), right[[5, 60]], [[0.0, 0.001, 0.0], [0.0, 0.05, 0.0]])
    result = check(figure)
    checked = Checked.of(figure, result, PLAIN, ScipyFinder)
    finding = next(f for f in result.objects[0].findings if f.code == "drifted")
    plan = plan_repair(checked, result.objects[0], finding, Wish("left", far=True))
    assert plan.left_alone == ()
    assert points(applied(figure, plan.changes)).tobytes() == made.surface.positions.tobytes()


@pytest.mark.parametrize("way", ["left", "average"])
@pytest.mark.parametrize("seed", range(12))
def test_a_rebuilt_belt_is_mended_without_harm_and_a_second_run_is_idle(seed, way):
    mesh, _ = belt(seed)
    figure = figure_of(surface_of(replace(mesh, points=mesh.points * 0.3)))

    def mended(one):
        result = check(one)
        checked = Checked.of(one, result, PLAIN, ScipyFinder)
        return plan_together(checked, result.objects, safe_codes(), Wish(way))

    try:
        after = applied(figure, mended(figure).changes)
    except RepairError:
        after = figure
    assert turned_over(figure, after) == 0
    assert count_of(after, "edge-unmatched") <= count_of(figure, "edge-unmatched")
    assert mended(after).changes == ()
