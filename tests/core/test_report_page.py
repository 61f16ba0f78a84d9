"""The page: well formed, complete, harmless, small, the same every time, and true to the figure."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from evenfold.core.canon import Canon
from evenfold.core.figure import Surface
from evenfold.core.findings import Proportion
from evenfold.core.portrait import portrait_of
from evenfold.core.report.against import compare_with
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_page import page
from evenfold.core.report.page.drawing import drawn, unit_levels
from evenfold.core.report.page.script import SCRIPT
from evenfold.core.report.page.style import STYLE
from evenfold.core.report.wording import IN_MOTION, WORDS, counted
from evenfold.core.settings import Settings
from figures.people import Person, keeper
from figures.reported import (
    HOSTILE,
    allowance,
    error,
    figure_result,
    file_result,
    found,
    hostile_files,
    named,
    with_portrait,
)

VOID = {"meta", "br", "img", "input", "link", "hr"}
KNOWN = {
    "html", "head", "meta", "title", "style", "body", "a", "header", "h1", "h2", "h3", "h4", "p", "span", "main",
    "svg", "defs", "path", "use", "g", "circle", "text", "rect", "section", "ol", "ul", "li", "div", "table", "caption",
    "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "article", "strong", "bdi", "footer", "script",
}
ATTRIBUTES = {
    "lang", "charset", "http-equiv", "content", "name", "class", "href", "id", "width", "height", "aria-hidden",
    "focusable", "fill-rule", "d", "vector-effect", "role", "viewbox", "aria-label", "x", "y", "dy", "r", "cx", "cy",
    "transform", "scope", "data-v", "tabindex",
}


class Reader(HTMLParser):
    """Balanced tags, known elements and attributes only; texts by the element they stand in."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.wrong, self.ids, self.links, self.texts, self.tags = [], [], [], [], [], []
        self.feed(text)
        self.close()
        self.wrong += [f"{tag} is not closed" for tag in self.open]

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.wrong += [f"element {tag}"] if tag not in KNOWN else []
        self.wrong += [f"attribute {name} of {tag}" for name, _ in attrs if name not in ATTRIBUTES]
        for name, value in attrs:
            self.ids += [value] if name == "id" else []
            self.links += [value] if name == "href" else []
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(f"</{tag}> closes nothing")

    def handle_data(self, data):
        self.texts.append((self.open[-1] if self.open else "", data))

    def said(self):
        return " ".join("".join(text for tag, text in self.texts if tag not in ("style", "script")).split())


def troubles(text):
    read = Reader(text)
    wrong = read.wrong
    wrong += ["ids are not unique"] if len(set(read.ids)) != len(read.ids) else []
    wrong += [f"link {one}" for one in read.links if not (one.startswith("#") and one[1:] in read.ids)]
    wrong += ["scripts"] if [text for tag, text in read.texts if tag == "script"] != [SCRIPT] else []
    wrong += ["styles"] if [text for tag, text in read.texts if tag == "style"] != [STYLE] else []
    return wrong


def shown(files, settings=None, against=None):
    return page(files, settings or Settings(), "Host 1.0", against)


def keepers(**more):
    result = figure_result(
        found(elements=[1, 2]), found("unpaired", (np.nan,)), named(names=("Arm.L", "Arm.R")), found("near-miss", (1e-5,)),
        readiness=[error(), error("ready-names", "Arm", "warning")], allowances=[allowance()], **more,
    )
    return [file_result(result), file_result(figure_result(name="Cook"), path="cook.blend"), file_result(path="cut.blend", error="It is cut short.")]


def pictured(person=None, **more):
    person = person or Person()
    surface = keeper(person).parts[0]
    files = keepers(**more)
    return [replace(files[0], figures=(with_portrait(files[0].figures[0], person),)), *files[1:]], surface


def test_it_is_well_formed_with_and_without_pictures():
    assert troubles(shown(keepers())) == []
    assert troubles(shown(pictured()[0])) == []
    assert troubles(shown([])) == []
    assert troubles(shown([file_result(replace(figure_result(), proportion=Proportion(refusal="It lies down.")))])) == []


@pytest.mark.parametrize(("plant", "wrong"), [
    (("</main>", "</main></div>"), "</div> closes nothing"),
    (("<main>", "<main><script>alert(1)</script>"), "scripts"),
    (("<main>", '<main><p onclick="x">a</p>'), "attribute onclick of p"),
    (("<main>", '<main><a href="https://lighthouse.invalid">a</a>'), "link https://lighthouse.invalid"),
    (('id="f1-1"', 'id="f2-1"'), "ids are not unique"),
])
def test_the_check_finds_what_is_planted(plant, wrong):
    text = shown(keepers())
    assert plant[0] in text
    assert wrong in troubles(text.replace(*plant, 1))


