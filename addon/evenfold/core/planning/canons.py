"""Canons of drawing and means of surveys, each with its source. None of them is anatomy."""

from collections.abc import Iterable, Mapping

from ..canon import Canon
from ..errors import SettingsError
from ..findings import Proportion

NAVY = "US Navy training manual NAVEDTRA 14262, "
NAVY_FACE = "eye line after the same chapter in manual 14263, p. 3-42"
LOOMIS = "A. Loomis, Figure Drawing for All It's Worth, 1943, p. 29, as tabulated by others"
SURVEY = (
    "Snyder and others, Anthropometry of Infants, Children and Youths to Age 18, UM-HSRI-77-17, 1977; "
    "means of the published records"
)
HABIT = "common practice, no source"
READ, SECOND_HAND, MEASURED, COMMON = "read in the source", "second hand", "measured", "common practice"

SURVEYED_HEADS = {
    2: (5.32, 0.29), 3: (5.62, 0.32), 4: (5.86, 0.36), 5: (6.17, 0.29), 6: (6.34, 0.33),
    7: (6.65, 0.33), 8: (6.83, 0.35), 9: (7.01, 0.37), 10: (7.18, 0.37), 11: (7.32, 0.40),
    12: (7.53, 0.42), 13: (7.68, 0.41), 14: (7.82, 0.43), 15: (7.92, 0.42), 16: (7.98, 0.35),
    17: (7.98, 0.40), 18: (8.03, 0.44),
}
"""Mean and standard deviation of heads tall by whole years of age, both sexes together."""

SURVEYED_SHARES = {
    2: (0.761, 0.442, 0.387, 0.232), 4: (0.776, 0.472, 0.421, 0.242),
    6: (0.786, 0.492, 0.444, 0.252), 8: (0.797, 0.503, 0.460, 0.260),
    10: (0.806, 0.515, 0.469, 0.263), 12: (0.810, 0.520, 0.476, 0.266),
    14: (0.810, 0.516, 0.471, 0.262), 16: (0.812, 0.510, 0.464, 0.261),
}
"""Pit of the neck, hip (trochanter), buttock fold and below the knee, as shares of stature."""

BIOMECHANICS = {
    "eye_line": 0.936, "shoulder": 0.818, "elbow": 0.630, "hip": 0.530, "wrist": 0.485,
    "fingertip": 0.377, "knee": 0.285, "ankle": 0.039,
}
"""Heights as shares of stature; the head is 0.130 of it."""

STYLISED_LEGS = {2.0: 0.5, 2.5: 0.5, 3.0: 1.0, 4.0: 1.5, 5.0: 2.0, 6.0: 2.75, 7.0: 3.5, 8.0: 4.0}
"""Legs in heads by heads tall; the torso with the neck is the rest below the chin."""


def _adults() -> list[Canon]:
    parts = {"eye_line": 0.5, "neck_base": 4 / 3, "crotch": 4.0, "below_knee": 6.0}
    levels = {"hairline": 0.2, "chest": 2.0}
    head = 0.130
    return [
        Canon("navy-8", "Adult as drawn, 8 heads", 8.0, parts, f"{NAVY}p. 3-30; {NAVY_FACE}", READ, "adult"),
        Canon("navy-7.5", "Average adult, 7.5 heads", 7.5, {"eye_line": 0.5}, f"{NAVY}p. 3-30; {NAVY_FACE}", READ, "adult"),
        Canon("vitruvius", "Vitruvius, 8 heads", 8.0, levels, "Vitruvius, De architectura III.1.2 and 3, Morgan's translation, 1914", READ, "adult", {"arm_span": 8.0}),
        Canon(
            "drillis-contini", "Biomechanics table, 7.69 heads", 1 / head,
            {name: (1 - share) / head for name, share in BIOMECHANICS.items()},
            "R. Drillis and R. Contini, Body Segment Parameters, 1966, as reproduced by D. A. Winter, 2009, fig. 4.1",
            SECOND_HAND, "biomechanics", {"shoulder_width": 0.259 / head, "hip_width": 0.191 / head},
        ),
    ]


def _children() -> list[Canon]:
    where = f"{NAVY}p. 3-34"
    found = [
        Canon("navy-child-1", "Child of 1 year, 4.5 heads", 4.5, {}, where, READ, "child"),
        Canon("navy-child-8", "Child of 8 years, 6.25 heads", 6.25, {}, where, READ, "child"),
        Canon("navy-child-12", "Child of 12 years, 7 heads", 7.0, {"crotch": 3.5}, where, READ, "child"),
    ]
    for age, heads in ((1, 4.0), (3, 5.0), (5, 6.0), (10, 7.0), (15, 7.5)):
        years = "1 year" if age == 1 else f"{age} years"
        found.append(Canon(f"loomis-{age}", f"Loomis, {years}, {heads:g} heads", heads, {}, LOOMIS, SECOND_HAND, "child"))
    found.append(Canon("loomis-adult", "Loomis, adult, 8 heads", 8.0, {}, LOOMIS, SECOND_HAND, "adult"))
    return found


def _surveyed() -> list[Canon]:
    names = ("neck_base", "hip", "buttock_fold", "below_knee")
    found = []
    for age, (heads, spread) in SURVEYED_HEADS.items():
        shares = dict(zip(names, SURVEYED_SHARES.get(age, ()), strict=False))
        levels = {name: (1 - share) * heads for name, share in shares.items()}
        text = f"Children of {age} years, mean of a survey, {heads:g} heads"
        found.append(Canon(f"survey-{age}", text, heads, levels, SURVEY, MEASURED, "survey", spread=spread))
    return found


def _stylised() -> list[Canon]:
    found = [Canon("stylised-1.5", "Stylised, 1.5 heads", 1.5, {}, HABIT, COMMON, "stylised")]
    for heads, legs in STYLISED_LEGS.items():
        levels = {"crotch": heads - legs}
        found.append(Canon(f"stylised-{heads:g}", f"Stylised, {heads:g} heads", heads, levels, HABIT, COMMON, "stylised"))
    return found


CANONS: Mapping[str, Canon] = {
    canon.key: canon for canon in (*_stylised(), *_adults(), *_children(), *_surveyed())
}
"""Every canon that comes with the add-on, by key."""


def canon_named(key: str, own: Iterable[Canon] = ()) -> Canon:
    """The canon of this key, ``own`` ones first. Raises SettingsError that lists the known keys."""
    known = {**CANONS, **{canon.key: canon for canon in own}}
    if key not in known:
        raise SettingsError(f"There is no canon {key}. Known are {', '.join(known)}.")
    return known[key]


def canon_from(found: Proportion, key: str, source: str, kind: str = "own") -> Canon:
    """A measured figure's own levels as a canon. Raises SettingsError when it has no count."""
    if found.heads_tall is None or not found.head_height or not found.height:
        raise SettingsError("Without a count of heads there is no canon to keep: measure a figure that has one.")
    top, head = found.height, found.head_height
    levels = {
        name: (top - mark.height) / head
        for name, mark in found.landmarks.items()
        if name not in ("crown", "chin", "sole") and -1e-9 <= top - mark.height <= top + 1e-9
    }
    levels = {name: min(max(level, 0.0), found.heads_tall) for name, level in levels.items()}
    spans = {name: span.length / head for name, span in found.spans.items()}
    return Canon(key, key, found.heads_tall, levels, source, MEASURED, kind, spans)
