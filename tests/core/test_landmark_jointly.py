"""A facing in doubt is held jointly: crown and chin of one facing are never set against those of another."""

from dataclasses import replace

import pytest
from evenfold.core.proportion import heads as heads_module
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.people import Person, keeper

OTHERWISE = "if the figure faces another way"
PERSON = Person(height=1.8, head=0.3, neck=0.1)


def in_doubt(monkeypatch, *others):
    """The keeper measured as though it might face otherwise too; ``others`` say by how many heads crown and chin
    would then lie lower."""
    first = heads_module._head_spots
    asked = iter([(0.0, 0.0), *others])

    def head_spots(figure, body, framed, forward, found):
        trouble = first(figure, body, framed, forward, found)
        for name, heads in zip(("crown", "chin"), next(asked), strict=True):
            spot, down = found[name], heads * PERSON.head
            found[name] = replace(spot, height=spot.height - down, low=spot.low - down, high=spot.high - down)
        return trouble

    facings = heads_module.facings_of
    monkeypatch.setattr(heads_module, "_head_spots", head_spots)
    monkeypatch.setattr(heads_module, "facings_of", lambda *given: [facings(*given)[0]] * (1 + len(others)))
    return measure(keeper(PERSON), Settings())


def test_the_facings_are_really_asked(monkeypatch):
    plain = measure(keeper(PERSON), Settings())
    same = in_doubt(monkeypatch, (0.0, 0.0))
    assert (same.heads_tall, same.low, same.high) == (plain.heads_tall, plain.low, plain.high)


@pytest.mark.parametrize("down", [0.3, 0.7, 0.95, 1.2])
def test_crown_and_chin_of_another_facing_go_together(monkeypatch, down):
    """The head is as large whichever way it faces, so the count is the body's: it is not refused, and the range
    reaches from one facing's count to the other's and no further."""
    plain = measure(keeper(PERSON), Settings())
    found = in_doubt(monkeypatch, (down, down))
    assert found.refusal is None
    assert found.heads_tall == plain.heads_tall
    assert found.low == pytest.approx(plain.low - down, rel=0.02)
    assert found.high == pytest.approx(plain.high)
    for name in ("crown", "chin"):
        mark, before = found.landmarks[name], plain.landmarks[name]
        assert mark.low == pytest.approx(before.low - down * PERSON.head)
        assert OTHERWISE in [reading.method for reading in mark.readings]


@pytest.mark.parametrize(("crown", "chin"), [(0.0, 0.6), (0.2, -0.15), (0.3, 0.0)])
def test_a_head_of_another_size_is_counted_with_its_own_crown_and_chin(monkeypatch, crown, chin):
    found = in_doubt(monkeypatch, (crown, chin))
    other = (6.0 - crown) / (1.0 - crown + chin)
    assert found.refusal is None
    assert found.low <= min(6.0, other) <= max(6.0, other) <= found.high
    assert found.high == pytest.approx(max(6.0, other), rel=0.08)
    assert found.low == pytest.approx(min(6.0, other), rel=0.08)


@pytest.mark.parametrize(("crown", "chin"), [(0.0, -0.5), (0.5, 0.0), (0.0, 0.8), (-1.0, 1.0)])
def test_a_facing_by_which_the_head_would_be_far_smaller_or_larger_is_none(monkeypatch, crown, chin):
    plain = measure(keeper(PERSON), Settings())
    found = in_doubt(monkeypatch, (crown, chin))
    assert (found.heads_tall, found.low, found.high) == (plain.heads_tall, plain.low, plain.high)
    assert OTHERWISE not in [reading.method for mark in found.landmarks.values() for reading in mark.readings]


def test_several_other_facings_are_all_held(monkeypatch):
    found = in_doubt(monkeypatch, (0.6, 0.6), (0.0, 0.4), (0.0, -0.2))
    assert found.refusal is None
    assert found.low <= 6.0 / 1.4 and found.high >= 6.0 / 0.8
    assert found.high == pytest.approx(6.0 / 0.8, rel=0.1)
