"""Skin that the bones of hair and ears pull along, as weights by distance do: it stays the skull's or the body's."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Worn
from evenfold.core.proportion import measure
from evenfold.core.proportion.parts.body import gather
from evenfold.core.proportion.skull.grown import _is_on_top
from evenfold.core.settings import Settings
from figures.altered import carried, where, with_bones, with_parts
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, _ball, keeper

PERSON = Person(height=1.8, head=0.3, neck=0.1, build="separate")
TOP = np.array([0.0, 0.0, 1.8])
SHELL = _ball((0, 0.02, 1.72), (0.17, 0.17, 0.13))


def pulled_by(at, root, reach, full=0.95):
    """(n,) the share a bone at ``root`` takes of points (n, 3) by their distance."""
    return full * np.clip(1.5 * (1 - np.linalg.norm(at - root, axis=1) / reach), 0, 1)


def haired(bone="Hair01", own=True, name="Mesh.012", said=()):
    """A keeper whose skull's upper half follows ``bone``; ``own`` says whether hair in pieces of its own does too."""
    figure = with_bones(keeper(PERSON), (bone, "Head", TOP - [0, 0, 0.1], TOP))
    figure = where(figure, bone, lambda at: pulled_by(at, TOP, 0.2), ["Head"])
    figure = with_parts(figure, carried(name, SHELL, bone)) if own else figure
    return replace(figure, worn=said)


def left_out(figure, name="Head"):
    """(worn, points) of the part so called."""
    body, start = gather(figure), 0
    for part in figure.parts:
        if part.name == name:
            return body.worn[start : start + len(part.points)], part.points
        start += len(part.points)
    raise LookupError(name)


@pytest.mark.parametrize("bone", ["Hair01", "髪.001", "Ponytail", "Ear.L", "HatJoint"])
@pytest.mark.parametrize("name", ["Mesh.012", "Hair"])
def test_hair_in_pieces_of_its_own_leaves_the_skull_it_pulls_along(bone, name):
    found = measure(haired(bone, name=name), Settings())
    assert found.landmarks["crown"].point[2] == pytest.approx(1.8, abs=1e-6)
    assert found.heads_tall == pytest.approx(6.0, rel=0.003)
    assert found.low <= 6.0 <= found.high < 6.3
    assert found.heads_with_hair == pytest.approx(1.85 / 0.35, rel=0.003)


def test_pieces_of_its_own_may_lie_in_the_same_mesh():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, hair="bone"))
    assert len(figure.parts) == 1
    lowered = where(figure, "Hair01", lambda at: pulled_by(at, TOP, 0.2))
    shell = where(figure, "Hair01", lambda at: at[:, 2] > 1.801)
    assert measure(lowered, Settings()).heads_tall == pytest.approx(measure(shell, Settings()).heads_tall) == pytest.approx(6.0, rel=0.003)


@pytest.mark.parametrize("own", [True, False])
def test_without_pieces_of_its_own_what_follows_hair_is_hair(own):
    worn, points = left_out(haired(own=own))
    upper = pulled_by(points, TOP, 0.2) > 0.31
    assert upper.sum() > 50
    assert worn[upper].all()
    assert not worn[pulled_by(points, TOP, 0.2) < 0.29].any()
    found = measure(haired(own=own), Settings())
    crown = found.landmarks["crown"]
    assert (crown.evidence == "highest point of the skull" and crown.low > 1.79) == own


@pytest.mark.parametrize("said", [(Worn("bone", "Hair01", True),), (Worn("bone", "Lump", True),)])
def test_what_the_artist_says_is_worn_is_never_doubted(said):
    figure = haired(said[0].name, said=said)
    assert gather(replace(figure, worn=())).pulled.any() == (said[0].name == "Hair01")
    assert not gather(figure).pulled.any()
    worn, points = left_out(figure)
    assert worn[pulled_by(points, TOP, 0.2) > 0.31].all()
    assert measure(figure, Settings()).landmarks["crown"].evidence != "highest point of the skull"
    assert not left_out(replace(figure, worn=(Worn("bone", said[0].name, False),)))[0].any()


@pytest.mark.parametrize("bone", ["HairTail", "マント", "Tail_03"])
def test_skin_of_the_back_that_a_long_bone_pulls_along_stays_the_bodys(bone):
    """A long plait hangs down the back; weights by distance let it hold the trunk and the shoes as well."""
    figure = with_bones(keeper(PERSON), (bone, "Head", (0, 0.12, 1.5), (0, 0.12, 0.0)))
    figure = where(figure, bone, lambda at: 0.8 * (at[:, 1] > 0), ["Body", "Shoe.L", "Shoe.R", "Leg.L", "Leg.R"])
    plait = _ball((0, 0.2, 0.9), (0.03, 0.03, 0.7))
    figure = with_parts(figure, carried("Mesh.012", plait, bone))
    for name in ("Body", "Shoe.L", "Leg.R"):
        assert not left_out(figure, name)[0].any()
    assert left_out(figure, "Mesh.012")[0].all()
    assert measure(figure, Settings()).heads_tall == pytest.approx(6.0, rel=0.003)
    bare = replace(figure, parts=tuple(part for part in figure.parts if part.name != "Mesh.012"))
    assert left_out(bare, "Body")[0].any()


