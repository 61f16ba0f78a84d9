"""Left and right in names: one place for every spelling, ours and the host's.

Three grades of certainty. A *plain* side stands as a word or a letter of its own (Arm.L, arm_left,
LeftArm, J_L_Arm, 左腕) and asks for a counterpart. A *likely* one is glued on (ArmL, Hair_L01) or German (Arm_links); it
is told, but asks for nothing. A *guess* (leftarm, but also upright; arm_lft, lt_arm, lf_arm) counts only
where both names exist.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from .name_words import LATIN

PLAIN, LIKELY, GUESS = 0, 1, 2

MANY = 6
"""Names with more sides in them than this are no names that anybody chose. Our choice."""

WORDS = {"left": "right", "right": "left"}
GERMAN = {"links": "rechts", "linke": "rechte", "linker": "rechter", "linkes": "rechtes"}
GERMAN |= {right: left for left, right in GERMAN.items()}
"""Read as likely sides: "links" is an English word as well."""
SHORT = {"lft": "rgt", "lt": "rt", "lf": "rt"}
"""Left words with their right ones that are read only where both names exist: "lt" may mean light."""
SIGNS = {"左": "右", "右": "左", "ひだり": "みぎ", "みぎ": "ひだり", "ヒダリ": "ミギ", "ミギ": "ヒダリ"}
LEFT_SIGNS = frozenset({"左", "ひだり", "ヒダリ"})
BODY = (
    "arm", "leg", "hand", "foot", "feet", "eye", "ear", "knee", "thigh", "shin", "calf", "toe",
    "toes", "brow", "eyebrow", "shoulder", "elbow", "wrist", "finger", "thumb", "ankle", "hip",
    "cheek", "wing", "horn", "shoe", "boot", "sleeve", "lip", "lid", "palm", "clavicle", "breast",
    "pinky", "paw", "iris", "pupil",
)
"""Words that tell a side from a syllable where nothing separates them: leftarm, not leftover."""

_WIDE = str.maketrans("ＬＲｌｒ", "LRlr")
_TO_WIDE = str.maketrans("LRlr", "ＬＲｌｒ")
# Sides are exchanged where they stand, so they need their places and letters as written, which name_words does not keep.
_TOKENS = re.compile(
    r"左右|左|右|ひだり|みぎ|ヒダリ|ミギ"
    rf"|(?<![A-Za-z])(?i:{'|'.join((*WORDS, *GERMAN))})(?![A-Za-z])|{LATIN}"
)
_SHORT = re.compile(rf"(?<![A-Za-z])(?i:{'|'.join(SHORT)})(?![A-Za-z])")
_NUMBER = re.compile(r"(.*)(\.[0-9](?:[^.]*[0-9])?)", re.DOTALL)
_AT_THE_ENDS = re.compile(r"(?P<first>left|right)?(?P<rest>.*?)(?P<last>left|right)?", re.DOTALL)
_LETTERS = {"l": "r", "r": "l", "L": "R", "R": "L"}
_SEPARATORS = frozenset(". -_")


@dataclass(frozen=True)
class _Mark:
    """One side in a name: where it stands, what replaces it, and how sure it is."""

    start: int
    end: int
    swapped: str
    left: bool
    grade: int


@dataclass(frozen=True)
class Pairs:
    """``left`` and ``right`` names in step; ``singles`` ask for a counterpart that is not there.

    ``unflipped`` are the left names that the host's own tools do not turn into their right ones;
    ``notes`` say so in sentences.
    """

    left: tuple[str, ...]
    right: tuple[str, ...]
    singles: tuple[str, ...]
    notes: tuple[str, ...] = ()
    unflipped: tuple[str, ...] = ()

    @property
    def partner(self) -> dict[str, str]:
        """Each paired name's counterpart, both ways."""
        return dict(zip(self.left + self.right, self.right + self.left, strict=True))


def side_of(name: str) -> str | None:
    """ "left", "right", or None where the name tells neither."""
    marks = _told(name)
    if not marks:
        return None
    return "left" if _leading(name, marks).left else "right"


def counterpart(name: str) -> str | None:
    """The mirrored name, or None where the name tells no side."""
    marks = _told(name)
    return _swap(name, marks) if marks else None


