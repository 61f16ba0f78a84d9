"""Findings laid out on the model: places, colours and words. All figures are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance, AllowanceUse
from evenfold.core.check import check_figure
from evenfold.core.figure import Armature, Bone, transform_points
from evenfold.core.findings import FigureResult, Finding, MirrorPlane, ObjectResult, Proportion
from evenfold.core.marks import (
    DOT_SIZES,
    EXCUSED,
    PATTERNS,
    RAMP,
    UNSIZED,
    WANTED,
    marks_of,
    scale_of,
    step_text,
)
from evenfold.core.places import Laid, lay_out, order_of_steps
from evenfold.core.settings import Settings
from figures.records import figure_of, surface_of
from figures.shapes import Mesh
from oracles.finder import ScipyFinder
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

PLANE = MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "world")
STOOD = np.array([[0.0, -2.0, 0.0, 1.0], [2.0, 0.0, 0.0, -3.0], [0.0, 0.0, 2.0, 0.5], [0.0, 0.0, 0.0, 1.0]])
"""Turned by a quarter, twice as large, moved."""


def plain(size: float, unit: str) -> str:
    return f"{size:.3g} {unit}"


def grid(columns: int = 6, rows: int = 5):
    """A flat sheet of quads, columns along x about 0; (points, edges, corners, starts)."""
    xs = np.arange(columns) - (columns - 1) / 2
    points = np.array([(x, 0.0, float(z)) for z in range(rows) for x in xs])
    faces = [
        (r * columns + c, r * columns + c + 1, (r + 1) * columns + c + 1, (r + 1) * columns + c)
        for r in range(rows - 1) for c in range(columns - 1)
    ]
    edges = {tuple(sorted(pair)) for f in faces for pair in zip(f, (*f[1:], f[0]), strict=True)}
    return points, np.array(sorted(edges)), np.array(faces).ravel(), np.arange(len(faces) + 1) * 4


def sheet(to_world=None, name="Body"):
    points, edges, corners, starts = grid()
    return surface_of(Mesh(points, edges, corners, starts), name, to_world)


def finding(code="drifted", elements=(), partners=None, sizes=None, **more) -> Finding:
    elements = np.array(elements, np.int64)
    partners = np.full(len(elements), -1) if partners is None else np.array(partners, np.int64)
    sizes = np.full(len(elements), np.nan) if sizes is None else np.array(sizes, float)
    return Finding(code, elements, partners, sizes, **more)


def result_of(*found: Finding, plane=PLANE, uses=(), kind="mesh", name="Body") -> FigureResult:
    entry = ObjectResult(name, kind, 30, findings=tuple(found))
    return FigureResult("Keeper", Proportion(), plane, 0.001, (entry,), allowances=tuple(uses))


def laid_of(figure, *found, **more) -> tuple[Laid, ...]:
    return lay_out(figure, result_of(*found, **more)).objects[0]


def test_dots_stand_at_the_vertices_and_lines_lead_to_the_partners_mirror_image() -> None:
    surface = sheet(STOOD)
    turned = MirrorPlane(np.array([0.0, -3.0, 0.0]), np.array([0.0, 1.0, 0.0]), "object")
    (laid,) = laid_of(figure_of(surface), finding(elements=[0, 8], partners=[5, -1], sizes=[0.2, 0.1]), plane=turned)
    world = transform_points(STOOD, surface.positions)
    assert np.allclose(laid.points, world[[0, 8]])
    mirrored = world[5] * (1, -1, 1) + (0, -6, 0)
    assert np.allclose(laid.wanted, [[world[0], mirrored]])
    assert laid.of_wanted.tolist() == [0]


def test_a_vertex_of_the_centre_is_wanted_on_the_plane_not_beyond_it() -> None:
    points, edges, corners, starts = grid(5)
    points[2, 0] = 0.3
    surface = surface_of(Mesh(points, edges, corners, starts))
    (laid,) = laid_of(figure_of(surface), finding("off-centre", [2], [2], [0.3]))
    assert np.allclose(laid.wanted, [[(0.3, 0, 0), (0, 0, 0)]])


def test_partners_are_read_from_the_object_they_are_in() -> None:
    here, there = sheet(), sheet(np.diag([1.0, 1.0, 3.0, 1.0]), "Lamp")
    one = finding(elements=[7], partners=[10], sizes=[1.0], partner_object="Lamp")
    (laid,) = laid_of(figure_of(here, there), one)
    assert np.allclose(laid.wanted[0, 1], there.world[10] * (-1, 1, 1))


@pytest.mark.parametrize("code", ["weight-drifted", "key-lopsided", "doubled"])
def test_what_stands_where_it_should_has_no_line(code: str) -> None:
    (laid,) = laid_of(figure_of(sheet()), finding(code, [0], [5], [0.2]))
    assert len(laid.points) == 1 and not len(laid.wanted)


def test_edges_are_lines_and_faces_are_outlines() -> None:
    surface = sheet()
    edge, face = laid_of(
        figure_of(surface),
        finding("edge-unmatched", [3, 9], kind="edge"), finding("face-unmatched", [2, 7], kind="face"),
    )
    assert np.allclose(edge.lines, surface.world[surface.edges[[3, 9]]])
    assert not len(edge.points) and not len(face.points)
    for row, number in enumerate((2, 7)):
        around = surface.corners[4 * number : 4 * number + 4]
        wanted = {frozenset(map(tuple, surface.world[[a, b]])) for a, b in zip(around, np.roll(around, -1), strict=True)}
        assert {frozenset(map(tuple, line)) for line in face.lines[face.of_line == row]} == wanted


def test_bones_are_lines_with_the_place_their_counterpart_gives_them() -> None:
    def bone(name, x, tail):
        return Bone(name, None, np.array([x, 0.0, 1.0]), np.array([x, 0.0, tail]), np.eye(3))

    rig = Armature("Rig", (bone("Ear.L", 0.5, 2.0), bone("Ear.R", -0.4, 2.0), bone("Lamp", 0.1, 2.0)), np.eye(4))
    found = finding(
        "bone-drifted", [0], [0], [0.1], kind="bone", names=("Ear.L",), partner_names=("Ear.R",)
    )
    centre = finding(
        "bone-off-centre", [0], [0], [0.1], kind="bone", names=("Lamp",), partner_names=("Lamp",)
    )
    pair, alone = laid_of(figure_of(armature=rig), found, centre, kind="armature", name="Rig")
    assert np.allclose(pair.lines, [[(0.5, 0, 1), (0.5, 0, 2)]])
    ends = {tuple(map(tuple, np.round(line, 9))) for line in pair.wanted}
    assert ends == {
        ((0.5, 0, 1), (0.4, 0, 1)), ((0.5, 0, 2), (0.4, 0, 2)), ((0.4, 0, 1), (0.4, 0, 2)),
    }
    assert np.allclose(alone.wanted[-1], [(0, 0, 1), (0, 0, 2)])


def test_steps_go_from_the_worst_down_and_the_sizeless_last() -> None:
    sizes = np.array([0.1, np.nan, 0.5, 0.3, np.nan])
    assert order_of_steps(sizes, np.arange(5)).tolist() == [2, 3, 0, 1, 4]
    assert order_of_steps(np.full(5, np.nan), np.array([7, 3, 3, 3, 7])).tolist() == [1, 0, 0, 0, 1]


@pytest.mark.parametrize("seed", range(20))
def test_pieces_are_those_an_outside_search_finds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    surface = sheet()
    chosen = np.sort(rng.choice(30, rng.integers(3, 20), replace=False))
    (laid,) = laid_of(figure_of(surface), finding("unpaired", chosen))
    inside = np.isin(surface.edges, chosen).all(axis=1)
    one, other = surface.edges[inside].T
    _, label = connected_components(coo_matrix((np.ones(len(one)), (one, other)), (30, 30)), directed=False)
    for mine in (laid.piece, laid.step):
        assert ((mine[:, None] == mine) == (label[chosen][:, None] == label[chosen])).all()
    counts = [int((laid.step == step).sum()) for step in range(laid.steps)]
    assert counts == sorted(counts, reverse=True)


def test_corners_at_one_vertex_are_one_step() -> None:
    surface = sheet()
    vertex = int(surface.corners[2])
    corners = np.flatnonzero(surface.corners == vertex)
    (laid,) = laid_of(figure_of(surface), finding("uv-drifted", corners, kind="corner", sizes=np.ones(len(corners))))
    assert len(corners) > 1 and laid.steps == 1
    assert np.allclose(laid.points, surface.world[vertex])


def test_the_middle_of_a_step_takes_in_where_things_should_be() -> None:
    surface = sheet()
    (laid,) = laid_of(figure_of(surface), finding(elements=[0], partners=[4], sizes=[1.0]))
    middle, reach = laid.around(0)
    assert np.allclose(middle, (-2.0, 0, 0)) and reach == pytest.approx(0.5)


def test_what_has_no_place_is_not_drawn_and_not_looked_at() -> None:
    points, edges, corners, starts = grid()
    points[4] = np.nan
    surface = surface_of(Mesh(points, edges, corners, starts))
    (laid,) = laid_of(figure_of(surface), finding("unpaired", [4]))
    assert not len(laid.points) and laid.steps == 1 and laid.around(0) is None


def test_elements_touched_are_those_all_of_whose_vertices_are_selected() -> None:
    surface = sheet()
    edges, dots = laid_of(
        figure_of(surface), finding("edge-unmatched", np.arange(len(surface.edges)), kind="edge"),
        finding("unpaired", [0, 1, 2]),
    )
    picked = surface.edges[4]
    assert edges.touching(picked).tolist() == [4]
    assert dots.touching(np.array([2, 9])).tolist() == [2]
    assert edges.touching(np.zeros(0, np.int64)).tolist() == []


@pytest.mark.parametrize("seed", range(10))
def test_colours_follow_sizes_in_equal_ratios(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sizes = 10.0 ** rng.uniform(-3, rng.uniform(-2.5, 1), 40)
    scale = scale_of("metres", sizes, 0.001)
    limits = np.array(scale.limits)
    assert limits[-1] == sizes.max() and limits[0] == max(sizes.min(), 0.001)
    ratios = limits[1:] / limits[:-1]
    assert np.allclose(ratios, ratios[0]) and (ratios[0] >= 2.0 or len(ratios) == 1)
    places = scale.places(sizes)
    assert (np.diff(places[np.argsort(sizes)]) >= 0).all()
    assert places[sizes.argmax()] == len(RAMP) - 1
    for size, place in zip(sizes, places, strict=True):
        step = scale.colours.index(place)
        assert limits[step] * (1 - 1e-12) <= size <= limits[step + 1] * (1 + 1e-12)


def test_equal_sizes_have_one_colour_and_none_have_no_scale() -> None:
    assert scale_of("weight", np.array([0.2, 0.2, np.nan]), 0.0).colours == (len(RAMP) - 1,)
    assert scale_of("weight", np.array([np.nan]), 0.0) is None


def test_dots_are_grouped_by_colour_with_the_worst_last() -> None:
    found = finding(elements=[0, 1, 2, 6], partners=[5, 4, 3, -1], sizes=[0.002, 0.5, 0.02, np.nan])
    result = result_of(found)
    marks = marks_of(result, lay_out(figure_of(sheet()), result), plain)
    world = sheet().world
    assert marks.dots[0].colour == UNSIZED
    assert marks.dots[-1].colour == RAMP[-1] and marks.dots[-1].size == DOT_SIZES[-1]
    assert np.allclose(marks.dots[-1].points, world[[1]])
    assert np.allclose(np.concatenate([dot.points for dot in marks.dots]), world[[6, 0, 2, 1]])
    assert [line.colour for line in marks.lines] == [WANTED]
    words = " | ".join(text for _, text in marks.legend)
    assert marks.title == "4 vertices off their mirror image"
    assert "without a size: 1" in words and "0.5 metres: 1" in words and "partner says" in words
    assert sum(int(text.rsplit(": ", 1)[1]) for colour, text in marks.legend if colour in RAMP) == 3


def test_the_same_kind_on_two_objects_is_one_kind() -> None:
    one, other = (result_of(finding(elements=[0], partners=[5], sizes=[0.1]), name=name) for name in ("Body", "Coat"))
    result = replace(one, objects=(*one.objects, *other.objects))
    laid = lay_out(figure_of(sheet(), sheet(name="Coat")), result)
    assert marks_of(result, laid, plain).title == "2 differences of 1 kind"


def test_one_finding_or_all_but_notes_are_marked_and_hidden_objects_never() -> None:
    result = result_of(
        finding(elements=[0], partners=[5], sizes=[0.1]), finding("near-miss", [7], [10], [1e-5]),
        finding("weight-drifted", [3], [2], [0.4], unit="weight"),
    )
    laid = lay_out(figure_of(sheet()), result)

    def marked(**more):
        points = [dot.points for dot in marks_of(result, laid, plain, **more).dots]
        return {tuple(point) for part in points for point in part}

    world = sheet().world
    assert marked() == {tuple(world[0]), tuple(world[3])}
    assert marked(only=(0, 1)) == {tuple(world[7])}
    assert marked(only=(0, 2)) == {tuple(world[3])}
    assert marked(objects=()) == set()
    both = marks_of(result, laid, plain)
    assert both.title == "2 differences of 2 kinds in 2 layers"
    assert any("weights off by up to 0.4 weight: 1" in text for _, text in both.legend)


def test_the_legend_leaves_out_steps_that_hold_nothing() -> None:
    found = finding(elements=[0, 1, 2], partners=[5, 4, 3], sizes=[0.002, 0.5, 0.5])
    result = result_of(found)
    legend = marks_of(result, lay_out(figure_of(sheet()), result), plain).legend
    assert [text.rpartition(": ")[2] for colour, text in legend if colour in RAMP] == ["2", "1"]
    assert [colour for colour, _ in legend if colour in RAMP] == [RAMP[-1], RAMP[0]]


def test_what_is_meant_to_differ_has_its_own_mark() -> None:
    use = AllowanceUse(Allowance("a", "selection", "", "a badge", "Body", np.array([2, 3])), 2)
    idle = AllowanceUse(Allowance("b", "selection", "", "a lamp", "Body", np.array([9])), 0)
    result = result_of(uses=(use, idle))
    marks = marks_of(result, lay_out(figure_of(sheet()), result), plain)
    (dot,) = marks.dots
    assert dot.colour == EXCUSED and np.allclose(dot.points, sheet().world[[2, 3]])
    assert marks.legend == ((EXCUSED, "meant to differ: 2 vertices"),)


def test_places_are_copies_that_nothing_else_changes() -> None:
    surface = sheet()
    (laid,) = laid_of(figure_of(surface), finding(elements=[0], partners=[5], sizes=[0.1]))
    before = laid.points.copy()
    surface.world[:] = 99.0
    assert np.array_equal(laid.points, before)


def test_a_planted_push_is_marked_and_stepped_to() -> None:
    points, edges, corners, starts = grid()
    points[:, 1] = points[:, 2] ** 2 * 0.05
    points[9] += (0.0, 0.04, 0.0)
    figure = figure_of(surface_of(Mesh(points, edges, corners, starts)))
    result = check_figure(figure, Settings(tolerance=0.001, plane="world"), ScipyFinder)
    laid = lay_out(figure, result)
    places = [place for place, one in enumerate(result.objects[0].findings) if one.code == "drifted"]
    here = laid.objects[0][places[0]]
    assert here.vertex.tolist() == [9]
    length = np.linalg.norm(here.wanted[0, 1] - here.wanted[0, 0])
    assert length == pytest.approx(0.04, rel=1e-4)
    text = step_text(result.objects[0].findings[places[0]], here, 0, plain)
    assert text.startswith("1 of ") and text.endswith("0.04 metres")


def lightness(colour, deficiency=None) -> float:
    """CIE L* of an sRGB colour (CIE 15), as seen with a deficiency's matrix in linear RGB."""
    value = np.array(colour[:3])
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    if deficiency is not None:
        linear = np.clip(np.array(deficiency) @ linear, 0.0, 1.0)
    return float(116.0 * np.cbrt(linear @ (0.2126, 0.7152, 0.0722)) - 16.0)


