"""The 52 face-tracking names and what a figure lacks of them."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.face_shapes import (
    CENTRAL,
    DIRECTIONAL,
    ENOUGH,
    ONE_SIDED,
    SHAPES,
    SHORT,
    STYLES,
    coverage,
    key_pairs,
    one_sided,
    other_spelling,
    shape_of,
    spelt,
)
from evenfold.core.figure import MirrorModifier
from evenfold.core.layers import ShapeKey, ShapeKeys
from evenfold.core.readiness.face import face_readiness
from evenfold.core.sides import counterpart, host_flip, pairs
from figures.layered import layered


def test_the_set_has_the_published_numbers():
    """20 pairs, 12 central, 52 in all (MediaPipe's graph; Apple's list of locations)."""
    assert (len(CENTRAL), len(ONE_SIDED), len(DIRECTIONAL), len(SHAPES)) == (12, 18, 2, 52)
    assert len(set(SHAPES)) == 52
    count = {part: sum(stem.startswith(part) for stem in ONE_SIDED) for part in ("eye", "mouth", "brow")}
    assert count == {"eye": 7, "mouth": 7, "brow": 2}
    assert sum(spelt(one, SHORT) != one for one in SHAPES) == 36


@pytest.mark.parametrize("style", STYLES)
def test_all_spellings_pair_as_the_host_pairs_them(style):
    names = [spelt(one, style) for one in SHAPES]
    found = pairs(names)
    assert len(found.left) == 20 and not found.singles and not found.unflipped
    for name, shape in zip(names, SHAPES, strict=True):
        assert shape_of(name) == shape
        assert (counterpart(name) is None) == (shape in CENTRAL)
        assert (counterpart(name) or name) == host_flip(name)


def test_directional_keys_move_both_halves():
    assert [one_sided(name) for name in ("jawLeft", "MouthRight", "lookLeft", "lookright")] == [False] * 4
    assert [one_sided(name) for name in ("mouthSmile_L", "eyeBlinkLeft", "blink_l", "blinkRight")] == [True] * 4
    assert [one_sided(name) for name in ("jawOpen", "Grin_L", "blink")] == [None] * 3


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", range(6))
def test_what_is_missing_is_named(style, seed):
    rng = np.random.default_rng(seed)
    gone = set(rng.choice(SHAPES, rng.integers(1, 30), replace=False).tolist())
    found = coverage([spelt(one, style) for one in SHAPES if one not in gone] + ["Basis", "Happy"])
    assert set(found.missing) == gone and not found.misspelt
    assert set(found.present) == set(SHAPES) - gone


def test_near_misses_get_their_exact_name():
    names = ["JawOpen" if one == "jawOpen" else "mouthsmile_L" if one == "mouthSmileLeft" else one for one in SHAPES]
    names = ["browOutterUpRight" if one == "browOuterUpRight" else one for one in names]
    names = ["Face.cheekPuff" if one == "cheekPuff" else one for one in names]
    found = coverage([*names, "browInnerUpLeft", "browInnerUpRight", "mouthSmile"])
    assert dict(found.misspelt) == {
        "JawOpen": "jawOpen", "mouthsmile_L": "mouthSmileLeft", "browOutterUpRight": "browOuterUpRight", "Face.cheekPuff": "cheekPuff"
    }
    assert len(found.present) == 48 and not found.missing


def test_a_short_jaw_or_mouth_is_a_near_miss():
    names = [spelt(one, SHORT) for one in SHAPES if one not in ("jawLeft", "jawRight")]
    assert dict(coverage([*names, "jaw_L", "jaw_R"]).misspelt) == {"jaw_L": "jawLeft", "jaw_R": "jawRight"}


def test_a_few_names_are_no_set():
    assert coverage(SHAPES[: ENOUGH - 1]) is None
    assert coverage(SHAPES[:ENOUGH]) is not None
    assert coverage(["Smile.L", "Smile.R", "Jaw", "happy", "sad", "angry", "aa", "ih", "ou", "ee", "oh", "blink"]) is None


def figure_with(*meshes):
    """Surfaces whose keys are given as name: how far they move one vertex."""
    plain = layered(0).surface
    made = []
    for moves in meshes:
        keys = [ShapeKey("Basis", plain.positions, "Basis")]
        for name, far in moves.items():
            points = plain.positions.copy()
            points[0, 2] += far
            keys.append(ShapeKey(name, points, "Basis"))
        made.append(replace(plain, layers=replace(plain.layers, keys=ShapeKeys("Basis", tuple(keys)))))
    return made


def test_coverage_counts_over_all_meshes_and_finds_dead_and_misspelt_keys():
    face = {one: 0.01 for one in SHAPES if one not in ("tongueOut", "jawOpen", "mouthSmileLeft")}
    face = {**face, "JawOpen": 0.01, "mouthsmile_L": 0.01, "cheekPuff": 0.0, "tongueOut": 0.0}
    told = face_readiness(figure_with(face, {"tongueOut": 0.01}))
    assert [(one.code, one.level, one.subject) for one in told] == [
        ("ready-face-shapes", "warning", None), ("ready-face-spelling", "warning", "JawOpen"),
        ("ready-face-spelling", "warning", "mouthsmile_L"), ("ready-key-dead", "warning", "cheekPuff"),
    ]
    assert told[0].message == "50 of the 52 face-tracking shapes are there."
    assert told[1].message.endswith("call it jawOpen.") and told[2].message.endswith("call it mouthSmileLeft.")


def test_a_deleted_shape_leaves_51_and_its_name():
    told = face_readiness(figure_with({one: 0.01 for one in SHAPES if one != "eyeSquintRight"}))
    assert [one.message for one in told] == ["51 of the 52 face-tracking shapes are there. Missing: eyeSquintRight."]


def test_a_whole_set_is_a_note_and_a_figure_without_keys_silent():
    (told,) = face_readiness(figure_with(dict.fromkeys(SHAPES, 0.01)))
    assert (told.level, told.message) == ("note", "All 52 face-tracking shapes are there.")
    assert face_readiness(figure_with({})) == []
    assert face_readiness([replace(layered(0).surface, layers=None)]) == []
    assert face_readiness([layered(0).surface]) == []


def test_unlike_ranges_of_a_pair_are_told():
    (plain,) = figure_with({"Smile.L": 0.01, "Smile.R": 0.01})
    keys = [replace(one, high=0.5) if one.name == "Smile.R" else one for one in plain.layers.keys.keys]
    (told,) = face_readiness([replace(plain, layers=replace(plain.layers, keys=ShapeKeys("Basis", tuple(keys))))])
    assert (told.code, told.subject) == ("ready-key-range", "Smile.L / Smile.R")


def test_a_key_with_places_that_are_no_numbers_is_broken_and_says_where():
    (plain,) = figure_with({"Smile.L": 0.01, "Smile.R": 0.01})
    points = plain.layers.keys.named("Smile.R").points.copy()
    points[[7, 30], 1] = np.nan, np.inf
    keys = [replace(one, points=points) if one.name == "Smile.R" else one for one in plain.layers.keys.keys]
    (told,) = face_readiness([replace(plain, layers=replace(plain.layers, keys=ShapeKeys("Basis", tuple(keys))))])
    assert (told.code, told.level, told.subject) == ("ready-key-broken", "error", "Smile.R")
    assert "2 places" in told.message and "7, 30" in told.message
    (place,) = told.places
    assert (place.kind, place.owner, place.names, place.vertices.tolist()) == ("key", "Body", ("Smile.R",), [7, 30])


def test_a_broken_vertex_of_the_neutral_shape_makes_no_key_dead():
    (plain,) = figure_with(dict.fromkeys(SHAPES, 0.01))
    broken = plain.positions.copy()
    broken[9, 1] = np.nan
    keys = [replace(one, points=np.where(np.isnan(broken), broken, one.points)) for one in plain.layers.keys.keys]
    hurt = replace(plain, positions=broken, layers=replace(plain.layers, keys=ShapeKeys("Basis", tuple(keys))))
    assert [one.code for one in face_readiness([hurt])] == ["ready-face-shapes"]


def test_keys_that_build_on_another_key_are_told_with_their_names():
    (plain,) = figure_with({"Jaw": 0.01, "Wide": 0.02, "Still": 0.0})
    points = plain.layers.keys.named("Jaw").points
    keys = plain.layers.keys
    on_jaw = [replace(one, relative_to="Jaw") if one.name == "Wide" else one for one in keys.keys]
    on_still = [replace(one, relative_to="Still") if one.name == "Wide" else one for one in keys.keys]

    def told(some, relative=True):
        layers = replace(plain.layers, keys=ShapeKeys("Basis", tuple(some), relative))
        return [one for one in face_readiness([replace(plain, layers=layers)]) if one.code == "ready-key-relative"]

    (one,) = told(on_jaw)
    assert (one.level, one.subject) == ("warning", "Body") and "than Basis: Wide." in one.message
    assert told(keys.keys) == [] and told(on_still) == [] and told(on_jaw, relative=False) == []
    assert points is keys.named("Jaw").points


def tall(**more):
    """A face's 52 shapes on a figure with a lower part: only its upper end moves; more by name."""
    plain = layered(0).surface
    z = plain.positions[:, 2]
    top = z > z.max() - 0.1 * np.ptp(z)
    feet = np.flatnonzero(z < z.min() + 0.05 * np.ptp(z))
    keys = [ShapeKey("Basis", plain.positions, "Basis")]
    for name in SHAPES:
        points = plain.positions.copy()
        points[top, 1] -= 0.02
        for far in (feet[:3],) if name in more.get("feet", ()) else ():
            points[far, 2] += np.float32(more.get("by", 0.01))
        if name in more.get("all_down", ()):
            points[:, 1] -= np.float32(0.01)
        keys.append(ShapeKey(name, points, "Basis"))
    surface = replace(plain, layers=replace(plain.layers, keys=ShapeKeys("Basis", tuple(keys))))
    return feet[:3], [one for one in face_readiness([surface]) if one.code == "ready-key-far"]


