"""Where a figure stands and its foot's own sole, whatever it wears, hangs out or stands on."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Part, Weights
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.proportion import measure
from evenfold.core.proportion.ground.standing import feet_of
from evenfold.core.settings import Settings
from figures.avatars.build import from_recipe
from figures.avatars.recipe import draw
from figures.clay.recipes import Recipe, recipe
from figures.clay.sculpt import sculpt
from figures.people import _ball, _loft

FEET = ("bare", "boot", "heel", "lifted")
HANGING = ("", "cape", "tail")
UNDER = ("", "Base", "unnamed")


def off_of(built, axis=2):
    """(error, low, high) of the sole in true heads, low and high beside the truth; and its record."""
    found = measure(built.figure, Settings())
    sole = found.landmarks["sole"]
    head = float(built.crown[axis] - built.chin[axis])
    error = float(sole.point[axis] - built.sole[axis]) / head
    metres = built.figure.metres_per_unit * head
    return error, error + sole.low / metres, error + sole.high / metres, found


def dressed(seed, kind, feet, hanging, under, pose):
    """An invented avatar whose cape or tail ends well below its feet and is named by nothing."""
    drawn = draw(seed, kind)
    worn = tuple(one for one in drawn.worn if one[0] not in ("cape", "tail", "dress"))
    if hanging:
        worn += ((hanging, ("within", "unnamed object")[seed % 2], 1.0),)
    changed = {"pose": pose, "feet": feet, "worn": worn, "plate": under, "leg_bones": True, "metres_per_unit": 1.0, "around": 16}
    return from_recipe(replace(drawn, **changed, floating=0.0 if under else 0.3 * (seed % 3)), seed)


@pytest.mark.parametrize("pose", [-50.0, 0.0])
@pytest.mark.parametrize("kind", ["rigged", "shape"])
@pytest.mark.parametrize("feet", FEET)
def test_the_sole_is_the_feets_whatever_hangs_lower_or_lies_under(feet, kind, pose):
    for number, (hanging, under) in enumerate([(one, "") for one in HANGING] + [("", one) for one in UNDER[1:]]):
        built = dressed(7300 + 10 * FEET.index(feet) + number, kind, feet, hanging, under, pose)
        error, low, high, _ = off_of(built)
        said = (feet, hanging, under, built.seed)
        assert abs(error) < 0.01, said
        assert low - 0.003 <= 0 <= high + 0.003, said


@pytest.mark.parametrize("feet", ["bare", "boot"])
@pytest.mark.parametrize("kind", ["rigged", "shape"])
@pytest.mark.parametrize("hanging", ["cape", "tail"])
def test_a_skirt_over_the_feet_does_not_hide_what_hangs_lower(hanging, kind, feet):
    """By shape alone two feet that touch under a skirt are not told for certain; the range says so."""
    for seed in range(7410, 7414):
        drawn = draw(seed, kind)
        worn = (("dress", "within", 0.05), (hanging, "within", 0.95))
        built = from_recipe(replace(drawn, pose=20.0, feet=feet, worn=worn, plate="", leg_bones=False, around=16, floating=0.0), seed)
        error, low, high, _ = off_of(built)
        assert (kind == "shape" or abs(error) < 0.01) and low - 0.003 <= 0 <= high + 0.003, seed


@pytest.mark.parametrize("hanging", ["cape", "tail"])
def test_what_hangs_through_a_base_leaves_it_a_base(hanging):
    for seed in range(7420, 7424):
        built = dressed(seed, ("rigged", "shape")[seed % 2], "boot", hanging, "unnamed", -50.0)
        error, low, high, found = off_of(built)
        assert abs(error) < 0.01 and low - 0.003 <= 0 <= high + 0.003, seed
        assert built.recipe.kind == "rigged" or any("base" in guess for guess in found.guesses), seed


@pytest.mark.parametrize("seed", [7401, 7402])
def test_what_hangs_is_really_there(seed):
    """The figures of the test above: without the feet told apart, the lowest point would be far off."""
    for hanging in HANGING[1:]:
        built = dressed(seed, "shape", "boot", hanging, "", 0.0)
        lowest = min(float(part.points[:, 2].min()) for part in built.figure.parts)
        assert lowest < built.sole[2] - 0.1 * (built.crown[2] - built.chin[2])


@pytest.mark.parametrize("below", ["tail", "cape"])
@pytest.mark.parametrize("rig", ["auto", "none"])
@pytest.mark.parametrize("arms", ["t", "a"])
def test_sculpted_tails_and_capes_by_distance_to_the_nearest_bone(below, rig, arms):
    one = Recipe(3.0, "short", "jaw", rig, arms=arms, below=below, vertices=6000, seed=21, named=False)
    built = sculpt(one)
    assert not built.off
    error, low, high, _ = off_of(built)
    assert abs(error) < 0.02 and low - 0.003 <= 0 <= high + 0.003


def test_a_tails_tip_that_follows_the_legs_is_no_foot():
    built = sculpt(recipe(62009))
    error, low, high, found = off_of(built)
    assert abs(error) < 0.02 and low <= 0.003 and high >= -0.003
    assert found.landmarks["sole"].readings[0].method == found.landmarks["sole"].evidence
    assert min(one.height for one in found.landmarks["sole"].readings) < -0.05 * found.head_height


@pytest.mark.parametrize("kind", ["rigged", "shape"])
def test_a_robe_to_the_floor_stands_on_its_hem(kind):
    """A single broad thing in the middle is no cape that hangs before feet further up."""
    robe = _loft([(0.0, 0.3, 0.14, 0.0), (1.2, 0.16, 0.12, 0.0)])
    parts = [("Robe", *robe, "hips"), ("Ball", *_ball((0, 0, 1.45), (0.2, 0.2, 0.25)), "head")]
    for sign, side in ((1, "left"), (-1, "right")):
        arm = _loft([(0.5, 0.04, 0.04, 0.0), (1.15, 0.05, 0.05, 0.0)])
        parts.append((f"Sleeve {side}", arm[0] + [0.45 * sign, 0, 0], arm[1], "hips"))
    figure = figure_of(parts, [("hips", None, (0, 0, 0.8), (0, 0, 1)), ("head", "hips", (0, 0, 1.2), (0, 0, 1.7))], kind == "rigged")
    found = measure(figure, Settings())
    if "sole" in found.landmarks:
        sole = found.landmarks["sole"]
        assert float(sole.point[2]) == pytest.approx(0.0, abs=0.01)


def figure_of(parts, bones, rigged=True):
    """Parts (name, points, faces, bone) and bones (name, parent, head, tail) as a figure."""
    made = []
    for name, points, faces, bone in parts:
        count = len(points)
        weights = Weights((bone,), np.arange(count), np.zeros(count, np.int64), np.ones(count)) if rigged else Weights.none()
        made.append(Part(name, points, faces, weights))
    if not rigged:
        return Figure("Cook", (), tuple(made), None)
    rig = Armature("Rig", tuple(Bone(name, parent, np.array(head, float), np.array(tail, float), np.eye(3)) for name, parent, head, tail in bones), np.eye(4))
    return Figure("Cook", (), tuple(made), rig, humanoid={name: name for name, *_ in bones})


def cook(rise, inside=True, footwear="Boot", rigged=True, named="Foot"):
    """A cook of six heads whose bare foot stands ``rise`` above the ground, on a platform of that height.

    ``inside`` says whether the foot is modelled within its ``footwear``.
    """
    parts = [("Ball", *_ball((0, 0, 1.65 + rise), (0.11, 0.13, 0.15)), "head")]
    parts.append(("Trunk", *_loft([(0.8 + rise, 0.15, 0.1, 0.0), (1.4 + rise, 0.17, 0.1, 0.0), (1.44 + rise, 0.05, 0.05, 0.0), (1.53 + rise, 0.05, 0.05, 0.0)]), "hips"))
    bones = [("hips", None, (0, 0, 0.85 + rise), (0, 0, 1.0 + rise)), ("head", "hips", (0, 0, 1.5 + rise), (0, 0, 1.8 + rise))]
    for sign, side in ((1, "left"), (-1, "right")):
        at = np.array([0.1 * sign, 0, 0])
        leg = _loft([(0.09 + rise, 0.045, 0.045, 0.0), (0.85 + rise, 0.07, 0.07, 0.0)])
        arm = _loft([(0.75 + rise, 0.035, 0.035, 0.0), (1.38 + rise, 0.045, 0.045, 0.0)])
        foot = _loft([(rise, 0.04, 0.12, -0.07), (0.05 + rise, 0.04, 0.11, -0.06), (0.1 + rise, 0.035, 0.05, 0.0)])
        shoe = _loft([(0.0, 0.055, 0.15, -0.07), (0.12 + rise, 0.055, 0.13, -0.05)])
        parts += [(f"Shank {side}", leg[0] + at, leg[1], f"{side}LowerLeg"), (f"Sleeve {side}", arm[0] + 2.5 * at, arm[1], "hips")]
        parts += [(f"{named} {side}", foot[0] + at, foot[1], f"{side}Foot")] if inside else []
        parts += [(f"{footwear} {side}", shoe[0] + at, shoe[1], f"{side}Foot")] if footwear else []
        x = 0.1 * sign
        bones += [
            (f"{side}UpperLeg", "hips", (x, 0, 0.85 + rise), (x, 0, 0.45 + rise)), (f"{side}LowerLeg", f"{side}UpperLeg", (x, 0, 0.45 + rise), (x, 0, 0.07 + rise)),
            (f"{side}Foot", f"{side}LowerLeg", (x, 0, 0.07 + rise), (x, -0.13, 0.025 + rise)), (f"{side}Toes", f"{side}Foot", (x, -0.13, 0.025 + rise), (x, -0.18, 0.02 + rise)),
        ]
    return figure_of(parts, bones, rigged)


def landmarks(figure):
    found = measure(figure, Settings())
    assert found.refusal is None
    return found, found.landmarks


@pytest.mark.parametrize("rise", [0.04, 0.1, 0.2])
@pytest.mark.parametrize("rigged", [True, False])
def test_a_foot_inside_platform_boots_has_its_own_sole(rise, rigged):
    found, marks = landmarks(cook(rise, rigged=rigged))
    assert marks["sole"].height == 0 and marks["sole"].point[2] == pytest.approx(0.0, abs=1e-9)
    own = marks["foot_sole"]
    assert own.height == pytest.approx(rise, abs=1e-6)
    assert own.low < rise < own.high and own.how == ("weights" if rigged else "shape") and own.evidence
    assert found.height == pytest.approx(1.8 + rise, rel=0.01)
    assert found.heads_tall == pytest.approx(found.height / found.head_height)


@pytest.mark.parametrize("rise", [0.1, 0.2])
def test_over_named_footwear_ankle_and_toe_joint_tell_the_foots_own_sole(rise):
    own = landmarks(cook(rise, inside=False))[1]["foot_sole"]
    assert own.how == "bones" and own.low <= rise <= own.high
    assert own.height == pytest.approx(rise, abs=0.02) and len(own.readings) == 2


@pytest.mark.parametrize("figure", [
    cook(0.0), cook(0.0, footwear=""), cook(0.0, inside=False), cook(0.02, inside=False),
    cook(0.1, inside=False, footwear="Lump"), cook(0.1, inside=False, rigged=False), cook(0.0, inside=False, rigged=False),
], ids=["in shoes", "bare", "shoes alone", "thin soles", "unnamed", "unnamed foot, no rig", "no rig"])
def test_without_a_clear_difference_or_a_known_foot_it_is_left_out(figure):
    assert "foot_sole" not in landmarks(figure)[1]


@pytest.mark.parametrize(("heads", "rig", "wear", "seed"), [(2.6, "painted", (), 3), (5.0, "auto", (), 4), (6.5, "painted", ("boots",), 5), (2.0, "painted", (), 6)])
def test_a_heel_lifts_the_foots_own_sole_by_its_height(heads, rig, wear, seed):
    one = Recipe(heads, "short", "jaw", rig, arms="a", vertices=9000, seed=seed, heels=True, wear=wear)
    figure = sculpt(one).figure
    figure = replace(figure, humanoid=guess_humanoid(figure.armature))
    ankle = float(figure.armature.by_name[figure.humanoid["leftFoot"]].head[2])
    own = landmarks(figure)[1]["foot_sole"]
    truth = ankle * 0.9 / 1.9
    assert own.low <= truth <= own.high
    assert own.height == pytest.approx(truth, rel=0.2)
    flat = sculpt(replace(one, heels=False)).figure
    assert "foot_sole" not in landmarks(replace(flat, humanoid=guess_humanoid(flat.armature)))[1]


def test_flat_footed_avatars_have_no_second_sole():
    for seed in range(7500, 7512):
        built = dressed(seed, "rigged", ("bare", "shoe", "boot", "lifted")[seed % 4], "", "", -50.0)
        figure = replace(built.figure, humanoid=guess_humanoid(built.figure.armature) or built.figure.humanoid)
        assert "foot_sole" not in measure(figure, Settings()).landmarks, seed


def with_thing(figure, rings, at):
    points, faces = _loft(rings)
    return replace(figure, parts=(*figure.parts, Part("Thing", points + at, faces, Weights.none())))


@pytest.mark.parametrize("thick", [0.03, 0.2, 0.35])
@pytest.mark.parametrize("wide", [0.4, 1.0])
def test_a_base_is_left_out_however_thick(thick, wide):
    figure = with_thing(cook(0.0, inside=False, rigged=False), [(-thick, wide, wide, 0.0), (0.0, wide, wide, 0.0)], [0, 0, 0])
    assert landmarks(figure)[1]["sole"].point[2] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("gap", [0.0, 0.2])
def test_a_base_that_follows_the_feet_is_a_base(gap):
    """Automatic weights let the nearest bones carry it."""
    figure = cook(0.0, inside=False, rigged=True)
    assert landmarks(figure)[1]["sole"].how == "weights"
    feet = {name for part in figure.parts for name in part.weights.names if "foot" in name.lower() or "leg" in name.lower()}
    name = min(feet)
    points, faces = _loft([(-gap - 0.06, 0.5, 0.5, 0.0), (-gap, 0.5, 0.5, 0.0)])
    rows = np.arange(len(points))
    base = Part("Thing", points, faces, Weights((name,), rows, np.zeros(len(rows), int), np.ones(len(rows))))
    sole = landmarks(replace(figure, parts=(*figure.parts, base)))[1]["sole"]
    assert sole.point[2] == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("aside", [0.0, 0.2, 0.35])
def test_a_tail_that_hangs_aside_is_no_foot(aside):
    figure = with_thing(cook(0.0, inside=False, rigged=False), [(-0.15, 0.02, 0.02, 0.0), (0.9, 0.04, 0.04, 0.0)], [aside, 0.3, 0])
    assert landmarks(figure)[1]["sole"].point[2] == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("ends", [0.12, 0.2])
def test_feet_close_together_ahead_of_two_ends_of_a_sash_are_feet(ends):
    figure = cook(0.0, inside=False, rigged=False)
    close = [replace(part, points=part.points * [0.3, 1, 1]) if part.points[:, 2].max() < 1.0 else part for part in figure.parts]
    figure = replace(figure, parts=tuple(close))
    for aside in (-0.14, 0.1):
        figure = with_thing(figure, [(ends, 0.03, 0.01, 0.0), (0.9, 0.04, 0.01, 0.0)], [aside, 0.3, 0])
    sole = landmarks(figure)[1]["sole"]
    assert sole.point[2] == pytest.approx(0.0, abs=1e-6)


def block(at, size, spacing=0.006):
    """Points all over the sides and the bottom of an upright box: its lowest corner and its extent (3,)."""
    axes = [np.arange(0, length, spacing) for length in size]
    found = []
    for axis in range(3):
        others = [a for a in range(3) if a != axis]
        one, other = np.meshgrid(axes[others[0]], axes[others[1]])
        for end in (0.0, size[axis]):
            face = np.zeros((one.size, 3))
            face[:, axis], face[:, others[0]], face[:, others[1]] = end, one.ravel(), other.ravel()
            found.append(face)
    return np.concatenate(found) + at


@pytest.mark.parametrize("gap", [0.0, 0.012])
@pytest.mark.parametrize("hands", [0.03, 0.05, 0.08])
def test_shoes_side_by_side_under_a_skirt_are_feet_and_low_hands_beside_them_are_none(gap, hands):
    shoes = [block([side * (0.061 + gap / 2) - 0.06, -0.03, 0.0], [0.12, 0.1, 0.1]) for side in (1, -1)]
    low = [block([side * 0.2 - 0.02, -0.02, hands], [0.04, 0.04, 0.3]) for side in (1, -1)]
    skirt = block([-0.17, -0.17, 0.1], [0.34, 0.34, 0.12])
    samples = np.concatenate([*shoes, *low, skirt, block([-0.1, -0.08, 0.2], [0.2, 0.16, 0.55])])
    assert feet_of(samples, 0.0).point[2] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("thick", [0.0, 0.02])
def test_a_cape_that_hangs_lower_is_still_no_foot(thick):
    legs = [block([side * 0.08 - 0.04, -0.05, 0.06], [0.08, 0.14, 0.4]) for side in (1, -1)]
    turn, z = np.meshgrid(np.linspace(-1.1, 1.1, 120), np.arange(0.0, 0.7, 0.006))
    layers = [np.column_stack([r * np.sin(turn).ravel(), -r * np.cos(turn).ravel(), z.ravel()]) for r in (0.2, 0.2 - thick)]
    samples = np.concatenate([*legs, *layers, block([-0.12, -0.08, 0.4], [0.24, 0.16, 0.5])])
    assert feet_of(samples, 0.0).point[2] == pytest.approx(0.06, abs=1e-9)


def test_shoes_under_a_squat_body_with_its_arms_held_out_are_feet():
    """All in one piece it is far wider than deep; the end of a scarf hangs before it."""
    shoes = [block([side * 0.061 - 0.06, -0.03, 0.0], [0.12, 0.1, 0.08]) for side in (1, -1)]
    arms = block([-0.4, -0.03, 0.09], [0.8, 0.06, 0.06])
    scarf = block([0.02, 0.16, 0.07], [0.08, 0.03, 0.15])
    head = block([-0.3, -0.3, 0.25], [0.6, 0.6, 0.7])
    samples = np.concatenate([*shoes, arms, scarf, head, block([-0.12, -0.06, 0.06], [0.24, 0.14, 0.2])])
    assert feet_of(samples, 0.0).point[2] == pytest.approx(0.0, abs=1e-9)


def gowned(hem, legs_end=0.75, bones=True):
    """A cook in a gown to ``hem`` that follows the hips; what follows the legs' bones ends at ``legs_end``."""
    figure = cook(0.0, inside=False, footwear="")
    parts = []
    for part in figure.parts:
        points = part.points.copy()
        if part.name.startswith("Shank"):
            points[:, 2] = np.maximum(points[:, 2], legs_end)
        parts.append(replace(part, points=points))
    figure = replace(figure, parts=tuple(parts))
    gown = _loft([(hem, 0.3, 0.25, 0.0), (1.0, 0.17, 0.12, 0.0)])
    count = len(gown[0])
    worn = Part("Mesh.009", *gown, Weights(("hips",), np.arange(count), np.zeros(count, np.int64), np.ones(count)))
    figure = replace(figure, parts=(*figure.parts, worn))
    if bones:
        return figure
    up = np.array([0.0, 0.0, 0.7])
    raised = tuple(
        replace(bone, head=bone.head + up, tail=bone.tail + up) if bone.name.endswith(("Leg", "Foot", "Toes")) else bone
        for bone in figure.armature.bones
    )
    return replace(figure, armature=replace(figure.armature, bones=raised))


