"""The end of the head bone: which end it is, and when it tells where a hidden skull ends."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.findings import Reading
from evenfold.core.proportion import measure
from evenfold.core.proportion.head.head_rig import HeadRig, head_rig_of
from evenfold.core.proportion.skull.bare import BARE
from evenfold.core.proportion.skull.bone_end import by_bone
from evenfold.core.proportion.skull.dome import Dome
from evenfold.core.settings import Settings
from figures.altered import with_bones
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, keeper, moved

AHEAD = np.array([0.0, -1.0, 0.0])
METHOD = "end of the head bone"
START = (0, 0.02, 1.52)


def ends(tail, *more, forward=AHEAD):
    figure = with_bones(keeper(Person(height=1.8, head=0.3, neck=0.1)), ("Head", "Neck", START, tail), *more)
    return head_rig_of(figure, "Head", forward)


def test_an_upright_head_bone_tells_its_start_and_its_tail():
    assert ends((0, 0.02, 1.8)) == HeadRig(pytest.approx(1.52), pytest.approx(1.8))


@pytest.mark.parametrize("name", ["Head_end", "HeadTop_End", "head.nub", "Head Tip", "rig:HeadTop", "頭_end"])
@pytest.mark.parametrize("tail", [(0, 0.02, 1.6), (0, -0.3, 1.53), (0, 0.02, 2.5)])
def test_a_bone_named_as_the_heads_end_outranks_the_tail(name, tail):
    assert ends(tail, (name, "Head", (0, 0.03, 1.79), (0, 0.03, 1.9))).end == pytest.approx(1.79)


@pytest.mark.parametrize(("name", "parent"), [("Head_end", "Neck"), ("Hair_end", "Head"), ("Jaw_end", "Head"), ("HeadBand", "Head"), ("Weekend", "Head")])
def test_an_end_of_something_else_leaves_the_tail(name, parent):
    assert ends((0, 0.02, 1.7), (name, parent, (0, 0.03, 1.79), (0, 0.03, 1.9))).end == pytest.approx(1.7)


@pytest.mark.parametrize("tail", [(0, -0.3, 1.53), (0.3, 0.02, 1.6), (0, 0.02, 1.4), (0, 0.12, 1.8), START, (0, np.nan, 1.8)])
def test_a_tail_that_points_ahead_aside_or_down_tells_no_end(tail):
    assert ends(tail).end is None


@pytest.mark.parametrize("turn", [0.8, np.pi])
def test_the_end_is_a_height_however_the_figure_is_turned(turn):
    figure = with_bones(keeper(Person(height=1.8, head=0.3, neck=0.1)), ("Head", "Neck", START, (0, 0.04, 1.8)))
    turned = moved(figure, turn, by=(3.0, -2.0, 0.5))
    found = head_rig_of(turned, "Head", np.array([np.sin(turn), -np.cos(turn), 0.0]))
    assert (found.start, found.end) == (pytest.approx(2.02), pytest.approx(2.3))


def test_without_a_rig_or_a_bone_there_is_nothing():
    figure = keeper(Person())
    assert head_rig_of(figure, None, AHEAD) == head_rig_of(replace(figure, armature=None), "Head", AHEAD) == HeadRig()


def dome(top=1.1):
    return Dome(top, top, True, 0.003, np.zeros(2))


HIDDEN = Reading("dome less hair as thick as its seam says", 1.02, 0.95, 1.07)
SEEN = Reading(BARE[0], 1.1, 1.096, 1.104)


@pytest.mark.parametrize("end", [0.9, 0.985, 1.0, 1.02, 1.06])
def test_where_hair_hides_the_skull_an_end_that_is_near_is_the_surest(end):
    (reading,) = by_bone(HIDDEN, dome(), end, 1.0)
    assert reading.height == end
    assert reading.high - reading.low < HIDDEN.high - HIDDEN.low


@pytest.mark.parametrize("end", [0.82, 0.88])
def test_an_end_that_disagrees_is_told_and_does_not_lead(end):
    (reading,) = by_bone(HIDDEN, dome(), end, 1.0)
    assert reading.height == end
    assert reading.high - reading.low > HIDDEN.high - HIDDEN.low


@pytest.mark.parametrize("end", [0.92, 1.0, 1.08])
def test_over_a_skull_that_is_seen_no_end_leads(end):
    for reading in by_bone(SEEN, dome(), end, 1.0):
        assert reading.high - reading.low > SEEN.high - SEEN.low


@pytest.mark.parametrize("end", [0.3, 0.79, 1.09, 1.1, 1.4])
def test_an_end_at_the_top_of_the_hair_or_far_below_it_tells_nothing_of_the_skull(end):
    assert by_bone(HIDDEN, dome(), end, 1.0) == by_bone(SEEN, dome(), end, 1.0) == []


@pytest.fixture(scope="module", params=[(3.5, 3), (3.5, 5), (5.0, 4)])
def haired(request):
    return with_hair(*request.param)


@pytest.fixture(scope="module", params=[3, 10, 12])
def seamed(request):
    """One whose hair is told by its seam alone."""
    return with_hair(3.5, request.param)


def with_hair(heads, seed):
    """A sculpted figure with hair in one skin; its head bone ends at the crown."""
    built = sculpt(Recipe(heads, "short", "jaw", "painted", hair="fused", seed=seed, vertices=5000))
    assert not built.off
    assert built.figure.armature.by_name["Head"].tail[2] == pytest.approx(built.crown[2], abs=0.01)
    return built


def ended(built, tail, *more):
    bone = built.figure.armature.by_name["Head"]
    found = measure(with_bones(built.figure, ("Head", bone.parent, bone.head, tail), *more), Settings())
    return found, found.landmarks["crown"]


def test_under_hair_in_one_skin_the_bones_end_tells_the_crown(haired):
    found = measure(haired.figure, Settings())
    assert found.landmarks["crown"].evidence == METHOD
    assert found.heads_tall == pytest.approx(haired.heads, rel=0.006)
    assert found.low <= haired.heads <= found.high
    blind, crown = ended(haired, haired.crown - [0, 0.6, 0.7])
    assert METHOD not in [reading.method for reading in crown.readings]
    assert abs(blind.heads_tall / haired.heads - 1) > 0.02
    assert found.high - found.low < blind.high - blind.low


def test_a_named_end_at_the_crown_tells_it_where_the_tail_points_ahead(haired):
    top = haired.crown
    found, crown = ended(haired, top - [0, 0.6, 0.7], ("Head_End", "Head", top, top + np.array([0, 0, 0.1])))
    assert crown.evidence == METHOD
    assert found.heads_tall == pytest.approx(haired.heads, rel=0.006)


def test_an_end_far_below_other_evidence_moves_no_crown(haired):
    """As where a rigger ends the bone at the brow: the crown stays where the hair's seam puts it."""
    blind, over = ended(haired, haired.crown - [0, 0.6, 0.7])
    head = haired.crown[2] - haired.chin[2]
    found, crown = ended(haired, [*haired.crown[:2], over.height + haired.sole[2] - 0.15 * head])
    assert crown.evidence != METHOD
    assert METHOD in [reading.method for reading in crown.readings]
    assert found.heads_tall == blind.heads_tall
    assert found.low <= blind.low <= blind.high <= found.high


@pytest.mark.parametrize("off", [-0.11, -0.07, 0.02])
def test_an_end_near_other_evidence_leads_and_the_range_holds_both(seamed, off):
    _, over = ended(seamed, seamed.crown - [0, 0.6, 0.7])
    assert over.evidence not in BARE
    place = over.height + off * (seamed.crown[2] - seamed.chin[2])
    _, crown = ended(seamed, [*seamed.crown[:2], place + seamed.sole[2]])
    assert crown.evidence == METHOD and crown.height == pytest.approx(place, abs=0.01)
    assert crown.low <= min(over.height, place) + 0.01 and max(over.height, place) <= crown.high + 0.01


@pytest.mark.parametrize("under", [0.05, 0.15, 0.25])
def test_on_a_bald_head_the_end_of_the_bone_moves_no_crown(under):
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    plain = measure(figure, Settings())
    found = measure(with_bones(figure, ("Head", "Neck", START, (0, 0.02, 1.8 - under * 0.3))), Settings())
    assert found.heads_tall == plain.heads_tall == pytest.approx(6.0, rel=0.005)
    assert found.low <= plain.low <= plain.high <= found.high
