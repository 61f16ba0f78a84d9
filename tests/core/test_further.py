"""Further landmarks and widths on invented figures built from handbook heights.

Heights and lengths over stature: R. Drillis and R. Contini, Body Segment Parameters, 1966, as
tabulated by D. A. Winter, Biomechanics and Motor Control of Human Movement, fig. 4.1 (read in
texts that quote it). Crotch and the bands of real adults: ANSUR II, 2012 (mean of each man's
own ratio; 5th to 95th percentile).
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Part, Weights
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.proportion.directions.forward import forward_of
from evenfold.core.proportion.directions.frame import up_of
from evenfold.core.proportion.further import find_further
from evenfold.core.proportion.parts.body import gather
from evenfold.core.proportion.spot import Spot
from figures.avatars.build import build_figure
from figures.people import Person, _ball, _loft, keeper

TALL = 1.8
HEIGHTS = {"eye_line": 0.936, "shoulder": 0.818, "elbow": 0.630, "hip": 0.530, "wrist": 0.485, "fingertip": 0.377, "knee": 0.285, "ankle": 0.039}
WIDTHS = {"shoulder_width": 0.259, "hip_width": 0.191}
CHIN, CROTCH = 0.870, 0.4815
MEN = {"crotch": (0.459, 0.506), "ankle": (0.037, 0.046), "knee": (0.263, 0.294), "shoulder": (0.804, 0.836), "hip": (0.489, 0.540), "wrist": (0.462, 0.503)}
AXES = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, 1]])


def _bone(name, parent, at, tail=None):
    at = np.asarray(at, float)
    return Bone(name, parent, at, at + np.array([0, 0, 0.02]) if tail is None else np.asarray(tail, float), np.eye(3))


def _arm_at(pose):
    """Shoulder, elbow, wrist and tip of the left arm over stature: hanging, or level from the shoulder."""
    wide = WIDTHS["shoulder_width"] / 2
    names = ("shoulder", "elbow", "wrist", "fingertip")
    if pose == "hanging":
        return [np.array([wide, 0, HEIGHTS[name]]) for name in names]
    fall = np.radians({"level": 0.0, "lowered": 40.0, "steep": 60.0, "nearly hanging": 70.0}[pose])
    reach = [HEIGHTS["shoulder"] - HEIGHTS[name] for name in names]
    return [np.array([wide + out * np.cos(fall), 0, HEIGHTS["shoulder"] - out * np.sin(fall)]) for out in reach]


def keeper_by_the_book(pose="hanging", height=TALL, skirt=None, closed=True, uneven=0.0, eyes=True):
    """A rigged man whose joints are where the tables put them; ``skirt`` is a hem's height over stature."""
    leg = WIDTHS["hip_width"] / 2
    parts, bones = [], [_bone("hips", None, (0, 0, 0.55)), _bone("spine", "hips", (0, 0, 0.60)), _bone("neck", "spine", (0, 0, 0.83)), _bone("head", "neck", (0, 0, 0.89))]

    def add(name, points, faces, group):
        parts.append(Part(name, points * height, faces, Weights((group,), np.arange(len(points)), np.zeros(len(points), np.int64), np.ones(len(points)))))

    head = _ball((0, 0, (1 + CHIN) / 2), (0.045, 0.05, (1 - CHIN) / 2), 33)
    add("Face", *head, "head")
    trunk = [(CROTCH, 0.0, 0.05, 0.0), (CROTCH + 0.06, 0.1, 0.06, 0.0), (0.85, 0.1, 0.06, 0.0)] if closed else [(CROTCH, 0.04, 0.03, 0.0), (0.85, 0.1, 0.06, 0.0)]
    add("Trunk", *_loft(trunk), "spine")
    for side, sign in (("left", 1), ("right", -1)):
        shift = np.array([sign * leg, 0, 0])
        points, faces = _loft([(0.0, 0.03, 0.03, 0.0), (CROTCH + 0.04, 0.06, 0.05, 0.0)])
        add(f"Limb {side}", points + shift, faces, f"{side}LowerLeg")
        rise = uneven * (side == "left")
        for part, over, at in (("UpperLeg", "hips", HEIGHTS["hip"]), ("LowerLeg", f"{side}UpperLeg", HEIGHTS["knee"] + rise), ("Foot", f"{side}LowerLeg", HEIGHTS["ankle"])):
            bones.append(_bone(f"{side}{part}", over, (sign * leg, 0, at)))
        stops = [stop * [sign, 1, 1] for stop in _arm_at(pose)]
        for part, over, stop in zip(("UpperArm", "LowerArm", "Hand"), ("spine", f"{side}UpperArm", f"{side}LowerArm"), stops[:3], strict=True):
            bones.append(_bone(f"{side}{part}", over, stop))
        palm = np.linspace(stops[2], stops[3], 9)
        add(f"Palm {side}", palm, np.zeros((0, 3), np.int64), f"{side}Hand")
        if eyes:
            bones.append(_bone(f"{side}Eye", "head", (sign * 0.02, -0.04, HEIGHTS["eye_line"])))
    if skirt is not None:
        ring = _loft([(skirt, 0.2, 0.15, 0.0), (0.6, 0.1, 0.07, 0.0)])
        open_ring = ring[1][: 2 * 24]
        add("Kilt", ring[0], open_ring, "spine")
    bones = tuple(replace(one, head=one.head * height, tail=one.tail * height) for one in bones)
    known = {one.name: one.name for one in bones}
    return Figure("Keeper", (), tuple(parts), Armature("Rig", bones, np.eye(4)), humanoid=known)


