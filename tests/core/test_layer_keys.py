"""Shape keys: each planted fault comes back exactly, and nothing else. All figures invented."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from evenfold.core.face_shapes import CENTRAL, DIRECTIONAL, ONE_SIDED, SHORT, spelt
from evenfold.core.figure import MirrorModifier, Weights
from evenfold.core.findings import MirrorPlane
from evenfold.core.layers import ShapeKey, ShapeKeys
from evenfold.core.settings import Settings
from evenfold.core.symmetry.matched import Limits, Matched
from evenfold.core.symmetry.shape_keys import check
from figures.layered import layered

PLANE = MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "object")
LIMITS = Limits(1e-4, 1.0, PLANE, Settings())
MIRROR = np.array([-1.0, 1.0, 1.0])
TOLERANCE = 1e-4


class _Made:
    """A layered figure with the 52 shapes."""

    def __init__(self, seed, style):
        figure = layered(seed)
        rng = np.random.default_rng(seed + 1000)
        self.surface, self.partner = figure.surface, figure.partner
        self.points = figure.surface.positions.astype(np.float64)
        self.moves = {}
        self.neutral = self.points.copy()
        self.weights = figure.layers.weights
        for stem in ONE_SIDED:
            x = rng.uniform(0.1, 0.25)
            place = (x, -0.35, rng.uniform(0.7, 1.2))
            self._add(spelt(f"{stem}Left", style), spelt(f"{stem}Right", style), self._bump(place, 1.15 * x, rng))
        for stem in DIRECTIONAL:
            sideways = self._even((0, -0.35, 0.8), 0.3)[:, None] * np.array([0.03, 0.002, -0.004])
            self._add(spelt(f"{stem}Left", style), spelt(f"{stem}Right", style), sideways)
        for stem in CENTRAL:
            place = (rng.uniform(0.0, 0.1), -0.35, rng.uniform(0.7, 1.2))
            left = self._bump(place, 0.3, rng)
            self.moves[spelt(stem, style)] = (left + left[self.partner] * MIRROR) / 2

    def _even(self, place, size):
        fall = np.clip(1 - np.linalg.norm(self.points - np.array(place), axis=1) / size, 0, 1)
        return (fall + fall[self.partner]) / 2

    def _bump(self, place, size, rng):
        fall = np.clip(1 - np.linalg.norm(self.points - np.array(place), axis=1) / size, 0, 1)
        return fall[:, None] * rng.uniform(0.01, 0.04, 3) * rng.choice([-1, 1], 3)

    def _add(self, left, right, by):
        self.moves[left], self.moves[right] = by, by[self.partner] * MIRROR


@cache
def _made(seed, style):
    return _Made(seed, style)


class Face(_Made):
    """The same, free to change: ``moves`` by name are (n, 3)."""

    def __init__(self, seed=0, style="camel"):
        made = _made(seed, style)
        vars(self).update(vars(made))
        self.moves, self.more = {name: by.copy() for name, by in made.moves.items()}, {}

    def matched(self, **surface):
        keys = [ShapeKey("Basis", self.neutral.astype(np.float32), "Basis")]
        for name, by in self.moves.items():
            # Absolute places, as files store them: what is relative to a key stands on that key.
            more = self.more.get(name, {})
            stands = self.points + self.moves.get(more.get("relative_to"), 0.0)
            keys.append(ShapeKey(name, (stands + by).astype(np.float32), **{"relative_to": "Basis", **more}))
        layers = replace(self.surface.layers, keys=ShapeKeys("Basis", tuple(keys)), weights=self.weights)
        one = replace(self.surface, positions=self.neutral.astype(np.float32), layers=layers, **surface)
        return Matched(one, one, one.world, self.partner, np.zeros(len(self.partner), bool))

    def found(self, limits=LIMITS, **surface):
        return list(check(self.matched(**surface), limits))

    def size(self, name):
        return np.linalg.norm(self.moves[name], axis=1)

    @property
    def x(self):
        return self.points[:, 0]

    @property
    def middle(self):
        return np.flatnonzero(self.partner == np.arange(len(self.partner)))


def only(found, code, subject):
    assert [(one.code, one.subject) for one in found] == [(code, subject)]
    return found[0]


SEEDS = range(8)


@pytest.mark.parametrize("style", ["camel", "capital", "short"])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_clean_face_says_nothing_jaw_and_mouth_sideways_included(seed, style):
    assert Face(seed, style).found() == []


@pytest.mark.parametrize("seed", SEEDS)
def test_a_deleted_key_leaves_its_counterpart_alone(seed):
    face = Face(seed)
    del face.moves["eyeSquintRight"]
    finding = only(face.found(), "key-unpaired", "eyeSquintLeft")
    assert (finding.kind, finding.names, finding.partner_names) == ("key", ("eyeSquintLeft",), (None,))
    assert set(finding.vertices) == set(np.flatnonzero(face.size("eyeSquintLeft") > TOLERANCE))
    assert "eyeSquintRight" in finding.advice


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("stem", ["mouthSmile", "eyeBlink", "noseSneer", "jaw"])
def test_exchanged_keys_are_one_finding(seed, stem):
    face = Face(seed)
    left, right = f"{stem}Left", f"{stem}Right"
    face.moves[left], face.moves[right] = face.moves[right], face.moves[left]
    finding = only(face.found(), "key-swapped", f"{left} / {right}")
    moved = np.maximum(face.size(left), face.size(right)) > TOLERANCE
    wanted = {v for v in np.flatnonzero(moved) if face.x[v] > 0 or v == face.partner[v]}
    assert set(finding.elements) == wanted
    assert np.array_equal(finding.partners, face.partner[finding.elements])
    assert "differ" not in finding.advice


def test_exchanged_and_unlike_keys_say_by_how_much():
    face = Face(0)
    both = face.moves["eyeBlinkRight"], face.moves["eyeBlinkLeft"] * 0.5
    face.moves["eyeBlinkLeft"], face.moves["eyeBlinkRight"] = both
    assert "still differ" in only(face.found(), "key-swapped", "eyeBlinkLeft / eyeBlinkRight").advice


@pytest.mark.parametrize("seed", SEEDS)
def test_a_weaker_smile_selects_the_moved_vertices(seed):
    face = Face(seed)
    lost = 0.2 * face.size("mouthSmileLeft")
    face.moves["mouthSmileRight"] = face.moves["mouthSmileRight"] * 0.8
    finding = only(face.found(), "key-pair-drifted", "mouthSmileLeft / mouthSmileRight")
    pair_lost = np.maximum(lost, lost[face.partner])
    once = (face.x > 0) | (face.partner == np.arange(len(lost)))
    assert set(finding.elements) == set(np.flatnonzero((pair_lost > TOLERANCE) & once))
    assert np.array_equal(finding.partners, face.partner[finding.elements])
    assert finding.worst == pytest.approx(lost.max(), abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("source", "target"), [("Left", "Right"), ("Right", "Left")])
def test_a_copied_blink_moves_the_same_side_twice(seed, source, target):
    face = Face(seed)
    face.moves[f"eyeBlink{target}"] = face.moves[f"eyeBlink{source}"].copy()
    finding = only(face.found(), "key-same-side", "eyeBlinkLeft / eyeBlinkRight")
    own = face.x > 0 if source == "Left" else face.x < 0
    assert set(finding.elements) == set(np.flatnonzero((face.size(f"eyeBlink{source}") > TOLERANCE) & own))
    assert f"eyeBlink{target} moves the other side" in finding.advice


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["cheekSquintLeft", "browDownRight", "mouthPressLeft"])
def test_movement_on_the_wrong_half_is_spill(seed, name):
    face = Face(seed)
    side = 1 if name.endswith("Left") else -1
    far = np.flatnonzero((face.x * side < -0.3) & (face.points[:, 2] > 0.5))
    hurt = np.random.default_rng(seed).choice(far, 9, replace=False)
    face.moves[name][hurt] += [0.0, 0.004, 0.003]
    finding = only(face.found(), "key-spill", name)
    assert set(finding.elements) == set(hurt)
    assert np.array_equal(finding.partners, face.partner[finding.elements])
    assert finding.sizes == pytest.approx(np.full(9, 0.005), abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["jawOpen", "cheekPuff"])
def test_a_lopsided_centre_key_names_the_left_vertices(seed, name):
    face = Face(seed)
    hurt = np.random.default_rng(seed).choice(np.flatnonzero(face.x < -0.1), 6, replace=False)
    face.moves[name][hurt] += [0.003, 0.0, 0.004]
    finding = only(face.found(), "key-lopsided", name)
    assert set(finding.elements) == set(face.partner[hurt])
    assert finding.sizes == pytest.approx(np.full(6, 0.005), abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_centre_vertex_off_the_plane_in_one_key(seed):
    face = Face(seed)
    hurt = int(np.random.default_rng(seed).choice(face.middle))
    face.moves["tongueOut"][hurt, 0] = 0.0006
    finding = only(face.found(), "key-off-centre", "tongueOut")
    assert finding.elements.tolist() == [hurt] == finding.partners.tolist()
    assert finding.worst == pytest.approx(0.0006, abs=1e-7)


def half_of(face):
    """The left half and the centre, under a live Mirror modifier that joins at 0.001."""
    modifier = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    matched = face.matched(mirrors=(modifier,))
    own = np.where(matched.partner == np.arange(len(matched.partner)), matched.partner, -1)
    return replace(matched, partner=own)


@pytest.mark.parametrize(("off", "told"), [(0.0006, True), (0.0005, True), (0.00049, False), (0.0004, False)])
def test_under_a_mirror_modifier_half_its_merge_limit_decides(off, told):
    """The host still merges at 0.00049 and splits at 0.0005 (measured)."""
    face = Face(0)
    for name in ("jawLeft", "jawRight", "mouthLeft", "mouthRight"):
        face.moves[name][face.middle, 0] = 0.0
    for name in face.moves:
        face.moves[name][face.middle, 0] = 0.0
    hurt = int(face.middle[3])
    face.moves["jawLeft"][hurt, 0] = face.moves["tongueOut"][hurt, 0] = off
    found = list(check(half_of(face), LIMITS))
    assert [(one.code, one.subject, one.elements.tolist()) for one in found] == [
        ("key-off-centre", name, [hurt]) for name in ("jawLeft", "tongueOut")
    ] * told
    for one in found:
        assert one.worst == pytest.approx(off, abs=1e-7) and "split" in one.advice


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("even", [True, False])
def test_an_edited_neutral_shape_is_one_finding(seed, even):
    face = Face(seed)
    shape = face._even((0.1, -0.35, 0.6), 0.15) if even else np.clip(1 - np.linalg.norm(face.points - (0.2, -0.3, 0.6), axis=1) / 0.15, 0, 1)
    edit = np.where(shape > 0.2, 0.008, 0.0)[:, None] * np.array([0.0, -0.6, -0.8])
    face.neutral = face.points + edit
    finding = only(face.found(), "key-stale", None)
    assert set(finding.elements) == set(np.flatnonzero(edit[:, 2]))
    assert finding.sizes == pytest.approx(np.full(finding.count, 0.008), abs=1e-6)
    assert finding.advice.startswith("52 of 52 keys")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_key_made_after_the_edit_is_not_blamed(seed):
    face = Face(seed)
    edit = (face._even((0.0, -0.35, 0.4), 0.15) > 0.2)[:, None] * np.array([0.0, -0.008, 0.0])
    face.neutral = face.points + edit
    face.moves["tongueOut"] = np.where(edit.any(axis=1, keepdims=True), edit, face.moves["tongueOut"])
    finding = only(face.found(), "key-stale", None)
    assert finding.advice.startswith("51 of 52 keys") and "tongueOut" not in finding.advice


@pytest.mark.parametrize("seed", SEEDS)
def test_what_differs_besides_a_stale_patch_is_still_told(seed):
    face = Face(seed)
    edit = (face._even((0.0, -0.35, 0.5), 0.15) > 0.2)[:, None] * np.array([0.0, -0.008, 0.0])
    face.neutral = face.points + edit
    face.moves["mouthSmileRight"] = face.moves["mouthSmileRight"] * 0.8
    assert [(one.code, one.subject) for one in face.found()] == [
        ("key-stale", None), ("key-pair-drifted", "mouthSmileLeft / mouthSmileRight")
    ]


def test_a_few_keys_that_move_alike_are_no_drift():
    face = Face(0)
    for name in list(face.moves)[:20]:
        face.moves[name] = face.moves["jawOpen"]
    assert "key-stale" not in {one.code for one in face.found()}


def family(**moves):
    """A face with nothing but these keys."""
    face = Face(0)
    face.moves = moves
    return face


def shared(place, size=0.2, by=(0.0, 0.004, -0.01)):
    return Face(0)._even(place, size)[:, None] * np.array(by)


def test_vowels_that_share_a_jaw_drop_were_not_left_behind():
    """Invented: A, E and O drop the same jaw, the others only shape the lips."""
    jaw, lips = shared((0, -0.35, 0.7)), shared((0, -0.35, 0.95), 0.12)
    assert family(A=jaw, I=lips, U=-lips, E=jaw, O=jaw).found() == []
    assert family(A=jaw, I=lips, U=-lips, E=jaw + 0.5 * lips, O=jaw - 0.7 * lips).found() == []
    assert family(A=jaw + lips, E=jaw + 0.5 * lips, O=jaw - 0.7 * lips).found() == []
    six = dict(zip("AIUEON", (0.0, 1.0, -1.0, 0.5, -0.7, 0.2), strict=True))
    assert family(**{one: jaw + share * lips for one, share in six.items()}).found() == []


def test_expressions_that_share_a_blink_were_not_left_behind():
    blink, smile, jaw = shared((0, -0.35, 1.1)), shared((0, -0.35, 0.8)), shared((0, -0.35, 0.6))
    found = family(
        A=jaw, I=0.4 * jaw + 0.2 * smile, U=0.3 * jaw, Blink=blink, Joy=blink + smile,
        Fun=blink + 0.5 * smile, Sorrow=blink - 0.5 * smile,
    ).found()
    assert found == []


def test_an_empty_key_does_not_hide_an_edit_left_behind_in_all():
    face = Face(0)
    face.moves["cheekPuff"] = np.zeros_like(face.points)
    edit = (face._even((0.0, -0.35, 0.4), 0.15) > 0.2)[:, None] * np.array([0.0, -0.008, 0.0])
    face.neutral = face.points + edit
    only(face.found(), "key-stale", None)


def test_symmetrize_leaves_its_signature():
    """Left keys move both halves, right keys nothing (what the host's Symmetrize leaves)."""
    face = Face(0)
    left = face.x >= 0
    for stem in ONE_SIDED:
        by = face.moves[f"{stem}Left"]
        face.moves[f"{stem}Left"] = np.where(left[:, None], by, by[face.partner] * MIRROR)
        face.moves[f"{stem}Right"] = np.zeros_like(by)
    told = {}
    for one in face.found():
        told.setdefault(one.code, []).append(one)
    assert set(told) == {"key-spill", "key-pair-drifted"}
    assert {one.subject for one in told["key-spill"]} == {f"{stem}Left" for stem in ONE_SIDED}
    assert all("Right moves nothing" in one.advice for one in told["key-pair-drifted"])
    assert len(told["key-pair-drifted"]) == len(ONE_SIDED)


@pytest.mark.parametrize("by", ["groups", "keys"])
def test_a_figure_facing_the_other_way_has_its_left_on_the_other_half(by):
    face = Face(0)
    for stem in (*ONE_SIDED, *DIRECTIONAL):
        left, right = f"{stem}Left", f"{stem}Right"
        face.moves[left], face.moves[right] = face.moves[right], face.moves[left]
    names = ("Spine", "Head", "Arm.R", "Arm.L") if by == "groups" else ("Spine", "Head", "A", "B")
    face.weights = replace(face.weights, names=names)
    assert face.found() == []
    face.moves["eyeBlinkLeft"], face.moves["eyeBlinkRight"] = face.moves["eyeBlinkRight"], face.moves["eyeBlinkLeft"]
    only(face.found(), "key-swapped", "eyeBlinkLeft / eyeBlinkRight")


def test_groups_settle_the_facing_even_where_every_key_is_exchanged():
    face = Face(0)
    for stem in ONE_SIDED:
        left, right = f"{stem}Left", f"{stem}Right"
        face.moves[left], face.moves[right] = face.moves[right], face.moves[left]
    found = face.found()
    assert {one.code for one in found} == {"key-swapped"} and len(found) == len(ONE_SIDED)


def test_unknown_pairs_are_judged_by_where_they_move():
    face = Face(0)
    face._add("Tilt_L", "Tilt_R", face._even((0, -0.35, 1.0), 0.4)[:, None] * np.array([0.02, 0.0, 0.01]))
    face._add("Whisker_L", "Whisker_R", face.moves["mouthPressLeft"].copy())
    assert face.found() == []
    far = np.flatnonzero((face.x < -0.3) & (face.points[:, 2] > 0.5))[:4]
    face.moves["Whisker_L"][far] += 0.01
    finding = only(face.found(), "key-spill", "Whisker_L")
    assert set(finding.elements) == set(far)


def test_a_pair_that_was_never_split_moves_both_halves_twice():
    """One wink for both eyes, under two names."""
    face = Face(0)
    face.moves["Wink_L"] = face.moves["eyeBlinkLeft"] + face.moves["eyeBlinkRight"]
    face.moves["Wink_R"] = face.moves["Wink_L"].copy()
    assert [(one.code, one.subject) for one in face.found()] == [("key-spill", "Wink_L"), ("key-spill", "Wink_R")]


@pytest.mark.parametrize("seed", range(10))
def test_many_changes_come_back_as_a_plain_loop_tells_them(seed):
    rng = np.random.default_rng(seed)
    face = Face(seed)
    for name in ("jawOpen", "jawLeft"):
        hurt = rng.choice(len(face.points), 60, replace=False)
        face.moves[name][hurt] += rng.normal(size=(60, 3)) * [0.0, 0.002, 0.002] * rng.uniform(size=(60, 1))
    stored = {k.name: (k.points - face.points.astype(np.float32)).astype(np.float64) for k in face.matched().here.layers.keys.keys}
    told = {one.subject: dict(zip(one.elements.tolist(), one.sizes.tolist(), strict=True)) for one in face.found()}
    for subject, one, other in (("jawOpen", "jawOpen", "jawOpen"), ("jawLeft / jawRight", "jawLeft", "jawRight")):
        wanted = {}
        for v, its in enumerate(face.partner.tolist()):
            if face.x[v] > 0 or v == its:
                apart = [np.linalg.norm(stored[one][a] * MIRROR - stored[other][b]) for a, b in ((v, its), (its, v))]
                wanted[v] = max(apart)
        wanted = {v: far for v, far in wanted.items() if far > TOLERANCE}
        assert told[subject] == pytest.approx(wanted, abs=1e-9)
    assert set(told) == {"jawOpen", "jawLeft / jawRight"}


def test_keys_stand_on_the_key_they_are_relative_to():
    face = Face(0)
    face._add("Grin_L", "Grin_R", face.moves["mouthPressLeft"] * 0.5)
    face.more = {"Grin_L": {"relative_to": "mouthSmileLeft"}, "Grin_R": {"relative_to": "mouthSmileRight"}}
    assert face.found() == []
    face.more["Grin_R"] = {"relative_to": "Basis"}
    assert face.found() == []
    keys = [replace(k, relative_to="mouthSmileRight") if k.name == "Grin_R" else k for k in face.matched().here.layers.keys.keys]
    matched = face.matched()
    here = replace(matched.here, layers=replace(matched.here.layers, keys=ShapeKeys("Basis", tuple(keys))))
    (finding,) = check(replace(matched, here=here, there=here), LIMITS)
    assert (finding.code, finding.subject) == ("key-pair-drifted", "Grin_L / Grin_R")


def test_a_mask_group_limits_what_a_key_moves():
    face = Face(0)
    both = face.moves["cheekPuff"].copy()
    face.moves = {**face.moves, "Puff_L": both, "Puff_R": both.copy()}
    left, right = (np.flatnonzero(face.x * side > 0) for side in (1, -1))
    w = face.weights
    face.weights = Weights(
        (*w.names, "Half.L", "Half.R"), np.concatenate([w.vertex, left, right]),
        np.concatenate([w.group, np.full(len(left), 4), np.full(len(right), 5)]), np.concatenate([w.weight, np.ones(len(left) + len(right))]),
    )
    face.more = {"Puff_L": {"mask_group": "Half.L"}, "Puff_R": {"mask_group": "Half.R"}}
    assert face.found() == []
    face.more["Puff_R"] = {"mask_group": "Half.L"}
    only(face.found(), "key-same-side", "Puff_L / Puff_R")


def test_muted_keys_and_unlike_ranges_are_mentioned():
    face = Face(0)
    face.more = {"mouthSmileRight": {"muted": True, "high": 0.5}}
    assert face.found() == []
    face.moves["mouthSmileRight"] = face.moves["mouthSmileRight"] * 0.5
    advice = only(face.found(), "key-pair-drifted", "mouthSmileLeft / mouthSmileRight").advice
    assert "Muted: mouthSmileRight." in advice and "0 to 1 and 0 to 0.5" in advice


def test_live_values_do_not_matter():
    face = Face(0)
    face.moves["mouthSmileRight"] = face.moves["mouthSmileRight"] * 0.8
    (plain,) = face.found()
    face.more = {"mouthSmileLeft": {"value": 0.3}, "jawOpen": {"value": 1.0}}
    (live,) = face.found()
    assert np.array_equal(plain.elements, live.elements) and np.array_equal(plain.sizes, live.sizes)


def test_sizes_are_metres_wherever_the_object_stands():
    face = Face(0)
    face.moves["mouthSmileRight"] = face.moves["mouthSmileRight"] * 0.8
    lost = 0.2 * face.size("mouthSmileLeft").max()
    turn = np.array([[0.0, -1, 0, 0], [1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])
    matrix = np.diag([100.0, 100.0, 100.0, 1.0]) @ turn
    limits = Limits(0.01, 0.01, MirrorPlane(np.zeros(3), np.array([0.0, 1.0, 0.0]), "object"), Settings())
    matched = face.matched(to_world=matrix)
    moved = replace(matched, points=face.points * 100.0)
    (finding,) = check(moved, limits)
    assert finding.worst == pytest.approx(lost, abs=1e-6)


def eyes(face, seed=0):
    """Left and right eye as objects of their own, each with its keys."""
    figure = layered(seed)
    rows = figure.vertices_of(1), figure.vertices_of(2)
    place = {int(v): i for i, v in enumerate(rows[1])}
    partner = np.array([place[int(figure.partner[v])] for v in rows[0]])

    def part(name, kept, wanted):
        keys = [ShapeKey("Basis", face.points[kept].astype(np.float32), "Basis")]
        keys += [ShapeKey(n, (face.points + face.moves[n])[kept].astype(np.float32), "Basis") for n in wanted]
        layers = replace(face.surface.layers, keys=ShapeKeys("Basis", tuple(keys)), weights=Weights.none())
        return replace(face.surface, name=name, positions=keys[0].points, layers=layers)

    def matched(left, right):
        one, other = part("Eye.L", rows[0], left), part("Eye.R", rows[1], right)
        return Matched(one, other, face.points[rows[0]], partner, np.zeros(len(partner), bool))

    return matched, rows, partner


def test_an_eye_is_compared_with_the_other_eye():
    face = Face(0)
    matched, rows, partner = eyes(face)
    for move in face.moves.values():
        move[np.concatenate(rows)] = 0.0
    face.moves["eyeLookUpLeft"][rows[0]] = [0.001, 0, 0.01]
    face.moves["eyeLookUpRight"][rows[1]] = [-0.001, 0, 0.01]
    face.moves["Dilate"] = face.points * 0.01 * [1, 1, 1]
    left, right = ["eyeLookUpLeft", "Dilate"], ["eyeLookUpRight", "Dilate"]
    assert list(check(matched(left, right), LIMITS)) == []
    face.moves["eyeLookUpRight"][rows[1][:3], 2] += 0.002
    (finding,) = check(matched(left, right), LIMITS)
    assert (finding.code, finding.subject) == ("key-pair-drifted", "eyeLookUpLeft / eyeLookUpRight")
    assert set(finding.partners) == {0, 1, 2} and finding.partner_object == "Eye.R"
    assert np.array_equal(partner[finding.elements], finding.partners)
    (finding,) = check(matched(["Dilate"], ["Dilate", "eyeLookUpRight"]), LIMITS)
    assert (finding.code, finding.subject) == ("key-unpaired", "eyeLookUpRight")
    (finding,) = check(matched(["Dilate", "eyeLookUpLeft"], ["Dilate"]), LIMITS)
    assert (finding.code, finding.subject) == ("key-unpaired", "eyeLookUpLeft")
    assert set(finding.vertices) == set(range(len(rows[0])))


@pytest.mark.parametrize("seed", range(12))
def test_several_faults_at_once_come_back_each_once(seed):
    rng = np.random.default_rng(seed)
    face = Face(seed, SHORT)
    one, two, three, four, five = rng.permutation(ONE_SIDED).tolist()[:5]
    left, right = f"{one}_L", f"{one}_R"
    face.moves[left], face.moves[right] = face.moves[right], face.moves[left]
    face.moves[f"{two}_R"] = face.moves[f"{two}_L"].copy()
    face.moves[f"{three}_L"] = face.moves[f"{three}_L"] * 0.7
    del face.moves[f"{four}_L"]
    far = np.flatnonzero(face.x > 0.3)[:5]
    face.moves[f"{five}_R"][far, 1] += 0.004
    centre = str(rng.choice(CENTRAL))
    face.moves[centre][np.flatnonzero(face.x > 0.2)[:3], 2] += 0.005
    assert {(f.code, f.subject) for f in face.found()} == {
        ("key-swapped", f"{left} / {right}"), ("key-same-side", f"{two}_L / {two}_R"),
        ("key-pair-drifted", f"{three}_L / {three}_R"), ("key-unpaired", f"{four}_R"),
        ("key-spill", f"{five}_R"), ("key-lopsided", centre),
    }


@pytest.mark.parametrize("seed", SEEDS)
def test_two_keys_that_mirror_each_other_are_a_pair_whatever_their_names(seed):
    face = Face(seed)
    names = [name for name in face.moves if name.endswith("Left")][:1]
    left = names[0]
    right = left.replace("Left", "Right")
    face.moves["target_1"], face.moves["target_2"] = face.moves.pop(left), face.moves.pop(right)
    assert face.found() == []
    hurt = int(np.flatnonzero(np.linalg.norm(face.moves["target_1"], axis=1) > 0.0)[0])
    face.moves["target_1"][hurt] += [0.0, 0.0, 0.004]
    finding = only(face.found(), "key-pair-drifted", "target_1 / target_2")
    assert set(finding.elements.tolist() + finding.partners.tolist()) == {hurt, int(face.partner[hurt])}