def test_a_foot_that_moves_in_face_shapes_is_told_with_its_vertices():
    assert tall()[1] == []
    feet, (one,) = tall(feet=("eyeBlinkLeft", "mouthPucker"))
    assert (one.level, one.subject) == ("warning", "mouthPucker / eyeBlinkLeft")
    assert "(3: " + ", ".join(str(row) for row in feet) + ")" in one.message


def test_what_hangs_on_the_face_moves_hardly_or_stands_in_most_shapes_is_not_told_as_far():
    assert tall(all_down=("jawOpen",))[1] == []
    assert tall(feet=("eyeBlinkLeft",), by=1e-5)[1] == []
    assert tall(feet=SHAPES)[1] == []


def test_on_half_a_model_the_still_one_of_two_keys_is_not_called_dead():
    (plain,) = figure_with({"Smile.L": 0.01, "Smile.R": 0.0, "Jaw": 0.0})
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    assert [one.subject for one in face_readiness([plain])] == ["Smile.R", "Jaw"]
    assert [one.subject for one in face_readiness([replace(plain, mirrors=(mirror,))])] == ["Jaw"]


def test_two_sides_of_a_shape_are_a_pair_however_they_are_spelt():
    found = key_pairs(["mouthsmile_L", "mouthSmileRight", "jawOpen", "Smile.L", "Smile.R", "eyeBlink_L"])
    assert found.partner["mouthsmile_L"] == "mouthSmileRight"
    assert set(found.left) == {"mouthsmile_L", "Smile.L"} and found.singles == ("eyeBlink_L",)
    both = key_pairs(["mouthSmileLeft", "mouthSmileRight", "mouthSmile_L"])
    assert both.partner == {"mouthSmileLeft": "mouthSmileRight", "mouthSmileRight": "mouthSmileLeft"}


def test_a_shape_is_known_in_another_spelling():
    names = [*SHAPES[:20], "mouthSmilleRight"]
    assert other_spelling("mouthSmileRight", names) == "mouthSmilleRight"
    assert other_spelling("mouthSmileRight", SHAPES) is None
    assert other_spelling("Smile.R", ["Smile.L", "mouthSmileRight"]) is None
