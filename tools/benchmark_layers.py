"""Time the check of every layer against reading the same figure from Blender, within one run.

Run with a Python that has bpy (the test environment of 5.2):

    python tools/benchmark_layers.py [--levels 3 4 5] [--json FILE]

The figure is Blender's monkey, subdivided, with 60 shape keys, 60 vertex groups of four weights a
vertex, a UV map, a mask and 120 bones: invented loads of the size this is meant for. Wanted: all
layers within 2 x the time of reading, and from the smallest figure to the largest at most 1.2 x
linear. Best of three.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from benchmark import best, monkey
from evenfold.core.check import compare_halves, mirror_plane
from evenfold.core.settings import Settings
from evenfold.core.symmetry import Limits
from evenfold.host.nearest import KDFinder
from evenfold.host.read import find_figures, read_figure

KEYS, GROUPS, BONES, INFLUENCES = 60, 60, 120, 4
TOLERANCE = 2e-4
WITHIN_READING, WITHIN_LINEAR = 2.0, 1.2


def load(levels: int) -> int:
    """Build the figure in the open file; returns its number of vertices."""
    thing, mesh = monkey(levels)
    rng = np.random.default_rng(0)
    count = len(mesh.points)
    fold = np.abs(mesh.points[:, 0])
    add_bones(thing)
    add_weights(thing, fold, mesh.points)
    add_keys(thing, mesh.points, rng)
    layer = thing.data.uv_layers.active or thing.data.uv_layers.new(name="UVMap")
    places = np.stack([mesh.points[mesh.corners, 0], mesh.points[mesh.corners, 2]], axis=1)
    layer.uv.foreach_set("vector", (0.5 + 0.3 * places).astype(np.float32).ravel())
    mask = thing.data.attributes.new("outline", "FLOAT", "POINT")
    mask.data.foreach_set("value", fold.astype(np.float32))
    bpy.context.view_layer.update()
    return count


def add_bones(thing: bpy.types.Object) -> None:
    rig = bpy.data.objects.new("Keeper", bpy.data.armatures.new("Keeper"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    for number in range(BONES // 2):
        for side, name in ((1, "L"), (-1, "R")):
            bone = rig.data.edit_bones.new(f"strand_{number:02d}.{name}")
            bone.head = (side * (0.1 + 0.01 * number), 0.0, 0.02 * number)
            bone.tail = (side * (0.1 + 0.01 * number), 0.1, 0.02 * number + 0.1)
    bpy.ops.object.mode_set(mode="OBJECT")
    thing.modifiers.new("Armature", "ARMATURE").object = rig
    thing.parent = rig


def add_weights(thing: bpy.types.Object, fold: np.ndarray, points: np.ndarray) -> None:
    """Four groups a vertex, mirrored: which ones depends on height, left and right on the side."""
    half = GROUPS // 2
    for number in range(half):
        for name in ("L", "R"):
            thing.vertex_groups.new(name=f"strand_{number:02d}.{name}")
    band = np.clip(((points[:, 2] + 1.0) / 2.0 * (half - INFLUENCES)).astype(int), 0, half - INFLUENCES)
    side = (points[:, 0] < 0.0).astype(int)
    for step in range(INFLUENCES):
        for name in (0, 1):
            for number in np.unique(band):
                chosen = np.flatnonzero((band == number) & ((side == name) | (fold < 1e-6)))
                if len(chosen):
                    group = thing.vertex_groups[2 * int(number + step) + name]
                    group.add(chosen.tolist(), 0.1 * (step + 1), "REPLACE")


def add_keys(thing: bpy.types.Object, points: np.ndarray, rng: np.random.Generator) -> None:
    thing.shape_key_add(name="Basis")
    for number in range(KEYS // 2):
        push = rng.normal(size=3) * 0.05
        near = np.exp(-10.0 * (points[:, 2:] - rng.uniform(-1, 1)) ** 2)
        for side, name in ((1.0, "Left"), (-1.0, "Right")):
            own = np.clip(side * points[:, :1] / 0.2, 0.0, 1.0)
            moved = points + own * near * push * [side, 1.0, 1.0]
            key = thing.shape_key_add(name=f"strand{number:02d}{name}")
            key.points.foreach_set("co", moved.astype(np.float32).ravel())


def measure(levels: int) -> dict[str, Any]:
    count = load(levels)
    scene = bpy.context.scene
    (source,) = find_figures(scene)
    figure = read_figure(source, scene, layers=True)
    settings = Settings(tolerance=TOLERANCE)
    limits = Limits(TOLERANCE, 1.0, mirror_plane(figure, settings, TOLERANCE, KDFinder), settings)
    reading = best(lambda: read_figure(source, scene, layers=True))
    checking = best(lambda: compare_halves(figure, limits, KDFinder))
    objects, *_ = compare_halves(figure, limits, KDFinder)
    found = sum(finding.count for entry in objects for finding in entry.findings)
    return {
        "vertices": count,
        "reading_ms": round(1000.0 * reading, 1),
        "checking_ms": round(1000.0 * checking, 1),
        "ratio": round(checking / reading, 2),
        "findings": found,
        "met": checking <= WITHIN_READING * reading,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description="Time every layer against reading it.")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--levels", type=int, nargs="+", default=[3, 4, 5])
    options = parser.parse_args()
    rows = [measure(levels) for levels in options.levels]
    for row in rows:
        print(
            f"{row['vertices']:>9} vertices: reading {row['reading_ms']:>8} ms, all layers "
            f"{row['checking_ms']:>8} ms, {row['ratio']} x, {row['findings']} findings: "
            f"{'met' if row['met'] else 'missed'}"
        )
    first, last = rows[0], rows[-1]
    growth = last["checking_ms"] / first["checking_ms"] / (last["vertices"] / first["vertices"])
    print(f"growth {growth:.2f} x linear: {'met' if growth <= WITHIN_LINEAR else 'missed'}")
    if options.json:
        text = json.dumps({"host": bpy.app.version_string, "rows": rows, "growth": growth}, indent=1)
        options.json.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent))
    main()
