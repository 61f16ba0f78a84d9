"""Lines and dots on the graphics card; made once for each record, never at import."""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from .records import Colour, Dots, Strokes, View

OUTLINE: Colour = (0.02, 0.02, 0.04, 0.75)
"""Dark behind bright lines reads on light and on dark themes."""
OUTLINE_WIDTH = 1.0
"""Pixels it stands out on each side."""


@dataclass(frozen=True)
class Layer:
    """One thing to draw: its batch, its outline's, their width, how it shows and from where."""

    kind: str
    coloured: Any
    faint: Any
    outline: Any
    width: float
    lift: float


def _shader(kind: str) -> Any:
    """Blender 4.2 has no shader of its own for points yet, later ones warn without it."""
    import gpu

    points = "POINT_FLAT_COLOR" if bpy.app.version >= (4, 5, 0) else "FLAT_COLOR"
    return gpu.shader.from_builtin("POLYLINE_FLAT_COLOR" if kind == "lines" else points)


def _batch(kind: str, places: Any, colours: Any) -> Any:
    from gpu_extras.batch import batch_for_shader

    content: Any = {"pos": np.ascontiguousarray(places, np.float32),
                    "color": np.ascontiguousarray(colours, np.float32)}
    return batch_for_shader(_shader(kind), "LINES" if kind == "lines" else "POINTS", content)


def _layer(
    kind: str, places: Any, colours: Any, width: float, behind: float, lift: float
) -> Layer:
    faint = np.array(colours, np.float32)
    faint[:, 3] *= behind
    dark = np.tile(np.array(OUTLINE, np.float32), (len(places), 1))
    return Layer(
        kind, _batch(kind, places, colours), _batch(kind, places, faint) if behind > 0 else None,
        _batch(kind, places, dark), width, lift,
    )


def make_layers(view: View) -> tuple[Layer, ...]:
    """Every layer of a view, in the order it is drawn."""
    strokes = [_of_strokes(one) for one in view.strokes if len(one.segments)]
    return (*strokes, *(_of_dots(one) for one in view.dots if len(one.points)))


def _of_strokes(stroke: Strokes) -> Layer:
    ends = np.asarray(stroke.segments).reshape(-1, 3)
    colours = np.repeat(np.asarray(stroke.colours, np.float32), 2, axis=0)
    return _layer("lines", ends, colours, stroke.width, stroke.behind, stroke.lift)


def _of_dots(dots: Dots) -> Layer:
    colours = np.array(dots.colours, np.float32)
    return _layer("dots", np.asarray(dots.points), colours, dots.size, dots.behind, dots.lift)


def draw_layers(layers: tuple[Layer, ...], region_size: tuple[float, float], scale: float) -> None:
    """Draw into the 3D view: faint where the model is in front, whole where it is not."""
    import gpu

    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    try:
        for layer in layers:
            with gpu.matrix.push_pop():
                if layer.lift:
                    _lift(layer.lift * scale, region_size[0])
                if layer.faint is not None:
                    gpu.state.depth_test_set("GREATER")
                    _draw(layer, layer.faint, layer.width, region_size, scale)
                gpu.state.depth_test_set("LESS_EQUAL")
                _draw(layer, layer.outline, layer.width + 2.0 * OUTLINE_WIDTH, region_size, scale)
                _draw(layer, layer.coloured, layer.width, region_size, scale)
    finally:
        gpu.state.depth_test_set("NONE")
        gpu.state.depth_mask_set(False)
        gpu.state.blend_set("NONE")
        gpu.state.point_size_set(1.0)


def _lift(pixels: float, width: float) -> None:
    """Bring what is drawn nearer by as much as so many pixels span there, at the same pixels."""
    import gpu

    seen: Any = gpu.matrix.get_projection_matrix()
    amount = 2.0 * pixels / (max(abs(float(seen[0][0])), 1e-9) * max(width, 1.0))
    gpu.matrix.load_matrix(nearer(amount, float(seen[3][3]) == 0.0) @ gpu.matrix.get_model_view_matrix())


def nearer(amount: float, perspective: bool) -> Matrix:
    """In the viewer's space: towards the eye in perspective, else along the line of sight."""
    if perspective:
        return Matrix.Scale(1.0 - min(amount, 0.5), 4)
    return Matrix.Translation((0.0, 0.0, amount))


def _draw(
    layer: Layer, batch: Any, width: float, region_size: tuple[float, float], scale: float
) -> None:
    import gpu

    shader = _shader(layer.kind)
    shader.bind()
    if layer.kind == "lines":
        shader.uniform_float("viewportSize", region_size)
        shader.uniform_float("lineWidth", width * scale)
    else:
        gpu.state.point_size_set(width * scale)
    batch.draw(shader)
