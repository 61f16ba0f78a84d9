"""The published schema of the report says all that is written, and refuses what is not a report.

A validator of the standard (draft 2020-12) judges, once as the schema is published and once with
every object closed, so that everything written is named in it.
"""

import copy
import json
from dataclasses import replace
from pathlib import Path

import evenfold
import numpy as np
import pytest
from evenfold.core.budget import Budget
from evenfold.core.canon import Canon
from evenfold.core.check import check_figure
from evenfold.core.findings import Proportion, Reading
from evenfold.core.report.against import compare_with
from evenfold.core.report.as_json import SCHEMA, report_dict
from evenfold.core.report.written import json_text
from evenfold.core.settings import Settings
from figures.layered import layered, rig
from figures.measured import measured
from figures.reported import (
    SIZE,
    allowance,
    error,
    figure_result,
    file_result,
    found,
    hostile_files,
    named,
)
from jsonschema import Draft202012Validator
from jsonschema.exceptions import best_match
from oracles.finder import ScipyFinder

PLACE = Path(evenfold.__file__).parent / "core" / "report" / "evenfold-report-1.schema.json"
SPEC = json.loads(PLACE.read_text("utf-8"))
STAFF = Canon("staff", "Staff", 3.0, {"crotch": 2.2}, "invented", "invented", "own", {"arm_span": 2.0}, 0.2)


def strict(spec):
    """The schema with every object closed: whatever is written is named in it."""
    if isinstance(spec, list):
        return [strict(one) for one in spec]
    if not isinstance(spec, dict):
        return spec
    made = {name: strict(one) for name, one in spec.items()}
    if "properties" in made and isinstance(spec.get("type"), str):
        made.setdefault("additionalProperties", False)
    return made


VALIDATOR = Draft202012Validator(SPEC)
CLOSED = Draft202012Validator(strict(SPEC))


def troubles(value, validator=CLOSED):
    """Where a value departs from the schema, in the validator's words."""
    return [f"{'.'.join(map(str, one.absolute_path))}: {one.message}" for one in deepest(validator.iter_errors(value))]


def deepest(errors):
    """Of an alternative's errors those of the best fit."""
    for one in errors:
        yield one if not one.context else best_match([one])


def whole():
    """A report in which every part of the schema stands somewhere."""
    full = figure_result(
        found(sizes=(0.1, np.nan), new=True, hidden=1, islands=2), named(partner_names=("Arm.R",)), found("unpaired", (np.nan,)),
        readiness=[error(), error("ready-names", "Arm", "note")], allowances=[allowance()], target=1.5,
    )
    proportion = measured(0.9, 0.3, {"crotch": 0.3}, target=1.5, spans={"arm_span": 0.66})
    chin = replace(proportion.landmarks["chin"], readings=(Reading("jaw", 0.6, 0.58, np.nan),))
    proportion = replace(proportion, landmarks={**proportion.landmarks, "chin": chin})
    full = replace(full, proportion=proportion, notes=("Read at rest.",), size=SIZE)
    bare = replace(figure_result(name="Cook"), proportion=Proportion(refusal="It lies down.", target=1.0))
    low = replace(figure_result(name="Apprentice"), proportion=measured(0.9, 0.3, target=1.0))
    files = [file_result(full, bare, low), file_result(path="cut.blend", error="It is cut short.")]
    settings = Settings(target_heads=1.5, canon="staff", canons=(STAFF,), layers=("uv",), budget=Budget(7500, 9, 9, 9, 9, 9, "invented"))
    earlier = report_dict([file_result(figure_result(found(elements=[5, 6])))], settings, "Host")
    return json.loads(json_text(files, settings, "Host", compare_with(files, earlier, "old.json")))


def test_the_schema_is_one_of_the_draft_it_names():
    assert SPEC["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SPEC)
    assert SPEC["properties"]["schema"]["const"] == SCHEMA


@pytest.mark.parametrize("files", [[], [file_result(figure_result(found(), named())), file_result(path="cut.blend", error="It is cut short.")], hostile_files()], ids=["none", "some", "hostile"])
def test_every_report_keeps_the_schema(files):
    for settings in (Settings(), Settings(target_heads=2.0, tolerance=0.1, layers=("uv",), keep="height")):
        report = json.loads(json_text(files, settings, "Host"))
        assert troubles(report) == [] and list(VALIDATOR.iter_errors(report)) == []


def test_a_report_with_everything_keeps_it():
    report = whole()
    assert troubles(report) == [] and list(VALIDATOR.iter_errors(report)) == []


def test_reports_of_whole_figures_keep_it():
    """Layers, keys, weights and readiness of figures that were really checked."""
    for seed in range(3):
        made = layered(seed)
        figure = made.figure(rig())
        moved = made.surface.positions.copy()
        moved[:40] += 0.02
        broken = replace(figure, surfaces=(replace(made.surface, positions=moved),))
        results = [check_figure(one, Settings(target_heads=2.0), ScipyFinder) for one in (figure, broken)]
        assert any(entry.findings for entry in results[1].objects)
        report = json.loads(json_text([file_result(*results)], Settings(target_heads=2.0), "Host"))
        assert troubles(report) == []


def places(value, where=()):
    """Every place in a report, as the way to it."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, one in inside:
        yield (*where, name)
        yield from places(one, (*where, name))


def test_a_wrong_kind_of_value_anywhere_is_refused():
    """An object of nothing stands nowhere in a report, but where everything may be left out."""
    report, missed = whole(), []
    for way in {tuple("#" if isinstance(one, int) else one for one in way): way for way in places(report)}.values():
        holder = report
        for one in way[:-1]:
            holder = holder[one]
        kept = holder[way[-1]]
        holder[way[-1]] = {"unheard": {}}
        if not troubles(report):
            missed.append(way)
        holder[way[-1]] = kept
    assert missed == []


def test_nothing_that_is_always_there_may_be_missing():
    """But what stands only where there is something to say."""
    report, free = whole(), set()
    for way in {tuple("#" if isinstance(one, int) else one for one in way): way for way in places(report)}.values():
        holder = report
        for one in way[:-1]:
            holder = holder[one]
        if isinstance(holder, dict):
            kept = holder.pop(way[-1])
            if not troubles(report):
                free.add(way[-1])
            holder[way[-1]] = kept
    assert {"schema", "files", "path", "status", "figures", "findings", "code", "elements", "heads_tall"}.isdisjoint(free)


def figure_of(report):
    return report["files"][0]["figures"][0]


@pytest.mark.parametrize(("damage", "words"), [
    (lambda r: r.update(schema="evenfold-report/2"), "schema: 'evenfold-report/1' was expected"),
    (lambda r: r["files"][0].pop("path"), "'path' is a required property"),
    (lambda r: figure_of(r).update(status="unreadable"), "'unreadable' is not one of"),
    (lambda r: figure_of(r)["proportion"].update(heads_tall="3"), "heads_tall: '3' is not of type"),
    (lambda r: figure_of(r)["proportion"]["landmarks"]["sole"]["point"].pop(), "is too short"),
    (lambda r: figure_of(r)["objects"][0]["findings"][0]["elements"].append(None), "None is not of type"),
    (lambda r: figure_of(r)["objects"][0].update(vertices=-1), "-1 is less than the minimum"),
    (lambda r: figure_of(r).update(extra=1), "'extra' was unexpected"),
    (lambda r: r["settings"].update(layers="uv"), "layers: 'uv' is not of type"),
])
def test_what_is_no_report_is_told(damage, words):
    report = copy.deepcopy(whole())
    damage(report)
    (told,) = troubles(report)
    assert words in told