def asks_for_counterpart(name: str) -> bool:
    """True when a side stands plainly in the name, so that a missing counterpart is a mismatch."""
    return any(mark.grade == PLAIN for mark in _told(name))


def pairs(names: Iterable[str]) -> Pairs:
    """Left and right names that both exist; each name is in one pair at most.

    In step with the order of ``names``. A pair found by the whole name goes before one found by
    a single side word in it, and the host's own reading comes last.
    """
    return _pairs(tuple(dict.fromkeys(names)))


@lru_cache(maxsize=64)
def _pairs(listed: tuple[str, ...]) -> Pairs:
    partner = _matched(list(listed))
    partner |= _shortened([name for name in listed if name not in partner])
    left = tuple(one for one in listed if one in partner and _is_left(one, partner[one]))
    right = tuple(partner[one] for one in left)
    singles = tuple(one for one in listed if one not in partner and asks_for_counterpart(one))
    unflipped = tuple(
        one for one, other in zip(left, right, strict=True)
        if host_flip(one) != other or host_flip(other) != one
    )
    return Pairs(left, right, singles, tuple(_unflipped_note(unflipped)), unflipped)


def host_flips(name: str) -> bool:
    """True when Blender itself gives this name another side."""
    return host_flip(name) != name


def host_flip(name: str) -> str:
    """What Blender's mirror tools make of a name, syllables such as the one in "Bright" included.

    Behaviour measured with ``bpy.utils.flip_name`` in 4.2, 4.5 and 5.2: an ending of a dot
    and what begins and ends with a digit is set aside; then a last or first single letter with a separator; then, in what is
    longer than five bytes, the first "right" and the first "left", at the start or the end.
    """
    if len(name.encode()) < 3:
        return name
    numbered = _NUMBER.fullmatch(name)
    stem, number = numbered.groups() if numbered else (name, "")
    turned = _host_letter(stem)
    return (turned if turned != stem else _host_word(stem)) + number


def _host_letter(stem: str) -> str:
    if len(stem) < 2:
        return stem
    if stem[-2] in _SEPARATORS and stem[-1] in _LETTERS:
        return stem[:-1] + _LETTERS[stem[-1]]
    if stem[1] in _SEPARATORS and stem[0] in _LETTERS:
        return _LETTERS[stem[0]] + stem[1:]
    return stem


def _host_word(stem: str) -> str:
    if len(stem.encode()) <= 5:
        return stem
    lower = _ascii_lower(stem)
    for word, other in (("right", "left"), ("left", "right")):
        at = lower.find(word)
        if at == 0 or (at > 0 and at + len(word) == len(stem)):
            return stem[:at] + _in_case(stem[at : at + len(word)], other) + stem[at + len(word) :]
    return stem


def _ascii_lower(text: str) -> str:
    return "".join(one.lower() if one.isascii() else one for one in text)


def _in_case(model: str, word: str) -> str:
    """``word`` in small letters, capitals, or with a capital first, as ``model`` has it."""
    if model[0].islower():
        return word
    return word.upper() if model[1].isupper() else word.capitalize()


def _told(name: str) -> list[_Mark]:
    """The plain and likely sides of a name, in order."""
    marks = list(_marks(name))
    if marks:
        return marks
    return [mark for mark in _glued(name) if mark.grade < GUESS]


def _marks(name: str) -> Iterator[_Mark]:
    scan = _scannable(name)
    for token in _TOKENS.finditer(scan):
        text, start, end = token.group(), token.start(), token.end()
        if text in SIGNS:
            yield _Mark(start, end, SIGNS[text], text in LEFT_SIGNS, PLAIN)
        elif text.lower() in WORDS:
            swapped = _in_case(text, WORDS[text.lower()])
            yield _Mark(start, end, swapped, text.lower() == "left", PLAIN)
        elif text.lower() in GERMAN:
            yield _Mark(start, end, _in_case(text, GERMAN[text.lower()]), text.lower().startswith("l"), LIKELY)
        elif text in _LETTERS and (end - start) < len(name):
            glued = _joins(scan, start - 1) or _joins(scan, end)
            swapped = _LETTERS[text]
            if name[start] != scan[start]:
                swapped = swapped.translate(_TO_WIDE)
            yield _Mark(start, end, swapped, text in "lL", LIKELY if glued else PLAIN)


