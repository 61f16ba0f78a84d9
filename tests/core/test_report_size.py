"""A figure's size in every form of report. All results are invented."""

import json
from dataclasses import replace

from core.test_report_page import shown, troubles
from evenfold.core.budget import Budget
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_table import table as text_table
from evenfold.core.report.page.size import size_table
from evenfold.core.settings import Settings
from evenfold.core.size import ObjectSize, Size
from figures.reported import HOSTILE, SIZE, figure_result, file_result, sized

TIGHT = Budget(triangles=7500, meshes=4, bones=75, source="The <harbour>'s rules")


def report(result):
    (file,) = report_dict([file_result(result)], Settings(), "Host")["files"]
    return json.loads(json.dumps(file["figures"][0]))


def test_json_has_every_number():
    assert report(sized())["size"] == {
        "triangles": 10000, "vertices": 6800, "meshes": 2, "materials": 3, "bones": 70, "keys": 52, "vertices_stored": 5000,
        "objects": [
            {"name": "Body", "triangles": 9000, "vertices": 6100, "vertices_stored": 4500, "materials": 2, "keys": 52},
            {"name": "Boots", "triangles": 1000, "vertices": 700, "vertices_stored": 500, "materials": 1, "keys": 0},
        ],
    }
    assert report(figure_result())["size"] is None


def test_json_says_the_budget_and_that_it_is_passed():
    told = report(sized(TIGHT))
    assert [(one["code"], one["level"], one["subject"]) for one in told["readiness"]] == [("ready-over-budget", "error", "triangles")]
    settings = report_dict([], Settings(budget=TIGHT), "Host")["settings"]
    assert settings["budget"] == {
        "triangles": 7500, "vertices": 0, "meshes": 4, "materials": 0, "bones": 75, "keys": 0, "source": TIGHT.source,
    }


def test_text_has_one_line_of_it():
    lines = text_table([file_result(sized(TIGHT))], Settings(budget=TIGHT)).splitlines()
    (line,) = [one for one in lines if one.split()[:1] == ["Size"]]
    assert line.split(maxsplit=1)[1] == (
        "10,000 triangles, 6,800 vertices in the engine (5,000 stored), 2 meshes, 3 materials, 70 bones, 52 shape keys on one mesh"
    )
    assert any("10,000 triangles, 7,500 allowed: 2,500 too many." in one for one in lines)


def test_the_page_has_a_table_of_it():
    page = shown([file_result(sized(TIGHT))], Settings(budget=TIGHT))
    assert troubles(page) == []
    for words in ("Size as an engine gets it", "9,000", "The whole figure", "6,800", "2 of 4 allowed meshes, 70 of 75 allowed bones"):
        assert words in page
    assert "Allowed by: The &lt;harbour&gt;" in page


def test_without_limits_the_page_says_none():
    table = size_table(SIZE, Settings().budget)
    assert "llowed" not in table and "2 meshes, 70 bones." in table


def test_no_name_of_an_object_does_harm():
    for bad in HOSTILE:
        size = Size((ObjectSize(bad, 1, 3, 3, 1, 0),), 0)
        page = shown([file_result(replace(figure_result(), size=size))], Settings(budget=Budget(9, source=bad)))
        assert troubles(page) == [], bad
