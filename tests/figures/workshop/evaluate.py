"""Builds seeds in Blender, reads and measures each, and prints how far measuring lies off.

    python tests/figures/workshop/evaluate.py --first 0 --count 120 [--pictures FOLDER]

Seeds 0 to 999 are for development. Of 5000 to 5999 only the overall tables are shown, so that nobody
tunes to one of these figures. Boolean unions make up most of the time (about two minutes for 120).
"""

import argparse
import contextlib
import os
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
sys.path[:0] = [str(ROOT / "addon"), str(ROOT / "tests")]

import bpy  # noqa: E402
import numpy as np  # noqa: E402
from evenfold.core.findings import Proportion  # noqa: E402
from evenfold.core.proportion import measure  # noqa: E402
from evenfold.core.settings import Settings  # noqa: E402
from evenfold.host.read import find_figures, read_figure  # noqa: E402

from figures.workshop.build import Made, build  # noqa: E402
from figures.workshop.picture import portrait, write_png  # noqa: E402
from figures.workshop.recipe import NEGATIVES, Recipe, draw, draw_negative  # noqa: E402

HELD_BACK = range(5000, 6000)
WIDE = 0.1
"""A range wider than this share of its count says that there is nothing certain to count."""


@dataclass(frozen=True)
class Outcome:
    """``off`` is (found - true) / true; ``errors`` signed landmark errors in head heights."""

    made: Made
    found: Proportion
    off: float | None
    errors: tuple[tuple[str, float], ...]

    @property
    def inside(self) -> bool:
        if self.found.low is None or self.found.high is None or self.made.truth is None:
            return False
        return self.found.low - 1e-6 <= self.made.truth.heads <= self.found.high + 1e-6

    @property
    def width(self) -> float:
        if self.found.heads_tall is None or self.found.low is None or self.found.high is None:
            return float("nan")
        return (self.found.high - self.found.low) / self.found.heads_tall


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Blender's own messages go nowhere."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        sys.stdout.flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def measured(made: Made) -> Proportion:
    """What measuring says of the figure in the open scene that holds the body."""
    scene = bpy.context.scene
    scene.view_layers[0].update()
    sources = [one for one in find_figures(scene) if made.main in one.mesh_names]
    if not sources:
        return Proportion(refusal="no figure was found that holds the body")
    return measure(read_figure(sources[0], scene), Settings())


def outcome(made: Made) -> Outcome:
    found = measured(made)
    truth = made.truth
    if truth is None or found.heads_tall is None:
        return Outcome(made, found, None, ())
    errors = tuple(
        (name, float((np.asarray(found.landmarks[name].point) - getattr(truth, name)) @ truth.up) / truth.head)
        for name in ("crown", "chin", "sole") if name in found.landmarks
    )
    return Outcome(made, found, found.heads_tall / truth.heads - 1, errors)


def row(name: str, rows: list[Outcome]) -> str:
    offs = np.abs([one.off for one in rows if one.off is not None])
    widths = [one.width for one in rows if one.off is not None]
    if not offs.size:
        return f"{name:32} {len(rows):4}   {'all refused' if rows else 'none'}"
    return (
        f"{name:32} {len(rows):4} {100 * (offs <= 0.01).sum() / len(rows):5.0f}% {100 * (offs <= 0.03).sum() / len(rows):5.0f}%"
        f" {100 * offs.max():6.1f}% {len(rows) - offs.size:4} {100 * sum(one.inside for one in rows) / len(rows):5.0f}%"
        f" {100 * float(np.median(widths)):6.1f}%"
    )


HEADING = f"{'':32} {'n':>4} {'<=1%':>6} {'<=3%':>6} {'worst':>7} {'ref.':>4} {'inside':>6} {'width':>7}"


def tables(outcomes: list[Outcome], by_trait: bool) -> Iterator[str]:
    yield "shares are of all n, refused ones counted as neither within nor inside; width is the median of counted ones"
    yield HEADING
    yield row("all", outcomes)
    yield row("rigged and weighted", [one for one in outcomes if one.made.recipe.rigged])
    yield row("shape alone", [one for one in outcomes if not one.made.recipe.rigged])
    if not by_trait:
        return
    groups: dict[tuple[str, str], list[Outcome]] = {}
    for one in outcomes:
        for trait in (*one.made.recipe.traits, ("weights got", one.made.weights)):
            groups.setdefault(trait, []).append(one)
    for (trait, value), rows in sorted(groups.items()):
        yield row(f"{trait}: {value}", rows)