def _scannable(name: str) -> str:
    """The name in as many characters, wide letters made narrow and accented ones plain."""
    narrow = name.translate(_WIDE)
    return "".join(
        one if one.isascii() or not (one.isupper() or one.islower()) else "X" if one.isupper() else "x"
        for one in narrow
    )


def _joins(scan: str, at: int) -> bool:
    return 0 <= at < len(scan) and scan[at].isascii() and scan[at].isalnum()


def _glued(name: str) -> list[_Mark]:
    """Side words at the start and end with no separator, told apart by what they stand with."""
    stem = re.sub(r"[^A-Za-z]*$", "", name)
    found = _AT_THE_ENDS.fullmatch(_ascii_lower(stem))
    if found is None or not found["rest"] or not (found["first"] or found["last"]):
        return []
    grade = PLAIN if found["rest"].endswith(BODY) else GUESS
    return [
        _Mark(*found.span(end), _in_case(stem[slice(*found.span(end))], WORDS[found[end]]), found[end] == "left", grade)
        for end in ("first", "last")
        if found[end]
    ]


def _leading(name: str, marks: list[_Mark]) -> _Mark:
    """Of several sides the one the host would read: at the end, else at the start, else the last."""
    plain = [mark for mark in marks if mark.grade == PLAIN] or marks
    ends = re.sub(r"\.[0-9]+$", "", name)
    if plain[-1].end == len(ends) or plain[0].start != 0:
        return plain[-1]
    return plain[0]


def _swap(name: str, marks: Iterable[_Mark]) -> str:
    for mark in sorted(marks, key=lambda one: -one.start):
        name = name[: mark.start] + mark.swapped + name[mark.end :]
    return name


def _readings(name: str) -> Iterator[tuple[int, str]]:
    """Mirrored names with their rank: all sides swapped, some of them, the host's own way.

    Of more than MANY sides all are swapped, or one alone: every choice of them would be twice as
    many with each.
    """
    marks = list(_marks(name))
    few = len(marks) <= MANY
    for count in range(len(marks), 0, -1) if few else (len(marks), 1):
        for chosen in combinations(marks, count):
            yield min(len(marks) - count, MANY), _swap(name, chosen)
    if name in _LETTERS:
        yield 8, _LETTERS[name]
    if glued := _glued(name):
        yield 8, _swap(name, glued)
    yield 9, host_flip(name)


def _matched(names: list[str]) -> dict[str, str]:
    known = set(names)
    wishes = sorted(
        (rank, place, name, other)
        for place, name in enumerate(names)
        for rank, other in _readings(name)
        if other != name and other in known
    )
    partner: dict[str, str] = {}
    for rank, _place, name, other in wishes:
        if name not in partner and other not in partner:
            back = {(rank, name), (8, name), (9, name)} & set(_readings(other))
            if back:
                partner[name], partner[other] = other, name
    return partner


def _shortened(names: list[str]) -> dict[str, str]:
    """Pairs by short side words; a name that answers two others is in none."""
    known, found = set(names), list[tuple[str, str]]()
    for name in names:
        for word in _SHORT.finditer(name):
            other = name[: word.start()] + _in_case(word.group(), SHORT[word.group().lower()]) + name[word.end() :]
            if other in known:
                found.append((name, other))
    uses = Counter(name for both in found for name in both)
    single = [both for both in found if uses[both[0]] == uses[both[1]] == 1]
    return {one: two for left, right in single for one, two in ((left, right), (right, left))}


def _is_left(name: str, other: str) -> bool:
    """Which of two paired names is the left one: by the side the host would read, else by the first that differs."""
    mine, its = list(_marks(name)), list(_marks(other))
    for one, two in zip(mine, its, strict=False):
        if one.left != two.left:
            read = _leading(name, mine).left
            return read if read != _leading(other, its).left else one.left
    at = next(i for i, (a, b) in enumerate(zip(name, other, strict=False)) if a.lower() != b.lower())
    return name[at].lower() == "l"


def _unflipped_note(names: tuple[str, ...]) -> Iterator[str]:
    if names:
        shown = ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
        yield f"Blender itself will not mirror these names: {shown}. Write the side as .L and .R at the end."
