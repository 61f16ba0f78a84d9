"""Hair and hats in one skin with the head: balls on which a seam, a brim or nothing is planted."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Part, Pin, Weights
from evenfold.core.proportion import measure
from evenfold.core.proportion.head.region import Head
from evenfold.core.proportion.skull.bare import BARE
from evenfold.core.proportion.skull.bone_end import ends_under_faint_hair, ends_under_hair
from evenfold.core.proportion.skull.cover import Middle, _underside, _vaulted
from evenfold.core.proportion.skull.cranium import creases, find_seam
from evenfold.core.proportion.skull.dome import GRID, Dome, find_dome, height_map
from evenfold.core.proportion.skull.seam import BRIM, NONE, Seam
from evenfold.core.proportion.skull.under_hair import STEEPER, THIN, under_seam
from evenfold.core.settings import Settings

ROWS, AROUND = 90, 120
LEVEL = np.linspace(-0.98, 0.995, ROWS)
TURN = np.arange(AROUND) * 2 * np.pi / AROUND
UP, ROUND = np.meshgrid(LEVEL, TURN, indexing="ij")


def ball(out=0.0, wide=0.45, high=0.5):
    """A head from 0 to 1 whose surface stands ``out`` (rows, around) further from its axis and middle."""
    reach = np.sqrt(1 - UP**2)
    points = np.stack([wide * reach * np.sin(ROUND), wide * reach * np.cos(ROUND), high * UP], axis=2)
    points = points * (1 + np.asarray(out, float)[..., None] / np.linalg.norm(points, axis=2, keepdims=True))
    points[..., 2] += high
    first = np.arange(ROWS * AROUND).reshape(ROWS, AROUND)
    a, b, c, d = first[:-1], np.roll(first, -1, 1)[:-1], np.roll(first, -1, 1)[1:], first[1:]
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    framed = points.reshape(-1, 3)
    every = np.ones(len(framed), bool)
    return Head(framed, every, every, np.zeros(len(framed), int), faces, 0.0, float(np.ptp(framed[:, 0])), 0.0, float(framed[:, 2].max()))


def seam_of(head):
    return find_seam(head, head.faces, head.low, head.top)


def hair(thick):
    """A layer everywhere but over a face from below up to two thirds of the height."""
    ahead = np.abs((ROUND + np.pi) % (2 * np.pi) - np.pi) < 0.9
    return np.where(ahead & (UP < 0.3), 0.0, thick)


@pytest.mark.parametrize("wide", [0.35, 0.45, 0.6])
def test_a_bare_ball_has_no_seam(wide):
    found = seam_of(ball(0 * UP, wide))
    assert found.front < 0.05 and found.sides < 0.05
    assert not found.is_hair and not found.is_brim


@pytest.mark.parametrize("thick", [0.03, 0.06, 0.1, 0.13, 0.16])
def test_hair_around_the_face_is_told_and_looked_under(thick):
    """The step over the forehead tells hair drawn close from hair drawn full."""
    head = ball(hair(thick))
    found = seam_of(head)
    assert found.is_hair and not found.is_brim
    assert found.level == pytest.approx(0.65, abs=0.04)
    dome = Dome(head.top, head.top, True, 0.003, np.zeros(2))
    skull, top = under_seam(found, dome, head.size, head.low)
    assert skull.low <= 1.0 <= skull.high
    assert skull.height == pytest.approx(1.0, abs=0.05)
    assert top.height == head.top
    assert found.step == pytest.approx(thick / head.size, rel=0.3, abs=0.02)


def test_a_forehead_over_a_flat_face_is_no_hair():
    """The same step, but in front only: nothing begins beside the face."""
    ahead = np.abs((ROUND + np.pi) % (2 * np.pi) - np.pi) < 0.6
    fade = np.clip(np.abs((ROUND + np.pi) % (2 * np.pi) - np.pi) / 0.6, 0, 1)
    found = seam_of(ball(np.where(ahead & (UP < 0.3), -0.06 * (1 - fade), 0.0)))
    assert found.front > 0.3
    assert not found.is_hair and not found.is_brim


@pytest.mark.parametrize("at", [0.72, 0.78])
def test_a_brim_goes_around_and_tells_how_high_the_skull_goes_on(at):
    rise = np.clip((UP / 2 + 0.5 - at) / 0.02, 0, 1) * np.clip((at + 0.1 - UP / 2 - 0.5) / 0.02, 0, 1)
    head = ball(0.15 * rise)
    found = seam_of(head)
    assert found.is_brim and not found.is_hair
    assert found.level == pytest.approx(at, abs=0.08)
    dome = Dome(1.15, 1.15, True, 0.003, np.zeros(2))
    skull, _ = under_seam(found, dome, 1.15, 0.0)
    assert skull.low <= 1.0 <= skull.high


@pytest.mark.parametrize("at", [0.72, 0.78])
@pytest.mark.parametrize("around", [0.9, 1.2, 1.5])
def test_a_fringe_stands_out_over_the_forehead_alone_and_is_no_brim(at, around):
    """As thick as a brim is wide, but it ends at the temples, ``around`` radians from the middle."""
    rise = np.clip((UP / 2 + 0.5 - at) / 0.02, 0, 1) * np.clip((at + 0.1 - UP / 2 - 0.5) / 0.02, 0, 1)
    turned = np.abs((ROUND + np.pi) % (2 * np.pi) - np.pi)
    found = seam_of(ball(0.15 * rise * np.clip((around - turned) / 0.2, 0, 1)))
    assert found.front >= BRIM
    assert not found.is_brim


def test_it_does_not_matter_how_faces_are_wound():
    head = ball(hair(0.06))
    turned = replace(head, faces=np.concatenate([head.faces[::2], head.faces[1::2, ::-1]]))
    one, other = seam_of(head), seam_of(turned)
    assert (other.front, other.sides, other.ring) == pytest.approx((one.front, one.sides, one.ring), abs=1e-9)


@pytest.mark.parametrize("turn", [0.1, 0.5, 1.2])
def test_a_crease_turns_by_the_angle_it_was_folded(turn):
    """Two planes that meet in a line across: hollow one way, bulging the other."""
    def fold(sign):
        way = np.array([0.0, np.sin(sign * turn), np.cos(sign * turn)])
        low = np.array([[-1, 0, -1], [1, 0, -1], [1, 0, 0], [-1, 0, 0]], float)
        points = np.vstack([low, low[2:] + way]) + np.array([0.0, 5.0, 0.0])
        faces = np.array([[0, 1, 2], [0, 2, 3], [3, 2, 4], [3, 4, 5]])
        return creases(points, faces, np.zeros(2), 1e-6)

    middle, along, bend = fold(1.0)
    assert bend == pytest.approx([turn])
    assert middle[0] == pytest.approx([0, 5, 0]) and abs(along[0]) == pytest.approx([2, 0, 0])
    assert len(fold(-1.0)[2]) == 0


def test_holes_where_ears_were_cut_away_do_not_bend_the_dome():
    rng = np.random.default_rng(4)
    way = rng.normal(size=(60000, 3))
    way[:, 2] = np.abs(way[:, 2])
    points = way / np.linalg.norm(way, axis=1)[:, None] * 0.5
    holes = (np.abs(np.abs(points[:, 0]) - 0.17) < 0.06) & (np.abs(points[:, 1]) < 0.06) & (points[:, 2] > 0.2)
    assert holes.sum() > 500
    dome = find_dome(points[~holes], 1.0)
    assert dome.bare
    assert dome.top == pytest.approx(0.5, abs=0.004)
    heights = height_map(points[~holes], np.full(2, -0.5), 1.0001 / GRID)
    assert np.isfinite(heights[GRID // 2 - 8 : GRID // 2 + 8, GRID // 2 - 8 : GRID // 2 + 8]).all()


def test_a_dome_is_vaulted_a_lid_and_a_hole_are_not():
    side = np.linspace(-1, 1, 60)
    x, y = (one.ravel() for one in np.meshgrid(side, side))
    dome = np.column_stack([x, y, 0.1 * (1 - x * x - y * y)])
    assert _vaulted(dome, Middle(np.zeros(2), 1.0), 1.0)
    assert not _vaulted(dome * [1, 1, 0], Middle(np.zeros(2), 1.0), 1.0)
    assert not _vaulted(dome[np.hypot(x, y) > 0.7], Middle(np.zeros(2), 1.0), 1.0)


def test_the_underside_of_a_shell_is_its_lower_layer():
    side = np.linspace(-1, 1, 120)
    x, y = (one.ravel() for one in np.meshgrid(side, side))
    lower = np.column_stack([x, y, 1 - 0.2 * (x * x + y * y)])
    shell = np.concatenate([lower, lower + np.array([0.0, 0.0, 0.15])])
    assert _underside(shell, Middle(np.zeros(2), 1.0)) == pytest.approx(1.0, abs=0.002)


def bald(socket=0.07, lid=0.0):
    """A ball with two sockets at the height of the eyes and the hollows of two temples: nothing grows on it."""
    away = (ROUND + np.pi) % (2 * np.pi) - np.pi
    eyes = sum(np.exp(-(((away - at) / 0.16) ** 2) - (((UP - 0.12) / 0.09) ** 2)) for at in (-0.38, 0.38))
    temples = sum(np.exp(-(((away - at) / 0.14) ** 2) - (((UP - 0.05) / 0.3) ** 2)) for at in (-1.0, 1.0))
    return ball(-socket * eyes - 0.05 * temples)


@pytest.mark.parametrize("socket", [0.05, 0.07, 0.09])
def test_eyes_and_temples_of_a_bald_head_are_no_hair(socket):
    """By figures told from ready models: 5 to 9 % of a head were lost where sockets were taken for a seam."""
    found = seam_of(bald(socket))
    assert found.may_be_hair and found.is_eyes
    assert not found.is_hair and not found.is_brim


def full_face(deep, down, size, wide=0.45, high=0.5):
    """How far a ball of this ``size`` around a place ahead of and under a head's middle stands out over the head."""
    reach = np.sqrt(1 - UP**2)
    way = np.stack([wide * reach * np.sin(ROUND), wide * reach * np.cos(ROUND), high * UP], axis=2)
    out = np.linalg.norm(way, axis=2)
    middle = np.array([0.0, deep, down])
    along = (way / out[..., None]) @ middle
    inside = np.maximum(along**2 - middle @ middle + size**2, 0.0)
    return np.maximum(along + np.sqrt(inside) - out, 0.0)