def test_every_figure_finding_allowance_and_hand_off_entry_is_there():
    said = Reader(shown(keepers(target=1.5))).said()
    for words in (
        "Keeper", "Cook", "staff/keeper.blend", "cook.blend", f"Body: 2 {WORDS['drifted']}", f"Body: {counted('unpaired', 1)}",
        f"Body: 2 {WORDS['bone-drifted']}", f"Body: {counted('near-miss', 1)}", "Vertices: 1, 2", "Bones: Arm.L, Arm.R",
        IN_MOTION["drifted"], "worst 4 mm", "Satchel", "worn on one side", "✗ Error: Something of None", "ready-names",
        "3.00 heads tall by skull", "Target 1.50 heads: ✗ missed", "From 3.00 to 1.50 heads, keep the head", "Crotch30.0 cm",
        "cut.blend: It is cut short.", "1 not checked", "Host 1.0", "Mirror plane: middle of the scene. It fits.",
    ):
        assert words in said, words
    assert "missed" not in Reader(shown(keepers())).said()
    assert "No allowances." in said and "Nothing stands before hand-off." in said


def test_long_lists_say_how_much_more_there_is():
    said = Reader(shown([file_result(figure_result(found(sizes=np.ones(500))))])).said()
    assert "Vertices: 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 488 more" in said


def test_no_name_does_harm():
    files = hostile_files()
    text = shown(files, against=compare_with(files, report_dict([], Settings(), ""), HOSTILE[0]))
    assert troubles(text) == []
    said = "".join(part for _, part in Reader(text).texts if part not in (STYLE, SCRIPT))
    assert all(one.isprintable() for one in said if one != "\n")
    assert "a" * 1300 not in text and "\\u202e" in said and "\\x1b[2J" in said
    assert Reader(text).said().count("<script>alert(1)</script>") > 5


@pytest.mark.parametrize("bad", HOSTILE)
def test_a_profiles_own_canon_does_no_harm(bad):
    canon = Canon("own", bad, 3.0, {"crotch": 2.2}, bad or "invented", bad, "own")
    text = shown([file_result(figure_result(target=2.0))], Settings(canon="own", canons=(canon,)))
    assert troubles(text) == [] and "heads here" in text
    read = "".join(part for _, part in Reader(text).texts if part not in (STYLE, SCRIPT))
    assert all(one.isprintable() for one in read if one != "\n")


def test_names_are_kept_from_turning_their_surroundings():
    read = Reader(shown([file_result(figure_result(found(subject="كوخ"), name="كوخ", thing="كوخ"), path="كوخ")]))
    assert {tag for tag, text in read.texts if "كوخ" in text} == {"bdi"}


def test_nothing_but_its_own_script_and_style_may_run():
    text = shown(keepers())
    (rules,) = [attrs["content"] for tag, attrs in Reader(text).tags if attrs.get("http-equiv") == "Content-Security-Policy"]
    marks = [f"'sha256-{base64.b64encode(hashlib.sha256(one.encode()).digest()).decode()}'" for one in (STYLE, SCRIPT)]
    assert rules.startswith("default-src 'none';")
    assert f"style-src {marks[0]};" in rules and f"script-src {marks[1]};" in rules
    assert "unsafe" not in rules and "http" not in rules
    assert not re.search(r"(?:https?:)?//[\w.]", text.replace(STYLE, "")) and "@import" not in STYLE and "url(" not in STYLE


def test_the_same_results_give_the_same_page():
    """Also in another process, where sets of names have another order."""
    code = (
        "import hashlib, runpy, sys; made = runpy.run_path(sys.argv[1]); "
        "print(hashlib.sha256(made['shown'](made['pictured']()[0]).encode()).hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", code, __file__], env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True, text=True, check=True,
        ).stdout.strip()
        for seed in ("1", "2")
    }
    assert digests == {hashlib.sha256(shown(pictured()[0]).encode()).hexdigest()}
    later = [replace(one, seconds=9.0) for one in keepers()]
    assert shown(later) == shown(keepers())


def test_the_table_can_be_read_and_sorted():
    read = Reader(shown(keepers()))
    heads = [attrs for tag, attrs in read.tags if tag == "th"]
    assert heads and all(attrs.get("scope") == "col" for attrs in heads)
    numbers = [float(attrs["data-v"]) for tag, attrs in read.tags if tag == "td" and "data-v" in attrs]
    assert 3.0 in [round(one, 6) for one in numbers] and 0.004 in numbers and 5.0 in numbers
    assert [attrs["class"] for tag, attrs in read.tags if tag == "table" and "class" in attrs] == ["sortable"]


