"""Figures built from published tables give the published ratios through the real measuring.

Every figure is invented; only its heights are published. One variant is pinned at the
published heights, the other is rigged, built to stature and head height, and measured.
"""

import pytest
from evenfold.core.canon import Canon
from evenfold.core.planning.canons import CANONS, SURVEYED_HEADS
from evenfold.core.planning.compare import compare
from evenfold.core.planning.plan import ARM_MARKS, make_plan
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.measured import pinned, standing
from figures.people import Person

PINNABLE = {"crown", "chin", "sole", "eye_line", "shoulder", "neck_base", "navel", "hip", "crotch", "knee", "ankle", "elbow", "wrist", "fingertip"}

ADULTS = [
    ("Vitruvius, De architectura III.1.2, Morgan 1914 (read in the source): head 1/8 of height", 8.0, 1.0, 8.0),
    ("NAVEDTRA 14262 p. 3-30 (read in the source): adult as drawn", 8.0, 1.0, 8.0),
    ("NAVEDTRA 14262 p. 3-30 (read in the source): average adult", 7.5, 1.0, 7.5),
    ("Drillis and Contini 1966 in Winter 2009 (second hand): head 0.130 of stature", 1.0, 0.130, 7.69),
    ("Size Korea 2003-04, men of 20 to 29 (second hand): 173.2 and 23.6 cm", 1.732, 0.236, 7.34),
    ("Size Korea 2003-04, women of 20 to 29 (second hand): 160.0 and 22.3 cm", 1.600, 0.223, 7.17),
    ("Size Korea 1979, men of 20 to 29 (second hand): 167.4 and 24.6 cm", 1.674, 0.246, 6.80),
    ("Size Korea 1979, women of 20 to 29 (second hand): 155.4 and 23.3 cm", 1.554, 0.233, 6.67),
    ("AIST 1997-98, men of the 170 cm class (second hand)", 1.70, 0.239, 7.11),
    ("AIST 1997-98, women of the 160 cm class (second hand)", 1.60, 0.232, 6.90),
]
CHILDREN = [
    ("NAVEDTRA 14262 p. 3-34 (read in the source): 1 year", 4.5, 1.0, 4.5),
    ("NAVEDTRA 14262 p. 3-34 (read in the source): 8 years", 6.25, 1.0, 6.25),
    ("NAVEDTRA 14262 p. 3-34 (read in the source): 12 years", 7.0, 1.0, 7.0),
    ("Loomis 1943 p. 29 as tabulated by others (second hand): 1 year", 4.0, 1.0, 4.0),
    ("Loomis 1943 p. 29 as tabulated by others (second hand): 5 years", 6.0, 1.0, 6.0),
    ("Loomis 1943 p. 29 as tabulated by others (second hand): 15 years", 7.5, 1.0, 7.5),
    ("Stratz's plate as described by others (second hand): newborn", 4.0, 1.0, 4.0),
]
# Snyder and others 1977 (measured from the published records): mean stature and head height in mm
SURVEYED = {
    2: (904, 170.5), 3: (1001, 178.5), 4: (1052, 179.7), 5: (1108, 180.0), 6: (1179, 186.4),
    7: (1247, 188.0), 8: (1290, 189.2), 9: (1353, 193.4), 10: (1414, 197.2), 11: (1454, 198.8),
    12: (1517, 201.9), 13: (1568, 204.4), 14: (1618, 207.3), 15: (1666, 210.6), 16: (1687, 211.5),
    17: (1698, 213.0), 18: (1725, 215.3),
}
# ANSUR II 2012 (measured from the public files), men and women: mean heights over stature
SOLDIERS = {
    "men": (1.7562, {"shoulder": 0.8203, "neck_base": 0.8191, "navel": 0.6014, "hip": 0.5128, "crotch": 0.4815, "knee": 0.2780, "ankle": 0.0415}),
    "women": (1.6285, {"shoulder": 0.8198, "neck_base": 0.8164, "navel": 0.6017, "hip": 0.5190, "crotch": 0.4802, "knee": 0.2756, "ankle": 0.0385}),
}


def found_of(figure):
    found = measure(figure, Settings())
    assert found.refusal is None, found.refusal
    return found


@pytest.mark.parametrize(("source", "stature", "head", "heads"), [*ADULTS, *CHILDREN])
def test_published_statures_and_heads(source, stature, head, heads):
    rigged = found_of(standing(stature, head))
    assert rigged.heads_tall == pytest.approx(heads, rel=0.01), source
    assert rigged.low <= stature / head <= rigged.high
    marks = {"crown": stature, "chin": stature - head, "sole": 0.0}
    pin = found_of(pinned(marks, Person(height=stature, head=head, neck=0.25 * head)))
    assert pin.heads_tall == pytest.approx(stature / head)
    assert pin.heads_tall == pytest.approx(heads, abs=0.006)
    assert (pin.low, pin.high) == (pin.heads_tall, pin.heads_tall)