@pytest.mark.parametrize(("deep", "down", "size"), [(0.2, -0.1, 0.36), (0.24, -0.22, 0.36), (0.24, -0.14, 0.33), (0.24, -0.1, 0.36)])
def test_a_bare_face_that_stands_out_itself_is_no_hair(deep, down, size):
    """Brows and cheeks in a crease all around, as evenly as hair begins: but nothing lies on the face."""
    head = ball(full_face(deep, down, size))
    found = seam_of(head)
    assert found.may_be_hair and not found.is_eyes
    assert found.is_bare and not found.is_hair and not found.is_brim
    assert not seam_of(ball(full_face(deep, down, size) + hair(0.06))).is_bare, "hair on such a head stands out"


def test_what_overhangs_the_face_like_an_opening_stands_out_all_the_same():
    seam = Seam(0.7, 0.9, 0.3, 0.56, 0.56, 0.85)
    assert seam.is_bare and not replace(seam, overhung=True).is_bare and replace(seam, overhung=True).is_hair
    assert not seam_of(ball(hair(0.06))).overhung and seam_of(ball(hair(0.3))).overhung


@pytest.mark.parametrize(("even", "under"), [(0.05, False), (0.15, False), (0.3, True)])
def test_where_the_head_bone_ends_makes_no_hair_of_eyes_with_gaps_beside_them(even, under):
    """Most head bones end a little under the top of a bald head too: common practice, no source."""
    head = ball()
    dome = Dome(head.top, head.top, True, 0.003, np.zeros(2))
    eyes = Seam(1.9, 1.7, 0.15, 0.54, 0.54, even)
    assert eyes.is_eyes and eyes.may_be_hair
    end = under_seam(eyes, dome, head.size, head.low)[0].height
    assert ends_under_hair(eyes, dome, end, head.size, head.low) is under


