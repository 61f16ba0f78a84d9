"""Over many invented figures: how far measured landmarks lie from where they were built.

Wanted: rigged 95 % within 1 % and none beyond 3 %; shape alone 90 % within 3 %; the truth inside
the shown range in 95 %. Where that is not reached yet, the bound below is what is reached, so that
it is not lost again; WANTED and DEVELOPERS.md say what is missing.
"""

from dataclasses import replace

import numpy as np
import pytest
from figures.avatars import build_figure, draw, from_recipe
from figures.avatars.errors import refusals, spread_of, trial_of, trials, worst_first

RIGGED, SHAPES = range(1000, 1120), range(2000, 2080)
WANTED = {"one": 0.95, "worst": 0.03, "three": 0.90, "inside": 0.95}
REACHED = {"one": 0.94, "worst": 0.031, "three": 0.90, "inside rigged": 0.95, "inside shapes": 0.95}


@pytest.fixture(scope="module")
def rigged():
    return trials("rigged", RIGGED)


@pytest.fixture(scope="module")
def shapes():
    return trials("shape", SHAPES)


def told(some):
    """The spread, refusals and worst figures, for a failing test to show."""
    worst = [f"seed {trial.seed}: {trial.measured:.2f} for {trial.heads:.2f} heads" for trial in worst_first(some)[:8]]
    return f"{spread_of(some)}\n{refusals(some)}\n" + "\n".join(worst)


def test_what_is_reached_never_claims_more_than_is_wanted():
    assert REACHED["one"] <= WANTED["one"] and REACHED["worst"] >= WANTED["worst"]
    assert all(REACHED[name] <= WANTED["inside"] for name in ("inside rigged", "inside shapes"))


def test_nine_in_ten_rigged_figures_are_within_a_hundredth(rigged):
    assert spread_of(rigged).one >= REACHED["one"], told(rigged)


def test_no_rigged_figure_is_further_off_than_is_reached(rigged):
    assert spread_of(rigged).worst <= REACHED["worst"], told(rigged)


def test_figures_without_bones_are_mostly_within_three_hundredths(shapes):
    assert spread_of(shapes).three >= REACHED["three"], told(shapes)


@pytest.mark.parametrize("kind", ["rigged", "shapes"])
def test_the_shown_range_holds_the_truth(kind, request):
    some = request.getfixturevalue(kind)
    assert spread_of(some).inside >= REACHED[f"inside {kind}"], told(some)


def test_hardly_a_rigged_figure_is_beyond_three_hundredths_and_ranges_stay_narrow(rigged):
    assert spread_of(rigged).three >= 0.98, told(rigged)
    assert spread_of(rigged).width <= 0.036, told(rigged)


@pytest.mark.parametrize(("kind", "share"), [("rigged", 0.01), ("shapes", 0.1)])
def test_few_figures_are_refused(kind, share, request):
    some = request.getfixturevalue(kind)
    assert spread_of(some).refused <= share + 1e-9, told(some)


@pytest.mark.parametrize("kind", ["rigged", "shape"])
@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_truth_and_mesh_belong_together(kind, seed):
    built = build_figure(seed, kind)
    truth, metres = built.truth, built.figure.metres_per_unit
    assert truth["crown"] > truth["eye_line"] > truth["chin"] > truth["crotch"] > truth["sole"] == 0
    assert built.heads == pytest.approx(built.recipe.heads, rel=1e-9)
    for name, spot in (("crown", built.crown), ("chin", built.chin)):
        assert (spot[2] - built.sole[2]) * metres == pytest.approx(truth[name], rel=1e-6, abs=1e-9)
    for part in built.figure.parts:
        assert np.isfinite(part.points).all()
        assert part.triangles.min() >= 0 and part.triangles.max() < len(part.points)
        assert len(part.triangle_material) == len(part.triangles) or not part.materials
        if len(part.weights.vertex):
            total = np.bincount(part.weights.vertex, part.weights.weight, minlength=len(part.points))
            assert total.min() > 0.98 and total.max() < 1.02


def bare(seed, kind, **more):
    """A figure without anything worn, upright and unscaled, arms not above the head."""
    recipe = replace(
        draw(seed, kind), worn=(), skull_hidden=False, plate="", pose=-50.0, turn=0.0, scale=1.0,
        offset=(0.0, 0.0, 0.0), metres_per_unit=1.0, floating=0.0, split=False,
    )
    return from_recipe(replace(recipe, **more), seed)


@pytest.mark.parametrize("seed", range(40))
def test_a_bare_figure_ends_at_its_crown_and_sole_and_narrows_at_its_chin(seed):
    built = bare(seed, "shape")
    points = np.concatenate([part.points for part in built.figure.parts])
    head = built.truth["crown"] - built.truth["chin"]
    assert points[:, 2].max() == pytest.approx(built.truth["crown"], abs=1e-9)
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    middle = points[np.abs(points[:, 0]) < 1e-6 * head]
    level = middle[np.abs(middle[:, 2] - built.truth["chin"]) < 1e-9]
    assert np.abs(level[:, 1] - built.chin[1]).min() < 0.01 * head
    below = (middle[:, 2] < built.truth["chin"] - 1e-9) & (middle[:, 2] > built.truth["chin"] - 0.02 * head)
    assert (middle[below, 1] > built.chin[1] - 0.005 * head).all()
    face = middle[(middle[:, 2] > built.truth["chin"] + 0.05 * head) & (middle[:, 2] < built.truth["crown"] - 0.5 * head)]
    assert face[:, 1].min() < built.chin[1]


