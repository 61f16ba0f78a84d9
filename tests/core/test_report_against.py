"""New, fixed and unchanged since an earlier report: against plain set arithmetic, and damaged reports."""

import copy
import json

import numpy as np
import pytest
from evenfold.core.errors import SettingsError
from evenfold.core.report.against import (
    against_dict,
    against_text,
    compare_with,
    read_earlier,
)
from evenfold.core.report.as_json import report_dict
from evenfold.core.settings import Settings
from figures.reported import HOSTILE, error, figure_result, file_result, found, hostile_files, named


def as_report(*files):
    return json.loads(json.dumps(report_dict(files, Settings(), "Host")))


def since(then, now):
    return compare_with(now, as_report(*then), "old.json")


def one(*findings, **more):
    return [file_result(figure_result(*findings, **more))]


@pytest.mark.parametrize("seed", range(12))
def test_elements_are_told_apart_as_sets_are(seed):
    rng = np.random.default_rng(seed)
    codes = ("drifted", "unpaired", "key-lopsided", "near-miss")

    def draw():
        entries = {}
        for path in ("a.blend", "b.blend"):
            findings = []
            for code in codes:
                elements = np.flatnonzero(rng.random(30) < 0.3)
                entries[path, code] = set(elements.tolist())
                findings.append(found(code, np.ones(len(elements)), elements, subject="Smile" if code.startswith("key") else None))
            yield file_result(figure_result(*findings), path=path)
        yield entries

    *then, before = draw()
    *now, after = draw()
    made = since(then, now)
    for change in made.changes:
        old, new = before[change.path, change.code], after[change.path, change.code]
        assert (set(change.new), set(change.fixed), set(change.unchanged)) == (new - old, old - new, old & new)
    assert made.count("new") == sum(len(after[key] - before[key]) for key in before)
    assert made.count("fixed") == sum(len(before[key] - after[key]) for key in before)
    assert made.count("unchanged") == sum(len(before[key] & after[key]) for key in before)
    assert made.worse == any(after[key] - before[key] for key in before if key[1] != "near-miss")


def test_nothing_changed_says_so():
    made = since(one(found(), named(), readiness=[error()]), one(found(), named(), readiness=[error()]))
    assert (made.count("new"), made.count("fixed"), made.count("unchanged"), made.worse) == (0, 0, 4, False)
    assert {change.state for change in made.changes} == {"unchanged"} and made.notes == ()
    assert against_text(made) == "Since old.json: 0 new, 0 fixed, 4 unchanged.\n"


@pytest.mark.parametrize("change", [
    {"path": "other.blend"}, {"name": "Cook"}, {"thing": "Coat"}, {"code": "off-centre"}, {"subject": "Arm.L"},
])
def test_another_place_is_another_finding(change):
    path = change.pop("path", "staff/keeper.blend")
    inner = {name: change.pop(name) for name in ("code", "subject") if name in change}
    now = [file_result(figure_result(found(**inner), **change), path=path)]
    made = since(one(found()), now)
    assert (made.count("new"), made.count("unchanged"), made.worse) == (2, 0, True)


def test_names_are_compared_as_names():
    made = since(one(named(names=("Arm.L", "Leg.L"))), one(named(names=("Leg.L", "Head"))))
    (change,) = made.changes
    assert (change.new, change.fixed, change.unchanged, change.state) == (("Head",), ("Arm.L",), ("Leg.L",), "changed")
    assert "Body: bones off their mirror image, 1 new (Head), 1 fixed (Arm.L), 1 unchanged" in against_text(made)


def test_hand_off_notes_are_no_differences():
    notes = [error(level="note"), error(level="note")]
    made = since(one(readiness=notes), one(readiness=notes[:1]))
    assert [made.count(state) for state in ("new", "fixed", "unchanged")] == [0, 0, 0]
    assert against_text(made) == "Since old.json: 0 new, 0 fixed, 0 unchanged.\n"
    grown = since(one(readiness=notes[:1]), one(readiness=[error()]))
    assert [grown.count(state) for state in ("new", "fixed", "unchanged")] == [1, 0, 0] and grown.worse


def test_a_note_or_a_warning_is_new_but_not_worse():
    made = since(one(), one(found("near-miss", (1e-5,)), readiness=[error(level="warning")]))
    assert (made.count("new"), made.worse) == (2, False)


def test_a_warning_that_became_an_error_is_new():
    made = since(one(readiness=[error(level="warning")]), one(readiness=[error()]))
    (change,) = made.changes
    assert (change.new, change.fixed, made.worse) == (("error",), ("warning",), True)


def test_the_same_said_once_more_is_new():
    made = since(one(readiness=[error()]), one(readiness=[error(), error()]))
    assert (made.count("new"), made.count("unchanged"), made.worse) == (1, 1, True)