def test_since_an_earlier_report():
    earlier = report_dict(keepers(), Settings(), "Host")
    now = [file_result(figure_result(found(elements=[2, 7])))]
    said = Reader(shown(now, against=compare_with(now, earlier, "old.json"))).said()
    assert "Since old.json: 1 new, 7 fixed, 1 unchanged." in said
    assert "1 new (7), 1 fixed (1), 1 unchanged" in said
    assert "cook.blend was in the earlier report and was not checked this time." in said
    assert "Since an earlier report" not in Reader(shown(now)).said()


def pictures(text, kind):
    return [one for one in re.findall(r"<svg.*?</svg>", text, re.DOTALL) if f'class="{kind}"' in one]


def test_pictures_stay_small():
    plenty = [found(elements=range(400), sizes=np.linspace(1, 2, 400), subject=str(n)) for n in range(40)]
    result = figure_result(*plenty, target=2.0)
    figure = keeper(Person(hair="shell", ears="bone", ponytail=True))
    figure = replace(figure, surfaces=(surface_around(figure.parts[-1]),))
    result = replace(result, portrait=portrait_of(figure, result))
    text = shown([file_result(result)])
    assert len(pictures(text, "thumb")) == 32
    assert sum(map(len, re.findall(r"<svg.*?</svg>", text, re.DOTALL))) <= 30_000


def surface_around(part):
    faces = part.triangles
    edges = np.unique(np.sort(np.concatenate([faces[:, :2], faces[:, 1:]]), axis=1), axis=0)
    return Surface("Body", part.points, edges, faces.ravel(), np.arange(0, faces.size + 1, 3), np.eye(4))


def test_the_views_show_head_units_landmarks_and_offenders():
    figure = keeper(Person())
    result = figure_result(found(elements=[0, 5]), found("unpaired", (np.nan,), elements=[9]))
    result = replace(result, portrait=portrait_of(replace(figure, surfaces=(surface_around(figure.parts[-1]),)), result))
    text = shown([file_result(result)])
    front, side = pictures(text, "view")
    for view in (front, side):
        assert re.findall(r'class="count"[^>]*>([^<]+)<', view) == ["3", "2", "1", "0"]
        assert view.count('class="spot small"') == 2 and view.count("<circle") == 4
        assert f'href="#f1-1-{"front" if view is front else "side"}"' in view
    assert re.findall(r'class="label"[^>]*>(\w+) ', front) == ["Crown", "Chin", "Sole", "Crotch"]
    assert len(pictures(text, "thumb")) == 4
    one = drawn(result.portrait, "m")
    spot = result.portrait.spots[0][1][0]
    x, y = one.flat("front", spot[None])[0]
    assert f'-front-1" vector-effect="non-scaling-stroke" d="M{round(x)} {round(y)}h0"' in text


def outline_of(text, view):
    """(n, 2) drawing units of the largest outline stored for a view."""
    way = re.search(rf'<path id="f1-1-{view}"[^>]* d="M(-?\d+) (-?\d+)l([^z]+)z', text)
    steps = np.array(re.findall(r"-?\d+", way[3]), int).reshape(-1, 2)
    return np.array([int(way[1]), int(way[2])]) + np.concatenate([[[0, 0]], np.cumsum(steps, axis=0)])


def test_the_figures_left_is_at_the_right_and_it_looks_to_the_left_from_its_side():
    part = keeper(Person()).parts[-1]
    toe = int(np.argmin(part.points @ [-0.1, 1.0, 0.0] + 9 * (part.points[:, 2] > 0.005)))
    assert part.points[toe, 0] > 0 > part.points[toe, 1]
    result = figure_result(found(sizes=(0.1,), elements=[toe]))
    figure = replace(keeper(Person()), parts=(part,), surfaces=(surface_around(part),))
    text = shown([file_result(replace(result, portrait=portrait_of(figure, result)))])
    spots = {
        view: np.array(re.search(rf'<path id="f1-1-{view}-0"[^>]* d="M(-?\d+) (-?\d+)h0"', text).groups(), int)
        for view in ("front", "side")
    }
    front, side = outline_of(text, "front"), outline_of(text, "side")
    assert spots["front"][0] > 0
    low = side[side[:, 1] > -40]
    assert low[:, 0].min() == pytest.approx(spots["side"][0], abs=12)
    assert abs(low[:, 0].min()) > 1.3 * abs(low[:, 0].max())
    for view, outline in (("front", front), ("side", side)):
        assert (spots[view] >= outline.min(axis=0) - 3).all() and (spots[view] <= outline.max(axis=0) + 3).all()


def test_head_units_are_counted_from_the_crown_to_the_floor():
    result = figure_result(heads=0.4)
    levels = unit_levels(result.proportion)
    assert [label for _, label in levels] == ["0", "1", "2", "2.25"]
    assert [height for height, _ in levels] == pytest.approx([0.9, 0.5, 0.1, 0.0])
    assert unit_levels(Proportion(refusal="No.")) == []