def spot(height):
    return Spot(height, np.array([0.0, 0.0, height]), "shape", height, height, "")


def further(figure, height=TALL, spots=None):
    body = gather(figure)
    if spots is None:
        spots = {"crown": spot(height), "chin": spot(CHIN * height), "sole": spot(0.0)}
    return find_further(figure, body, body.points @ AXES.T, AXES, spots)


@pytest.mark.parametrize("height", [TALL, 0.03, 170.0])
def test_the_handbooks_heights_come_back(height):
    found, spans = further(keeper_by_the_book(height=height), height)
    told = {name: found[name].height / height for name in HEIGHTS}
    assert told == pytest.approx(HEIGHTS, abs=1e-6)
    assert found["crotch"].height / height == pytest.approx(CROTCH, abs=0.004)
    assert {name: spans[name].length / height for name in WIDTHS} == pytest.approx(WIDTHS, abs=1e-9)
    assert set(found) == {*HEIGHTS, "crotch", "waist", "neck_base"} and set(spans) == {*WIDTHS, "arm_span"}
    for name, (low, high) in MEN.items():
        assert low <= found[name].height / height <= high
    for entry in found.values():
        assert entry.low <= entry.height <= entry.high and entry.evidence


@pytest.mark.parametrize("pose", ["hanging", "level", "lowered", "steep", "nearly hanging"])
def test_the_arm_span_is_the_same_however_the_arms_are_held(pose):
    found, spans = further(keeper_by_the_book(pose))
    along = WIDTHS["shoulder_width"] + 2 * (HEIGHTS["shoulder"] - HEIGHTS["fingertip"])
    assert spans["arm_span"].length / TALL == pytest.approx(along, abs=1e-6)
    words = {
        "hanging": "are hanging", "level": "are level", "lowered": "are 40 degrees below level",
        "steep": "are 60 degrees below level", "nearly hanging": "are hanging",
    }[pose]
    assert all(words in found[name].evidence for name in ("elbow", "wrist", "fingertip"))
    assert not any(words in found[name].evidence for name in ("knee", "shoulder"))


def test_a_joint_is_known_to_a_hundredth_of_the_height():
    found, _ = further(keeper_by_the_book())
    for name in ("knee", "hip", "shoulder", "neck_base"):
        one = found[name]
        assert (one.height - one.low, one.high - one.height) == pytest.approx((0.01 * TALL, 0.01 * TALL))


def test_turned_and_moved_figures_give_the_same_heights():
    figure = keeper_by_the_book()
    turn = np.array([[0.6, -0.8, 0], [0.8, 0.6, 0], [0, 0, 1.0]])
    by = np.array([3.0, -2.0, 0.0])
    parts = tuple(replace(part, points=part.points @ turn.T + by) for part in figure.parts)
    bones = tuple(replace(one, head=turn @ one.head + by, tail=turn @ one.tail + by) for one in figure.armature.bones)
    moved = replace(figure, parts=parts, armature=replace(figure.armature, bones=bones))
    axes = AXES @ turn.T
    body = gather(moved)
    spots = {"crown": spot(TALL), "chin": spot(CHIN * TALL), "sole": spot(0.0)}
    found, spans = find_further(moved, body, body.points @ axes.T, axes, spots)
    still, widths = further(figure)
    assert {n: s.height for n, s in found.items()} == pytest.approx({n: s.height for n, s in still.items()})
    assert {n: s.length for n, s in spans.items()} == pytest.approx({n: s.length for n, s in widths.items()})


