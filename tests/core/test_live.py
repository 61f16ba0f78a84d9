"""A kept pairing held against later places, against the full check. All meshes are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.check import check_figure
from evenfold.core.figure import MirrorModifier, Surface
from evenfold.core.findings import NOTE_CODES, Proportion
from evenfold.core.live import hold, keep, pair_again, stand
from evenfold.core.live_heads import carried_along, carry
from evenfold.core.pairing import State
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.avatars import build_figure
from figures.records import figure_of, surface_of
from figures.shapes import lumpy_ball, mesh_of, split_at_faces
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.finder import ScipyFinder

TOLERANCE = 1e-3
SETTINGS = Settings(tolerance=TOLERANCE, plane="world")


def kept(figure, limits=SETTINGS):
    return keep(figure, limits, Proportion(), ScipyFinder)


def moved(figure, places):
    """The figure with other places of its surfaces."""
    surfaces = [replace(one, positions=at) for one, at in zip(figure.surfaces, places, strict=True)]
    return replace(figure, surfaces=tuple(surfaces))


def places_of(figure):
    return [surface.positions.copy() for surface in figure.surfaces]


def told(objects, *, sides=True):
    """What is said of each object; without sides a pair is the same from either end."""
    found = {}
    for entry in objects:
        found[entry.name] = rows = {"pairs": entry.pairs, "centre": entry.centre}
        for finding in entry.findings:
            # A place that is exactly on the edge of a limit may round either way.
            ends = np.stack([finding.elements, finding.partners], axis=1)
            if not sides and finding.code == "drifted":
                ends = np.sort(ends, axis=1)
            order = np.lexsort(ends.T)
            key = finding.code, finding.partner_object
            rows[key] = ends[order].tolist(), np.round(finding.sizes[order], 12).tolist()
    return found


def shifted(ball, rng, share, most):
    """Places with a share of the vertices moved by up to ``most`` in invented directions."""
    at = ball.copy()
    chosen = np.flatnonzero(rng.random(len(at)) < share)
    by = rng.normal(size=(len(chosen), 3))
    by *= (rng.uniform(0.0, most, len(chosen)) / np.linalg.norm(by, axis=1))[:, None]
    at[chosen] += by
    return at


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.sampled_from([0.0, 0.01, 0.3, 1.0]),
    st.sampled_from([0.5, 3.0, 15.0]),
)
def test_it_says_what_the_full_check_says(seed, share, most):
    """Whoever moved less than a fifth of an edge keeps the partner: then both must agree."""
    rng = np.random.default_rng(seed)
    ball, _ = lumpy_ball(10, 16, seed=seed % 7)
    turn = np.eye(4)
    turn[:3, 3] = 0.0, rng.normal(), rng.normal()
    turn[:3, :3] *= rng.uniform(0.8, 1.25)
    figure = figure_of(surface_of(ball, to_world=turn))
    start = moved(figure, [shifted(ball.points, rng, 0.02, 5.0 * TOLERANCE)])
    known = kept(start)
    now = [shifted(start.surfaces[0].positions, rng, share, most * TOLERANCE)]
    standing = stand(known, now)
    full = check_figure(moved(figure, now), SETTINGS, ScipyFinder)
    assert told(standing.result.objects, sides=False) == told(full.objects, sides=False)
    assert standing.result.tolerance == full.tolerance
    counts = {f.code: f.count for o in full.objects for f in o.findings if f.code not in NOTE_CODES}
    assert dict(standing.counts) == counts
    sizes = [f.worst for o in full.objects for f in o.findings if f.code not in NOTE_CODES]
    assert standing.worst == (pytest.approx(max(sizes)) if sizes else None)


@pytest.mark.parametrize("seed", range(6))
def test_the_side_that_moved_is_known_whichever_it_is(seed):
    """The full check has to guess it from the shape around; here it is remembered."""
    rng = np.random.default_rng(seed)
    ball, truth = lumpy_ball(seed=seed)
    known = kept(figure_of(surface_of(ball)))
    off_plane = np.flatnonzero(truth != np.arange(len(truth)))
    chosen = rng.choice(off_plane, 12, replace=False)
    chosen = np.sort(chosen[np.unique(np.minimum(chosen, truth[chosen]), return_index=True)[1]])
    now = ball.points.copy()
    now[chosen, 2] += rng.uniform(2.0, 900.0, len(chosen)) * TOLERANCE
    (entry,) = stand(known, [now]).result.objects
    (finding,) = entry.findings
    assert (finding.code, finding.elements.tolist()) == ("drifted", chosen.tolist())
    assert finding.partners.tolist() == truth[chosen].tolist()


def test_nothing_moved_gives_the_same_record_and_what_is_put_back_is_forgotten():
    ball, _ = lumpy_ball(seed=1)
    figure = figure_of(surface_of(ball))
    known, start = kept(figure), figure.surfaces[0].positions
    (paired,) = known.sets
    assert hold(paired, known.plane, TOLERANCE, [start.copy()]).paired is paired
    away = start.copy()
    away[3] += 0.2
    held = hold(paired, known.plane, TOLERANCE, [away])
    assert held.moved.tolist() == [3] and not held.anew
    assert set(np.flatnonzero(held.paired.found.state == State.DRIFTED)) >= {3}
    assert not stand(known, [start.copy()]).counts


def test_a_vertex_without_a_partner_that_moves_asks_for_pairing_anew():
    ball, _ = lumpy_ball(seed=2)
    extra = replace(ball, points=np.concatenate([ball.points, [[1.9, 0.2, 0.1]]]))
    figure = figure_of(surface_of(extra))
    known = kept(figure)
    start = figure.surfaces[0].positions
    still = stand(known, [start.copy()])
    assert still.counts == {"unpaired": 1} and not still.anew
    now = start.copy()
    now[-1] = [0.0, 1.9, 0.1]
    assert stand(known, [now]).anew == {figure.surfaces[0].name}
    again = pair_again(known, {0: replace(figure.surfaces[0], positions=now)}, (), ScipyFinder)
    assert stand(again, [now]).counts == {}
    gone = now.copy()
    gone[0] = np.nan
    assert stand(again, [gone]).anew and not stand(again, [now.copy()]).anew


def test_only_what_was_built_differently_is_paired_anew():
    one, other = lumpy_ball(seed=3)[0], lumpy_ball(seed=4)[0]
    figure = figure_of(surface_of(one, name="Cook"), surface_of(other, name="Keeper"))
    known = kept(figure)
    grown = replace(other, points=np.concatenate([other.points, [[1.5, 0.0, 0.0]]]))
    again = pair_again(known, {1: surface_of(grown, name="Keeper")}, (), ScipyFinder)
    assert again.sets[0] is known.sets[0] and again.sets[1] is not known.sets[1]
    assert stand(again, [one.points, grown.points]).counts == {"unpaired": 1}
    with pytest.raises(ValueError, match="Keeper has"):
        stand(known, [one.points, grown.points])


@pytest.mark.parametrize("seed", range(4))
def test_objects_on_either_side_are_held_as_one_set(seed):
    rng = np.random.default_rng(seed)
    ball, _ = lumpy_ball(8, 12, seed=seed)
    left = replace(ball, points=ball.points + np.array([3.0, 0.0, 0.0]))
    right = replace(ball, points=left.points * [-1.0, 1.0, 1.0])
    figure = figure_of(surface_of(left, name="EyeL"), surface_of(right, name="EyeR"))
    known = kept(figure)
    assert len(known.sets) == 1
    now = [shifted(one.positions, rng, 0.1, 4.0 * TOLERANCE) for one in figure.surfaces]
    full = check_figure(moved(figure, now), SETTINGS, ScipyFinder)
    mine = stand(known, now)
    both = [sum(f.count for o in r.objects for f in o.findings if f.code == "drifted") for r in (mine.result, full)]
    assert both[0] == both[1] > 0
    touched = {
        (o.name, *sorted((a, b)))
        for r in (mine.result,) for o in r.objects for f in o.findings if f.code == "drifted"
        for a, b in zip(f.elements.tolist(), f.partners.tolist(), strict=True)
    }
    assert len(touched) == both[0]


def test_vertices_stored_several_times_at_a_place_are_held_place_by_place():
    ball, _ = lumpy_ball(8, 12, seed=5)
    split = split_at_faces(ball)
    split = split[0] if isinstance(split, tuple) else split
    figure = figure_of(surface_of(split))
    known = kept(figure)
    first = int(np.argmax(split.points[:, 0]))
    now = split.points.copy()
    now[(split.points == split.points[first]).all(axis=1), 1] += 0.02
    full = check_figure(moved(figure, [now]), SETTINGS, ScipyFinder)
    assert told(stand(known, [now]).result.objects) == told(full.objects)
    assert stand(known, [now]).counts["drifted"] > 1


def test_half_a_model_is_held_by_its_middle():
    ball, _ = lumpy_ball(12, 16, seed=6, shuffle=False)
    keep_rows = ball.points[:, 0] >= -1e-9
    number = np.cumsum(keep_rows) - 1
    faces = np.split(ball.corners, ball.face_starts[1:-1])
    inside = [number[f] for f in faces if keep_rows[f].all()]
    half = mesh_of(ball.points[keep_rows], [f.tolist() for f in inside])
    mirror = MirrorModifier("Mirror", 0, np.zeros(3), np.array([1.0, 0.0, 0.0]), 0.001)
    figure = figure_of(surface_of(half, mirrors=(mirror,)))
    known = kept(figure)
    assert not known.sets and stand(known, [half.points]).counts == {}
    now = half.points.copy()
    now[int(np.flatnonzero(half.points[:, 0] == 0.0)[4]), 0] += 0.01
    full = check_figure(moved(figure, [now]), SETTINGS, ScipyFinder)
    standing = stand(known, [now])
    assert standing.counts == {"mirror-gap": 1} and not standing.anew
    assert stand(known, [now - np.float32([0.5, 0.0, 0.0])]).anew == {"Body"}
    assert told(standing.result.objects) == told(full.objects)


def test_what_is_excused_is_left_out_also_after_pairing_anew():
    ball, truth = lumpy_ball(seed=7)
    vertex = int(np.flatnonzero(truth != np.arange(len(truth)))[2])
    figure = figure_of(surface_of(ball))
    said = Allowance("a", "selection", "", "a scar", figure.surfaces[0].name, np.array([vertex]))
    known = kept(replace(figure, allowances=(said,)))
    now = ball.points.copy()
    now[vertex, 1] += 0.05
    free = np.flatnonzero((truth != np.arange(len(truth))) & (truth != vertex))
    other = int(free[9])
    assert stand(known, [now]).counts == {}
    now[other, 1] += 0.05
    assert stand(known, [now]).counts == {"drifted": 1}
    assert stand(pair_again(known, {}, (), ScipyFinder), [now]).counts == {"drifted": 2}


@pytest.mark.parametrize("seed", [901, 902, 903])
def test_heads_are_carried_along_as_they_would_be_measured(seed):
    """Everything above the chin raised by a tenth of the head: the carried count is the measured one."""
    figure = build_figure(seed, "rigged").figure
    none = np.zeros(0, np.int64)
    surfaces = tuple(
        Surface(part.name, part.points, none.reshape(0, 2), none, np.zeros(1, np.int64), np.eye(4))
        for part in figure.parts
    )
    figure = replace(figure, surfaces=surfaces)
    before = measure(figure, Settings())
    if before.heads_tall is None:
        pytest.fail("this invented figure is counted")
    carried = carry(figure, before)
    same = carried_along(carried, figure.surfaces)
    assert same.heads_tall == pytest.approx(before.heads_tall, rel=1e-9)
    assert {name: one.height for name, one in same.landmarks.items()} == pytest.approx(
        {name: one.height for name, one in before.landmarks.items()}
    )
    stretch = 1.1
    up = np.asarray(before.up)
    sole = before.landmarks["sole"].point @ up

    def taller(points):
        rise = points @ up - sole
        return points + np.outer((stretch - 1.0) * rise, up)

    surfaces = tuple(
        replace(one, positions=taller(one.world), to_world=np.eye(4)) for one in figure.surfaces
    )
    taller_now = carried_along(carried, surfaces)
    assert taller_now.heads_tall == pytest.approx(before.heads_tall, rel=1e-3)
    for name, one in taller_now.landmarks.items():
        assert one.height == pytest.approx(stretch * before.landmarks[name].height, abs=0.02 * before.height), name
        assert (one.point - before.landmarks["sole"].point) @ up == pytest.approx(
            stretch * (before.landmarks[name].point - before.landmarks["sole"].point) @ up, abs=0.02 * before.height
        )
    chin = before.landmarks["chin"].point @ up

    def longer_head(points):
        return points + np.outer(0.1 * np.maximum(points @ up - chin, 0.0), up)

    surfaces = tuple(
        replace(one, positions=longer_head(one.world), to_world=np.eye(4)) for one in figure.surfaces
    )
    tall, head = before.height, before.head_height
    assert carried_along(carried, surfaces).heads_tall == pytest.approx((tall + 0.1 * head) / (1.1 * head), rel=0.02)


def test_without_a_count_nothing_is_carried():
    ball, _ = lumpy_ball(seed=8)
    assert carry(figure_of(surface_of(ball)), Proportion(refusal="none")) is None
