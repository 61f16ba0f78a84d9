"""A rig that lies in the scene tells its own up direction; words a library adds to names say nothing."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone
from evenfold.core.name_words import words_of
from evenfold.core.proportion.directions.upright import guess_up
from evenfold.core.proportion.parts import words

ENGLISH = {"hips": "Hips", "head": "Head", "foot": "Foot", "side": (".L", ".R", "{0}{1}")}
JAPANESE = {"hips": "下半身", "head": "頭", "foot": "足首", "side": ("左", "右", "{1}{0}")}
PREFIXED = {"hips": "rig:pelvis", "head": "rig:Head", "foot": "rig:Foot", "side": ("_l", "_r", "{0}{1}")}


def rig(turn=None, naming=ENGLISH, places=None, leave=()):
    """Hips, head and feet of something that stands along Z and faces -Y, turned by the matrix ``turn`` (3, 3)."""
    at = {"hips": (0, 0, 0.9), "head": (0, 0.02, 1.5), "left": (0.1, 0, 0.08), "right": (-0.1, 0, 0.08)} | (places or {})
    left, right, form = naming["side"]
    names = {"hips": naming["hips"], "head": naming["head"], "left": form.format(naming["foot"], left), "right": form.format(naming["foot"], right)}
    turn = np.eye(3) if turn is None else turn
    bones = [Bone(names[key], None, turn @ np.array(place, float), turn @ np.add(place, (0, 0, 0.1)), np.eye(3)) for key, place in at.items() if key not in leave]
    return Armature("Rig", tuple(bones), np.eye(4))


def towards(up):
    """A turn that carries Z to ``up``, and turns about it as well."""
    up = np.array(up, float) / np.linalg.norm(up)
    side = np.cross(up, [0.31, 0.83, 0.47])
    side /= np.linalg.norm(side)
    return np.column_stack([side, np.cross(up, side), up])


@pytest.mark.parametrize("up", [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, -1)])
@pytest.mark.parametrize("naming", [ENGLISH, JAPANESE, PREFIXED], ids=["English", "Japanese", "prefixed"])
def test_a_rig_along_another_axis_is_told_exactly(up, naming):
    assert guess_up(rig(towards(up), naming)) == up


@pytest.mark.parametrize("up", [(1, 0, 0.15), (0.2, -1, 0), (0.1, 0.1, -1)])
def test_a_rig_a_little_off_an_axis_lies_along_it(up):
    armature = rig(towards(up))
    same = {"Foot.L": "Foot.A", "Foot.R": "Foot.B"}
    unsided = tuple(replace(bone, name=same.get(bone.name, bone.name)) for bone in armature.bones)
    found = guess_up(replace(armature, bones=unsided))
    assert sorted(np.abs(found)) == [0, 0, 1]
    assert np.array(found) @ np.array(up) > 0.95 * np.linalg.norm(up)
    square = np.array(guess_up(armature))
    across = towards(up)[:, 0]
    assert abs(square @ across) < 0.021
    assert square @ np.array(up) >= np.array(found) @ np.array(up) - 1e-9


@pytest.mark.parametrize("up", [(1, 1, 0), (1, 0, 0.9), (-0.6, 0.5, -0.6)])
def test_a_slanted_rig_tells_its_own_way(up):
    way = towards(up) @ np.array([0, 0.02, 0.6])
    assert np.array(guess_up(rig(towards(up)))) @ way > 0.999 * np.linalg.norm(way)


@pytest.mark.parametrize("up", [(0, 0, 1), (0.3, 0, 1), (0, -0.6, 1)])
def test_a_rig_that_stands_tells_none(up):
    assert guess_up(rig(towards(up))) is None


@pytest.mark.parametrize("turn", [np.eye(3), towards((0, 1, 0)), towards((1, 0, 0))])
def test_a_dog_lies_nowhere(turn):
    """Head ahead of the hips, feet under both."""
    places = {"hips": (0, 0.4, 0.5), "head": (0, -0.4, 0.7), "left": (0.1, -0.3, 0.0), "right": (-0.1, 0.4, 0.0)}
    assert guess_up(rig(turn, places=places)) is None


@pytest.mark.parametrize("leave", [("hips",), ("head",), ("left", "right")])
def test_without_hips_head_or_feet_none_is_told(leave):
    assert guess_up(rig(towards((0, 1, 0)), leave=leave)) is None


@pytest.mark.parametrize("places", [{"head": (0, 0, 0.9)}, {"head": (np.nan, 0, 0)}, {"left": (0.1, 0, 0.9), "right": (-0.1, 0, 0.9)}])
def test_bones_in_one_place_or_in_none_tell_nothing(places):
    assert guess_up(rig(towards((0, 1, 0)), places=places)) is None


def test_control_bones_do_not_count():
    lying = rig(towards((0, 1, 0)))
    helpers = tuple(Bone(name, None, np.array([0, 0, 9.0]), np.array([0, 0, 9.1]), np.eye(3)) for name in ("Head_ctrl", "foot_ik.L", "Hips_target"))
    assert guess_up(Armature("Rig", (*lying.bones, *helpers), np.eye(4))) == (0, 1, 0)


@pytest.mark.parametrize("name", ["Body", "Skin.001", "Mesh"])
@pytest.mark.parametrize("library", ["hair", "//props/hat", "face.v2", "左腕", "髪", "Head", "left_foot"])
def test_the_library_told_after_a_linked_objects_name_says_nothing_of_it(name, library):
    linked = f"{name} [{library}.blend]"
    assert words_of(linked) == words_of(name)
    assert words.worn_word(linked) is None
    assert not words.is_face(linked)
    assert words.has_word(linked, words.HEAD, words.HEAD_SIGNS) is None
    assert words.side_of(linked) == 0


@pytest.mark.parametrize(("name", "word"), [("Hair [body.blend]", "hair"), ("帽子 [体.blend]", "帽"), ("Body [hair]", "hair"), ("[hair.blend] Body", "hair")])
def test_a_names_own_words_are_kept(name, word):
    assert words.worn_word(name) == word


@pytest.mark.parametrize("turn", [-40, -12, 5, 30, 44])
@pytest.mark.parametrize("naming", [ENGLISH, JAPANESE], ids=["English", "Japanese"])
def test_a_rig_that_lies_aslant_lies_square_to_its_sides(turn, naming):
    """It leans forward a little, as rigs do: that is no way of its own."""
    angle = np.radians(turn)
    up, front = np.array([np.sin(angle), np.cos(angle), 0]), np.array([0.0, 0.0, 1.0])
    laid = np.column_stack([np.cross(-front, up) * -1, -front, up])
    laid[:, 0] *= np.linalg.det(laid)
    leaning = {"head": (0, -0.12, 1.5)}
    assert np.array(guess_up(rig(laid, naming, leaning))) == pytest.approx(up, abs=0.03)


def test_bones_of_one_side_alone_turn_nothing():
    """A lock of hair called left has no counterpart."""
    armature = rig(towards((0, 1, 0)))
    lock = Bone("Lock.L", None, np.array([3.0, 2.0, 1.0]), np.array([3.0, 2.0, 1.2]), np.eye(3))
    assert guess_up(Armature("Rig", (*armature.bones, lock), np.eye(4))) == (0, 1, 0)


@pytest.mark.parametrize("up", [(1, 0, 0), (0, -1, 0)])
def test_where_the_trunk_is_called_nothing_the_limbs_tell(up):
    """Legs begin at the hips, arms near the head."""
    limbs = {"shoulder": (0.05, 0, 1.3), "thigh": (0.1, 0, 0.85), "foot": (0.1, 0, 0.08)}
    turn = towards(up)
    bones = [Bone("spine", None, turn @ [0, 0, 0.85], turn @ [0, 0, 0.95], np.eye(3))]
    for name, (x, y, z) in limbs.items():
        for side, sign in ((".L", 1), (".R", -1)):
            at = np.array([sign * x, y, z])
            over = "thigh" + side if name == "foot" else "spine"
            bones.append(Bone(name + side, over, turn @ at, turn @ np.add(at, (0, 0, 0.1)), np.eye(3)))
    assert np.array(guess_up(Armature("Rig", tuple(bones), np.eye(4)))) == pytest.approx(np.array(up), abs=1e-9)
    one_sided = tuple(bone for bone in bones if bone.name not in ("thigh.R", "foot.R"))
    assert guess_up(Armature("Rig", one_sided, np.eye(4))) is None