@pytest.mark.parametrize("age", SURVEYED)
def test_surveyed_children(age):
    # the mean of ratios is not the ratio of means: 0.03 heads between them are allowed
    stature, head = (one / 1000 for one in SURVEYED[age])
    mean, spread = SURVEYED_HEADS[age]
    found = found_of(standing(stature, head))
    assert found.heads_tall == pytest.approx(mean, abs=0.03 + 0.01 * mean)
    assert abs(found.heads_tall - mean) < 0.35 * spread
    assert stature / head == pytest.approx(mean, abs=0.03)
    side = compare(found, CANONS[f"survey-{age}"])
    (sole,) = [row for row in side.rows if row.name == "sole"]
    assert abs(sole.difference) < 0.03 + 0.01 * mean


def at_levels(canon, head):
    """The canon as a pinned figure, with every level that can be pinned."""
    heights = {name: (canon.heads - level) * head for name, level in canon.levels.items() if name in PINNABLE}
    return pinned(heights, Person(height=canon.heads * head, head=head, neck=0.2 * head if canon.heads > 2.5 else 0.0))


@pytest.mark.parametrize("canon", CANONS.values(), ids=lambda canon: canon.key)
def test_a_figure_at_the_levels_of_a_canon_differs_from_it_nowhere(canon):
    found = found_of(at_levels(canon, 0.225))
    assert found.heads_tall == pytest.approx(canon.heads)
    side = compare(found, canon)
    compared = {row.name for row in side.rows if not row.width}
    assert compared >= (set(canon.levels) & PINNABLE) - {"crown", "chin"}
    assert all(row.difference == pytest.approx(0, abs=1e-9) for row in side.rows if row.name in PINNABLE)


# ANSUR II did not measure chin to crown: with 7.5 heads its levels must land where the survey has them
@pytest.mark.parametrize("who", SOLDIERS)
def test_surveyed_levels_keep_their_share_of_stature(who):
    stature, shares = SOLDIERS[who]
    head = stature / 7.5
    marks = {"crown": stature, "chin": stature - head, "sole": 0.0, **{n: s * stature for n, s in shares.items()}}
    found = found_of(pinned(marks, Person(height=stature, head=head, neck=0.2 * head)))
    for name, share in shares.items():
        assert found.landmarks[name].height / found.height == pytest.approx(share)
    side = {row.name: row for row in compare(found, CANONS["drillis-contini"]).rows}
    # the table of 1966 and the survey of 2012 agree on shoulder and hip within 0.2 heads
    assert abs(side["shoulder"].here / 7.5 - side["shoulder"].there / CANONS["drillis-contini"].heads) < 0.01
    assert abs(side["hip"].here / 7.5 - side["hip"].there / CANONS["drillis-contini"].heads) < 0.02


# 0.4815, 0.6014 and 0.8203 of the stature are 3.89, 2.99 and 1.35 heads down at 7.5 heads (men)
def test_surveyed_levels_in_heads_down():
    stature, shares = SOLDIERS["men"]
    canon = Canon("men", "Men", 7.5, {name: (1 - share) * 7.5 for name, share in shares.items()}, "ANSUR II 2012", "measured", "survey")
    found = found_of(at_levels(canon, stature / 7.5))
    side = {row.name: row.here for row in compare(found, canon).rows}
    for name, down in {"shoulder": 1.35, "navel": 2.99, "hip": 3.65, "crotch": 3.89, "knee": 5.42, "ankle": 7.19}.items():
        assert side[name] == pytest.approx(down, abs=0.006)


PAIRS = [("navy-8", "stylised-3"), ("stylised-3", "navy-8"), ("drillis-contini", "stylised-2"), ("survey-6", "survey-2"), ("survey-16", "survey-4"), ("navy-child-12", "stylised-2.5")]


@pytest.mark.parametrize("keep", ["head", "height"])
@pytest.mark.parametrize(("start", "goal"), PAIRS)
def test_the_plan_from_one_canon_to_another_reproduces_its_table(start, goal, keep):
    one, other = CANONS[start], CANONS[goal]
    plan = make_plan(found_of(at_levels(one, 0.225)), other.heads, keep, other)
    shared = (set(one.levels) & set(other.levels) & PINNABLE) - set(ARM_MARKS)
    assert {"crown", "chin", "sole"} <= shared
    for name in shared:
        down = (plan.height_after - plan.after[name]) / plan.head_after
        assert down == pytest.approx(other.levels[name], abs=1e-6)
    spans = {span.name: span.heads_after for span in plan.spans}
    if "crotch" in shared and "neck" not in spans:
        assert spans["leg"] == pytest.approx(other.heads - other.levels["crotch"])
