"""Canons: each with its source, adding up, and never handed out as anatomy."""

from itertools import pairwise

import pytest
from evenfold.core.canon import Canon
from evenfold.core.errors import SettingsError
from evenfold.core.findings import Proportion
from evenfold.core.planning.canons import (
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


# Snyder and others 1977, means of the published records: years, stature and head height in mm,
# mean and standard deviation of heads tall
SURVEY_ROWS = """
2 904 170.5 5.32 0.29
3 1001 178.5 5.62 0.32
4 1052 179.7 5.86 0.36
5 1108 180.0 6.17 0.29
6 1179 186.4 6.34 0.33
7 1247 188.0 6.65 0.33
8 1290 189.2 6.83 0.35
9 1353 193.4 7.01 0.37
10 1414 197.2 7.18 0.37
11 1454 198.8 7.32 0.40
12 1517 201.9 7.53 0.42
13 1568 204.4 7.68 0.41
14 1618 207.3 7.82 0.43
15 1666 210.6 7.92 0.42
16 1687 211.5 7.98 0.35
17 1698 213.0 7.98 0.40
18 1725 215.3 8.03 0.44
"""
# the same records: years, pit of the neck, trochanter, buttock fold and tibiale over stature
SURVEY_HEIGHTS = """
2 0.761 0.442 0.387 0.232
4 0.776 0.472 0.421 0.242
6 0.786 0.492 0.444 0.252
8 0.797 0.503 0.460 0.260
10 0.806 0.515 0.469 0.263
12 0.810 0.520 0.476 0.266
14 0.810 0.516 0.471 0.262
16 0.812 0.510 0.464 0.261
"""


def numbers(text):
    return [tuple(map(float, line.split())) for line in text.split("\n") if line]


@pytest.mark.parametrize("row", numbers(SURVEY_ROWS), ids=lambda row: f"{row[0]:.0f} years")
def test_each_surveyed_mean_and_spread_is_that_of_the_records(row):
    age, stature, head, heads, spread = row
    canon = CANONS[f"survey-{age:.0f}"]
    assert (canon.heads, canon.spread) == (heads, spread)
    assert canon.heads == pytest.approx(stature / head, abs=0.04), "the mean ratio is near that of the means"


@pytest.mark.parametrize("row", numbers(SURVEY_HEIGHTS), ids=lambda row: f"{row[0]:.0f} years")
def test_each_surveyed_height_is_that_of_the_records(row):
    canon = CANONS[f"survey-{row[0]:.0f}"]
    names = ("neck_base", "hip", "buttock_fold", "below_knee")
    assert [canon.share(name) for name in names] == pytest.approx(row[1:], abs=1e-9)
    assert len(numbers(SURVEY_ROWS)) == 17 and len(numbers(SURVEY_HEIGHTS)) == 8


# Drillis and Contini 1966 as in Winter 2009 (second hand): 0.259 and 0.191 of stature, head 0.130
def test_the_biomechanics_widths_are_the_tables():
    spans = CANONS["drillis-contini"].spans
    assert {name: span * 0.130 for name, span in spans.items()} == pytest.approx({"shoulder_width": 0.259, "hip_width": 0.191})


# Loomis 1943, p. 29 (second hand): heads tall by years
def test_loomis_counts_are_the_tables():
    told = {age: CANONS[f"loomis-{age}"].heads for age in (1, 3, 5, 10, 15)}
    assert told == {1: 4.0, 3: 5.0, 5: 6.0, 10: 7.0, 15: 7.5}


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
