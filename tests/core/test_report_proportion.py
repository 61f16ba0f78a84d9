"""What the reports say of a proportion: labelled counts, plan, comparison. Invented figures."""

import json
from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance, AllowanceUse
from evenfold.core.canon import Canon
from evenfold.core.findings import (
    FigureResult,
    FileResult,
    Finding,
    Landmark,
    MirrorPlane,
    ObjectResult,
    Proportion,
    Reading,
)
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_table import table
from evenfold.core.settings import Settings
from figures.measured import measured

STAFF = Canon("staff", "Staff", 3.0, {"crotch": 2.2}, "invented", "invented", "own", {"arm_span": 2.0})


def keeper(**more):
    made = measured(0.9, 0.3, {"crotch": 0.3}, spans={"arm_span": 0.66}, **more)
    return replace(made, heads_with_hair=2.6)


def result(found):
    plane = MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), "world")
    return [FileResult("a.blend", figures=(FigureResult("Keeper", found, plane, 1e-4, ()),))]


def as_json(found, settings=None):
    report = report_dict(result(found), settings or Settings(), "Host")
    return json.loads(json.dumps(report, allow_nan=False))["files"][0]["figures"][0]["proportion"]


def test_both_counts_are_there_and_labelled():
    found = as_json(keeper())
    assert (found["heads_tall"], found["heads_with_hair"]) == (pytest.approx(3), 2.6)
    assert "by skull" in found["counted"]["heads_tall"]
    assert "hair and ears" in found["counted"]["heads_with_hair"]
    text = table(result(keeper()))
    assert "3.00 heads tall by skull; 2.60 counted with hair and ears" in text
    bare = table(result(replace(keeper(), heads_with_hair=None)))
    assert "3.00 heads tall by skull\n" in bare and "hair" not in bare
    same = table(result(replace(keeper(), heads_with_hair=3.001)))
    assert "3.00 heads tall by skull\n" in same and "hair" not in same


def test_directions_widths_and_readings_are_there():
    reading = Reading("jaw", 0.6, 0.58, float("nan"))
    mark = Landmark(0.6, np.zeros(3), "shape", 0.58, 0.62, "", (reading,))
    found = keeper()
    found = as_json(replace(found, landmarks={**found.landmarks, "chin": mark}))
    assert (found["up"], found["forward"]) == ([0, 0, 1], [0, -1, 0])
    assert found["spans"]["arm_span"]["length"] == 0.66
    assert found["landmarks"]["chin"]["readings"] == [{"method": "jaw", "height": 0.6, "low": 0.58, "high": None}]
    empty = as_json(Proportion(refusal="No."))
    assert (empty["up"], empty["spans"], empty["plan"], empty["comparison"]) == (None, {}, None, None)


def test_the_plan_is_there_both_ways_once_there_is_a_target():
    assert as_json(keeper())["plan"] is None
    plan = as_json(keeper(target=1.5))["plan"]
    assert set(plan) == {"target", "head", "height"}
    assert plan["head"]["height_after"] == pytest.approx(0.45)
    assert plan["height"]["head_after"] == pytest.approx(0.6)
    assert plan["head"]["landmarks"]["crotch"] == {"before": 0.3, "after": pytest.approx(0.075)}
    leg = {span["name"]: span for span in plan["head"]["spans"]}["leg"]
    assert (leg["upper"], leg["lower"], leg["percent"]) == ("crotch", "sole", pytest.approx(-75))
    low = as_json(keeper(target=1.0))["plan"]
    assert "above 1" in low["head"]["refusal"] and "above 1" in low["height"]["refusal"]


def test_the_comparison_is_there_once_a_canon_is_named():
    assert as_json(keeper())["comparison"] is None
    settings = Settings(canon="staff", canons=(STAFF,))
    side = as_json(keeper(), settings)["comparison"]
    assert (side["name"], side["source"], side["heads_there"]) == ("Staff", "invented", 3)
    rows = {row["name"]: row for row in side["rows"]}
    assert (rows["crotch"]["difference"], rows["arm_span"]["width"]) == (pytest.approx(0.2), True)
    assert "Crotch 2.00 heads down, there 2.20: 0.20 heads nearer the crown here (6.0 cm)" in table(result(keeper()), settings)
    assert as_json(Proportion(refusal="No."), settings)["comparison"] is None


