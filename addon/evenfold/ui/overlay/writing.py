"""Labels and legends in the pixels of a region."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import bpy
import numpy as np

from ...core.labels import Room, place_labels
from ...core.marks import PATTERNS
from ..language import tr
from . import palette
from .records import Colour, Label, Legend, patterned

PLATE: Colour = (0.05, 0.05, 0.07, 0.72)
RIM: Colour = (1.0, 1.0, 1.0, 0.45)
"""Around a square of the legend, so that dark ones stand out from the plate too."""
SHADOW: Colour = (0.0, 0.0, 0.0, 1.0)
LEGEND_PLATE: Colour = (0.05, 0.05, 0.07, 1.0)
"""Labels that reach under a legend do not show through it."""
LEGEND_TEXT: Colour = (0.95, 0.95, 0.95, 1.0)
FONT = 0
NAVIGATION = (44.0, 260.0)
"""Width and height of the view buttons at the upper right, in pixels at scale 1 (seen in 5.2)."""


def free_room(area: bpy.types.Area, region: bpy.types.Region, inset: float) -> Room:
    """The part of a region that no sidebar, toolbar or header lies over."""
    left, bottom, right, top = 0.0, 0.0, float(region.width), float(region.height)
    for other in area.regions:
        if other.type == "WINDOW" or other.width <= 1 or other.height <= 1:
            continue
        x, y = other.x - region.x, other.y - region.y
        if other.alignment == "RIGHT" and 0 < x < right:
            right = float(x)
        elif other.alignment == "LEFT" and left < x + other.width < region.width:
            left = float(x + other.width)
        elif other.alignment == "TOP" and 0 < y < top:
            top = float(y)
        elif other.alignment == "BOTTOM" and bottom < y + other.height < region.height:
            bottom = float(y + other.height)
    return Room(left + inset, bottom + inset, right - inset, top - inset)


def write_labels(context: bpy.types.Context, labels: tuple[Label, ...], scale: float) -> None:
    """Every label at the end of its line, pushed apart, none cut off."""
    import blf

    if not labels:
        return
    room = free_room(context.area, context.region, 6.0 * scale)
    blf.size(FONT, palette.current().label_size * scale)
    pad = 4.0 * scale
    height = _extent("Hg")[1] + 2 * pad
    sizes = np.array([(_extent(one.text)[0] + 2 * pad, height) for one in labels])
    anchors, rightward = _projected(context, labels)
    off = np.array([one.off for one in labels]) * scale
    anchors[:, 0] += np.where(rightward, off, -off)
    room = _beside_buttons(context, room, anchors, scale)
    priority = np.array([one.priority for one in labels])
    corners = place_labels(anchors, sizes, rightward, priority, room, 3.0 * scale)
    shown = np.flatnonzero(np.isfinite(corners).all(axis=1))
    _leaders(labels, shown, anchors, corners, sizes, scale)
    for index in shown:
        _plate(corners[index], sizes[index])
        _text(labels[index].text, corners[index] + pad, labels[index].colour)


def _beside_buttons(context: bpy.types.Context, room: Room, anchors: Any, scale: float) -> Room:
    """The room without the column of view buttons, where a line is as high up as they are."""
    space = context.space_data
    high = anchors[:, 1][np.isfinite(anchors[:, 1])] > room.top - NAVIGATION[1] * scale
    if space.show_gizmo and space.show_gizmo_navigate and high.any():
        return replace(room, right=room.right - NAVIGATION[0] * scale)
    return room


def _extent(text: str) -> tuple[float, float]:
    """Width and height of a text in pixels, at the size set last."""
    import blf

    found: Any = blf.dimensions(FONT, tr(text))
    return float(found[0]), float(found[1])


def _projected(context: bpy.types.Context, labels: tuple[Label, ...]) -> tuple[Any, Any]:
    """(n, 2) pixels of the anchors, NaN behind the viewer, and whether outward is rightward."""
    matrix = np.array(context.region_data.perspective_matrix)
    size = np.array((context.region.width, context.region.height), float)
    start = np.array([one.anchor for one in labels], float)
    reach = np.abs(matrix[3, :3]).max()
    step = 1e-3 * max(float(np.ptp(start)), 1e-6) if len(start) > 1 else 1e-3
    end = start + np.array([one.outward for one in labels], float) * step
    pixels = []
    for points in (start, end):
        flat = np.c_[points, np.ones(len(points))] @ matrix.T
        depth = flat[:, 3]
        depth = np.where(depth > 1e-6, depth, np.nan if reach > 0 else 1.0)
        pixels.append((flat[:, :2] / depth[:, None] + 1.0) / 2.0 * size)
    return pixels[0], pixels[1][:, 0] >= pixels[0][:, 0]


def _leaders(
    labels: tuple[Label, ...], shown: Any, anchors: Any, corners: Any, sizes: Any, scale: float
) -> None:
    """A thin line from a label that was pushed away back to its own line."""
    segments, colours = [], []
    for index in shown:
        nearest = np.clip(anchors[index], corners[index], corners[index] + sizes[index])
        pushed = abs(anchors[index, 1] - (corners[index] + sizes[index] / 2)[1])
        if pushed > 3.0 * scale and np.ptp([anchors[index], nearest], axis=0).max() > 3.0 * scale:
            segments.append([(*anchors[index], 0.0), (*nearest, 0.0)])
            colours.append(labels[index].colour)
    if segments:
        _lines(np.array(segments), np.array(colours), scale)


def _lines(segments: Any, colours: Any, scale: float) -> None:
    import gpu
    from gpu_extras.batch import batch_for_shader

    shader = gpu.shader.from_builtin("POLYLINE_FLAT_COLOR")
    viewport: Any = gpu.state.viewport_get()
    places = segments.reshape(-1, 3).astype(np.float32)
    gpu.state.blend_set("ALPHA")
    for width, values in ((3.0, np.tile(PLATE, (len(colours), 1))), (1.2, colours)):
        both = np.repeat(values, 2, axis=0).astype(np.float32)
        content: Any = {"pos": places, "color": both}
        batch = batch_for_shader(shader, "LINES", content)
        shader.bind()
        shader.uniform_float("viewportSize", viewport[2:])
        shader.uniform_float("lineWidth", width * scale)
        batch.draw(shader)
    gpu.state.blend_set("NONE")


def _plate(corner: Any, size: Any, colour: Colour = PLATE) -> None:
    """A filled rectangle."""
    import gpu
    from gpu_extras.batch import batch_for_shader

    (x, y), (width, height) = corner, size
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    places = ((x, y, 0), (x + width, y, 0), (x + width, y + height, 0), (x, y + height, 0))
    batch = batch_for_shader(shader, "TRIS", {"pos": places}, indices=((0, 1, 2), (0, 2, 3)))
    gpu.state.blend_set("ALPHA")
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)
    gpu.state.blend_set("NONE")


def _text(text: str, corner: Any, colour: Colour) -> None:
    import blf

    blf.enable(FONT, blf.SHADOW)
    blf.shadow(FONT, 3, *SHADOW)
    blf.shadow_offset(FONT, 1, -1)
    blf.color(FONT, *colour)
    blf.position(FONT, float(corner[0]), float(corner[1]), 0.0)
    blf.draw(FONT, tr(text))
    blf.disable(FONT, blf.SHADOW)


def write_legends(context: bpy.types.Context, legends: Sequence[Legend], scale: float) -> None:
    """All legends on one plate in the lower right corner, where Blender has nothing of its own.

    A legend for which the view has no room any more is left out.
    """
    import blf

    size = palette.current().label_size * scale
    blf.size(FONT, size)
    room = free_room(context.area, context.region, 10.0 * scale)
    line, pad = 1.5 * size, 8.0 * scale
    width = max((_extent(text)[0] for one in legends for text in one.texts), default=0.0) + line + 2 * pad
    fitting = list(legends)
    while fitting and (width > room.width or plate_height(fitting, line, pad) > room.top - room.bottom):
        fitting.pop()
    if not fitting:
        return
    height = plate_height(fitting, line, pad)
    low = _above_redo(context, room, width, height, pad)
    corner = np.array((room.right - width, low))
    _plate(corner, (width, height), LEGEND_PLATE)
    y = low + height - pad
    for number, one in enumerate(fitting):
        y = _legend(one, corner[0] + pad, y - (pad if number else 0.0), size, line)


def plate_height(legends: Sequence[Legend], line: float, pad: float) -> float:
    """How high a plate with these legends is, in pixels: a line each, and gaps between them."""
    return line * sum(len(one.texts) for one in legends) + pad * (len(legends) + 1)


def _legend(legend: Legend, x: float, top: float, size: float, line: float) -> float:
    """A title and a coloured mark with words a line; returns where the next may begin."""
    y = top - line + 0.3 * size
    _text(legend.title, (x, y), LEGEND_TEXT)
    for number, (colour, words) in enumerate(legend.entries):
        pattern = legend.patterns[number] if legend.patterns else PATTERNS["metres"]
        y -= line
        side = 0.8 * size
        _plate((x - 1.0, y - 1.0), (side + 2.0, side + 2.0), RIM)
        for share, part in patterned(colour, pattern):
            off = 0.5 * (1.0 - share) * side
            _plate((x + off, y + off), (share * side, share * side), part)
        _text(words, (x + line, y), LEGEND_TEXT)
    return y - 0.3 * size


def _above_redo(
    context: bpy.types.Context, room: Room, width: float, height: float, pad: float
) -> float:
    """The plate's lower edge; above the panel of the last operator where the two would meet."""
    for other in context.area.regions:
        if other.type == "HUD" and other.width > 1 and other.height > 1:
            right = other.x - context.region.x + other.width
            top = float(other.y - context.region.y + other.height)
            if right + pad > room.right - width and top + pad + height < room.top:
                return max(room.bottom, top + pad)
    return room.bottom
