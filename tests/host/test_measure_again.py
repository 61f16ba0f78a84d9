"""Measuring after a check, in the background. All figures are invented."""

import bpy
import evenfold
import pytest
from evenfold.ui import looking, state
from host.test_step import place_of, pushed_keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def test_what_was_checked_can_still_be_stepped_through_after_measuring() -> None:
    _, order = pushed_keeper()
    before = state.of(bpy.context.scene).check
    bpy.ops.evenfold.measure()
    assert state.of(bpy.context.scene).check is before
    at = place_of("drifted")
    bpy.ops.evenfold.step_finding(object_index=at[0], finding_index=at[1])
    seen = looking.seen(bpy.context.scene)
    assert seen.finding.elements[seen.laid.rows(seen.step)].tolist() == [order[0]]


def test_a_check_of_the_figure_as_it_was_before_goes_when_it_is_measured_anew() -> None:
    item, _ = pushed_keeper()
    item.data.vertices[0].co.z += 0.1
    bpy.ops.evenfold.measure()
    results = state.of(bpy.context.scene)
    assert results.check is None and results.looking is None