@pytest.mark.parametrize("deficiency", [
    None,
    # protan and deutan after Viénot, Brettel and Mollon 1999; numbers from memory
    ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0)),
    ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0)),
])
def test_each_colour_is_clearly_lighter_than_the_one_before_to_every_reader(deficiency) -> None:
    steps = np.diff([lightness(colour, deficiency) for colour in RAMP])
    assert (steps > 9.0).all()


def in_units(*units: str) -> tuple[FigureResult, object]:
    surface = sheet()
    codes = {"metres": "drifted", "weight": "weight-drifted", "degrees": "normal-drifted", "uv": "uv-drifted", "value": "mask-drifted"}
    found = [
        finding(codes[unit], [number, 6 + number], [5, 11], [0.1, 0.4], unit=unit) for number, unit in enumerate(units)
    ]
    result = result_of(*found)
    return result, lay_out(figure_of(surface), result)


def test_sizes_in_different_units_look_different_and_the_legend_shows_how() -> None:
    """The same ramp of colours stands for lengths, weights, degrees and the rest, so colour cannot tell them."""
    units = ("metres", "weight", "degrees", "uv", "value")
    result, laid = in_units(*units)
    marks = marks_of(result, laid, plain)
    assert set(PATTERNS) == set(units) and len(set(PATTERNS.values())) == len(units)
    seen = {}
    for dot in marks.dots:
        seen.setdefault(dot.pattern, []).extend(map(tuple, dot.points))
    for number, unit in enumerate(units):
        places = laid.objects[0][number].points
        assert set(map(tuple, places)) == set(seen[PATTERNS[unit]]), unit
    assert len(marks.patterns) == len(marks.legend)
    told = {pattern: words for (_, words), pattern in zip(marks.legend, marks.patterns, strict=True) if "lines" not in words}
    for pattern, word in (("full", "metres"), ("hollow", "weights off"), ("ringed", "degrees"), ("rimmed", "UVs off"), ("rimmed_hollow", "values off")):
        assert word in told[pattern]


def test_what_has_no_size_needs_no_pattern() -> None:
    result = result_of(finding("weight-drifted", [1], [4], unit="weight"))
    marks = marks_of(result, lay_out(figure_of(sheet()), result), plain)
    assert [(dot.colour, dot.pattern) for dot in marks.dots] == [(UNSIZED, "full")]
    assert marks.patterns == ("full",)
