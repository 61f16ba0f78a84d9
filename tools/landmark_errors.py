"""How far measured landmarks lie from the constructed ones, over many invented figures.

``--count N --seed S --kind rigged|shape|all --worst K``; seeds run from S. ``--few M`` leaves out
feature classes with fewer than M figures. Needs numpy only, no Blender.
"""

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "addon"), str(ROOT / "tests")]

import numpy as np
from figures.avatars.errors import by_feature, refusals, spread_of, trials, worst_first

HEADER = f"{'':34} figures  <=1 %  <=3 %    worst  refused  inside   range"


def _line(name, spread):
    return (
        f"{name[:34]:34} {spread.count:7d} {spread.one:6.0%} {spread.three:6.0%} {spread.worst:8.1%} "
        f"{spread.refused:8.0%} {spread.inside:7.0%} {spread.width:7.1%}"
    )


def _landmarks(some):
    print("\nlandmark       n   median     95 %    worst   (shares of the head)   truth inside its bracket")
    names = dict.fromkeys(name for trial in some for name in trial.off)
    for name in names:
        off = np.abs([trial.off[name] for trial in some if name in trial.off])
        held = np.mean([trial.held[name] for trial in some if name in trial.held])
        middle, most, worst = np.percentile(off, [50, 95, 100])
        print(f"{name:10} {len(off):5d} {middle:8.2%} {most:8.1%} {worst:8.1%} {held:36.0%}")


def _report(kind, some, few, worst):
    print(f"\n== {kind} ==\n{HEADER}\n{_line('all', spread_of(some))}")
    for sentence, count in refusals(some).items():
        print(f"  refused {count:4d}: {sentence}")
    _landmarks(some)
    print(f"\n{HEADER}")
    for feature, spread in by_feature(some).items():
        if spread.count >= few:
            print(_line(feature, spread))
    for trial in worst_first(some)[:worst]:
        off = ", ".join(f"{name} {value:+.1%}" for name, value in trial.off.items() if name in ("crown", "chin", "sole"))
        print(f"\nseed {trial.seed} {kind}: {trial.measured:.3f} for {trial.heads:.3f} heads, {trial.error:.1%} off; of a head: {off}")
        print(f"  {trial.recipe}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kind", choices=["rigged", "shape", "all"], default="all")
    parser.add_argument("--worst", type=int, default=5)
    parser.add_argument("--few", type=int, default=3)
    chosen = parser.parse_args()
    for kind in ("rigged", "shape") if chosen.kind == "all" else (chosen.kind,):
        _report(kind, trials(kind, range(chosen.seed, chosen.seed + chosen.count)), chosen.few, chosen.worst)
    return 0


if __name__ == "__main__":
    sys.exit(main())
