"""One cloud of points with what each belongs to: head, legs, or worn and left out."""

from dataclasses import dataclass, field, replace

import numpy as np

from ...extents import extent_of
from ...figure import Figure, FloatArray, IntArray, Part
from ...name_words import words_of
from ..points.islands import label_pieces
from . import words
from .named_bones import MAINLY, find_head_bone, jaw_bones, leg_bones
from .worn import BoolArray, Decided, WornChoice, WornPart, settle, worn_bones, worn_of_part

FEWEST = 8
"""Fewer points than this on the head's bone tell nothing of the head's shape."""
BLURRED, LEAST_LED, FOLLOWS = 0.25, 0.3, 0.51
"""Weights are blurred where no more than the first share of what the head leads follows it mainly; it leads where it has more
weight than any other bone, and the second at least. Such points count as following it by the third. Our choice."""
WELD = 1e-5
"""Points closer than this share of the figure are one."""
BEYOND = 1e12
"""Scene units from the origin at which nothing stands: a coordinate from there on is a fault. Our choice."""
GROUND = 0.04
"""What reaches so near to the figure's lowest point, in heights, stands on the ground. Our choice."""
HOLDS = 0.4
"""Groups called head hold one, without a rig, where they are so wide and so deep as a share of the figure there. Our choice."""
LEGS_UP, LEGS = 0.25, 0.1
"""So much of a whole figure's points lies in the lowest part of its height: legs and feet. Our choice."""


@dataclass(frozen=True)
class _Row:
    """A part's points, triangles, and what they belong to, as in Body."""

    points: FloatArray
    triangles: IntArray
    head: FloatArray
    neck: FloatArray
    leg: FloatArray
    jaw: FloatArray
    worn: WornPart
    face: BoolArray
    loose: BoolArray
    led: BoolArray


@dataclass(frozen=True)
class Body:
    """``points`` (n, 3) world; ``triangles`` (t, 3); the rest (n,) for each point.

    ``head``, ``neck``, ``leg`` and ``jaw`` are shares from 0 to 1 of a point's weight; ``face`` is
    what is named the face's skin; ``pulled`` is what is worn unless it is the skull's own skin, which
    the bones of hair or ears pull along; ``beside`` what follows ears and horns, but no hair; ``loose``
    what follows no bone of the rig there is; ``painted`` what is worn by a name alone and follows no such bone.
    ``colour`` (t, 3) is the triangles' in linear light, NaN where not known.
    """

    points: FloatArray
    triangles: IntArray
    head: FloatArray
    neck: FloatArray
    leg: FloatArray
    worn: BoolArray
    head_how: str
    head_bone: str | None
    guesses: tuple[str, ...]
    jaw: FloatArray = field(default_factory=lambda: np.zeros(0))
    face: BoolArray = field(default_factory=lambda: np.zeros(0, bool))
    pulled: BoolArray = field(default_factory=lambda: np.zeros(0, bool))
    beside: BoolArray = field(default_factory=lambda: np.zeros(0, bool))
    loose: BoolArray = field(default_factory=lambda: np.zeros(0, bool))
    painted: BoolArray = field(default_factory=lambda: np.zeros(0, bool))
    colour: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))

    @property
    def follows_head(self) -> BoolArray:
        """(n,) what follows the head by more than half, MAINLY; so below."""
        return self.head > MAINLY

    @property
    def follows_legs(self) -> BoolArray:
        return self.leg > MAINLY

    @property
    def follows_jaw(self) -> BoolArray:
        return self.jaw > MAINLY


def _share(part: Part, names: set[str] | frozenset[str], total: FloatArray) -> FloatArray:
    if part.bone_parent is not None and not len(part.weights.vertex):
        return np.full(len(part.points), float(part.bone_parent in names))
    return part.weights.of_groups(names, len(part.points)) / np.maximum(total, 1e-12)


def _led(part: Part, head_names: frozenset[str], total: FloatArray) -> BoolArray:
    """(n,) the points that follow the head more than any other single bone."""
    mine = np.array([name in head_names for name in part.weights.names], bool)[part.weights.group]
    other = np.zeros(len(part.points))
    np.fmax.at(other, part.weights.vertex[~mine], part.weights.weight[~mine])
    head = part.weights.of_groups(head_names, len(part.points))
    return np.asarray((head > other) & (head > LEAST_LED * total), bool)


def _sharpened(rows: list[_Row]) -> list[_Row]:
    """Where weights are so blurred that hardly anything follows the head by more than half, what it leads follows it."""
    led = np.concatenate([row.head[row.led] for row in rows]) if rows else np.zeros(0)
    if len(led) < FEWEST or (led > MAINLY).mean() > BLURRED:
        return rows
    return [replace(row, head=np.where(row.led, np.maximum(row.head, FOLLOWS), row.head)) for row in rows]


