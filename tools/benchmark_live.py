"""Time keeping a figure current, as ratios within one run.

Run with a Python that has bpy and pykdtree (the test environment of 5.2):

    python tools/benchmark_live.py [--json FILE] [--rounds 200]

Two things are timed on Blender's monkey, subdivided. Re-checking a known pairing after a share of the
vertices moved, from local single precision positions to states, against pykdtree's tree and one
query of the mirrored points. And the update of a vertex drag in edit mode, simulated without a
window: one vertex of the edit mesh is moved, then bmesh.update_edit_mesh and view_layer.update, as
the host does at every mouse move; drawing, which costs the most in a window, is not in it, so the
share shown is higher than what an artist has. Rounds with the switch on and off take turns; compared
is what the quickest tenth of either stays below, since a busy machine only ever adds. Beside it
stand what the handler alone takes, by its own clock, and what the turn in a pause costs.
"""

import argparse
import json
import statistics
import sys
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

# isort: off
import bpy
import bmesh  # exists only once bpy is there

# isort: on
import numpy as np
from benchmark import best, monkey
from pykdtree.kdtree import KDTree

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "addon"))

import evenfold
from evenfold.core.figure import Figure, Surface
from evenfold.core.findings import Proportion
from evenfold.core.live import Kept, hold, keep, stand
from evenfold.core.settings import Settings
from evenfold.host.nearest import KDFinder
from evenfold.ui import live
from evenfold.ui.live import watch

TOLERANCE = 2e-4
WANTED_CHECK, WANTED_DRAG = 0.35, 0.10
CASES = (("one vertex", 0.0), ("1 %", 0.01), ("10 %", 0.1), ("all", 1.0))


def _kept(levels: int) -> tuple[Kept, Any]:
    _, mesh = monkey(levels)
    places = mesh.points.astype(np.float32)
    surface = Surface(
        "Monkey", places, mesh.edges, mesh.corners, mesh.face_starts, np.eye(4)
    )
    figure = Figure("Monkey", (surface,), ())
    return keep(figure, Settings(tolerance=TOLERANCE), Proportion(), KDFinder), mesh


def recheck(levels: int) -> list[dict[str, Any]]:
    """One row for each share of moved vertices."""
    kept, mesh = _kept(levels)
    start = kept.figure.surfaces[0].positions
    image = mesh.points * [-1.0, 1.0, 1.0]
    rng = np.random.default_rng(0)
    rows = []
    for name, share in CASES:
        chosen = rng.random(len(start)) < share
        chosen[7] = True
        now = start.copy()
        now[chosen] += rng.normal(scale=1e-3, size=(int(chosen.sum()), 3)).astype(np.float32)
        places = [now]
        held, whole, peer = np.inf, np.inf, np.inf
        for _ in range(5):
            peer = min(peer, best(lambda: KDTree(mesh.points).query(image)))
            held = min(
                held, best(lambda places=places: hold(kept.sets[0], kept.plane, kept.tolerance, places))
            )
            whole = min(whole, best(lambda places=places: stand(kept, places)))
        rows.append(
            {
                "vertices": len(start), "moved": name, "pykdtree_ms": round(1000.0 * peer, 2),
                "recheck_ms": round(1000.0 * held, 2), "ratio": round(held / peer, 3),
                "with_findings_ms": round(1000.0 * whole, 2),
                "ratio_with_findings": round(whole / peer, 3), "met": held <= WANTED_CHECK * peer,
            }
        )
    return rows


def _frame(thing: bpy.types.Object, number: int) -> float:
    """Seconds of one update of a drag: the vertex moved, the edit mesh and the scene updated."""
    edit = bmesh.from_edit_mesh(thing.data)
    edit.verts.ensure_lookup_table()
    start = time.perf_counter()
    edit.verts[number].co.x += 1e-4
    bmesh.update_edit_mesh(thing.data, loop_triangles=True, destructive=False)
    bpy.context.view_layer.update()
    return time.perf_counter() - start


def drag(rounds: int) -> dict[str, Any]:
    """A drag with and without the switch, and what the turn in a pause costs."""
    thing, _ = monkey(3)
    evenfold.register()
    scene = bpy.context.scene
    bpy.ops.object.mode_set(mode="EDIT")
    times: dict[bool, list[float]] = {False: [], True: []}
    pauses: list[float] = []
    for number in range(rounds):
        for on in (False, True) if number % 2 else (True, False):
            if on != (live.session_of(scene) is not None):
                _switch(scene, thing, on=on)
            times[on].append(_frame(thing, 7))
        if live.session_of(scene) is not None and number % 10 == 1:
            begun = time.perf_counter()
            live.turn(scene, 0.5)
            pauses.append(time.perf_counter() - begun)
    if live.session_of(scene) is None:
        _switch(scene, thing, on=True)
    graph = bpy.context.evaluated_depsgraph_get()
    handler = best(lambda: watch.after_change(scene, _Updates(thing, graph)), 50)
    live.stop()
    bpy.ops.object.mode_set(mode="OBJECT")
    evenfold.unregister()
    off, on_time = (statistics.quantiles(times[on], n=10)[0] for on in (False, True))
    return {
        "vertices": len(thing.data.vertices), "off_ms": round(1000.0 * off, 3),
        "on_ms": round(1000.0 * on_time, 3), "added": round(on_time / off - 1.0, 4),
        "handler_ms": round(1000.0 * handler, 4), "pause_ms": round(1000.0 * statistics.median(pauses), 2),
        "met": on_time <= (1.0 + WANTED_DRAG) * off,
    }


class _Updates:
    """What the host hands to the handler after a drag's update: the object and its mesh changed."""

    def __init__(self, thing: bpy.types.Object, graph: bpy.types.Depsgraph) -> None:
        ids = (thing.evaluated_get(graph), thing.data.evaluated_get(graph))
        self.updates = [
            SimpleNamespace(id=one, is_updated_geometry=True, is_updated_transform=False) for one in ids
        ]


_session: list[Any] = []


def _switch(scene: bpy.types.Scene, thing: bpy.types.Object, *, on: bool) -> None:
    """Handlers as the switch adds and removes them; the figure itself is read only once."""
    if not on:
        _session.append(live.session_of(scene))
        live.switch_off(scene)
        return
    if not _session:
        from evenfold.host.read import FigureSource

        live.switch_on(scene, FigureSource(thing.name, (thing.name,)))
        return
    watch.resume(scene, _session.pop())


def main() -> None:
    parser = argparse.ArgumentParser(description="Time keeping a figure current.")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--rounds", type=int, default=200)
    options = parser.parse_args()
    rows = [row for levels in (3, 4) for row in recheck(levels)]
    for row in rows:
        print(
            f"{row['vertices']:>8} vertices, {row['moved']:<10} moved: re-check {row['recheck_ms']:>7} ms, "
            f"{row['ratio']:>6} x pykdtree ({WANTED_CHECK} wanted: {'met' if row['met'] else 'missed'}); "
            f"with its findings {row['ratio_with_findings']} x"
        )
    found = drag(options.rounds)
    print(
        f"{found['vertices']:>8} vertices, drag: {found['off_ms']} ms off, {found['on_ms']} ms on, "
        f"{found['added']:+.1%} ({WANTED_DRAG:.0%} wanted: {'met' if found['met'] else 'missed'}); "
        f"the handler {found['handler_ms']} ms, a pause {found['pause_ms']} ms"
    )
    if options.json:
        told = {"host": bpy.app.version_string, "recheck": rows, "drag": found}
        options.json.write_text(json.dumps(told, indent=1))


if __name__ == "__main__":
    main()
