"""Rows for spreadsheets: every finding, and no text that becomes a formula."""

import csv
import io

import pytest
from evenfold.core.report.as_csv import COLUMNS, as_csv, harmless
from figures.reported import HOSTILE, error, figure_result, file_result, found, hostile_files, named


def rows_of(files):
    text = as_csv(files)
    assert text.startswith("\ufeff")
    rows = list(csv.reader(io.StringIO(text[1:], newline="")))
    assert rows[0] == list(COLUMNS)
    assert {len(row) for row in rows} == {len(COLUMNS)}
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows[1:]]


def test_a_row_for_each_finding_entry_and_file():
    rows = rows_of([
        file_result(figure_result(found(new=True), named(), readiness=[error()])), file_result(figure_result(), path="even.blend"),
        file_result(path="cut.blend", error="The file is cut short."),
    ])
    assert [row["code"] for row in rows] == ["drifted", "bone-drifted", "ready-humanoid", "", ""]
    first = rows[0]
    assert (first["count"], float(first["worst"]), first["unit"], first["new since baseline"]) == ("2", 0.004, "metres", "new")
    assert (first["elements"], rows[1]["elements"], rows[1]["worst"]) == ("0 1", "Arm.L", "")
    assert rows[3]["in words"] == "nothing found"
    assert (rows[4]["file status"], rows[4]["in words"]) == ("unreadable", "The file is cut short.")


def test_lines_end_as_the_standard_says():
    """RFC 4180, section 2: lines end with CRLF."""
    text = as_csv([file_result(figure_result(found()))])
    assert text.count("\r\n") == text.count("\n") == 2


@pytest.mark.parametrize("start", list("=+-@|%＝＋－＠"))
@pytest.mark.parametrize("before", ["", " ", "\u00a0", "\t", "\r\n"])
def test_no_text_becomes_a_formula(start, before):
    bad = f"{before}{start}cmd"
    row = rows_of([file_result(figure_result(found(subject=bad), name=bad, thing=bad), path=bad)])[0]
    for column in ("file", "figure", "object", "subject"):
        assert row[column].lstrip()[0] not in "=+-@|%＝＋－＠"


def test_plain_texts_and_numbers_stay_as_they_are():
    assert harmless("Arm.L") == "Arm.L" and harmless("") == "" and harmless("a=b") == "a=b"
    row = rows_of([file_result(figure_result(found(sizes=(-1.5,))))])[0]
    assert row["worst"] == "-1.5"


@pytest.mark.parametrize("bad", HOSTILE)
def test_no_name_breaks_out_of_its_cell(bad):
    (row,) = rows_of([file_result(figure_result(found(subject=bad), name=bad))])
    assert row["figure"].isprintable() and len(row["figure"]) <= 2001


def test_all_of_them_together():
    assert len(rows_of(hostile_files())) == 5 * len(HOSTILE)
