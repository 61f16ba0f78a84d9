"""Canons: each with its source, adding up, and never handed out as anatomy."""

from itertools import pairwise

import pytest
from evenfold.core.canon import Canon
from evenfold.core.errors import SettingsError
from evenfold.core.findings import Proportion
from evenfold.core.proportion.canons import (
    BIOMECHANICS,
    CANONS,
    STYLISED_LEGS,
    SURVEYED_HEADS,
    canon_from,
    canon_named,
)
from figures.measured import measured

KINDS = {"adult", "child", "biomechanics", "survey", "stylised"}


@pytest.mark.parametrize("canon", CANONS.values(), ids=str)
def test_each_canon_names_its_source_and_hangs_together(canon):
    assert len(canon.source) > 10 and canon.status and canon.kind in KINDS
    assert (canon.levels["crown"], canon.levels["chin"], canon.levels["sole"]) == (0, 1, canon.heads)
    assert list(canon.levels.values()) == sorted(canon.levels.values())
    assert canon.share("chin") == pytest.approx(1 - 1 / canon.heads)
    for words in ("anatomy", "anatomic", "correct", "ideal"):
        assert words not in canon.name.lower()
    if canon.kind == "stylised":
        assert "common practice" in canon.source


# NAVEDTRA 14262 p. 3-30 (read in the source): head 1, neck 1/3, torso 2 2/3, upper leg 2, lower leg 2
def test_the_drawing_manuals_five_segments_add_up_to_eight():
    levels = CANONS["navy-8"].levels
    stops = ["crown", "chin", "neck_base", "crotch", "below_knee", "sole"]
    parts = [levels[b] - levels[a] for a, b in pairwise(stops)]
    assert parts == pytest.approx([1, 1 / 3, 8 / 3, 2, 2])
    shares = [CANONS["navy-8"].share(name) for name in ("chin", "neck_base", "crotch", "below_knee")]
    assert shares == pytest.approx([0.875, 0.8333, 0.5, 0.25], abs=1e-4)


# Drillis and Contini 1966 as in Winter 2009 (second hand): heights over stature and segment lengths
def test_the_biomechanics_table_agrees_with_its_own_segments():
    canon = CANONS["drillis-contini"]
    assert canon.heads == pytest.approx(7.69, abs=0.005)
    for name, share in BIOMECHANICS.items():
        assert canon.share(name) == pytest.approx(share)
    assert canon.share("shoulder") - canon.share("hip") == pytest.approx(0.288)
    assert canon.share("hip") - canon.share("knee") == pytest.approx(0.245)
    assert canon.share("knee") - canon.share("ankle") == pytest.approx(0.246)
    down = {"eye_line": 0.49, "shoulder": 1.40, "elbow": 2.85, "hip": 3.62, "wrist": 3.96, "fingertip": 4.79, "knee": 5.50, "ankle": 7.39}
    for name, level in down.items():
        assert canon.levels[name] == pytest.approx(level, abs=0.006)


# common practice, no source: head, torso and legs by heads tall
@pytest.mark.parametrize(("heads", "torso", "legs"), [
    (8, 3, 4), (7, 2.5, 3.5), (6, 2.25, 2.75), (5, 2, 2), (4, 1.5, 1.5), (3, 1, 1), (2, 0.5, 0.5), (2.5, 1, 0.5),
])
def test_stylised_rows_add_up(heads, torso, legs):
    assert 1 + torso + legs == heads
    canon = CANONS[f"stylised-{heads:g}"]
    assert canon.levels["crotch"] == 1 + torso
    assert canon.heads - canon.levels["crotch"] == STYLISED_LEGS[heads] == legs


# Snyder and others 1977 (measured from the records): children grow into their heads
def test_surveyed_children_rise_with_age_and_stand_above_the_canons():
    means = [SURVEYED_HEADS[age][0] for age in sorted(SURVEYED_HEADS)]
    assert means == sorted(means) and len(means) == 17
    assert CANONS["survey-8"].heads - CANONS["navy-child-8"].heads == pytest.approx(0.58, abs=0.05)
    assert CANONS["survey-12"].heads - CANONS["navy-child-12"].heads == pytest.approx(0.53, abs=0.05)
    for age in (3, 5, 10, 15):
        assert 0.1 < CANONS[f"survey-{age}"].heads - CANONS[f"loomis-{age}"].heads < 0.7
    assert CANONS["survey-6"].share("hip") == pytest.approx(0.492)
    assert all(canon.spread for canon in CANONS.values() if canon.kind == "survey")


def test_the_canons_for_one_year_disagree_and_both_are_there():
    assert (CANONS["navy-child-1"].heads, CANONS["loomis-1"].heads) == (4.5, 4.0)


@pytest.mark.parametrize(("heads", "levels", "source", "words"), [
    (3, {}, " ", "names no source"),
    (1.0, {}, "invented", "needs heads above 1"),
    (float("nan"), {}, "invented", "needs heads above 1"),
    ("3", {}, "invented", "needs heads above 1"),
    (3, {"knee": -0.1}, "invented", "knee of the canon"),
    (3, {"knee": "low"}, "invented", "knee of the canon"),
    (3, {"knee": True}, "invented", "knee of the canon"),
    (3, {"knee": 3.2}, "invented", "below its sole"),
    (3, {"chin": 1.2}, "invented", "chin of the canon"),
    (3, {"sole": 2.5}, "invented", "sole of the canon"),
])
def test_a_canon_that_cannot_be_is_refused(heads, levels, source, words):
    with pytest.raises(SettingsError, match=words):
        Canon("staff", "Staff", heads, levels, source, "invented", "own")


def test_names_are_looked_up_own_ones_first():
    own = Canon("navy-8", "Our own", 3.0, {}, "invented", "invented", "own")
    assert canon_named("navy-8").heads == 8 and canon_named("navy-8", [own]).heads == 3
    with pytest.raises(SettingsError, match=r"no canon nobody.*navy-8"):
        canon_named("nobody")


def test_a_measured_figure_becomes_a_canon_of_its_own_levels():
    found = measured(0.9, 0.3, {"crotch": 0.3, "eye_line": 0.75}, spans={"arm_span": 0.6})
    canon = canon_from(found, "keeper", "Measured on Keeper")
    assert canon.levels == pytest.approx({"crown": 0, "eye_line": 0.5, "chin": 1, "crotch": 2, "sole": 3})
    assert canon.spans == pytest.approx({"arm_span": 2}) and canon.heads == pytest.approx(3)
    with pytest.raises(SettingsError, match="count of heads"):
        canon_from(Proportion(refusal="No."), "nobody", "invented")


def test_what_lies_outside_the_figure_is_no_level():
    canon = canon_from(measured(0.9, 0.3, {"wrist": -0.1, "elbow": 1.0}), "keeper", "invented")
    assert set(canon.levels) == {"crown", "chin", "sole"}
