"""The plan to a target: closed forms, figures rebuilt by it and measured again, and its cautions."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from evenfold.core.canon import Canon
from evenfold.core.findings import Proportion
from evenfold.core.planning.plan import PlanError, make_plan
from evenfold.core.proportion import measure
from evenfold.core.report.plan_text import plan_lines
from evenfold.core.settings import Settings
from figures.measured import heights_after, measured, pinned, reshaped, standing
from figures.people import Person, keeper, moved
from hypothesis import given, settings
from hypothesis import strategies as st

BODY = {"shoulder": 0.55, "crotch": 0.3, "knee": 0.15}
"""Invented heights of a figure 0.9 tall with a head of 0.3."""


def by_name(plan):
    return {span.name: span for span in plan.spans}


def test_three_heads_to_one_and_a_half_with_the_head_kept():
    # by hand: head 0.3, so 1.5 heads are 0.45; body 0.6 becomes 0.15, three quarters less
    plan = make_plan(measured(0.9, 0.3), 1.5, "head")
    body = by_name(plan)["body"]
    assert (plan.head_after, plan.height_after) == pytest.approx((0.3, 0.45))
    assert (body.before, body.after, body.change, body.percent) == pytest.approx((0.6, 0.15, -0.45, -75))
    assert (body.heads_before, body.heads_after) == pytest.approx((2, 0.5))
    assert by_name(plan)["head"].percent == pytest.approx(0)


def test_three_heads_to_one_and_a_half_with_the_height_kept():
    # by hand: 0.9 / 1.5 = 0.6 of head, so the body of 0.6 becomes 0.3
    plan = make_plan(measured(0.9, 0.3), 1.5, "height")
    assert (plan.head_after, plan.height_after) == pytest.approx((0.6, 0.9))
    assert by_name(plan)["head"].percent == pytest.approx(100)
    assert by_name(plan)["body"].percent == pytest.approx(-50)


def test_exactly_on_target_changes_nothing():
    plan = make_plan(measured(0.90, 0.60, target=1.5), 1.5)
    assert plan.after == pytest.approx(dict(plan.before))
    assert all(span.change == pytest.approx(0, abs=1e-12) for span in plan.spans)
    assert plan.cautions == ("The figure is within its target already: nothing has to change.",)


@given(st.floats(1.3, 9), st.floats(0.2, 4), st.floats(0.01, 50))
def test_a_head_scaled_about_the_chin(heads, scale, head):
    # closed form: a head scaled by k about the chin gives (h - 1 + k) / k heads; going back to h
    # with the height kept must give the head that a figure of h heads has at this height
    grown = measured(head * (heads - 1 + scale), head * scale)
    assert grown.heads_tall == pytest.approx((heads - 1 + scale) / scale)
    back = make_plan(grown, heads, "height")
    assert back.head_after == pytest.approx(grown.height / heads)
    same = make_plan(grown, heads, "head")
    assert same.height_after == pytest.approx(heads * grown.head_height)


@given(
    st.floats(1.3, 9), st.floats(1.05, 10), st.sampled_from(["head", "height"]),
    st.floats(0.05, 0.95), st.floats(0.05, 0.95),
)
def test_the_new_heights_make_the_target_and_scale_the_body_alike(heads, target, keep, one, two):
    chin = heads - 1
    plan = make_plan(measured(heads, 1.0, {"crotch": one * chin, "navel": two * chin}), target, keep)
    after = plan.after
    assert after["crown"] / (after["crown"] - after["chin"]) == pytest.approx(target)
    for name, share in (("crotch", one), ("navel", two)):
        assert after[name] == pytest.approx(share * after["chin"])
    assert sum(span.after for span in plan.spans) == pytest.approx(after["crown"])
    assert sum(span.before for span in plan.spans) == pytest.approx(heads)
    assert sum(span.heads_after for span in plan.spans) == pytest.approx(target)


@pytest.mark.parametrize(("levels", "names"), [
    ({}, ["head", "body"]),
    ({"crotch": 0.3}, ["head", "torso", "leg"]),
    ({"shoulder": 0.5}, ["head", "neck", "body"]),
    ({"neck_base": 0.55, "shoulder": 0.5, "hip": 0.32, "crotch": 0.3}, ["head", "neck", "torso", "leg"]),
    ({"shoulder": 0.65, "crotch": 0.3}, ["head", "torso", "leg"]),
])
def test_spans_are_those_whose_ends_are_known(levels, names):
    plan = make_plan(measured(0.9, 0.3, levels), 2)
    assert [span.name for span in plan.spans] == names
    for upper, lower in pairwise(plan.spans):
        assert upper.lower == lower.upper
    if "neck_base" in levels:
        assert (by_name(plan)["neck"].lower, by_name(plan)["leg"].upper) == ("neck_base", "crotch")
    if "crotch" in levels:
        assert by_name(plan)["leg"].before == pytest.approx(0.3)


def test_a_shoulder_above_the_chin_goes_with_the_body():
    plan = make_plan(measured(0.9, 0.3, {"shoulder": 0.66}), 2.0, "head")
    assert plan.after["shoulder"] == pytest.approx(0.66 * 0.3 / 0.6)


def test_eyes_stay_where_they_are_in_the_head():
    plan = make_plan(measured(0.9, 0.3, {"eye_line": 0.72}), 1.5, "height")
    assert (plan.after["eye_line"] - plan.after["chin"]) / plan.head_after == pytest.approx(0.4)


def test_a_canon_takes_over_the_inner_proportions_and_the_rest_lies_between():
    canon = Canon("staff", "Staff", 3.0, {"crotch": 2.2, "eye_line": 0.7}, "invented", "invented", "own")
    plan = make_plan(measured(0.9, 0.3, {**BODY, "eye_line": 0.75}), 2.0, "head", canon)
    # body of the canon: 2 heads, crotch 0.8 of them above the sole, so 0.4 of the new chin at 0.3
    assert plan.after["crotch"] == pytest.approx(0.12)
    assert plan.after["knee"] == pytest.approx(0.06)  # halfway to the crotch before and after
    assert plan.after["shoulder"] == pytest.approx(0.12 + 0.18 * 0.25 / 0.3)
    assert plan.after["eye_line"] == pytest.approx(0.3 + 0.3 * 0.3)
    assert [text for text in plan.cautions if "canon" in text] == list(plan.cautions)
    assert len(plan.cautions) == 1 and "invented" in plan.cautions[0]


def test_arms_are_not_taken_from_a_canon():
    canon = Canon("staff", "Staff", 8.0, {"wrist": 4.0, "crotch": 4.2}, "invented", "invented", "own")
    level = measured(0.9, 0.3, {"shoulder": 0.55, "wrist": 0.55, "crotch": 0.3})
    plan = make_plan(level, 3.0, "head", canon)
    # the canon's crotch is 3.8 of 7 above the sole; shoulder and wrist are 5/6 of the way from it to the chin
    assert plan.after["shoulder"] == pytest.approx(0.6 * (3.8 / 7 + 5 / 6 * (1 - 3.8 / 7)))
    assert plan.after["wrist"] == pytest.approx(plan.after["shoulder"])


@pytest.mark.parametrize("target", [1.0, 0.5, 0.0, -2.0, float("nan"), float("inf")])
def test_no_figure_has_one_head_or_less(target):
    with pytest.raises(PlanError, match="Set a target above 1"):
        make_plan(measured(0.9, 0.3), target)


def test_without_a_count_the_reason_is_handed_on():
    with pytest.raises(PlanError, match="pin the sole"):
        make_plan(Proportion(refusal="No legs: pin the sole."), 2.0)
    with pytest.raises(PlanError, match="'neck'"):
        make_plan(measured(0.9, 0.3), 2.0, "neck")


@pytest.mark.parametrize(("target", "said"), [(1.49, True), (1.5, False), (2.9, False)])
def test_below_one_and_a_half_the_head_swallows_the_figure(target, said):
    cautions = make_plan(measured(0.54, 0.3), target).cautions
    assert any("swallows" in text for text in cautions) is said
    assert len(cautions) == said


@pytest.mark.parametrize(("heads", "target", "gone"), [
    (3.0, 1.5, set()),          # body to 25 %
    (3.6, 1.5, {"body"}),       # body to 19 %
    (1.2, 1.045, {"body"}),     # body to 22 %, but of 0.045 heads
    (1.2, 1.055, set()),        # body to 27 % and of 0.055 heads
])
def test_a_span_that_all_but_vanishes_is_said(heads, target, gone):
    cautions = make_plan(measured(heads, 1.0), target).cautions
    assert {text.split()[1] for text in cautions if "vanish" in text} == gone


def test_a_neck_of_next_to_nothing_is_not_mourned():
    plan = make_plan(measured(3.6, 1.0, {"neck_base": 2.59}), 1.5)
    assert [text.split()[1] for text in plan.cautions if "vanish" in text] == ["body"]


def test_a_short_neck_that_grows_does_not_vanish():
    plan = make_plan(measured(3.0, 1.0, {"neck_base": 1.97}), 3.5)
    assert by_name(plan)["neck"].heads_after < 0.05 and plan.cautions == ()


@pytest.mark.parametrize(("target", "covered"), [(2.9, True), (3.1, True), (2.7, False), (3.4, False)])
def test_a_range_that_holds_the_target_already_is_said(target, covered):
    plan = make_plan(measured(3.0, 1.0, band=0.05), target)
    assert plan.covered is covered
    assert any("pin crown, chin and sole" in text for text in plan.cautions) is covered


def test_a_count_without_a_range_covers_nothing():
    plan = make_plan(measured(3.0, 1.0), 3.0)
    assert not plan.covered and plan.cautions == ()


def test_the_change_has_the_range_of_the_count():
    # by hand: bodies of 1.85 and 2.15 heads shrunk to 0.5
    plan = make_plan(measured(3.0, 1.0, band=0.05), 1.5, "head")
    assert (plan.percent_low, plan.percent_high) == pytest.approx((100 * (0.5 / 2.15 - 1), 100 * (0.5 / 1.85 - 1)))
    plan = make_plan(measured(3.0, 1.0, band=0.05), 1.5, "height")
    assert (plan.percent_low, plan.percent_high) == pytest.approx((90, 110))


ARMS = [
    ({"shoulder": 0.55, "wrist": 0.25}, {}, True),                      # hangs 0.30
    ({"shoulder": 0.55, "elbow": 0.43}, {}, True),                      # twice 0.12
    ({"shoulder": 0.55, "fingertip": 0.45}, {}, False),                 # 0.10 fits under 0.1375
    ({"shoulder": 0.55}, {"arm_span": 0.8, "shoulder_width": 0.3}, True),   # 0.25
    ({"shoulder": 0.55}, {"arm_span": 0.5, "shoulder_width": 0.3}, False),  # 0.10
    ({"shoulder": 0.55}, {"arm_span": 0.8}, False),                     # nothing to go by
    ({"shoulder": 0.55}, {}, False),
]


@pytest.mark.parametrize(("levels", "spans", "said"), ARMS)
def test_arms_that_would_hang_below_the_floor(levels, spans, said):
    plan = make_plan(measured(0.9, 0.3, levels, spans=spans), 1.5, "head")
    assert plan.after["shoulder"] == pytest.approx(0.1375)
    assert any("below the floor" in text for text in plan.cautions) is said
    longer = make_plan(measured(0.9, 0.3, levels, spans=spans), 4.0, "head")
    assert longer.cautions == ()


def test_arms_that_are_too_long_already_are_not_the_plans_doing():
    found = measured(0.9, 0.3, {"shoulder": 0.3}, spans={"arm_span": 1.2, "shoulder_width": 0.2})
    assert make_plan(found, 3.3).cautions == ()
    assert any("floor" in text for text in make_plan(found, 2.7).cautions)


def test_level_arms_are_measured_along_the_arm():
    places = {"shoulder": (0.1, 0, 0.55), "wrist": (0.4, 0, 0.55)}
    level = {"shoulder": 0.55, "wrist": 0.55}
    plan = make_plan(measured(0.9, 0.3, level, points=places), 1.5)
    assert any("more than 54 %" in text for text in plan.cautions)  # 1 - 0.1375 / 0.3
    across = {**places, "wrist": (-0.4, 0, 0.55)}
    assert not any("floor" in text for text in make_plan(measured(0.9, 0.3, level, points=across), 1.5).cautions)


def random_person(rng):
    heads = rng.uniform(1.6, 8)
    head = rng.uniform(0.1, 0.7)
    return Person(
        height=heads * head, head=head, neck=0.0 if heads < 2.5 else rng.uniform(0.1, 0.3) * head,
        wide=rng.uniform(0.38, 0.5), build=rng.choice(["merged", "separate"]),
        hair=rng.choice(["", "bone", "object"]), hat=bool(rng.random() < 0.3),
    )


@pytest.mark.parametrize("keep", ["head", "height"])
def test_a_figure_rebuilt_by_its_plan_measures_the_target(keep):
    rng = np.random.default_rng(11)
    for _ in range(15):
        figure = keeper(random_person(rng))
        found = measure(figure, Settings())
        target = float(rng.uniform(1.5, 8))
        plan = make_plan(found, target, keep)
        again = measure(reshaped(figure, plan), Settings())
        assert again.heads_tall == pytest.approx(target, rel=0.01)
        kept = (again.head_height, found.head_height) if keep == "head" else (again.height, found.height)
        assert kept[0] == pytest.approx(kept[1], rel=0.01)


def test_a_pinned_figure_rebuilt_by_its_plan_has_every_landmark_where_planned():
    levels = {"crown": 0.9, "chin": 0.6, "sole": 0.0, "eye_line": 0.72, **BODY}
    canon = Canon("staff", "Staff", 3.0, {"crotch": 2.2, "shoulder": 1.2}, "invented", "invented", "own")
    for choice in (None, canon):
        figure = pinned(levels, Person(height=0.9, head=0.3, neck=0.05))
        plan = make_plan(measure(figure, Settings()), 2.0, "head", choice)
        again = measure(reshaped(figure, plan), Settings())
        assert again.heads_tall == pytest.approx(2.0)
        for name in levels:
            assert again.landmarks[name].height == pytest.approx(plan.after[name], abs=1e-9)


@settings(max_examples=12, deadline=None)
@given(st.floats(0, 6.28), st.floats(0.01, 100))
def test_the_plan_does_not_depend_on_size_or_facing(turn, scale):
    first = make_plan(measure(standing(0.9, 0.3), Settings()), 1.5)
    second = make_plan(measure(moved(standing(0.9, 0.3), turn, scale), Settings()), 1.5)
    for one, other in zip(first.spans, second.spans, strict=True):
        assert (one.name, other.percent) == (other.name, pytest.approx(one.percent, abs=1))
        assert other.before == pytest.approx(one.before * scale, rel=5e-3)


def test_the_lines_say_what_to_do():
    lines = plan_lines(make_plan(measured(0.9, 0.3, {"crotch": 0.3}), 1.5, "head"), lambda m: f"{m * 100:.1f} cm")
    text = "\n".join(lines)
    for words in ("3.00 to 1.50 heads", "keep the head", "45.0 cm", "Torso, chin to crotch", "shrinks by 22.5 cm", "-75 %", "1.00 to 0.25 heads"):
        assert words in text
    assert "Head" not in [line.split()[0] for line in lines if "shrinks" in line]


def test_a_plan_in_the_middle_of_the_figure_leaves_the_sole_and_lifts_the_hair():
    plan = make_plan(measured(0.9, 0.3), 1.5, "height")
    assert heights_after(plan, np.array([-0.1, 0.0, 0.6, 0.9, 1.0])) == pytest.approx([-0.1, 0, 0.3, 0.9, 1.1])
    assert heights_after(replace(plan, after=plan.before), np.array([0.2, 1.2])) == pytest.approx([0.2, 1.2])


def test_what_of_the_body_lies_above_the_chin_goes_on_at_its_scale():
    levels = {"neck_base": 0.66, "shoulder": 0.5, "wrist": 0.75, "crotch": 0.3, "ankle": -0.01}
    plan = make_plan(measured(0.9, 0.3, {**levels, "eye_line": 0.75}), 2.0, "height")
    # by hand: the head grows from 0.3 to 0.45 m, so the chin sinks from 0.6 to 0.45
    for name, height in levels.items():
        assert plan.after[name] == pytest.approx(0.75 * height)
    assert plan.after["eye_line"] == pytest.approx(0.45 + 0.15 * 1.5)


@pytest.mark.parametrize(("low", "high", "said"), [
    (1.0, None, "+100 % or more, upper end unknown"), (1.1, 900.0, "+100 % to +900 %"),
])
def test_a_count_that_may_be_one_head_has_no_upper_end(low, high, said):
    # by hand: bodies of 0.1 and 0.5 heads grown to 1 head; at 1 head there is no body to grow
    found = replace(measured(1.25, 1.0), low=low, high=1.5)
    plan = make_plan(found, 2.0, "head")
    assert (plan.percent_low, plan.percent_high) == (pytest.approx(100), high and pytest.approx(high))
    assert any(said in line for line in plan_lines(plan, str))
    kept = make_plan(found, 2.0, "height")
    assert (kept.percent_low, kept.percent_high) == pytest.approx((100 * (low / 2 - 1), -25))


def test_a_figure_of_one_head_has_nothing_to_plan_with():
    with pytest.raises(PlanError, match="nothing below its chin"):
        make_plan(replace(measured(1.0, 1.0), heads_tall=1.0), 2.0)


def test_spans_name_their_ends():
    plan = make_plan(measured(0.9, 0.3, {"neck_base": 0.55, "crotch": 0.3}), 2.5)
    text = "\n".join(plan_lines(plan, str))
    for words in ("Leg, crotch to sole shrinks", "Torso, neck base to crotch", "Neck, chin to neck base"):
        assert words in text
    assert "Head stays" in text
