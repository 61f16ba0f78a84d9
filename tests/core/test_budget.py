"""Limits on a figure's size: what they refuse, what is told where they are passed, how a profile keeps them. Invented."""

from dataclasses import replace

import pytest
from evenfold.core.budget import AMOUNTS, NO_LIMITS, USUAL, Budget, read_budget, set_of
from evenfold.core.errors import SettingsError
from evenfold.core.profile_settings import with_budget, with_settings
from evenfold.core.readiness.size import size_readiness
from evenfold.core.settings import Settings, read_profile
from evenfold.core.size import ObjectSize, Size
from figures.reported import figure_result
from hypothesis import given
from hypothesis import strategies as st

KEEPER = Size(
    (
        ObjectSize("Hat", 800, 500, 410, 1, 0), ObjectSize("Body", 9000, 6100, 4500, 2, 0),
        ObjectSize("Face", 4200, 2900, 2100, 1, 52), ObjectSize("Boots", 1000, 700, 500, 1, 0),
    ),
    70,
)
"""A keeper of 15,000 triangles, 10,200 vertices, 4 meshes, 5 materials, 70 bones and 52 keys."""
COUNTS = {"triangles": 15000, "vertices": 10200, "meshes": 4, "materials": 5, "bones": 70, "keys": 52}
BUDGETS = st.builds(Budget, *[st.integers(0, 2**31 - 1)] * len(AMOUNTS), source=st.text(max_size=20))


def told(budget):
    return list(size_readiness(KEEPER, budget))


@pytest.mark.parametrize("name", AMOUNTS)
def test_what_reaches_a_limit_is_allowed_and_one_more_is_not(name):
    assert told(Budget(**{name: COUNTS[name]})) == []
    (line,) = told(Budget(**{name: COUNTS[name] - 1}))
    assert (line.code, line.level, line.subject) == ("ready-over-budget", "error", AMOUNTS[name])
    assert line.message.startswith(f"{COUNTS[name]:,} {AMOUNTS[name]}, {COUNTS[name] - 1:,} allowed: 1 too many.")


def test_no_limit_says_nothing():
    assert told(NO_LIMITS) == []


def test_the_largest_objects_are_named_and_can_be_selected():
    (line,) = told(Budget(triangles=7500))
    assert line.message == (
        "15,000 triangles, 7,500 allowed: 7,500 too many. Most are on Body (9,000), Face (4,200), Boots (1,000)."
    )
    assert [(place.owner, place.kind) for place in line.places] == [(name, "object") for name in ("Body", "Face", "Boots")]
    (line,) = told(Budget(keys=50))
    assert line.message.endswith("Most are on Face (52).") and [place.owner for place in line.places] == ["Face"]


def test_bones_and_meshes_name_no_object():
    for budget in (Budget(bones=60), Budget(meshes=1)):
        (line,) = told(budget)
        assert line.message.endswith("too many.") and line.places == ()


def test_a_figure_of_one_object_needs_no_name():
    (line,) = size_readiness(Size(KEEPER.objects[1:2], 0), Budget(triangles=8000))
    assert line.message == "9,000 triangles, 8,000 allowed: 1,000 too many."
    assert [place.owner for place in line.places] == ["Body"]


def test_a_passed_budget_puts_the_figure_outside_its_limits():
    assert figure_result().within
    assert not figure_result(readiness=told(Budget(bones=60))).within


def test_the_halves_are_compared_the_same_whatever_is_allowed():
    assert Settings(budget=Budget(triangles=5)).compared_by == Settings().compared_by


@pytest.mark.parametrize("value", [-1, 1.5, "many", None, True, 2**31])
def test_what_is_no_count_is_refused(value):
    with pytest.raises(SettingsError, match="bones of the budget must be a whole number"):
        Budget(bones=value)


@pytest.mark.parametrize(("table", "words"), [
    (7, "must be a table"), ([], "must be a table"), ({"polygons": 3, "triangles": 3}, "sets polygons, but only triangles"),
    ({"source": 3}, "source of the budget must be a text"), ({"keys": "all"}, "keys of the budget"),
])
def test_a_damaged_table_is_refused(table, words):
    with pytest.raises(SettingsError, match=words):
        read_budget(table)


@pytest.mark.parametrize("key", USUAL)
def test_usual_budgets_limit_triangles_and_say_where_they_come_from(key):
    name, budget = USUAL[key]
    assert name and budget.triangles and "no source" in budget.source
    assert read_budget(set_of(budget)) == budget


def test_wider_targets_allow_no_less():
    for tight, wide in (("desktop-tight", "desktop-wide"), ("phone-tight", "phone-middle"), ("phone-middle", "phone-wide")):
        low, high = USUAL[tight][1].limits, USUAL[wide][1].limits
        assert low.keys() == high.keys() and all(low[name] <= high[name] for name in low) and low != high


@given(first=BUDGETS, second=BUDGETS)
def test_a_profile_keeps_a_budget_and_every_other_line(first, second, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "budget.toml"
    text = '# staff\ntarget_heads = 1.5 # short\n\n[budget]\ntriangles = 7\n\n# hats next\n[canons.staff]\nheads = 2.0\n'
    for budget in (first, second):
        text = with_budget(text, budget)
        path.write_bytes(text.encode())
        assert read_profile(path, Settings()).budget == budget
        assert [line for line in text.splitlines() if line.startswith(("#", "target", "[canons", "heads"))] == [
            "# staff", "target_heads = 1.5 # short", "# hats next", "[canons.staff]", "heads = 2.0",
        ]
    assert with_budget(text, second) == text, "a second time changes nothing"


def test_a_budget_that_says_the_same_keeps_its_comments():
    text = "[budget]\ntriangles = 7_500 # the phone's\nbones = 0x4B\n"
    assert with_budget(text, Budget(7500, bones=75)) == text
    assert "7_500" not in with_budget(text, Budget(7501, bones=75))


def test_no_budget_writes_none():
    assert "budget" not in with_settings("# staff\n", Settings())


def test_a_budget_written_as_one_line_is_left_to_the_artist():
    with pytest.raises(SettingsError, match="save to a new file"):
        with_budget("budget = { triangles = 7 }\n", Budget(8))


def test_a_profile_without_a_budget_keeps_the_one_there_is(tmp_path):
    path = tmp_path / "plain.toml"
    path.write_text("target_heads = 2.0\n")
    before = Settings(budget=Budget(triangles=9))
    assert read_profile(path, before) == replace(before, target_heads=2.0)
    path.write_text("[budget]\nbones = 5\n")
    assert read_profile(path, before).budget == Budget(bones=5)
