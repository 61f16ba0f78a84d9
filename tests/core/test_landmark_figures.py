"""Heads tall of single hard cases, with the evidence that is shown."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Pin, Weights
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.people import Person, keeper, moved


def count(figure):
    result = measure(figure, Settings())
    assert result.refusal is None, result.refusal
    return result


def test_every_landmark_shows_its_evidence():
    result = count(keeper(Person(height=1.8, head=0.3, neck=0.1)))
    for name in ("crown", "chin", "sole"):
        mark = result.landmarks[name]
        assert mark.evidence
        assert mark.evidence in {reading.method for reading in mark.readings}
        assert all(reading.low <= reading.height <= reading.high for reading in mark.readings)


def test_heads_with_hair_count_what_is_grown_on_both_lengths():
    result = count(keeper(Person(hair="object")))
    assert result.heads_with_hair == pytest.approx(1.15 / 0.85, rel=0.002)
    assert count(keeper(Person())).heads_with_hair == pytest.approx(1.5, rel=0.002)


@pytest.mark.parametrize("turn", [0.0, 0.7, np.pi, 4.0])
def test_up_and_forward_are_the_figures_own(turn):
    result = count(moved(keeper(Person(height=1.2)), turn))
    assert result.up @ [0, 0, 1] == pytest.approx(1.0)
    assert result.forward @ [np.sin(turn), -np.cos(turn), 0] == pytest.approx(1.0, abs=1e-6)


def test_a_head_bone_that_carries_nothing_still_gets_a_count():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    parts = tuple(replace(part, weights=Weights.none()) for part in figure.parts)
    result = count(replace(figure, parts=parts))
    assert result.low <= 6.0 <= result.high


def test_a_head_bone_at_the_top_of_the_neck_is_not_taken_for_the_chin():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    armature = figure.armature
    bones = tuple(replace(b, head=np.add(b.head, [0, 0, 0.05])) if b.name == "Head" else b for b in armature.bones)
    result = count(replace(figure, armature=replace(armature, bones=bones)))
    assert result.heads_tall == pytest.approx(6.0, rel=0.01)


def test_more_heads_than_any_canon_has_are_not_counted_unless_pinned():
    tall = keeper(Person(height=1.8, head=0.12, neck=0.05))
    assert measure(tall, Settings()).heads_tall is None
    zero = np.zeros(2)
    pins = tuple(
        Pin(name, np.array([*zero, height]))
        for name, height in (("crown", 1.8), ("chin", 1.68), ("sole", 0.0))
    )
    assert count(replace(tall, pins=pins)).heads_tall == pytest.approx(15.0)
