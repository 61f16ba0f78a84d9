"""How well measuring does on the clay figures: PYTHONPATH=addon:tests python …/evaluate.py"""

import argparse
import tempfile
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings

from figures.clay.negatives import KINDS, negative
from figures.clay.recipes import read_as_rigged, recipe, traits_of
from figures.clay.sculpt import sculpt

NARROW = 0.10


@dataclass(frozen=True)
class Row:
    """One measured figure; errors in heads over the true count, landmarks in true head heights."""

    seed: int
    rigged: bool
    traits: frozenset
    heads: float
    told: float | None = None
    inside: bool = False
    width: float = float("nan")
    off: tuple = (float("nan"),) * 3
    refusal: str = ""
    raised: str = ""

    @property
    def error(self):
        return float("inf") if self.told is None else abs(self.told / self.heads - 1)


def measured(one, made):
    """The Row of a Sculpt made from the recipe ``one``."""
    base = (one.seed, read_as_rigged(one), traits_of(one), made.heads)
    try:
        found = measure(made.figure, Settings())
    except Exception as failure:  # noqa: BLE001 - a failure is a result here, and is counted
        return Row(*base, raised=f"{type(failure).__name__}: {failure}")
    if found.heads_tall is None:
        return Row(*base, refusal=found.refusal or "")
    up = np.array(made.figure.up)
    head = (made.crown - made.chin) @ up
    off = tuple(
        float((np.asarray(found.landmarks[name].point) - true) @ up / head)
        for name, true in (("crown", made.crown), ("chin", made.chin), ("sole", made.sole))
    )
    slack = 1e-6 * made.heads
    return Row(
        *base, found.heads_tall, found.low - slack <= made.heads <= found.high + slack,
        (found.high - found.low) / found.heads_tall, off,
    )


def rows_of(seeds, most=15000, painted=False):
    """Rows of the fair figures among ``seeds`` with at most about ``most`` points, and how many were rejected.

    ``painted`` figures have colours of their own for skin, hair, hats and clothes.
    """
    rows, rejected = [], 0
    for seed in seeds:
        one = recipe(seed)
        one = replace(one, vertices=min(one.vertices, most))
        made = sculpt(one, painted)
        if made.off:
            rejected += 1
        else:
            rows.append(measured(one, made))
    return rows, rejected


def confident(figure):
    """The count of a figure that has none, if told with a narrow range; else None."""
    found = measure(figure, Settings())
    if found.heads_tall is None or (found.high - found.low) / found.heads_tall >= NARROW:
        return None
    return found.heads_tall


def through_files(count, seed):
    """Needs a host: how far the count of some figures moves through each kind of file."""
    from evenfold.host.files import open_input
    from evenfold.host.read import find_figures, read_figure

    from figures.clay.to_host import bpy, put, save

    for suffix in (".blend", ".glb", ".fbx"):
        moved = []
        for number in range(seed, seed + count):
            made = sculpt(replace(recipe(number), up="z", vertices=3000))
            put(made.figure)
            with tempfile.TemporaryDirectory() as folder:
                save(Path(folder) / f"clay{suffix}")
                open_input(Path(folder) / f"clay{suffix}")
            bpy.context.scene.view_layers[0].update()
            sources = find_figures(bpy.context.scene)
            found = [measure(read_figure(source, bpy.context.scene), Settings()).heads_tall for source in sources]
            moved.append((number, measure(made.figure, Settings()).heads_tall, found))
        off = [one for one in moved if len(one[2]) != 1 or not _alike(one[1], one[2][0])]
        print(f"through {suffix}: {count} figures, {len(off)} told another count", off)


def _alike(one, other):
    return one is other if None in (one, other) else abs(one / other - 1) <= 0.005


def line(name, rows):
    """One line of shares; those of errors are of all figures, ranges of those counted."""
    told = [row for row in rows if row.told is not None]
    errors = np.array([row.error for row in rows])
    worst = max((row.error for row in told), default=float("nan"))
    inside = np.mean([row.inside for row in told]) if told else float("nan")
    width = np.median([row.width for row in told]) if told else float("nan")
    return (
        f"{name:24}{len(rows):5}{np.mean(errors <= 0.01):8.0%}{np.mean(errors <= 0.03):8.0%}{worst:9.1%}"
        f"{len(rows) - len(told):9}{inside:9.0%}{width:9.1%}"
    )


def _print_rows(rows):
    print(f"{'':24}{'n':>5}{'<=1%':>8}{'<=3%':>8}{'worst':>9}{'refused':>9}{'inside':>9}{'width':>9}")
    for title, chosen in (("rigged", True), ("shape only", False)):
        own = [row for row in rows if row.rigged is chosen]
        if not own:
            continue
        print(line(title.upper(), own))
        groups = defaultdict(list)
        for row in own:
            for trait in row.traits:
                groups[trait].append(row)
        for trait in sorted(groups):
            print(line("  " + trait, groups[trait]))


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=100)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--worst", type=int, default=0, help="list this many of the worst")
    asked.add_argument("--files", type=int, default=0, help="send this many through real files")
    asked.add_argument("--painted", action="store_true", help="paint the figures")
    given = asked.parse_args()
    rows, rejected = rows_of(range(given.seed, given.seed + given.count), painted=given.painted)
    _print_rows(rows)
    print(f"rejected recipes: {rejected}")
    for row in rows:
        if row.raised:
            print("RAISED", row.raised, "on", ", ".join(sorted(row.traits)))
    for row in sorted(rows, key=lambda one: (one.told is None, -one.error))[: given.worst]:
        told = "refused" if row.told is None else f"{row.told:.2f}"
        print(row.seed, "rigged" if row.rigged else "shape", f"{row.heads:.2f} -> {told}", np.round(row.off, 3), "in" if row.inside else "OUT", f"{row.width:.2f}", ", ".join(sorted(row.traits)), row.refusal[:60])
    tries = max(3, given.count // 25)
    for kind in KINDS:
        found = [confident(negative(kind, given.seed + number)) for number in range(tries)]
        wrong = [one for one in found if one is not None]
        print(f"{kind:24}{tries:5} made, {len(wrong)} with a confident number {[round(one, 2) for one in wrong]}")
    if given.files:
        through_files(given.files, given.seed)


if __name__ == "__main__":
    main()