def test_left_and_right_are_averaged_and_a_clear_difference_is_told():
    found, _ = further(keeper_by_the_book(uneven=0.03))
    knee = found["knee"]
    assert knee.height / TALL == pytest.approx(HEIGHTS["knee"] + 0.015)
    assert knee.low / TALL < HEIGHTS["knee"] and knee.high / TALL > HEIGHTS["knee"] + 0.03
    assert "3.0 % of the height higher" in knee.evidence
    small, _ = further(keeper_by_the_book(uneven=0.015))
    assert not any("than the right" in entry.evidence for entry in small.values())
    assert [name for name, entry in found.items() if "than the right" in entry.evidence] == ["knee"]


def test_pins_win():
    spots = {"crown": spot(TALL), "chin": spot(CHIN * TALL), "sole": spot(0.0), "knee": spot(0.5), "crotch": spot(0.9)}
    found, spans = further(keeper_by_the_book(), spots=spots)
    assert not {"knee", "crotch", "crown", "chin", "sole"} & set(found)
    assert "hip" in found and set(spans) == {*WIDTHS, "arm_span"}


def test_eyes_outside_the_head_are_left_out_and_no_eyes_are_not_guessed():
    figure = keeper_by_the_book()
    bones = tuple(replace(one, head=one.head * [1, 1, 0.5]) if one.name.endswith("Eye") else one for one in figure.armature.bones)
    found, _ = further(replace(figure, armature=replace(figure.armature, bones=bones)))
    assert "eye_line" not in found and "knee" in found
    assert "eye_line" not in further(keeper_by_the_book(eyes=False))[0]


def test_fingers_stand_in_where_no_point_follows_the_hand():
    figure = keeper_by_the_book()
    parts = tuple(part for part in figure.parts if not part.name.startswith("Palm"))
    tips = [Bone(f"{side}MiddleDistal", f"{side}Hand", np.array([0, 0, 0.7]), np.array([s * 0.23, 0, 0.69]), np.eye(3)) for side, s in (("left", 1), ("right", -1))]
    rig = replace(figure.armature, bones=(*figure.armature.bones, *tips))
    found, _ = further(replace(figure, parts=parts, armature=rig, humanoid={one.name: one.name for one in rig.bones}))
    assert (found["fingertip"].how, found["fingertip"].height) == ("bones", pytest.approx(0.69))
    assert "fingertip" not in further(replace(figure, parts=parts))[0]


def test_what_a_hand_holds_is_not_its_fingertip():
    figure = keeper_by_the_book()
    staff = Part("Pole", np.linspace([0.23, 0, 0.1], [0.23, 0, 1.7], 30), np.zeros((0, 3), np.int64), Weights(("leftHand",), np.arange(30), np.zeros(30, np.int64), np.ones(30)))
    found, spans = further(replace(figure, parts=(*figure.parts, staff)))
    assert "fingertip" not in found and "arm_span" not in spans and "wrist" in found


@pytest.mark.parametrize("rigged", [True, False])
def test_the_crotch_is_found_above_the_gap_with_and_without_bones(rigged):
    figure = keeper_by_the_book()
    if not rigged:
        figure = replace(figure, armature=None, humanoid={}, parts=tuple(replace(part, weights=Weights.none()) for part in figure.parts))
    found, _ = further(figure)
    crotch = found["crotch"]
    assert crotch.height / TALL == pytest.approx(CROTCH, abs=0.004) and crotch.how == "shape"
    assert crotch.low <= CROTCH * TALL <= crotch.high


@pytest.mark.parametrize("hem", [0.3, 0.4])
def test_a_skirts_hem_is_not_the_crotch(hem):
    found, _ = further(keeper_by_the_book(skirt=hem))
    assert found["crotch"].height / TALL == pytest.approx(CROTCH, abs=0.01)
    assert "hangs around the legs" in found["crotch"].evidence


def test_a_robe_to_the_floor_or_joined_legs_hide_the_crotch():
    assert "crotch" not in further(keeper_by_the_book(skirt=0.0))[0]
    figure = keeper_by_the_book()
    block = _loft([(0.0, 0.12, 0.05, 0.0), (0.6, 0.12, 0.05, 0.0)])
    joined = Part("Legs", block[0] * TALL, block[1], Weights.none())
    kept = tuple(part for part in figure.parts if not part.name.startswith("Limb"))
    assert "crotch" not in further(replace(figure, parts=(*kept, joined)))[0]