@pytest.mark.parametrize("hem", [-0.04, 0.0, 0.05])
def test_a_gown_over_legs_that_are_but_bones_stands_on_its_hem(hem):
    marks = landmarks(gowned(hem))[1]
    assert marks["sole"].evidence == "hem of a gown over legs that are but bones"
    assert marks["sole"].point[2] == pytest.approx(hem, abs=1e-6)


def test_where_the_legs_bones_end_as_high_as_their_skin_the_figure_floats():
    assert landmarks(gowned(0.0, bones=False))[1]["sole"].point[2] == pytest.approx(0.75, abs=0.01)


def test_a_gown_that_ends_far_over_the_feet_is_no_ground():
    assert landmarks(gowned(0.4, legs_end=0.5))[1]["sole"].evidence != "hem of a gown over legs that are but bones"


@pytest.mark.parametrize("gap", [-0.01, 0.0, 0.003, 0.02])
def test_slabs_right_under_the_feet_that_follow_no_bone_are_its_shoes(gap):
    """Automatic weights leave out what they cannot reach."""
    figure = cook(0.1, footwear="")
    for sign in (1, -1):
        slab = _loft([(0.0, 0.05, 0.14, -0.07), (0.1 - gap, 0.05, 0.14, -0.07)])
        figure = replace(figure, parts=(*figure.parts, Part(f"Mesh.{sign + 5}", slab[0] + [0.1 * sign, 0, 0], slab[1], Weights.none())))
    assert landmarks(figure)[1]["sole"].point[2] == pytest.approx(0.0, abs=1e-6)


def test_what_lies_further_under_the_feet_is_no_shoe():
    figure = cook(0.2, footwear="")
    for sign in (1, -1):
        slab = _loft([(0.0, 0.05, 0.14, -0.07), (0.1, 0.05, 0.14, -0.07)])
        figure = replace(figure, parts=(*figure.parts, Part(f"Mesh.{sign + 5}", slab[0] + [0.1 * sign, 0, 0], slab[1], Weights.none())))
    assert landmarks(figure)[1]["sole"].point[2] == pytest.approx(0.2, abs=1e-6)