def test_deep_set_eyes_of_a_heavy_face_are_no_hair():
    """By a figure told from a ready model of a stout bald man, of which 7 % of the head were lost."""
    assert Seam(3.1, 1.9, 0.5, 0.54, 0.54, 0.26).is_eyes
    assert not Seam(3.1, 1.9, 0.5, 0.54, 0.54, 0.7).is_eyes


@pytest.mark.parametrize("thick", [0.03, 0.06, 0.1])
def test_a_seam_of_hair_runs_evenly(thick):
    assert seam_of(ball(hair(thick))).even > 0.6


@pytest.mark.parametrize(("step", "is_eyes"), [(0.0, True), (0.045, True), (0.1, False)])
def test_what_stands_out_over_the_face_like_no_brow_does_is_no_eyes(step, is_eyes):
    """Of invented bald heads no brow stood out by more than 0.045; hair that turns as unevenly as eyes did by 0.1."""
    assert Seam(3.2, 1.9, 0.7, 0.55, 0.55, 0.47, step).is_eyes is is_eyes


@pytest.mark.parametrize("thick", [0.04, 0.08, 0.12])
def test_the_step_is_the_hairs_where_something_else_turns_under_it(thick):
    """Eyes in the same face begin the seam lower down than the hair does."""
    away = (ROUND + np.pi) % (2 * np.pi) - np.pi
    eyes = sum(np.exp(-(((away - at) / 0.16) ** 2) - (((UP - 0.12) / 0.06) ** 2)) for at in (-0.38, 0.38))
    head = ball(hair(thick) - 0.07 * eyes)
    assert seam_of(head).step == pytest.approx(thick / head.size, rel=0.3, abs=0.02)