def test_files_that_come_and_go_are_said():
    now = [file_result(figure_result(found())), file_result(path="cut.blend", error="It is cut short.")]
    then = [file_result(figure_result(found()), path="gone.blend"), file_result(figure_result(found()), path="cut.blend")]
    made = since(then, now)
    assert (made.count("new"), made.count("fixed"), made.count("unchanged")) == (2, 0, 0)
    assert made.notes == (
        "staff/keeper.blend was not in the earlier report: all of it counts as new.",
        "gone.blend was in the earlier report and was not checked this time.",
        "cut.blend could not be checked this time: nothing is said about it.",
    )


def test_a_figure_that_is_gone_is_fixed_and_moved_numbers_are_said():
    both = [file_result(figure_result(found()), figure_result(found(), name="Cook"))]
    made = since(both, one(found(), vertices=9))
    assert (made.count("fixed"), made.count("unchanged")) == (2, 2)
    assert made.notes == (
        "Body in staff/keeper.blend had 8 vertices and now has 9: vertex numbers may stand for other places.",
    )


def test_the_data_says_the_same():
    made = since(one(found(elements=[1, 2])), one(found(elements=[2, 3]), named()))
    data = json.loads(json.dumps(against_dict(made)))
    assert (data["against"], data["new"], data["fixed"], data["unchanged"]) == ("old.json", 2, 1, 1)
    drifted = {change["code"]: change for change in data["changes"]}["drifted"]
    assert (drifted["new"], drifted["fixed"], drifted["unchanged"], drifted["state"]) == ([3], [1], [2], "changed")
    assert (drifted["object"], drifted["subject"], drifted["matters"]) == ("Body", None, True)


def test_hostile_names_come_back_unchanged_and_cannot_steer_the_terminal():
    made = since(hostile_files(), hostile_files())
    assert (made.count("new"), made.count("fixed")) == (0, 0) and made.count("unchanged") >= 5 * len(HOSTILE)
    text = against_text(since([], hostile_files()))
    assert all(sign.isprintable() for sign in text if sign != "\n")


def damaged():
    good = as_report(*one(found(), readiness=[error()]))
    places = {
        "files": lambda r: r.update(files={}), "file": lambda r: r.update(files=[3]),
        "path": lambda r: r["files"][0].update(path=7), "status": lambda r: r["files"][0].pop("status"),
        "figures": lambda r: r["files"][0].update(figures=None),
        "objects": lambda r: r["files"][0]["figures"][0].pop("objects"),
        "elements": lambda r: r["files"][0]["figures"][0]["objects"][0]["findings"][0].update(elements=[[1]]),
        "code": lambda r: r["files"][0]["figures"][0]["objects"][0]["findings"][0].update(code=None),
        "huge element": lambda r: r["files"][0]["figures"][0]["objects"][0]["findings"][0].update(elements=[10**30]),
        "negative element": lambda r: r["files"][0]["figures"][0]["objects"][0]["findings"][0].update(elements=[-1]),
        "endless element": lambda r: r["files"][0]["figures"][0]["objects"][0]["findings"][0].update(elements=[float("inf")]),
        "endless vertices": lambda r: r["files"][0]["figures"][0]["objects"][0].update(vertices=float("inf")),
        "huge vertices": lambda r: r["files"][0]["figures"][0]["objects"][0].update(vertices=10**30),
        "no vertices": lambda r: r["files"][0]["figures"][0]["objects"][0].update(vertices=float("nan")),
        "vertices": lambda r: r["files"][0]["figures"][0]["objects"][0].update(vertices="many"),
        "endless": lambda r: r["files"][0]["figures"][0]["objects"][0].update(vertices=float("inf")),
        "level": lambda r: r["files"][0]["figures"][0]["readiness"][0].update(level=4),
    }
    for name, damage in places.items():
        broken = copy.deepcopy(good)
        damage(broken)
        yield pytest.param(json.dumps(broken), "damaged", id=name)


@pytest.mark.parametrize(("text", "words"), [
    ("", "not valid JSON"), ("{", "not valid JSON"), ("[]", "not a report"), ("{}", "not a report"), ("[" * 100000, "JSON"),
    ('{"schema": "evenfold-report/2", "files": []}', "not a report"), ("\ud800".encode("utf-8", "surrogatepass"), "JSON"),
    *damaged(),
])
def test_what_is_no_report_is_refused_with_a_reason(tmp_path, text, words):
    path = tmp_path / "old.json"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SettingsError, match=words):
        read_earlier(path)


def test_a_good_report_is_read_and_a_missing_one_refused(tmp_path):
    path = tmp_path / "old.json"
    report = as_report(*one(found()))
    path.write_text(json.dumps(report))
    assert read_earlier(path) == report
    path.write_text(json.dumps(report), "utf-8-sig")
    assert read_earlier(path) == report
    with pytest.raises(SettingsError, match="cannot be read"):
        read_earlier(tmp_path / "none.json")