@pytest.mark.parametrize(("heads", "seed"), [(2.4, 3), (4.0, 4)])
def test_a_sculpted_figure_in_one_skin_keeps_its_crown_under_hair_that_is_bound_by_distance(heads, seed):
    built = sculpt(Recipe(heads, "short", "jaw", "painted", seed=seed, vertices=5000))
    top = built.crown
    hair = _ball((0, float(top[1]) + 0.1, heads - 0.3), (0.6, 0.6, 0.45))
    figure = with_bones(built.figure, ("Hair_1", "Head", top - [0, 0, 0.2], top + np.array([0, 0, 0.2])))
    figure = where(figure, "Hair_1", lambda at: pulled_by(at, top, 0.7))
    figure = with_parts(figure, carried("Object.003", hair, "Hair_1"))
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.01)
    assert found.low <= built.heads <= found.high
    assert found.landmarks["crown"].point[2] == pytest.approx(top[2], abs=0.01)


@pytest.mark.parametrize("ears", ["cat", "rabbit", "horns"])
@pytest.mark.parametrize("reach", [0.4, 0.8])
def test_skin_between_ears_grown_out_of_it_is_no_hair(ears, reach):
    built = sculpt(Recipe(4.0, "short", "jaw", "painted", ears=ears, seed=4, vertices=5000))
    figure = built.figure
    for bone in figure.armature.bones:
        if bone.name.endswith("Ear"):
            root = np.array([0.8 * bone.head[0], bone.head[1], built.crown[2] - 0.05])
            figure = where(figure, bone.name, lambda at, root=root: pulled_by(at, root, reach))
    worn, points = left_out(figure, "Body")
    assert worn[np.linalg.norm(points - built.crown, axis=1) < 0.1].any()
    found = measure(figure, Settings())
    assert found.landmarks["crown"].evidence in ("highest point of the skull", "dome under what stands on it")
    assert found.heads_tall == pytest.approx(built.heads, rel=0.008)
    assert found.low <= built.heads <= found.high


def arch(mine):
    """(points, mine): a line over the head from front to back, of which ``mine`` says what is worn."""
    turn = np.linspace(0, np.pi, 400)
    points = np.column_stack([np.zeros(400), np.cos(turn), np.sin(turn)])
    return points, mine(points)


@pytest.mark.parametrize(("mine", "closes"), [
    (lambda at: at[:, 1] < -0.7, False),
    (lambda at: at[:, 1] > 0.7, False),
    (lambda at: np.abs(at[:, 1]) < 0.1, False),
    (lambda at: np.abs(at[:, 1]) < 0.5, True),
    (lambda at: at[:, 1] < 0.0, True),
])
def test_what_is_worn_closes_the_head_only_where_it_is_highest_for_a_good_part_of_the_way(mine, closes):
    assert _is_on_top(*arch(mine)) == closes


def test_what_lies_under_other_skin_closes_nothing():
    points, _ = arch(lambda at: at[:, 1] < 0)
    both = np.concatenate([points, 0.9 * points])
    lower = np.arange(len(both)) >= len(points)
    assert not _is_on_top(both, lower)
    assert _is_on_top(both, ~lower)


@pytest.mark.parametrize("begin", [0.066, 0.075])
def test_hair_at_the_back_of_the_skin_leaves_the_top_to_the_skull(begin):
    """Hair grown out of the nape and the back of a deep head, in one skin with it, is below the top."""
    figure = with_bones(keeper(replace(PERSON, wide=0.35, deep=0.5)), ("Hair01", "Head", (0, 0.1, 1.6), (0, 0.1, 1.4)))
    figure = where(figure, "Hair01", lambda at: (at[:, 1] > begin) & (at[:, 2] > 1.55), ["Head"])
    found = measure(figure, Settings())
    assert left_out(figure)[0].any()
    assert found.landmarks["crown"].evidence == "highest point of the skull"
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)


@pytest.mark.parametrize("bare", [2.0, 1.7999, 1.797])
def test_hair_that_closes_the_skin_is_seen_also_where_its_very_top_follows_the_head(bare):
    """Weights by distance give the top of the hair to the head bone here and there: that is no skull that was seen."""
    figure = with_bones(keeper(PERSON), ("Hair01", "Head", (0, 0.1, 1.7), (0, 0.1, 1.8)))
    figure = where(figure, "Hair01", lambda at: (at[:, 2] > 1.68) & (at[:, 2] < bare), ["Head"])
    crown = measure(figure, Settings()).landmarks["crown"]
    assert crown.evidence == "dome less some hair that grows out of the skull"
    assert crown.low < 1.77


@pytest.mark.parametrize("share", [0.9, 1.0])
def test_a_head_of_its_own_that_only_ears_pull_along_is_a_skull(share):
    """Nothing but its eyes follows the head bone itself; the ears are pieces of their own."""
    figure = where(keeper(replace(PERSON, ears="bone")), "Ear.L", lambda at: share * (at[:, 0] > 0), ["Head"])
    figure = where(figure, "Ear.R", lambda at: share * (at[:, 0] <= 0), ["Head"])
    figure = with_parts(figure, *(carried(f"Mesh.{side + 8}", _ball((side * 0.05, -0.12, 1.64), (0.02, 0.01, 0.02)), "Head") for side in (1, -1)))
    found = measure(figure, Settings())
    assert found.landmarks["crown"].point[2] == pytest.approx(1.8, abs=0.002)
    assert found.heads_tall == pytest.approx(6.0, rel=0.01)
