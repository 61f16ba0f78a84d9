"""Time pairing against named peers, as ratios within one run.

Run with a Python that has bpy, scipy and pykdtree (the test environment of 5.2):

    python tools/benchmark.py [--json FILE] [--levels 3 4 5]

The mesh is Blender's monkey, subdivided. Each figure is the best of three. Peers: pykdtree and
scipy's cKDTree (tree and one query of the mirrored points), and the host's own operators
symmetry_snap and select_mirror on the same mesh in edit mode.
"""

import argparse
import json
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from pykdtree.kdtree import KDTree
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "addon"))

from evenfold.core.pairing import Mesh, pair_points
from evenfold.host.nearest import KDFinder

TOLERANCE = 2e-4
TARGETS = {"clean": ("pykdtree", 0.7), "1 % moved": ("pykdtree", 1.5), "all moved": ("scipy", 4.0)}


def monkey(levels: int) -> tuple[bpy.types.Object, Mesh]:
    """The host's monkey, subdivided ``levels`` times, as object and as Mesh."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.mesh.primitive_monkey_add()
    thing = bpy.context.object
    modifier = thing.modifiers.new("Subdivision", "SUBSURF")
    modifier.levels = levels
    bpy.ops.object.modifier_apply(modifier=modifier.name)
    data = thing.data
    points = np.empty(len(data.vertices) * 3, np.float32)
    data.attributes["position"].data.foreach_get("vector", points)
    edges = np.empty(len(data.edges) * 2, np.int32)
    data.edges.foreach_get("vertices", edges)
    corners = np.empty(len(data.loops), np.int32)
    data.loops.foreach_get("vertex_index", corners)
    starts = np.empty(len(data.polygons), np.int32)
    data.polygons.foreach_get("loop_start", starts)
    mesh = Mesh(
        points.reshape(-1, 3).astype(float),
        edges.reshape(-1, 2).astype(np.int64),
        corners.astype(np.int64),
        np.append(starts, len(corners)).astype(np.int64),
    )
    return thing, mesh


def best(work: Callable[[], object], rounds: int = 3) -> float:
    """Seconds of the quickest of some rounds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def moved(mesh: Mesh, share: float) -> Mesh:
    """The mesh with a share of its vertices moved by three tolerances in invented directions."""
    rng = np.random.default_rng(0)
    shift = rng.normal(size=mesh.points.shape)
    shift *= 3.0 * TOLERANCE / np.linalg.norm(shift, axis=1)[:, None]
    shift[rng.random(len(shift)) >= share] = 0.0
    return replace(mesh, points=mesh.points + shift)


def host_operators(thing: bpy.types.Object) -> dict[str, float]:
    bpy.context.view_layer.objects.active = thing
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    times = {
        "host symmetry_snap": best(bpy.ops.mesh.symmetry_snap),
        "host select_mirror": best(bpy.ops.mesh.select_mirror),
    }
    bpy.ops.object.mode_set(mode="OBJECT")
    return times


def peak_share(mesh: Mesh) -> float:
    """Peak memory of one pairing as a multiple of the positions' own size."""
    tracemalloc.start()
    pair_points(mesh, TOLERANCE, KDFinder)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / mesh.points.nbytes


def measure(levels: int) -> list[dict[str, Any]]:
    """One row for each case at this size."""
    thing, clean = monkey(levels)
    host = host_operators(thing)
    rows: list[dict[str, Any]] = []
    for case, share in (("clean", 0.0), ("1 % moved", 0.01), ("all moved", 1.0)):
        mesh = moved(clean, share)
        image = mesh.points * [-1.0, 1.0, 1.0]
        times = {
            "evenfold": best(lambda mesh=mesh: pair_points(mesh, TOLERANCE, KDFinder)),
            "pykdtree": best(lambda mesh=mesh, image=image: KDTree(mesh.points).query(image)),
            "scipy": best(lambda mesh=mesh, image=image: cKDTree(mesh.points).query(image)),
            **host,
        }
        peer, limit = TARGETS[case]
        rows.append(
            {
                "vertices": len(mesh.points),
                "case": case,
                "milliseconds": {name: round(1000.0 * value, 2) for name, value in times.items()},
                "ratio": {
                    name: round(times["evenfold"] / value, 3) for name, value in times.items()
                },
                "peak_memory": round(peak_share(mesh), 1),
                "target": f"{limit} x {peer}",
                "met": times["evenfold"] <= limit * times[peer],
            }
        )
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description="Time pairing against its peers.")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--levels", type=int, nargs="+", default=[3, 4, 5])
    options = parser.parse_args()
    rows = [row for levels in options.levels for row in measure(levels)]
    print(
        f"{'vertices':>9}  {'case':<10} {'ms':>8}  {'x pykdtree':>10} {'x scipy':>8} {'x snap':>7} {'memory':>7}  target"
    )
    for row in rows:
        ratio = row["ratio"]
        print(
            f"{row['vertices']:>9}  {row['case']:<10} {row['milliseconds']['evenfold']:>8}  "
            f"{ratio['pykdtree']:>10} {ratio['scipy']:>8} {ratio['host symmetry_snap']:>7} "
            f"{row['peak_memory']:>6}x  {row['target']}: {'met' if row['met'] else 'missed'}"
        )
    if options.json:
        options.json.write_text(
            json.dumps({"host": bpy.app.version_string, "rows": rows}, indent=1)
        )


if __name__ == "__main__":
    main()