def gather(figure: Figure) -> Body:
    """Put the figure's parts together; worn parts are marked, nothing is dropped."""
    choice = WornChoice(figure)
    bones = worn_bones(figure.armature, choice)
    head_bone = find_head_bone(figure)
    rows = _sharpened(_without_face_alone(figure, _rows(figure, choice, bones, head_bone)))
    if figure.armature is None and not _holds_a_head(rows, np.asarray(figure.up, float)):
        rows = [replace(row, head=np.zeros(len(row.points))) for row in rows]
    how = "weights" if any(row.head.max(initial=0.0) > MAINLY for row in rows) else "none"
    if how == "none":
        rows, how = _head_by_object(figure, rows)
    if not sum(len(row.points) for row in rows):
        empty = np.zeros(0)
        return Body(np.zeros((0, 3)), np.zeros((0, 3), np.int64), empty, empty, empty, np.zeros(0, bool), how, head_bone, ())
    points, triangles = np.concatenate([row.points for row in rows]).astype(float), np.concatenate([row.triangles for row in rows])
    points, kept, gone, lost = _without_lost(points, triangles)
    triangles, colour = triangles[kept], _colours(figure.parts)[kept]
    head, neck, leg, jaw = (
        np.nan_to_num(np.concatenate([getattr(row, name) for row in rows]), posinf=0.0, neginf=0.0)
        for name in ("head", "neck", "leg", "jaw")
    )
    piece = label_pieces(points, triangles, WELD * float(extent_of(points).max()))
    worn, pulled = settle(figure.parts, [row.worn for row in rows], bones, piece, head, choice)
    worn, sentences = _keep_a_head(head, leg, worn | gone, choice)
    if ((head > MAINLY) & ~worn).sum() < FEWEST:
        how = "none"
    face, beside, loose, painted = (
        np.concatenate(column) for column in zip(*((row.face, row.worn.beside, row.loose, row.worn.named & ~row.worn.hung) for row in rows), strict=True)
    )
    return Body(
        points, triangles, head, neck, leg, worn, how, head_bone, (*sentences, *lost),
        jaw, face & ~worn, pulled & worn & ~gone, beside & worn & ~gone, loose & ~worn & ~gone,
        painted & worn & ~gone, colour,
    )


def _rows(figure: Figure, choice: WornChoice, bones: Decided, head_bone: str | None) -> list[_Row]:
    """What the points of each part belong to, their numbers counted on from part to part."""
    armature = figure.armature
    bone_names = set(armature.by_name) if armature is not None else None
    head_names = armature.below(head_bone) if armature is not None and head_bone is not None else frozenset()
    legs, jaws = leg_bones(figure), jaw_bones(figure, head_bone)
    rows: list[_Row] = []
    start = 0
    for part in figure.parts:
        groups = part.weights.names
        total = part.weights.of_groups(set(groups) if bone_names is None else bone_names, len(part.points))
        names = head_names or (_named(groups, words.HEAD, words.HEAD_SIGNS) if bone_names is None else frozenset())
        necks = {name for name in groups if "neck" in words_of(name) or "首" in name}
        head, neck, leg, jaw = (
            _share(part, chosen, total)
            for chosen in (names, necks, legs or _named(groups, words.LEG, words.LEG_SIGNS), jaws)
        )
        led = _led(part, head_names, total) if len(part.weights.vertex) and head_names else np.zeros(len(part.points), bool)
        if part.bone_parent in head_names and not len(part.weights.vertex) and _is_whole(part, figure):
            head = np.zeros(len(part.points))
        worn = worn_of_part(part, choice, bones, total)
        loose = total <= 0 if armature is not None and part.bone_parent is None else np.zeros(len(part.points), bool)
        rows.append(_Row(part.points, part.triangles + start, head, neck, leg, jaw, worn, _face_of_part(part), loose, led))
        start += len(part.points)
    return rows


def _without_face_alone(figure: Figure, rows: list[_Row]) -> list[_Row]:
    """Without what hangs on the head bone beside a whole figure hung there, where no middle of it lies over that figure:
    eyes or a cap, from which no head can be told. Unless something has weights for the head."""
    up = np.asarray(figure.up, float)
    hung = [part.bone_parent is not None and not len(part.weights.vertex) for part in figure.parts]
    whole = [part for part, is_hung in zip(figure.parts, hung, strict=True) if is_hung and _is_whole(part, figure)]
    bare = [
        (part, is_hung) for part, row, is_hung in zip(figure.parts, rows, hung, strict=True)
        if row.head.max(initial=0.0) > MAINLY and not row.worn.named.all()
    ]
    if not whole or any(not is_hung for _, is_hung in bare):
        return rows
    top = float(_heights(tuple(whole), up).max())
    levels = [_heights((part,), up) for part, _ in bare]
    if any(len(level) and float(level.max() + level.min()) / 2 > top for level in levels):
        return rows
    return [replace(row, head=np.zeros(len(row.points))) for row in rows]


