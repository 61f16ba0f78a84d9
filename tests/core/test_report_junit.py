"""JUnit XML in the structure in common use (from memory; there is no published standard)."""

import xml.etree.ElementTree as ET

import pytest
from evenfold.core.report.as_junit import as_junit
from evenfold.core.report.wording import WORDS, counted
from figures.reported import HOSTILE, error, figure_result, file_result, found, hostile_files

FILES = [
    file_result(figure_result(found(), found("near-miss", (1e-5,))), path="a.blend"),
    file_result(figure_result(readiness=[error(), error("ready-names", "Arm", "note")], name="Cook"), path="b.blend"),
    file_result(figure_result(found("near-miss", (1e-5,)), name="Apprentice"), path="c.blend"),
    file_result(path="d.blend", error="The file is cut short."),
]
ALLOWED = {
    "testsuites": ({"name", "tests", "failures", "errors"}, {"testsuite"}),
    "testsuite": ({"name", "tests", "failures", "errors", "skipped", "time"}, {"testcase"}),
    "testcase": ({"name", "classname"}, {"failure", "error", "system-out"}),
    "failure": ({"message", "type"}, set()), "error": ({"message", "type"}, set()), "system-out": (set(), set()),
}


def read(files):
    return ET.fromstring(as_junit(files))  # noqa: S314 - our own text


def troubles(root):
    """Wrong elements or attributes, and counts that are not those of what is inside."""
    wrong = []
    for one in root.iter():
        names, inside = ALLOWED[one.tag]
        wrong += [f"{one.tag} has {set(one.attrib) ^ names}"] if set(one.attrib) != names else []
        wrong += [f"{child.tag} in {one.tag}" for child in one if child.tag not in inside]
        if one.tag in ("testsuites", "testsuite"):
            for count, tag in (("tests", "testcase"), ("failures", "failure"), ("errors", "error")):
                real = len(list(one.iter(tag)))
                wrong += [f"{count} {one.get(count)}, not {real}"] if int(one.get(count)) != real else []
    return wrong


def test_structure_and_counts_hold():
    assert troubles(read(FILES)) == []
    assert troubles(read([])) == []


def test_the_check_finds_what_is_planted():
    root = read(FILES)
    root[0].set("failures", "7")
    assert troubles(root) == ["failures 7, not 1"]


def test_each_verdict_is_where_it_belongs():
    root = read(FILES)
    got = {case.get("name"): [child.tag for child in case] for case in root.iter("testcase")}
    assert got == {
        "Keeper: proportion and hand-off": [], "Keeper: halves of Body": ["failure"],
        "Cook: proportion and hand-off": ["failure"], "Cook: halves of Body": [],
        "Apprentice: proportion and hand-off": [], "Apprentice: halves of Body": ["system-out"],
        "file": ["error"],
    }
    failure = root.find(".//failure")
    assert failure.get("message") == "2 differences"
    assert failure.text.splitlines()[0] == "2 vertices off their mirror image, worst 4 mm [drifted]"
    assert root.find(".//error").text == "The file is cut short."


@pytest.mark.parametrize("bad", HOSTILE)
def test_whatever_a_name_holds_it_stays_well_formed(bad):
    root = read([file_result(figure_result(found(subject=bad), name=bad, thing=bad), path=bad)])
    assert troubles(root) == []
    assert len(list(root.iter())) == 5
    assert all(text.isprintable() for one in root.iter() for text in one.attrib.values())


def test_all_of_them_together():
    root = read(hostile_files())
    assert troubles(root) == [] and len(root) == 2 * len(HOSTILE)


def test_one_element_is_told_as_one():
    assert counted("bone-off-centre", 1) == "1 bone off the centre line"
    assert counted("key-off-centre", 1) == "1 vertex leaves the centre line in this key"
    assert counted("group-unpaired", 2) == "2 groups without their counterpart"
    said = [counted(code, 1) for code in WORDS]
    assert not [words for words in said if words.split()[1].endswith(("s", "ices")) or "their" in words]