@pytest.mark.parametrize("person", [Person(), Person(height=1.7, head=0.22, neck=0.05), Person(build="separate"), Person(ears="part", hat=True)])
@pytest.mark.parametrize("rigged", [True, False])
def test_chibi_and_adult_crotches(person, rigged):
    person = replace(person, rigged=rigged)
    chin = person.height - person.head
    spots = {"crown": spot(person.height), "chin": spot(chin), "sole": spot(0.0)}
    found, _ = further(keeper(person), person.height, spots)
    assert found["crotch"].height == pytest.approx(0.45 * chin, abs=0.01 * person.height)
    assert set(found) == {"crotch"}


def test_level_arms_without_bones_give_fingertips_and_span():
    figure = keeper_by_the_book("level")
    stops = np.array(_arm_at("level")) * TALL
    arm = np.linspace(stops[0], stops[3], 40)
    arms = tuple(Part(f"Reach {s}", arm * [s, 1, 1], np.zeros((0, 3), np.int64), Weights.none()) for s in (1, -1))
    bare = replace(figure, parts=(*(replace(part, weights=Weights.none()) for part in figure.parts), *arms), armature=None, humanoid={})
    found, spans = further(bare)
    assert found["fingertip"].height / TALL == pytest.approx(HEIGHTS["shoulder"])
    assert spans["arm_span"].length == pytest.approx(2 * stops[3][0]) and spans["arm_span"].how == "shape"
    lowered = replace(bare, parts=tuple(replace(part, points=part.points @ np.array([[0.8, 0, -0.6], [0, 1, 0], [0.6, 0, 0.8]]).T) if part.name.startswith(("Reach 1", "Palm left")) else part for part in bare.parts))
    assert "fingertip" not in further(lowered)[0]
    hanging = keeper_by_the_book()
    bare = replace(hanging, parts=tuple(replace(part, weights=Weights.none()) for part in hanging.parts), armature=None, humanoid={})
    assert set(further(bare)[0]) == {"crotch"} and not further(bare)[1]


def test_a_figure_of_nothing_or_all_worn_gives_nothing():
    figure = keeper_by_the_book()
    hats = tuple(replace(part, name="Hat") for part in figure.parts)
    assert further(replace(figure, parts=hats, armature=None, humanoid={})) == ({}, {})


@pytest.mark.parametrize("rigged", [True, False])
def test_a_closed_gown_with_feet_below_it_has_no_crotch(rigged):
    figure = keeper_by_the_book()
    gown = _loft([(0.11, 0.15, 0.1, 0.0), (0.6, 0.1, 0.07, 0.0)])
    kept = [part for part in figure.parts if not part.name.startswith(("Limb", "Trunk"))]
    kept.append(Part("Gown", gown[0] * TALL, gown[1], Weights.none()))
    for sign in (1, -1):
        shoe = _ball((sign * 0.08, 0, 0.06), (0.05, 0.08, 0.06), 9)
        kept.append(Part("Boot", shoe[0] * TALL, shoe[1], Weights.none()))
    figure = replace(figure, parts=tuple(kept))
    if not rigged:
        figure = replace(figure, armature=None, humanoid={})
    assert "crotch" not in further(figure)[0]


def drawn_by_lot(seed, kind):
    """An invented avatar's landmarks and its true heights, both over its height; crown, chin and sole given."""
    built = build_figure(seed, kind)
    figure = built.figure
    if figure.armature is not None:
        figure = replace(figure, humanoid=guess_humanoid(figure.armature))
    body = gather(figure)
    up = up_of(figure)
    forward = forward_of(figure, body)
    axes = np.stack([np.cross(up, forward), forward, up])
    spots = {name: spot(float(getattr(built, name) @ up)) for name in ("crown", "chin", "sole")}
    found, _ = find_further(figure, body, body.points @ axes.T, axes, spots)
    low, height = spots["sole"].height, spots["crown"].height - spots["sole"].height
    truth = {name: value / built.truth["crown"] for name, value in built.truth.items()}
    return {name: (entry.height - low) / height for name, entry in found.items()}, truth


@pytest.mark.parametrize("kind", ["rigged", "shape"])
def test_avatars_drawn_by_lot_in_skirts_capes_tails_and_many_spellings(kind):
    joints, crotches, count = [], [], 30
    for seed in range(count):
        found, truth = drawn_by_lot(seed, kind)
        crotches += [abs(found["crotch"] - truth["crotch"])] if "crotch" in found else []
        joints += [abs(found[name] - truth[name]) for name in (*HEIGHTS, "fingertip") if name in found and name in truth]
    assert max(joints) < 0.02
    assert len(joints) > (150 if kind == "rigged" else 8)
    assert len(crotches) > 0.8 * count and np.median(crotches) < 0.01 and max(crotches) < 0.07
