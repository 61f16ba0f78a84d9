"""A keeper with one planted vertex; tells what was measured, found and selected."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bmesh
import bpy
import common
import figure

_, PLANTED = figure.build(plant=True)


def look():
    selected = {}
    for item in bpy.context.scene.objects:
        if item.type == "MESH" and item.mode == "EDIT":
            edit = bmesh.from_edit_mesh(item.data)
            selected[item.name] = [v.index for v in edit.verts if v.select]
    results = common.state()
    check = results.check if results else None
    findings = [
        [entry.name, f.code, f.kind, f.elements.tolist(), f.partners.tolist()]
        for entry in (check.objects if check else ()) for f in entry.findings
    ]
    proportion = results.proportion if results else None
    return {
        "planted": PLANTED, "selected": selected, "findings": findings, "checked": bool(check),
        "measured": bool(proportion), "heads": proportion.heads_tall if proportion else None,
        "stale": bool(results and results.stale),
    }


common.begin(look)
