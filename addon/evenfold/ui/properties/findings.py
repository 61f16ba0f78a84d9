"""What is shown of the findings on the model."""

import bpy
from bpy.props import BoolProperty, EnumProperty

KINDS = (
    ("ALL", "All", "Mark every finding on the model"),
    ("ONE", "This One", "Mark only the finding that is stepped through"),
)


def _changed(_settings: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    from ..overlay import manager

    manager.redraw()


class EvenfoldFindings(bpy.types.PropertyGroup):
    """How findings are drawn over the model."""

    show: BoolProperty(
        name="Show on Model", default=False, update=_changed,
        description="Mark on the model what the check found; nothing of it is kept in the file",
    )
    kinds: EnumProperty(
        name="Marks", items=KINDS, default="ALL", update=_changed,
        description="Which findings are marked on the model",
    )


CLASSES = (EvenfoldFindings,)
POINTERS = {"evenfold_findings": EvenfoldFindings}
