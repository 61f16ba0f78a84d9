"""Finding codes and lengths in words an artist reads."""

import textwrap

import bpy

from ..core.findings import FigureResult, Finding
from ..host.read.place import metres_per_unit

HOWS = {"pinned": "pinned", "weights": "from weights", "bones": "from bones", "shape": "from shape"}
PLANES = {
    "given": "as given",
    "object": "middle of the object",
    "armature": "middle of the armature",
    "world": "middle of the scene",
    "fitted": "fitted to the figure",
}


def length(scene: bpy.types.Scene, metres: float, digits: int = 4) -> str:
    """A length as the scene shows lengths; in plain scene units where it has no unit system."""
    units = scene.unit_settings
    if units.system == "NONE":
        return f"{metres / metres_per_unit(scene):.{digits}g}"
    if 0 < metres < 1e-6:
        return "< 0.001 mm" if units.system == "METRIC" else "< 0.001 thou"
    return str(bpy.utils.units.to_string(units.system, "LENGTH", metres, precision=digits))


def finding_size(scene: bpy.types.Scene, finding: Finding) -> str:
    """The worst size, the separate pieces and what is hidden, as far as the finding has them."""
    parts = []
    if finding.worst is not None:
        size = amount(scene, finding.worst, finding.unit)
        parts.append(f"by {'up to ' if finding.count > 1 else ''}{size}")
    if finding.islands > 1:
        parts.append(f"in {finding.islands} pieces")
    if finding.hidden:
        parts.append(f"{finding.hidden} hidden")
    if finding.new is not None:
        parts.append("new" if finding.new else "inherited")
    return ", ".join(parts)


def amount(scene: bpy.types.Scene, size: float, unit: str) -> str:
    """A size in its unit: a length as the scene shows it, degrees, or a plain difference."""
    if unit == "metres":
        return length(scene, size)
    if unit == "degrees":
        return f"{size:.2f}°" if size >= 0.01 else f"{size:.1g}°"
    return f"{size:.3f}" if size >= 0.001 else f"{size:.1g}"


def uses_by_mark(result: FigureResult) -> dict[tuple[str, str], int]:
    """How many elements each allowance excuses, by its mark and the object it is kept on."""
    return {(use.allowance.mark, use.allowance.owner): use.count for use in result.allowances}


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most ``width`` characters."""
    return textwrap.wrap(text, max(width, 16)) or [""]


def room(context: bpy.types.Context) -> int:
    """How many characters fit into a line of the sidebar."""
    region = context.region
    if region is None:
        return 34
    scale = context.preferences.system.ui_scale
    return int(region.width / (7.2 * max(scale, 0.25))) - 7
