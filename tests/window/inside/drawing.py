"""A keeper and a drawing of it painted here, its landmarks in colours of their own. Invented."""

import math
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import numpy as np
from common import ADDON, OUT, asked
from mathutils import Euler, Vector

WIDE, TALL = 480, 640
PAPER, COAT, SKIN, LINE = (0.93, 0.89, 0.80), (0.25, 0.33, 0.47), (0.90, 0.72, 0.60), (0.1, 0.1, 0.12)
SHARES = {"crown": (0.5, 0.92), "chin": (0.5, 0.50), "sole": (0.4, 0.08)}
"""Two heads tall: 0.84 of the picture, and 0.42 for the head."""
SPOTS = {"crown": (1.0, 0.0, 1.0), "chin": (0.0, 1.0, 1.0), "sole": (1.0, 1.0, 0.0)}
SPOT = 4
STRENGTH = sys.modules[f"{ADDON}.host.drawing"].STRENGTH
VIEWS = {"front": (math.pi / 2, 0.0, 0.0), "slanted": (1.35, 0.0, 0.45)}
FILE = OUT / "keeper sheet.png"


def paint():
    """A large round head on a small coat, and a square spot at each landmark."""
    down, across = np.mgrid[0:TALL, 0:WIDE]
    up, right = (down + 0.5) / TALL, (across + 0.5) / WIDE
    page = np.ones((TALL, WIDE, 4))
    page[..., :3] = PAPER
    coat = (up > 0.08) & (up < 0.52) & (np.abs(right - 0.5) < 0.22 - 0.22 * (up - 0.08))
    coat &= (up > 0.2) | (np.abs(right - 0.5) > 0.02)
    head = ((right - 0.5) / 0.27) ** 2 + ((up - 0.71) / 0.21) ** 2
    page[coat, :3] = COAT
    page[head < 1.0, :3] = LINE
    page[head < 0.95, :3] = SKIN
    for side in (-0.11, 0.11):
        page[((right - 0.5 - side) / 0.04) ** 2 + ((up - 0.66) / 0.05) ** 2 < 1, :3] = LINE
    for name, (x, y) in SHARES.items():
        row, column = round(y * TALL), round(x * WIDE)
        page[row - SPOT : row + SPOT, column - SPOT : column + SPOT, :3] = SPOTS[name]
    made = bpy.data.images.new("painted", WIDE, TALL)
    made.pixels.foreach_set(page.astype(np.float32).ravel())
    made.filepath_raw, made.file_format = str(FILE), "PNG"
    made.save()
    bpy.data.images.remove(made)


@asked
def look_from(name, distance=2.6, height=0.5, perspective="ORTHO"):
    region = common.view_area().spaces.active.region_3d
    region.view_perspective = perspective
    region.view_rotation = Euler(VIEWS[name]).to_quaternion()
    region.view_location, region.view_distance = Vector((0.0, 0.0, height)), distance
    common.view_area().tag_redraw()


@asked
def load():
    """What the file browser would do once the file is chosen."""
    with bpy.context.temp_override(window=common.the_window(), area=common.view_area()):
        bpy.ops.evenfold.load_drawing("EXEC_DEFAULT", True, filepath=str(FILE))


@asked
def opaque(on):
    """Show the picture without the model through it, so that its spots have their own colours."""
    bpy.context.scene.evenfold_drawing.item.color[3] = 1.0 if on else STRENGTH
    bpy.context.scene.evenfold_drawing.show = not on


@asked
def aside(x):
    item = bpy.context.scene.evenfold_drawing.item
    item.location.x = x
    bpy.ops.ed.undo_push(message="Put aside")


@asked
def expected():
    """Where on the screen (from the lower left) each landmark of the picture should be seen."""
    from bpy_extras.view3d_utils import location_3d_to_region_2d

    host = sys.modules[f"{ADDON}.host.drawing"]
    picture = host.picture_of(bpy.context.scene.evenfold_drawing.item)
    area = common.view_area()
    region = common.region_of(area, "WINDOW")
    places = {}
    for name, share in SHARES.items():
        place = location_3d_to_region_2d(region, area.spaces.active.region_3d, picture.points(share)[0])
        places[name] = [place.x + region.x, place.y + region.y]
    return places


def look():
    chosen = bpy.context.scene.evenfold_drawing
    host = sys.modules[f"{ADDON}.host.drawing"]
    results, item = common.state(), chosen.item
    marks = {} if item is None else {n: list(p) for n, p in host.marks_on(item).items()}
    heights = {}
    if marks:
        picture = host.picture_of(item)
        heights = {name: float(picture.points(share)[0][2]) for name, share in marks.items()}
    found = results.proportion if results else None
    return {
        "measured": bool(found), "heads": found.heads_tall if found else None,
        "model": {n: float(m.point[2]) for n, m in found.landmarks.items()} if found else {},
        "marks": marks, "heights": heights, "next": chosen.landmark, "known": SHARES,
        "item": item.name if item else "", "stale": bool(results and results.stale),
        "busy": [one.bl_idname for one in common.the_window().modal_operators],
    }


def open_panel():
    """Register the panel again, open and on top: nothing in Blender's data opens a closed panel."""
    panel = bpy.types.EVENFOLD_PT_drawing
    bpy.utils.unregister_class(panel)
    panel.bl_options, panel.bl_order = set(), -1
    bpy.utils.register_class(panel)


paint()
figure.build("keeper")
open_panel()
common.begin(look)