@pytest.mark.parametrize("kind", ["ears drawn out", "quiff drawn out"])
@pytest.mark.parametrize("seed", range(6))
def test_what_is_drawn_out_of_the_skin_leaves_the_crown(seed, kind):
    built = bare(seed, "shape", worn=((kind, "within", 0.8),), around=32)
    points = np.concatenate([part.points for part in built.figure.parts])
    head = built.truth["crown"] - built.truth["chin"]
    assert np.linalg.norm(points - built.crown, axis=1).min() < 1e-9
    assert points[:, 2].max() > built.truth["crown"] + 0.1 * head


@pytest.mark.parametrize("seed", range(6))
def test_a_hidden_skull_ends_at_the_underside_of_the_hair(seed):
    built = bare(seed, "rigged", worn=(("hair cap", "object", 0.06),), skull_hidden=True)
    head = built.truth["crown"] - built.truth["chin"]
    hair = next(part for part in built.figure.parts if part.name in ("Hair", "髪"))
    rest = np.concatenate([part.points for part in built.figure.parts if part is not hair])
    assert np.linalg.norm(hair.points - built.crown, axis=1).min() < 1e-9
    assert hair.points[:, 2].max() == pytest.approx(built.truth["crown"] + 0.06 * head / (1 - 0.03), rel=0.05)
    assert rest[:, 2].max() < built.truth["crown"] - 0.02 * head


@pytest.mark.parametrize("kind", ["rigged", "shape"])
def test_one_seed_gives_one_figure(kind):
    first, again, other = build_figure(5, kind), build_figure(5, kind), build_figure(6, kind)
    assert first.truth == again.truth and first.recipe == again.recipe
    for left, right in zip(first.figure.parts, again.figure.parts, strict=True):
        assert left.name == right.name
        assert np.array_equal(left.points, right.points)
        assert np.array_equal(left.weights.weight, right.weights.weight)
    assert first.truth != other.truth


@pytest.mark.parametrize("seed", range(8))
def test_turning_scaling_and_moving_leave_the_truth_in_heads(seed):
    still = bare(seed, "rigged")
    moved = bare(seed, "rigged", turn=2.0, scale=37.0, offset=(3.0, -2.0, 1.0), metres_per_unit=0.01)
    assert moved.heads == pytest.approx(still.heads, rel=1e-12)
    for name, height in still.truth.items():
        assert moved.truth[name] == pytest.approx(0.37 * height, rel=1e-9)
    bones = still.figure.armature.by_name
    for bone in moved.figure.armature.bones:
        other = bones[bone.name]
        length = np.linalg.norm(other.tail - other.head)
        assert np.linalg.norm(bone.tail - bone.head) == pytest.approx(37 * length, rel=1e-9)


@pytest.mark.parametrize("kind", ["rigged", "shape"])
def test_a_surface_gives_back_the_measured_points(kind):
    built = from_recipe(replace(draw(3, kind), surfaces=True, scale=0.02), 3)
    assert built.figure.surfaces
    for surface, part in zip(built.figure.surfaces, built.figure.parts, strict=True):
        assert surface.world == pytest.approx(part.points, abs=1e-9)


def test_recipes_bring_every_class_of_feature():
    found = {feature for seed in range(400) for kind in ("rigged", "shape") for feature in draw(seed, kind).features()}
    wanted = {
        "neckless", "short neck", "long neck", "joint bridged", "joint overlapping", "head ball", "head boxy", "muzzle",
        "hair cap, within", "hair cap, named", "hair cap, unnamed bones", "ears up, within", "ears floppy, named",
        "hat tall, unnamed object", "coronet, named", "collar, within", "ears drawn out, within", "beard, named", "headphones, within", "cape, named", "tail, within", "dress, named",
        "feet heel", "feet lifted", "plate unnamed", "floating", "arms raised", "arms T", "skull hidden", "no leg bones",
        "rig japanese", "rig chain", "rig numbered", "weights rigid", "points few", "points many", "split triangles",
    }
    assert not wanted - found


def test_the_report_sees_a_wrong_landmark():
    built = bare(2, "rigged")
    true = trial_of(built)
    head = built.truth["crown"] - built.truth["chin"]
    wrong = trial_of(replace(built, truth=dict(built.truth, chin=built.truth["chin"] - 0.5 * head)))
    assert wrong.heads == pytest.approx(true.heads / 1.5)
    assert wrong.error == pytest.approx(abs(true.measured / wrong.heads - 1))
    assert true.inside and not wrong.inside
    assert true.held["chin"] and not wrong.held["chin"]
    sunk = trial_of(replace(built, sole=built.sole - [0, 0, 0.2]))
    assert true.held["sole"] and not sunk.held["sole"]
    assert sunk.off["sole"] - true.off["sole"] == pytest.approx(0.2 / head)
    assert wrong.off["chin"] == pytest.approx((true.off["chin"] + 0.5) / 1.5)
