"""The report page as people open it: quiet, by mouse and keyboard, light, dark, narrow and on paper."""

import re
import time
from dataclasses import replace

import numpy as np
import pytest
from browser import Browser
from evenfold.core.findings import FileResult
from evenfold.core.report.as_page import page
from evenfold.core.settings import Settings
from figures.people import Person
from figures.reported import (
    HOSTILE,
    SIZE,
    allowance,
    error,
    figure_result,
    file_result,
    found,
    hostile_files,
    named,
    with_portrait,
)

STAFF = (
    ("Keeper", Person(height=0.9, head=0.6, ears="long"), 0.3, 1.5),
    ("Cook", Person(height=1.1, head=0.4, hat=True), 0.7, 2.5),
    ("Apprentice", Person(height=0.7, head=0.35, hair="short"), 0.35, None),
)
NARROW = 400
LINES = 3
"""A head of a table has this many lines at most, of 24 pixels."""
PAPER = 717
"""Pixels across A4 between the browser's usual margins."""
BROKEN = """
return [...document.querySelectorAll('th, td:first-child')].flatMap(cell => {
  const part = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT), broken = [];
  while (part.nextNode()) for (const word of part.currentNode.data.matchAll(/[\\w-]+/g)) {
    const range = document.createRange();
    range.setStart(part.currentNode, word.index); range.setEnd(part.currentNode, word.index + word[0].length);
    if (!word[0].includes('-') && new Set([...range.getClientRects()].map(one => one.top)).size > 1) broken.push(word[0]);
  }
  return broken;
});
"""
"""Words in the heads and first cells of rows that stand on two lines."""
ORDER = "return [...document.querySelectorAll('#figures tbody tr')].map(r => r.cells[arguments[0]].textContent.trim())"
FOCUSED = """
const one = document.activeElement;
if (!one || one === document.body) return null;
const looks = getComputedStyle(one), place = one.getBoundingClientRect();
if (!one.dataset.seen) one.dataset.seen = String(document.querySelectorAll('[data-seen]').length);
return {number: Number(one.dataset.seen), tag: one.tagName, style: looks.outlineStyle,
        width: parseFloat(looks.outlineWidth), colour: looks.outlineColor, x: place.x, area: place.width * place.height};
"""
CONTROLS = "return document.querySelectorAll('a[href], button, [tabindex=\"0\"]').length"


def staff(files: int = 3) -> list[FileResult]:
    made = []
    for number in range(files):
        name, person, chin, target = STAFF[number % len(STAFF)]
        result = figure_result(
            found(elements=[1, 2]), found("unpaired", (np.nan,)), named(names=("Arm.L", "Arm.R")),
            name=f"{name} {number + 1}" if files > len(STAFF) else name, heads=person.height - chin,
            target=target, readiness=[error()], allowances=[allowance()],
        )
        result = replace(result, size=SIZE)
        made.append(file_result(with_portrait(result, person), path=f"staff/{name.lower()}-{number + 1}.blend"))
    return [*made, file_result(path="staff/cut.blend", error="It is cut short.")]


def text(files: list[FileResult]) -> str:
    return page(files, Settings(), "Host 1.0")


def test_it_says_nothing_in_the_console_and_asks_for_nothing(browser: Browser) -> None:
    browser.open(text(staff()))
    assert browser.script("return document.title") == "Evenfold report"
    assert not browser.complaints()
    assert not browser.requests()


@pytest.mark.parametrize(
    ("plant", "kind"),
    [("<script>console.error('planted')</script>", "complaints"),
     ("<img src='https://lighthouse.invalid/lamp.png'>", "requests")],
)
def test_what_is_planted_is_told(browser: Browser, plant: str, kind: str) -> None:
    own = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text(staff()))
    browser.open(own.replace("</main>", f"{plant}</main>"))
    time.sleep(0.3)
    assert len(getattr(browser, kind)()) == 1


def test_the_table_is_sorted_by_a_click(browser: Browser) -> None:
    browser.open(text(staff()))
    before = browser.script(ORDER, 0)
    button = browser.driver.find_elements("css selector", "#figures th button")[0]
    button.click()
    assert browser.script(ORDER, 0) == sorted(before) != before
    button.click()
    assert browser.script(ORDER, 0) == sorted(before, reverse=True)


def test_the_table_is_sorted_by_the_keyboard(browser: Browser) -> None:
    browser.open(text(staff()))
    browser.script("document.querySelectorAll('#figures th button')[3].focus()")
    for key, code, falling in (("Enter", 13, False), ("Enter", 13, True)):
        browser.key(key, code)
        heads = [float(one) for one in browser.script(ORDER, 3)]
        assert heads == sorted(heads, reverse=falling)
        assert len(set(heads)) == len(heads)
    sort = "return document.querySelectorAll('#figures th')[3].getAttribute('aria-sort')"
    assert browser.script(sort) == "descending"