@pytest.mark.parametrize(("keep", "words"), [("head", "keep the head"), ("height", "keep the height")])
def test_the_table_has_the_plan_where_the_target_is_missed(keep, words):
    text = table(result(keeper(target=1.5)), Settings(keep=keep))
    assert f"Plan        {words}, from 3.00 to 1.50 heads" in text
    reached = table(result(keeper(target=3.0)), Settings(keep=keep))
    assert "Plan" not in reached and "reached" in reached


def test_the_plans_rows_stand_in_columns():
    lines = table(result(keeper(target=1.5))).splitlines()
    start = next(n for n, line in enumerate(lines) if "before" in line)
    rows = lines[start : start + 5]
    assert [row.strip().split("  ")[0] for row in rows] == [
        "before", "Whole", "Head", "Torso, chin to crotch", "Leg, crotch to sole",
    ]
    assert len({row.index(word) for row, word in zip(rows[1:], ("-45.0", "none", "-22.5", "-22.5"), strict=True)}) == 1
    assert "90.0 cm  45.0 cm  -45.0 cm (-50 %)  3.00 to 1.50" in rows[1]


def test_the_table_has_the_new_height_of_every_landmark():
    lines = [" ".join(line.split()) for line in table(result(keeper(target=1.5))).splitlines()]
    at = lines.index("Above the sole before after change heads")
    assert lines[at + 1 : at + 3] == [
        "Chin 60.0 cm 15.0 cm -45.0 cm (-75 %) 2.00 to 0.50", "Crotch 30.0 cm 7.5 cm -22.5 cm (-75 %) 1.00 to 0.25",
    ]


def test_a_target_no_figure_can_have_is_said_in_the_table():
    assert "above 1" in table(result(keeper(target=1.0)))


def with_findings(*findings, allowed=0, places=0):
    objects = (ObjectResult("Body", "mesh", 8, 4, allowed=allowed, findings=findings, allowed_places=places),)
    uses = (AllowanceUse(Allowance("m1", "object", "", "worn on one side", "Satchel"), 5),)
    (file,) = result(measured(0.9, 0.3))
    (figure,) = file.figures
    return [FileResult("a.blend", figures=(replace(figure, objects=objects, allowances=uses),))]


def finding(code, sizes, **more):
    count = len(sizes)
    return Finding(code, np.arange(count), np.full(count, -1), np.array(sizes), **more)


def test_sizes_stand_in_their_own_units():
    text = table(with_findings(
        finding("normal-drifted", [12.5], unit="degrees", kind="corner"),
        finding("weight-drifted", [0.25], unit="weight", subject="Arm.L", new=True),
        finding("drifted", [0.004, 0.001], new=False),
    ))
    assert "1 custom normal off its mirror image, worst 12.5 degrees\n" in text
    assert "worst 0.25, new" in text and "worst 4 mm, inherited" in text
    assert "2 of 8 vertices do not match within 0.1 mm; 2 differences of other kinds" in text


@pytest.mark.parametrize(("findings", "allowed", "words"), [
    ((), 0, "match: 8 vertices within 0.1 mm\n"),
    ((), 3, "match: 8 vertices within 0.1 mm; 3 excused as meant to differ\n"),
    ((finding("weight-drifted", [0.25]),), 0, "match: 8 vertices within 0.1 mm; 1 difference of other kinds\n"),
    ((finding("near-miss", [1e-5]),), 0, "match: 8 vertices within 0.1 mm\n"),
])
def test_the_halves_in_one_line(findings, allowed, words):
    assert words in table(with_findings(*findings, allowed=allowed))


def test_what_is_excused_counts_neither_as_matching_nor_as_off():
    assert "match: 5 vertices within 0.1 mm; 4 excused" in table(with_findings(allowed=4, places=3))
    assert "1 of 5 vertices do not match" in table(with_findings(finding("drifted", [0.1]), allowed=4, places=3))
    many = finding("weight-drifted", [0.25] * 12345)
    assert "; 12,345 differences of other kinds; 2,345 excused" in table(with_findings(many, allowed=2345))
    assert "places were left out\n" in table(with_findings(), Settings(layers=("uv",)))
    assert "match: 8" in table(with_findings(), Settings(layers=("surface",)))


def test_allowances_are_in_the_report_with_their_reasons():
    figure = report_dict(with_findings(), Settings(), "Host")["files"][0]["figures"][0]
    assert figure["allowances"] == [
        {"kind": "object", "subject": "", "owner": "Satchel", "reason": "worn on one side", "excuses": 5}
    ]
