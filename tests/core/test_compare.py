"""Side by side: a figure with a canon, and a rework with its base."""

import pytest
from evenfold.core.canon import Canon
from evenfold.core.findings import Proportion
from evenfold.core.planning.canons import CANONS, canon_from
from evenfold.core.planning.compare import CompareError, compare, compare_figures
from evenfold.core.report.plan_text import compare_lines
from figures.measured import measured
from hypothesis import given
from hypothesis import strategies as st

STAFF = Canon("staff", "Staff", 3.0, {"crotch": 2.2, "knee": 2.6}, "invented", "invented", "own", {"arm_span": 2.0})


def rows(found):
    return {row.name: row for row in found.rows}


def test_rows_are_in_head_heights_and_in_metres_of_this_figure():
    found = compare(measured(0.9, 0.3, {"crotch": 0.3, "eye_line": 0.7}, spans={"arm_span": 0.66}), STAFF)
    assert set(rows(found)) == {"crotch", "sole", "arm_span"}
    crotch, span = rows(found)["crotch"], rows(found)["arm_span"]
    # by hand: crotch 0.6 below the crown, 2 heads; 0.2 heads, 6 cm, above the canon's
    assert (crotch.here, crotch.there, crotch.difference, crotch.metres) == pytest.approx((2, 2.2, 0.2, 0.06))
    assert (span.here, span.there, span.difference, span.metres) == pytest.approx((2.2, 2, 0.2, 0.06))
    assert span.width and not crotch.width
    assert (crotch.height_here, crotch.height_there) == (pytest.approx(0.3), None)
    assert (found.heads_here, found.heads_there) == pytest.approx((3, 3))


def test_the_canon_is_named_with_its_source_and_not_as_anatomy():
    found = compare(measured(0.9, 0.3, {"knee": 0.2}), CANONS["drillis-contini"])
    assert "not anatomy" in found.notes[0] and "Drillis" in found.notes[0]
    assert len(found.notes) == 1
    habit = compare(measured(0.9, 0.3, {"crotch": 0.3}), CANONS["stylised-3"])
    assert habit.notes[0] == "Stylised, 3 heads is a canon, not anatomy: common practice, no source."
    arms = compare(measured(0.9, 0.3, {"wrist": 0.2}), CANONS["drillis-contini"])
    assert any("while the arms hang" in text for text in arms.notes)
    child = compare(measured(0.9, 0.3, {"hip": 0.3}), CANONS["survey-6"])
    assert any("0.33 heads of 6.34" in text for text in child.notes)
    bare = compare(measured(0.9, 0.3, {"knee": 0.2}), CANONS["stylised-1.5"])
    assert any("no level" in text for text in bare.notes)


@given(st.floats(1.5, 9), st.floats(0.01, 10), st.floats(0.05, 0.95))
def test_a_figure_beside_its_own_canon_differs_nowhere(heads, head, share):
    found = measured(heads * head, head, {"crotch": share * (heads - 1) * head}, spans={"arm_span": head})
    side = compare(found, canon_from(found, "own", "measured"))
    assert {"crotch", "sole", "arm_span"} == set(rows(side))
    assert all(row.difference == pytest.approx(0, abs=1e-9) for row in side.rows)
    assert sum("the same" in line for line in compare_lines(side, str)) == 3


def test_a_rework_beside_its_base_has_both_heights():
    base = measured(1.2, 0.3, {"crotch": 0.5, "knee": 0.25, "navel": 0.6})
    rework = measured(0.9, 0.3, {"crotch": 0.3, "knee": 0.15})
    side = compare_figures(rework, base, "Base")
    assert set(rows(side)) == {"crotch", "knee", "sole"} and side.notes == ()
    knee = rows(side)["knee"]
    # by hand: 0.75 below the crown is 2.5 heads, against 0.95, 3.1667 heads
    assert (knee.here, knee.there, knee.difference) == pytest.approx((2.5, 0.95 / 0.3, 0.2 / 0.3))
    assert (knee.height_here, knee.height_there, knee.metres) == pytest.approx((0.15, 0.25, 0.2))
    back = rows(compare_figures(base, rework, "Rework"))
    assert all(back[name].difference == pytest.approx(-row.difference) for name, row in rows(side).items())


def test_lines_say_which_is_nearer_the_crown_and_wider():
    lines = compare_lines(compare(measured(0.9, 0.3, {"crotch": 0.3, "knee": 0.06}, spans={"arm_span": 0.5}), STAFF), lambda m: f"{m:.3f} m")
    text = "\n".join(lines)
    assert "Crotch 2.00 heads down, there 2.20: 0.20 heads nearer the crown here (0.060 m)" in text
    assert "Knee 2.80 heads down, there 2.60: 0.20 heads further from the crown here (0.060 m)" in text
    assert "0.33 heads narrower here (0.100 m)" in text
    assert "Whole height 3.00 heads, there 3.00: the same" in text


def test_words_do_not_contradict_the_heights_beside_them():
    # the rework's crotch is nearer its crown, and yet nearer the floor
    base, rework = measured(0.9, 0.3, {"crotch": 0.3}), measured(0.6, 0.3, {"crotch": 0.12})
    text = "\n".join(compare_lines(compare_figures(rework, base, "Base"), lambda m: f"{m:.2f} m"))
    assert "Crotch 1.60 heads down, there 2.00: 0.40 heads nearer the crown here (0.12 m); above the sole 0.12 m here, 0.30 m there" in text
    assert "Whole height 2.00 heads, there 3.00: 1.00 heads fewer here; 0.60 m here, 0.90 m there" in text
    assert "higher" not in text and "lower" not in text and "Sole" not in text
    text = "\n".join(compare_lines(compare_figures(base, rework, "Rework"), str))
    assert "1.00 heads more here" in text


def test_without_a_count_there_is_nothing_to_compare():
    with pytest.raises(CompareError, match="pin the sole"):
        compare(Proportion(refusal="No legs: pin the sole."), STAFF)
    with pytest.raises(CompareError, match="Base has no count"):
        compare_figures(measured(0.9, 0.3), Proportion(refusal="No."), "Base")
