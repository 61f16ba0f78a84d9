"""Tables in the sidebar: which cells share a line at which width. All texts are invented."""

import pytest
from evenfold.ui.panels import shared

ROWS = (("Height of", "Now", "Then"), ("Lamp", "26.4 cm", "52.8 cm"))
LONG = (("Height of", "Now", "It is"), ("Lamp", "26.4 cm", "0.69 heads higher, 41.3 cm"))


class Layout:
    """Keeps the texts of each line with the share of the width each has, as Blender gives it."""

    def __init__(self, lines: list, share: float = 1.0) -> None:
        self.lines, self.share, self.active, self.factor, self.own = lines, share, True, None, False

    def column(self, **_options) -> "Layout":
        return Layout(self.lines)

    def row(self) -> "Layout":
        self.lines.append([])
        made = Layout(self.lines)
        made.own = True
        return made

    def split(self, factor: float) -> "Layout":
        made = Layout(self.lines, self.share)
        made.factor, made.own = factor, True
        if self.factor is not None:
            made.share = self.share * (1.0 - self.factor)
        return made

    def label(self, text: str, icon: str = "NONE", translate: bool = True) -> None:
        if not self.own:
            self.lines.append([])
        first = self.factor is not None and not getattr(self, "used", False)
        share = self.share * (self.factor if first else 1.0 - (self.factor or 0.0))
        self.used = True
        self.lines[-1].append((text, share))


def lines_at(monkeypatch: pytest.MonkeyPatch, width: float, rows) -> list:
    monkeypatch.setattr(shared, "_letters", lambda: width)
    lines: list = []
    shared.table(Layout(lines), rows)
    return lines


def test_columns_share_the_width_as_their_longest_cells_do(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = lines_at(monkeypatch, 45, ROWS)
    assert [[text for text, _ in line] for line in lines] == [list(row) for row in ROWS]
    for line in lines:
        assert [share for _, share in line] == pytest.approx([9.8 / 27.2, 8.7 / 27.2, 8.7 / 27.2])


def test_a_last_cell_without_room_stands_below(monkeypatch: pytest.MonkeyPatch) -> None:
    texts = [[text for text, _ in line] for line in lines_at(monkeypatch, 40, LONG)]
    assert texts == [["Height of", "Now"], ["Lamp", "26.4 cm"], ["0.69 heads higher, 41.3 cm"]]
    wide = [[text for text, _ in line] for line in lines_at(monkeypatch, 80, LONG)]
    assert wide == [list(row) for row in LONG]



def fact_at(monkeypatch: pytest.MonkeyPatch, width: float, name: str, value: str) -> list:
    monkeypatch.setattr(shared, "_letters", lambda: width)
    lines: list = [[]]
    shared.fact(Layout(lines), name, value)
    return [line for line in lines if line]


def test_a_fact_gives_its_value_the_room_it_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    ((name, left), (value, right)), = fact_at(monkeypatch, 45, "Crown", "30 cm")
    assert (name, value) == ("Crown", "30 cm") and (left, right) == pytest.approx((0.45, 0.55))
    ((_, left), (_, right)), = fact_at(monkeypatch, 45, "Crown", "89.99 cm, 1.50 heads tall")
    assert right * 35 >= 23 and left * 35 >= 6


def test_a_fact_too_long_for_a_line_takes_two(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = fact_at(monkeypatch, 45, "where the heads of the bones lie", "30 cm (29.4 cm to 30.6 cm)")
    assert [[text for text, _ in line] for line in lines] == [
        ["where the heads of the bones lie"], ["30 cm (29.4 cm to 30.6 cm)"],
    ]