@pytest.mark.parametrize(("step", "bulge", "thick"), [(0.08, 0.0, 0.08), (0.08, 0.07, 0.08), (0.12, 0.025, 0.025), (0.12, 0.008, 0.12)])
def test_a_quiff_is_no_thicker_on_top_than_hair_is_at_the_sides(step, bulge, thick):
    """Where nothing is seen at the sides, as under locks that hang, the step in front counts."""
    seam = replace(NONE, front=1.0, sides=1.0, level=0.7, share=0.7, step=step, bulge=bulge)
    (reading, _) = under_seam(seam, Dome(1.0, 1.0, True, 0.0, np.zeros(2)), 1.0, 0.0)
    assert 1.0 - reading.height == pytest.approx(THIN + STEEPER * thick)


def scalped(head):
    """The crown of a head over a trunk whose upper half's faces are of a material called hair."""
    faces = head.faces
    on_top = head.framed[faces][:, :, 2].mean(axis=1) > 0.6
    part = Part("Head", head.framed * [1, -1, 1], faces, Weights(("Head",), np.arange(len(head.framed)), np.zeros(len(head.framed), int), np.ones(len(head.framed))), ("Skin", "Hair"), on_top.astype(int))
    trunk = ball(0 * UP, 0.2, 0.6).framed - [0, 0, 1.15]
    body = Part("Body", trunk, faces, Weights(("Spine",), np.arange(len(trunk)), np.zeros(len(trunk), int), np.ones(len(trunk))), ("Skin",), np.zeros(len(faces), int))
    bones = tuple(Bone(name, None, np.array([0, 0, z]), np.array([0, 0, z + 0.02]), np.eye(3)) for name, z in (("Head", 0.05), ("Spine", -1.0)))
    toes = (Bone(f"Foot.{hand}", None, np.array([x, 0.0, -1.1]), np.array([x, -0.1, -1.15]), np.eye(3)) for hand, x in (("L", 0.1), ("R", -0.1)))
    figure = Figure("Cook", (), (part, body), Armature("Rig", (*bones, *toes), np.eye(4)), pins=(Pin("sole", np.array([0.0, 0.0, -1.15])),))
    return measure(figure, Settings()).landmarks["crown"]


def test_hair_that_is_only_painted_leaves_the_skull_bare():
    crown = scalped(ball(0 * UP))
    assert crown.evidence == BARE[0]
    assert crown.point[2] == pytest.approx(1.0, abs=0.003)


def test_hair_that_stands_out_over_the_face_is_looked_under_as_before():
    thick = 0.08
    crown = scalped(ball(hair(thick)))
    assert crown.evidence not in BARE
    assert crown.point[2] < 1.0 + 0.7 * thick


@pytest.mark.parametrize(("turned", "is_smooth"), [((0.0, 0.0, 0.0), True), ((0.13, 0.15, 0.04), True), ((0.05, 0.15, 0.51), False), ((0.3, 0.0, 0.0), False)])
def test_what_turns_hardly_and_stands_out_nowhere_is_paint(turned, is_smooth):
    assert Seam(*turned, 0.6, 0.6).is_smooth == is_smooth
    assert not Seam(*turned, 0.6, 0.6, step=0.02).is_smooth and not Seam(*turned, 0.6, 0.6, bulge=0.02).is_smooth


@pytest.mark.parametrize(("sides", "step", "under", "faint"), [
    (0.39, 0.009, 0.06, True), (0.37, 0.01, 0.06, True), (0.22, 0.013, 0.06, True), (0.26, 0.004, 0.1, True), (0.1, 0.013, 0.06, False), (0.4, 0.0, 0.09, False), (0.0, 0.0043, 0.09, False), (0.37, 0.01, 0.2, False),
])
def test_faint_hair_stands_out_a_little_and_turns_a_little(sides, step, under, faint):
    """A bald head lacks one of them; the head bone ends ``under`` the top."""
    dome = Dome(1.0, 1.0, True, 0.003, np.zeros(2))
    assert ends_under_faint_hair(Seam(0.2, sides, 0.07, 0.55, 0.55, 0.7, step), dome, 1.0 - under, 1.0) == faint


@pytest.mark.parametrize(("front", "even"), [(0.08, 0.0), (0.05, 0.7), (0.24, 0.22), (0.14, 0.53)])
def test_cheeks_of_a_muzzle_without_a_line_over_the_forehead_are_no_faint_hair(front, even):
    """By invented bald heads with muzzles whose head bone ended a little under the top."""
    dome = Dome(1.0, 1.0, True, 0.003, np.zeros(2))
    assert not ends_under_faint_hair(Seam(front, 0.37, 0.07, 0.73, 0.73, even, 0.006), dome, 0.95, 1.0)