@pytest.mark.parametrize("wide", [1280, NARROW])
def test_every_control_is_reached_by_tab_and_shows_it(browser: Browser, wide: int) -> None:
    browser.size(wide)
    browser.open(text(staff()))
    wanted = browser.script(CONTROLS)
    reached = []
    for _ in range(2 * wanted + 4):
        browser.key("Tab", 9)
        focused = browser.script(FOCUSED)
        if focused is None:
            break
        if focused["number"] < len(reached):
            break
        reached.append(focused)
    assert len(reached) == wanted > 15
    assert all(one["style"] == "solid" and one["width"] >= 2 for one in reached), reached
    assert all(one["x"] >= 0 and one["area"] > 0 for one in reached)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_follows_the_wish_for_light_or_dark(browser: Browser, scheme: str) -> None:
    browser.prefer(scheme)
    browser.open(text(staff()))
    shade = browser.script("return getComputedStyle(document.body).backgroundColor")
    bright = sum(int(one) for one in re.findall(r"\d+", shade)[:3]) / 3
    assert (bright > 200) == (scheme == "light")
    assert (bright < 60) == (scheme == "dark")
    browser.picture(f"report-{scheme}")


@pytest.mark.parametrize("wide", [NARROW, 760, 1280])
def test_nothing_sticks_out_at_the_side(browser: Browser, wide: int) -> None:
    browser.size(wide)
    browser.open(text(staff()))
    assert browser.script("return document.documentElement.scrollWidth") <= wide
    browser.picture(f"report-{wide}-wide")


@pytest.mark.parametrize("wide", [NARROW, 1280])
def test_no_column_is_so_narrow_that_words_fall_apart(browser: Browser, wide: int) -> None:
    browser.size(wide)
    browser.open(text(staff()))
    tallest = browser.script("return Math.max(...[...document.querySelectorAll('th')].map(one => one.offsetHeight))")
    assert tallest < LINES * 24


def test_on_paper_no_heading_is_broken_within_a_word_and_no_small_table_across_pages(browser: Browser) -> None:
    browser.size(PAPER)
    browser.ask("Emulation.setEmulatedMedia", media="print")
    browser.open(text(staff()))
    assert browser.script("return document.documentElement.scrollWidth") <= PAPER
    assert browser.script(BROKEN) == []
    kept = browser.script(
        "return [...document.querySelectorAll('table')].map(t => [t.rows.length, getComputedStyle(t).breakInside])"
    )
    assert all((inside == "avoid") == (rows <= 16) for rows, inside in kept) and len(kept) > len(STAFF)


def test_it_prints_a_page_or_two_for_each_figure(browser: Browser) -> None:
    browser.open(text(staff()))
    printed = browser.printed("report")
    pages = len(re.findall(rb"/Type\s*/Page\b", printed))
    assert len(STAFF) + 1 <= pages <= 3 * len(STAFF) + 1


def test_two_hundred_figures_open_quickly_and_sort(browser: Browser) -> None:
    content = text(staff(200))
    began = time.monotonic()
    browser.open(content)
    took = time.monotonic() - began
    assert browser.script(ORDER, 0)[0] == "Keeper 1"
    assert took < 10.0, f"{took:.1f} s"
    sort = "const b = document.querySelectorAll('#figures th button')[3], t = performance.now(); b.click(); return performance.now() - t"
    assert browser.script(sort) < 1000.0
    heads = [float(one) for one in browser.script(ORDER, 3)]
    assert heads == sorted(heads)
    assert not browser.complaints()
    browser.picture("report-200", whole=False)


def test_hostile_names_stay_text(browser: Browser) -> None:
    browser.open(text([*hostile_files(), *staff()]))
    assert not browser.complaints()
    assert not browser.requests()
    assert browser.script("return document.scripts.length") == 1
    assert browser.script("return document.querySelectorAll('img, iframe, b, object').length") == 0
    shown = browser.script("return document.body.innerText")
    assert all(one in shown for one in HOSTILE[:3])
    browser.picture("report-hostile", whole=False)


def test_a_harmful_page_is_noticed(browser: Browser) -> None:
    bad = HOSTILE[0]
    result = replace(figure_result(name="MARK"), notes=())
    unsafe = text([file_result(result, path="x.blend")]).replace("MARK", bad)
    browser.open(unsafe)
    assert browser.script("return document.scripts.length") > 1
    assert browser.complaints()