def ranked(outcomes: list[Outcome]) -> list[Outcome]:
    """Refused ones first, then the worst."""
    return sorted(outcomes, key=lambda one: -9 if one.off is None else -abs(one.off))


def draw_pictures(outcomes: list[Outcome], folder: Path) -> None:
    """Builds figures again and draws them at rest, truth in green, what was measured in red."""
    folder.mkdir(parents=True, exist_ok=True)
    for one in outcomes:
        recipe = one.made.recipe
        with quiet():
            made = build(recipe)
        assert made.truth is not None
        for armature in bpy.data.armatures:
            armature.pose_position = "REST"
        places = {name: landmark.point for name, landmark in one.found.landmarks.items()}
        for close in (False, True):
            image = portrait(made.truth, recipe.facing, places, close)
            write_png(image, folder / f"{recipe.seed}{'-head' if close else ''}.png")


def worst(outcomes: list[Outcome], count: int) -> Iterator[str]:
    for one in ranked(outcomes)[:count]:
        recipe, truth = one.made.recipe, one.made.truth
        assert truth is not None
        said = one.found.refusal if one.off is None else (
            f"{one.found.heads_tall:.2f} ({one.found.low:.2f}-{one.found.high:.2f}) {100 * one.off:+.1f}% "
            + " ".join(f"{name} {error:+.3f}" for name, error in one.errors)
        )
        words = " ".join(f"{value}" for _, value in recipe.traits)
        yield f"seed {recipe.seed}: true {truth.heads:.2f}, found {said} [{words}; {one.made.weights}]"


def negatives_table(outcomes: list[Outcome]) -> Iterator[str]:
    yield f"{'nothing to count':32} {'n':>4} {'ref.':>5} {'wide':>5} {'counted':>8}"
    for kind in NEGATIVES:
        rows = [one for one in outcomes if one.made.recipe.kind == kind]
        refused = sum(one.found.heads_tall is None for one in rows)
        wide = sum(one.width > WIDE for one in rows)
        bad = [one.made.recipe.seed for one in rows if one.found.heads_tall is not None and one.width <= WIDE]
        yield f"{kind:32} {len(rows):4} {refused:5} {wide:5} {len(bad):8}  {bad or ''}"


def run(recipes: Iterable[Recipe], tell: bool) -> tuple[list[Outcome], list[Outcome], list[Made]]:
    counted, nothing, spoilt = [], [], []
    for recipe in recipes:
        started = time.perf_counter()
        with quiet():
            made = build(recipe)
        if made.spoilt:
            spoilt.append(made)
            continue
        with quiet():
            one = outcome(made)
        (counted if made.truth is not None else nothing).append(one)
        if tell:
            print(f"{recipe.seed} {time.perf_counter() - started:.1f} s {made.recipe.style} {one.off}", file=sys.stderr)
    return counted, nothing, spoilt


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=120)
    parser.add_argument("--negatives", type=int, default=0, help="build so many more that have nothing to count")
    parser.add_argument("--worst", type=int, default=12, help="how many figures to list")
    parser.add_argument("--tables", action="store_true", help="overall tables only, no traits and no figures")
    parser.add_argument("--pictures", type=Path, help="folder for pictures of the figures listed")
    parser.add_argument("--tell", action="store_true")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.count)
    plain = options.tables or any(seed in HELD_BACK for seed in seeds)
    recipes = [draw(seed) for seed in seeds]
    recipes += [draw_negative(seed) for seed in range(options.first, options.first + options.negatives)]
    counted, nothing, spoilt = run(recipes, options.tell)
    print(f"seeds {options.first} to {options.first + options.count - 1}: {len(counted)} figures, {len(nothing)} negatives, "
          f"{len(spoilt)} recipes spoilt")
    for reason in sorted({made.spoilt for made in spoilt}):
        print(f"  spoilt: {reason}: {sum(made.spoilt == reason for made in spoilt)}")
    for line in tables(counted, not plain):
        print(line)
    for line in [] if plain else worst(counted, options.worst):
        print(line)
    for line in negatives_table(nothing):
        print(line.split("[")[0] if plain else line)
    if options.pictures and not plain:
        draw_pictures(ranked(counted)[: options.worst], options.pictures)


if __name__ == "__main__":
    main()
    sys.stdout.flush()
    os._exit(0)