def _holds_a_head(rows: list[_Row], up: FloatArray) -> bool:
    """False where the groups called head are but eyes, brows, a mask or what is worn: far less wide or deep than the figure is there."""
    if not any((row.head > MAINLY).any() for row in rows):
        return True
    mine = [row.points[(row.head > MAINLY) & ~row.worn.named] for row in rows]
    own = np.concatenate(mine)
    own = own[(np.abs(own) < BEYOND).all(axis=1)]
    if not len(own):
        return False
    level = own @ up
    every = np.concatenate([row.points[~row.worn.named] for row in rows])
    every = every[(np.abs(every) < BEYOND).all(axis=1)]
    beside = every[(every @ up >= level.min()) & (every @ up <= level.max())]
    aside = np.linalg.svd(up[None])[2][1:]
    shares = [np.ptp(own @ way) / max(float(np.ptp(beside @ way)), 1e-12) for way in aside] if len(beside) else [1.0]
    return min(shares) >= HOLDS


def _is_whole(part: Part, figure: Figure) -> bool:
    """True for a part on the head bone that goes down to the figure's ground with much of itself: a whole figure
    that was hung there, of which the bone does not tell what the head is. Long locks are little of a head."""
    low, high = (_heights(one, np.asarray(figure.up, float)) for one in ((part,), figure.parts))
    if not len(low) or float(low.min()) >= float(high.min()) + GROUND * float(np.ptp(high)):
        return False
    return float(np.mean(low < float(high.min()) + LEGS_UP * float(np.ptp(high)))) > LEGS


def _heights(parts: tuple[Part, ...], up: FloatArray) -> FloatArray:
    """Along ``up``, of the points that have a place."""
    points = np.concatenate([part.points for part in parts])
    return np.asarray(points[(np.abs(points) < BEYOND).all(axis=1)] @ up, float)


def _named(groups: tuple[str, ...], chosen: frozenset[str], signs: tuple[str, ...]) -> frozenset[str]:
    return frozenset(name for name in groups if words.has_word(name, chosen, signs))


def _face_of_part(part: Part) -> BoolArray:
    """(n,) what the part's materials, or else its own name, call the face."""
    named = [number for number, name in enumerate(part.materials) if words.is_face(name)]
    found = np.zeros(len(part.points), bool)
    if named and len(part.materials) > len(named) and len(part.triangle_material):
        found[part.triangles[np.isin(part.triangle_material, named)].ravel()] = True
        return found
    return np.full(len(part.points), words.is_face(part.name))


def _colours(parts: tuple[Part, ...]) -> FloatArray:
    """(t, 3) of all parts' triangles, NaN where not known."""
    return np.concatenate([one.paint if len(one.paint) else np.full((len(one.triangles), 3), np.nan) for one in parts]).astype(float)


def _without_lost(points: FloatArray, triangles: IntArray) -> tuple[FloatArray, BoolArray, BoolArray, tuple[str, ...]]:
    """Points without a place are put amid the others and told, and which triangles (t,) they do not bound."""
    whole = (np.abs(points) < BEYOND).all(axis=1)
    if whole.all():
        return points, np.ones(len(triangles), bool), ~whole, ()
    middle = np.median(points[whole], axis=0) if whole.any() else np.zeros(3)
    sentence = f"{int((~whole).sum()):,} points have no place (their coordinates are no numbers, or far too large) and are left out; clean up the mesh."
    return np.where(whole[:, None], points, middle), whole[triangles].all(axis=1), ~whole, (sentence,)


def _head_by_object(figure: Figure, rows: list[_Row]) -> tuple[list[_Row], str]:
    """Without weights an object called head is taken for it, with the face where that is an object of its own."""
    named = [bool(words.has_word(part.name, words.HEAD, words.HEAD_SIGNS)) and not row.worn.named.all() for part, row in zip(figure.parts, rows, strict=True)]
    if not any(named):
        return rows, "none"
    belongs = [is_head or words.is_face(part.name) for part, is_head in zip(figure.parts, named, strict=True)]
    return [replace(row, head=np.ones(len(row.points))) if mine else row for row, mine in zip(rows, belongs, strict=True)], "object"


def _keep_a_head(head: FloatArray, leg: FloatArray, worn: BoolArray, choice: WornChoice) -> tuple[BoolArray, tuple[str, ...]]:
    mine = head > MAINLY
    if mine.any() and not (mine & ~worn).any():
        sentence = "Leaving out what the names call worn would leave nothing of the head, so it was kept; say what is worn."
        if any(choice.said.values()):
            sentence = "What you left out is all there is of the head, so it was kept; take it back, or name the head bone."
        return worn & ~mine & (leg <= MAINLY), (*choice.sentences, sentence)
    return worn, tuple(choice.sentences)
