"""Where the legends stand: one plate in the lower right, clear of the last operator's panel. All invented."""

import itertools
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from evenfold.core.marks import DotMark, Marks
from evenfold.ui.overlay import findings, palette, records, writing
from evenfold.ui.overlay.records import Legend

ONE = Legend("12 differences of 2 kinds", (((1.0, 0.9, 0.5, 1.0), "2.8 cm to 6.9 cm: 5"), ((0.3, 0.2, 0.7, 1.0), "up to 2 mm: 7")))
TWO = Legend("Guides", (((0.4, 0.7, 1.0, 1.0), "a line every head, from the crown down"),))


def region(kind, x, y, width, height, alignment="NONE"):
    return SimpleNamespace(type=kind, x=x, y=y, width=width, height=height, alignment=alignment)


def draw(monkeypatch, legends, size=(900, 600), scale=1.0, hud=None):
    """What is drawn: the first plate (x, y, width, height), squares and texts (x, y, width, height)."""
    plates, texts = [], []
    monkeypatch.setattr(writing, "_plate", lambda corner, size, _colour=None: plates.append((*map(float, corner), *map(float, size))))
    monkeypatch.setattr(writing, "_text", lambda text, corner, _colour: texts.append((text, *map(float, corner), *writing._extent(text))))
    window = region("WINDOW", 0, 0, *size)
    regions = [window, region("UI", size[0] - 200, 0, 200, size[1], "RIGHT"), region("HEADER", 0, size[1] - 26, size[0], 26, "TOP")]
    regions += [region("HUD", *hud, "FLOAT")] if hud else []
    context = SimpleNamespace(area=SimpleNamespace(regions=regions), region=window, preferences=bpy.context.preferences)
    writing.write_legends(context, legends, scale)
    return plates, texts


def inside(one, plate):
    x, y, width, height = one
    return plate[0] <= x and plate[1] <= y and x + width <= plate[0] + plate[2] and y + height <= plate[1] + plate[3]


@pytest.mark.parametrize("scale", [1.0, 1.5])
@pytest.mark.parametrize("letters", [12.0, 24.0])
def test_every_line_lies_whole_on_a_plate_left_of_the_sidebar(monkeypatch, scale, letters):
    monkeypatch.setattr(palette, "current", lambda: palette.Palette(label_size=letters))
    (plate, *squares), texts = draw(monkeypatch, [ONE, TWO], size=(1600, 900), scale=scale)
    assert plate[0] + plate[2] <= 1400 and plate[0] + plate[2] > 1380 and 0 < plate[1] < 20
    assert [text for text, *_ in texts] == [*ONE.texts, *TWO.texts]
    assert all(inside(one, plate) for one in squares) and all(inside(one[1:], plate) for one in texts)
    bottoms = [y for _, _, y, _, _ in texts]
    assert bottoms == sorted(bottoms, reverse=True) and len(set(bottoms)) == 5
    heights = [y + height for _, _, y, _, height in texts]
    assert all(top <= bottom for top, bottom in zip(heights[1:], bottoms, strict=False)), "no line covers another"


@pytest.mark.parametrize(("hud", "moved"), [((10, 10, 200, 300), False), ((10, 10, 600, 300), True)])
def test_the_plate_gives_way_to_the_last_operators_panel(monkeypatch, hud, moved):
    (plate, *_), _ = draw(monkeypatch, [ONE], hud=hud)
    apart = plate[0] >= hud[0] + hud[2] or plate[1] >= hud[1] + hud[3]
    assert apart and (plate[1] > hud[3]) == moved


def test_a_legend_without_room_is_left_out_and_none_is_cut(monkeypatch):
    (_, *_), texts = draw(monkeypatch, [ONE, TWO], size=(900, 140))
    assert [text for text, *_ in texts] == list(ONE.texts)
    assert draw(monkeypatch, [ONE], size=(320, 600)) == ([], [])


@pytest.mark.parametrize(("pattern", "squares"), [("full", 1), ("hollow", 2), ("ringed", 3), ("rimmed", 2), ("rimmed_hollow", 3)])
def test_a_pattern_is_drawn_in_the_legend_as_on_the_model(monkeypatch, pattern, squares):
    """Its squares lie in one another, each in another colour than the one below it."""
    colour = (1.0, 0.9, 0.5, 1.0)
    parts = records.patterned(colour, pattern)
    assert len(parts) == squares and parts[0][0] == 1.0 and colour in [own for _, own in parts]
    assert all(lower[0] > upper[0] and lower[1] != upper[1] for lower, upper in itertools.pairwise(parts))
    (_, _, *drawn), _ = draw(monkeypatch, [Legend("Weights", ((colour, "up to 0.4 of weight: 3"),), (pattern,))])
    assert len(drawn) == squares and all(inside(upper, lower) for lower, upper in itertools.pairwise(drawn))
    point = np.zeros((1, 3))
    (view,) = findings.picture_of(Marks((), (DotMark(point, colour, 9.0, pattern),), "", ((colour, ""),), (pattern,))).views
    sizes = [dots.size for dots in view.dots]
    assert [tuple(dots.colours[0]) for dots in view.dots] == [own for _, own in parts]
    assert sizes == sorted(sizes, reverse=True) and (pattern == "full" or sizes[0] > 9.0)
