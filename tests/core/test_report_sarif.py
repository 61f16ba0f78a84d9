"""SARIF 2.1.0: required and allowed properties as in the published sarif-schema-2.1.0.json (OASIS)."""

import json
from urllib.parse import unquote

import pytest
from evenfold.core.report.against import compare_with
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_sarif import as_sarif, uri
from evenfold.core.report.wording import WORDS
from evenfold.core.settings import Settings
from figures.reported import HOSTILE, error, figure_result, file_result, found, hostile_files, named

LEVEL = ("none", "note", "warning", "error")
SHAPES = {
    "log": ({"version", "runs"}, {"$schema"}),
    "run": ({"tool", "results"}, {"invocations", "columnKind"}),
    "driver": ({"name"}, {"version", "rules"}),
    "rule": ({"id"}, {"shortDescription", "fullDescription", "defaultConfiguration"}),
    "result": ({"message"}, {"ruleId", "ruleIndex", "level", "locations", "partialFingerprints", "baselineState", "properties"}),
    "location": (set(), {"physicalLocation", "logicalLocations"}),
    "logical": (set(), {"name", "kind", "fullyQualifiedName"}),
    "invocation": ({"executionSuccessful"}, {"toolExecutionNotifications"}),
    "notification": ({"message"}, {"level", "locations"}),
}


def troubles(text):
    """What is wrong with a log; every place is looked at. ``results`` is required for a real scan."""
    log = json.loads(text)
    wrong = shape("log", log)
    wrong += [] if log["version"] == "2.1.0" else ["version"]
    for run in log["runs"]:
        wrong += shape("run", run) + shape("driver", run["tool"]["driver"])
        rules = run["tool"]["driver"]["rules"]
        for rule in rules:
            wrong += shape("rule", rule) + texts(rule["shortDescription"], rule.get("fullDescription", {"text": "-"}))
            wrong += [] if rule["defaultConfiguration"]["level"] in LEVEL else ["rule level"]
        wrong += [] if len({rule["id"] for rule in rules}) == len(rules) else ["rules are not unique"]
        for told in run["invocations"]:
            wrong += shape("invocation", told)
            for one in told["toolExecutionNotifications"]:
                wrong += shape("notification", one) + texts(one["message"]) + place(one)
        for one in run["results"]:
            wrong += shape("result", one) + texts(one["message"]) + place(one)
            wrong += [] if one["level"] in LEVEL else ["level"]
            wrong += [] if rules[one["ruleIndex"]]["id"] == one["ruleId"] else ["ruleIndex"]
            wrong += [] if one.get("baselineState", "new") in ("new", "unchanged", "updated", "absent") else ["state"]
            wrong += [] if all(isinstance(v, str) for v in one["partialFingerprints"].values()) else ["fingerprint"]
    return wrong


def shape(kind, found):
    needed, more = SHAPES[kind]
    return [f"{kind} lacks {name}" for name in needed - set(found)] + [
        f"{kind} has {name}" for name in set(found) - needed - more
    ]


def texts(*messages):
    return ["text" for one in messages if not (isinstance(one.get("text"), str) and one["text"])]


def place(one):
    wrong = []
    for entry in one["locations"]:
        wrong += shape("location", entry)
        address = entry["physicalLocation"]["artifactLocation"]["uri"]
        wrong += [] if address.isascii() and " " not in address else [f"uri {address!r}"]
        for logical in entry.get("logicalLocations", ()):
            wrong += shape("logical", logical)
    return wrong


FILES = [
    file_result(figure_result(found(), found("near-miss", (1e-5,)), named(), readiness=[error(), error("ready-names", "Arm", "warning")])),
    file_result(path="cook.blend", error="The file is cut short."),
]


def results_of(files, against=None):
    return json.loads(as_sarif(files, against))["runs"][0]["results"]


def test_the_published_structure_is_kept():
    assert troubles(as_sarif(FILES)) == []
    assert troubles(as_sarif([])) == []
    assert troubles(as_sarif(hostile_files())) == []


def test_the_check_finds_what_is_planted():
    log = json.loads(as_sarif(FILES))
    log["runs"][0]["results"][0]["ruleIndex"] += 1
    assert troubles(json.dumps(log)) == ["ruleIndex"]
    del log["runs"][0]["results"][0]["message"], log["version"]
    with pytest.raises(KeyError):
        troubles(json.dumps(log))
    log = json.loads(as_sarif(FILES))
    log["runs"][0]["extra"] = 1
    assert troubles(json.dumps(log)) == ["run has extra"]


def test_every_code_has_its_rule_and_every_finding_its_result():
    run = json.loads(as_sarif(FILES))["runs"][0]
    rules = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    assert set(WORDS) <= set(rules) and {"ready-humanoid", "ready-names"} <= set(rules)
    levels = [(one["ruleId"], one["level"]) for one in run["results"]]
    assert levels == [
        ("drifted", "error"), ("near-miss", "note"), ("bone-drifted", "error"),
        ("ready-humanoid", "error"), ("ready-names", "warning"),
    ]
    first = run["results"][0]
    assert first["message"]["text"] == "Body: 2 vertices off their mirror image, worst 4 mm."
    assert (first["properties"]["count"], first["properties"]["elements"]) == (2, [0, 1])
    assert [one["name"] for one in first["locations"][0]["logicalLocations"]] == ["Keeper", "Body"]


def test_what_was_not_checked_is_told_as_trouble_of_the_run():
    (told,) = json.loads(as_sarif(FILES))["runs"][0]["invocations"]
    assert told["executionSuccessful"] is False
    assert told["toolExecutionNotifications"][0]["message"]["text"] == "The file is cut short."
    (fine,) = json.loads(as_sarif(FILES[:1]))["runs"][0]["invocations"]
    assert fine == {"executionSuccessful": True, "toolExecutionNotifications": []}


def test_what_became_of_a_result_since_an_earlier_report():
    earlier = report_dict([file_result(figure_result(found(), named()))], Settings(), "Host")
    now = [file_result(figure_result(found(sizes=(1, 1, 1)), named(), found("unpaired", (float("nan"),))))]
    states = {one["ruleId"]: one.get("baselineState") for one in results_of(now, compare_with(now, earlier, "r.json"))}
    assert states == {"drifted": "updated", "bone-drifted": "unchanged", "unpaired": "new"}
    assert {one.get("baselineState") for one in results_of(now)} == {None}


def test_fingerprints_hold_from_run_to_run_and_tell_places_apart():
    marks = [one["partialFingerprints"]["place/v1"] for one in results_of(FILES)]
    assert len(set(marks)) == len(marks)
    worse = [file_result(figure_result(found(sizes=(0.5,)))), FILES[1]]
    assert results_of(worse)[0]["partialFingerprints"]["place/v1"] == marks[0]


def test_paths_become_addresses():
    assert uri("staff/keeper one.blend") == "staff/keeper%20one.blend"
    assert uri("/staff/#1?.blend") == "file:///staff/%231%3F.blend"
    assert unquote(uri("räume/küche.blend")) == "räume/küche.blend"


@pytest.mark.parametrize("bad", HOSTILE)
def test_names_stay_plain_text(bad):
    (one, *_) = results_of([file_result(figure_result(found(subject=bad), name=bad))])
    assert one["message"]["text"].isprintable() and "](" not in one["message"]["text"]
    assert one["message"]["text"].replace("{{", "").replace("}}", "").count("{") == 0