def test_the_line_up_has_one_scale_and_one_floor():
    small, tall = Person(height=0.6, head=0.3), Person(height=1.2, head=0.6)
    files = [file_result(with_portrait(figure_result(name=name), person), path=name) for name, person in (("a", small), ("b", tall))]
    text = shown(files)
    lineup = re.search(r'<ol class="lineup">.*?</ol>', text, re.DOTALL)[0]
    boxes = re.findall(r'viewBox="([^"]+)"', lineup)
    assert len({tuple(box.split()[1::2]) for box in boxes}) == 1
    factors = [float(one) for one in re.findall(r"scale\(([^)]+)\)", lineup)]
    scales = [drawn(file.figures[0].portrait, "x").scale * factor for file, factor in zip(files, factors, strict=True)]
    assert scales[0] == pytest.approx(scales[1], rel=1e-4)
    assert lineup.count('class="floor"') == 2


def test_what_is_no_number_does_no_harm():
    nan, inf = float("nan"), float("inf")
    lost = figure_result(found(sizes=(nan, inf)), target=1.5)
    for bad in (nan, inf):
        marks = {name: replace(one, height=bad, low=bad, high=bad) for name, one in lost.proportion.landmarks.items()}
        proportion = Proportion(bad, bad, bad, bad, bad, bad, marks, 1.5, None, heads_with_hair=bad)
        result = with_portrait(replace(lost, proportion=proportion, tolerance=bad))
        assert troubles(shown([file_result(result)])) == []
        numbers = [attrs["data-v"] for tag, attrs in Reader(shown([file_result(result)])).tags if "data-v" in attrs]
        assert numbers and not {"nan", "inf"} & set(numbers)


def test_the_plan_is_drawn_with_the_outline_moved():
    result = with_portrait(figure_result(target=1.5))
    (drawing,) = pictures(shown([file_result(result)]), "planned")
    assert re.findall(r'class="label"[^>]*>([^<]+)<', drawing) == ["now, 3.00 heads", "wanted, 1.50 heads"]
    assert re.findall(r'class="count"[^>]*>([^<]+)<', drawing) == ["0", "1", "2", "3", "0", "1"]
    start = re.search(r'class="body" fill-rule="evenodd" d="M(-?\d+) (-?\d+)l([^z]+)z', drawing)
    steps = np.array(re.findall(r"-?\d+", start[3]), int).reshape(-1, 2)
    heights = -(int(start[2]) + np.cumsum(steps[:, 1])) / drawn(result.portrait, "m").scale
    assert heights.max() == pytest.approx(0.45, abs=0.01) and heights.min() == pytest.approx(0.0, abs=0.01)
    assert not pictures(shown([file_result(with_portrait(figure_result(target=3.0)))]), "planned")


def colours(block):
    return {name: tuple(int(one[i : i + 2], 16) for i in (0, 2, 4)) for name, one in re.findall(r"--(\w+):#(\w{6})\b", block + ";") + [
        (name, "".join(c + c for c in short)) for name, short in re.findall(r"--(\w+):#(\w{3})\b(?!\w)", block)
    ]}


def contrast(one, other):
    """Contrast ratio of two colours; W3C, Web Content Accessibility Guidelines 2.1, 1.4.3."""
    def light(colour):
        parts = np.array(colour) / 255
        parts = np.where(parts <= 0.03928, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
        return float(parts @ [0.2126, 0.7152, 0.0722])

    high, low = sorted((light(one), light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_text_and_marks_stand_out_in_light_dark_and_print():
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    blocks = re.findall(r":root\{([^}]*)\}", STYLE)
    assert len(blocks) == 3
    for block in blocks:
        known = colours(block)
        for ground in ("page", "panel"):
            for text in ("ink", "soft", "ok", "off", "link"):
                assert contrast(known[text], known[ground]) >= 4.5, (text, ground, block)
        assert contrast(known["mark"], known["body"]) >= 3.0, block
        assert contrast(known["unit"], known["body"]) >= 3.0, block
        assert contrast(known["unit"], known["page"]) >= 3.0, block
        lightness = [sum(known[one]) for one in ("ok", "off")]
        assert known["ok"][2] > known["ok"][0] and known["off"][0] > known["off"][2] and min(lightness) > 0


def test_counts_that_would_lie_over_each_other_are_left_out():
    near, far = (figure_result(heads=head) for head in (0.9 / 8.15, 0.9 / 8.5))
    counts = [
        re.findall(r'class="count"[^>]*>([^<]+)<', pictures(shown([file_result(with_portrait(one))]), "view")[0])
        for one in (near, far)
    ]
    assert [one[:3] for one in counts] == [["8.15", "7", "6"], ["8.50", "8", "7"]]


def test_a_finding_without_elements_is_none():
    said = Reader(shown([file_result(figure_result(found(sizes=())))])).said()
    assert "Nothing: the two halves match." in said and WORDS["drifted"] not in said
