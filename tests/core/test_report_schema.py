"""The published schema of the report says all that is written, and refuses what is not a report.

``troubles`` knows the few words of JSON Schema (draft 2020-12) that the schema uses, and with
them that everything written is named in it.
"""

import copy
import json
from dataclasses import replace
from pathlib import Path

import evenfold
import numpy as np
import pytest
from evenfold.core.canon import Canon
from evenfold.core.findings import Proportion, Reading
from evenfold.core.report.against import compare_with
from evenfold.core.report.as_json import SCHEMA, report_dict
from evenfold.core.report.written import json_text
from evenfold.core.settings import Settings
from figures.measured import measured
from figures.reported import (
    allowance,
    error,
    figure_result,
    file_result,
    found,
    hostile_files,
    named,
)

PLACE = Path(evenfold.__file__).parent / "core" / "report" / "evenfold-report-1.schema.json"
SPEC = json.loads(PLACE.read_text("utf-8"))
WORDS = {
    "$schema", "$id", "$ref", "$defs", "title", "description", "type", "properties", "required", "items", "enum",
    "const", "anyOf", "additionalProperties", "minimum", "minItems", "maxItems",
}
TYPES = {
    "object": dict, "array": list, "string": str, "boolean": bool, "null": type(None), "integer": int, "number": (int, float),
}
STAFF = Canon("staff", "Staff", 3.0, {"crotch": 2.2}, "invented", "invented", "own", {"arm_span": 2.0}, 0.2)


def is_type(value, name):
    if isinstance(value, bool):
        return name == "boolean"
    return isinstance(value, TYPES[name])


def troubles(value, spec, where="report"):
    """Where a value departs from a schema, undeclared properties included."""
    assert set(spec) <= WORDS, set(spec) - WORDS
    if "$ref" in spec:
        return troubles(value, SPEC["$defs"][spec["$ref"].removeprefix("#/$defs/")], where)
    if "anyOf" in spec:
        tried = [troubles(value, one, where) for one in spec["anyOf"]]
        return [] if [] in tried else min(tried, key=len)
    kinds = spec.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds and not any(is_type(value, one) for one in kinds):
        return [f"{where}: {type(value).__name__} is not {' or '.join(kinds)}"]
    wrong = []
    if value not in spec.get("enum", [value]) or value != spec.get("const", value):
        wrong.append(f"{where}: {value!r}")
    if "minimum" in spec and value < spec["minimum"]:
        wrong.append(f"{where}: below {spec['minimum']}")
    if isinstance(value, list):
        if not spec.get("minItems", 0) <= len(value) <= spec.get("maxItems", len(value)):
            wrong.append(f"{where}: {len(value)} items")
        wrong += [text for number, one in enumerate(value) for text in troubles(one, spec["items"], f"{where}[{number}]")]
    if isinstance(value, dict):
        wrong += in_object(value, spec, where)
    return wrong


def in_object(value, spec, where):
    known, rest = spec.get("properties", {}), spec.get("additionalProperties")
    wrong = [f"{where}: {name} is missing" for name in spec.get("required", []) if name not in value]
    for name, one in value.items():
        if name in known:
            wrong += troubles(one, known[name], f"{where}.{name}")
        elif rest is None:
            wrong.append(f"{where}: {name} is not in the schema")
        else:
            wrong += troubles(one, rest, f"{where}.{name}")
    return wrong


def whole():
    """A report in which every part of the schema stands somewhere."""
    full = figure_result(
        found(sizes=(0.1, np.nan), new=True, hidden=1, islands=2), named(partner_names=("Arm.R",)), found("unpaired", (np.nan,)),
        readiness=[error(), error("ready-names", "Arm", "note")], allowances=[allowance()], target=1.5,
    )
    proportion = measured(0.9, 0.3, {"crotch": 0.3}, target=1.5, spans={"arm_span": 0.66})
    chin = replace(proportion.landmarks["chin"], readings=(Reading("jaw", 0.6, 0.58, np.nan),))
    proportion = replace(proportion, landmarks={**proportion.landmarks, "chin": chin})
    full = replace(full, proportion=proportion, notes=("Read at rest.",))
    bare = replace(figure_result(name="Cook"), proportion=Proportion(refusal="It lies down.", target=1.0))
    low = replace(figure_result(name="Apprentice"), proportion=measured(0.9, 0.3, target=1.0))
    files = [file_result(full, bare, low), file_result(path="cut.blend", error="It is cut short.")]
    settings = Settings(target_heads=1.5, canon="staff", canons=(STAFF,), layers=("uv",))
    earlier = report_dict([file_result(figure_result(found(elements=[5, 6])))], settings, "Host")
    return json.loads(json_text(files, settings, "Host", compare_with(files, earlier, "old.json")))


def test_every_report_keeps_the_schema():
    assert SPEC["properties"]["schema"]["const"] == SCHEMA
    assert troubles(whole(), SPEC) == []
    assert troubles(json.loads(json_text([], Settings(), "Host")), SPEC) == []
    assert troubles(json.loads(json_text(hostile_files(), Settings(), "Host")), SPEC) == []


def used(value, spec, seen):
    """Every definition and property of the schema that a value reaches."""
    if "$ref" in spec:
        seen.add(spec["$ref"])
        used(value, SPEC["$defs"][spec["$ref"].removeprefix("#/$defs/")], seen)
    for one in spec.get("anyOf", ()):
        if not troubles(value, one):
            used(value, one, seen)
    if isinstance(value, list):
        for one in value:
            used(one, spec.get("items", {}), seen)
    if isinstance(value, dict):
        for name, one in value.items():
            used(one, spec.get("properties", {}).get(name, spec.get("additionalProperties", {})), seen)


def test_every_definition_of_the_schema_is_tried():
    seen = set()
    used(whole(), SPEC, seen)
    assert seen == {f"#/$defs/{name}" for name in SPEC["$defs"]}


def figure_of(report):
    return report["files"][0]["figures"][0]


@pytest.mark.parametrize(("damage", "words"), [
    (lambda r: r.update(schema="evenfold-report/2"), "report.schema: 'evenfold-report/2'"),
    (lambda r: r["files"][0].pop("path"), "path is missing"),
    (lambda r: figure_of(r).update(status="unreadable"), "status: 'unreadable'"),
    (lambda r: figure_of(r)["proportion"].update(heads_tall="3"), "heads_tall: str is not number or null"),
    (lambda r: figure_of(r)["proportion"]["landmarks"]["sole"]["point"].pop(), "point: 2 items"),
    (lambda r: figure_of(r)["objects"][0]["findings"][0]["elements"].append(None), "NoneType is not integer or string"),
    (lambda r: figure_of(r)["objects"][0].update(vertices=-1), "vertices: below 0"),
    (lambda r: figure_of(r).update(extra=1), "extra is not in the schema"),
    (lambda r: r["settings"].update(layers="uv"), "layers: str is not array"),
])
def test_what_is_no_report_is_told(damage, words):
    report = copy.deepcopy(whole())
    damage(report)
    (told,) = troubles(report, SPEC)
    assert words in told
