"""Names that mean harm, in every place a file can put one: no form of the report changes its shape.

Each form is read by a reader of its own and compared, part by part, with the same results under
plain names: a name may change texts and nothing else.
"""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from evenfold.core.canon import Canon
from evenfold.core.findings import Proportion
from evenfold.core.portrait import portrait_of
from evenfold.core.report.against import compare_with, read_earlier
from evenfold.core.report.as_table import safe
from evenfold.core.report.written import json_text
from evenfold.core.settings import Settings
from figures.measured import measured
from figures.people import Person, keeper
from figures.reported import (
    HOSTILE,
    allowance,
    error,
    figure_result,
    file_result,
    folder_texts,
    found,
    named,
)

PLAIN = "Plain"
MORE = (
    "\u061c\u200e\u200f\u2067isolated\u2069", "\u009b2J", "\x07\x08\x7f", "\x1b]8;;https://lighthouse.invalid\x1b\\here\x1b]8;;\x1b\\",
    "${jndi:x}", "%s%n", "{{x}}", "<![CDATA[", "<?xml version='1.0'?>", "&#x3c;script&#x3e;", "javascript:alert(1)",
    "\u2028\u2029\x85", "a;=1+1;b", "x\t=1+1", "x|cmd", "\"=1+1", "'@x", "-2+3", "\U000e0041\U000e0042", "../../../etc/passwd", "..\\..\\x",
    "C:\\CON", "//server/share", "file:///x",
)
ALL = (*HOSTILE, *MORE)


def results(bad):
    """Figures of two files, and one that could not be read, with this name wherever there is one."""
    broken = named(names=(bad, f"{bad}2"), partner_names=(bad, None), subject=f"{bad} / {bad}", subjects=(bad, bad))
    result = figure_result(
        found(subject=bad, advice=bad, new=True), broken, found("unpaired", (np.nan,), partner_object=bad),
        found("key-spill", (0.1,), subject=bad), name=bad, thing=bad, target=2.0,
        readiness=[error("ready-names", bad), error("ready-humanoid", bad, "note")], allowances=[allowance(bad, bad), allowance(bad, "", 0)],
    )
    item = replace(result.objects[0], notes=(bad,))
    proportion = replace(measured(0.9, 0.3, {"crotch": 0.3}, target=2.0), guesses=(bad,))
    result = replace(result, notes=(bad,), plane=replace(result.plane, why=bad), objects=(item,), proportion=proportion)
    result = replace(result, portrait=portrait_of(keeper(Person()), result))
    refused = replace(figure_result(name=bad), proportion=Proportion(refusal=bad))
    return [file_result(result, refused, path=f"{bad}.blend"), file_result(path=f"{bad}/not.blend", error=bad)]


def texts(bad):
    """Every form, compared with an earlier report under the same names."""
    settings = Settings(canon="staff", canons=(Canon("staff", f"x{bad}", 3.0, {"crotch": 2.2}, f"x{bad}", "invented", "own"),))
    earlier = json.loads(json_text([file_result(figure_result(found("doubled", (1.0,), subject=bad), name=bad, thing=bad), path=f"{bad}.blend")], settings, bad))
    files = results(bad)
    return folder_texts(files, settings, bad, compare_with(files, earlier, bad))


class Tags(HTMLParser):
    """Elements with their attributes' names, classes, ids and addresses; no texts."""

    def __init__(self, text):
        super().__init__()
        self.shape = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        kept = {name: value if name in ("class", "id", "href", "d", "role") else None for name, value in attrs}
        self.shape.append((tag, sorted(kept.items())))

    def handle_endtag(self, tag):
        self.shape.append(("/", tag))

    def handle_comment(self, data):
        self.shape.append(("comment", ""))

    def handle_decl(self, decl):
        self.shape.append(("declaration", decl))


def of_html(text):
    return Tags(text).shape


def of_xml(text):
    return [(one.tag, sorted(one.attrib), [child.tag for child in one]) for one in ET.fromstring(text).iter()]  # noqa: S314


def of_data(value):
    if isinstance(value, dict):
        return {name: of_data(one) for name, one in value.items()}
    if isinstance(value, list):
        return [of_data(one) for one in value]
    return type(value).__name__


def of_json(text):
    return of_data(json.loads(text))


def of_csv(text):
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    numbers = re.compile(r"-?[0-9.]+(e-?[0-9]+)?")
    return [[bool(numbers.fullmatch(cell)) for cell in row] for row in rows]


def of_lines(text):
    return [len(line) - len(line.lstrip()) for line in text.split("\n")]


SHAPES = {
    "index.html": of_html, "junit.xml": of_xml, "report.json": of_json, "report.sarif": of_json, "report.csv": of_csv,
    "report.txt": of_lines,
}


@pytest.fixture(scope="module")
def plain():
    made = texts(PLAIN)
    assert set(made) == set(SHAPES)
    assert all(text.count(PLAIN) > 5 for text in made.values())
    return {name: SHAPES[name](text) for name, text in made.items()}


@pytest.mark.parametrize("bad", ALL, ids=range(len(ALL)))
def test_no_name_changes_the_shape_of_any_form(plain, bad):
    for name, text in texts(bad).items():
        assert SHAPES[name](text) == plain[name], name


@pytest.mark.parametrize("blank", ["", " ", "\u00a0"])
def test_forms_stay_whole_where_a_name_is_blank(blank):
    for name, text in texts(blank).items():
        assert SHAPES[name](text), name


@pytest.mark.parametrize("bad", ALL, ids=range(len(ALL)))
def test_no_form_holds_a_sign_that_steers(bad):
    """Escape sequences, bidirectional overrides, line separators, lone surrogates, invisible signs."""
    for name, text in texts(bad).items():
        steering = {sign for sign in text if not sign.isprintable()} - {"\n", "\r", "\ufeff"}
        assert steering <= ({"\t"} if name == "index.html" else set()), name
        assert text.count("\r") == (text.count("\r\n") if name == "report.csv" else 0), name


@pytest.mark.parametrize("bad", ["a;=1+1;b", "x;@SUM(A1)", "x;  -2", "a\t=1"])
def test_no_formula_where_a_spreadsheet_splits_at_semicolons(bad):
    """Where the decimal sign is a comma, cells end at semicolons."""
    for row in csv.reader(io.StringIO(texts(bad)["report.csv"].removeprefix("\ufeff"), newline=""), delimiter=";", quoting=csv.QUOTE_NONE):
        for cell in row[1:]:
            assert not cell.lstrip().startswith(tuple("=+-@|%")), cell


def test_an_earlier_report_may_hold_anything(tmp_path):
    """What --against names was written by somebody else too."""
    for bad in ALL:
        path = tmp_path / "earlier.json"
        path.write_text(json_text(results(bad), Settings(), bad), encoding="utf-8")
        compared = compare_with([], read_earlier(path), bad)
        shown = folder_texts([], Settings(), "Host", compared)
        assert len(of_html(shown["index.html"])) > 10
        assert all(line.isprintable() for line in shown["report.txt"].splitlines())


def test_what_is_said_on_the_terminal_is_readable():
    assert safe("Kee\x1b[2Jper\u202e") == "Kee\\x1b[2Jper\\u202e"
    assert safe("küche 灯台 🐈") == "küche 灯台 🐈"
