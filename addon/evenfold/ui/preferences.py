"""The add-on's preferences: colours and sizes over the viewport, defaults for new files, keys."""

from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, FloatVectorProperty, StringProperty

from . import keymap
from .language import tr
from .overlay import manager, palette

ADDON = palette.ADDON
GROUPS = (
    ("Differences, from small to worst", ("least", "small", "middle", "large", "worst")),
    ("Other marks", ("unsized", "partner", "excused")),
    ("Guides and drawing", ("head", "landmark", "target", "drawn")),
)
SECTIONS = (
    ("OVERLAY", "Colours and Sizes", "How differences and guides are drawn over the model"),
    ("DEFAULTS", "New Files", "What the tab begins with in a file that has no settings of ours"),
    ("KEYS", "Keys", "Give any of the add-on's operators a key"),
)


def _repaint(_self: bpy.types.AddonPreferences, _context: bpy.types.Context) -> None:
    palette.forget()
    manager.redraw()


def _colour(name: str, title: str, words: str) -> Any:
    return FloatVectorProperty(
        name=title, description=words, subtype="COLOR_GAMMA", size=4, min=0.0, max=1.0,
        default=getattr(palette.USUAL, name), update=_repaint,
    )


class EvenfoldPreferences(bpy.types.AddonPreferences):
    """What holds for every file on this computer."""

    bl_idname = ADDON

    section: EnumProperty(name="Section", items=SECTIONS, default="OVERLAY")
    least: _colour("least", "Least", "Differences just over the tolerance")
    small: _colour("small", "Small", "Differences of the second of five steps")
    middle: _colour("middle", "Middle", "Differences of the third of five steps")
    large: _colour("large", "Large", "Differences of the fourth of five steps")
    worst: _colour("worst", "Worst", "The largest differences")
    unsized: _colour("unsized", "Without Size", "Differences that have no size, such as a missing partner")
    partner: _colour("partner", "Partner Lines", "Lines to where the partner says a vertex should be")
    excused: _colour("excused", "Excused", "What is meant to differ")
    head: _colour("head", "Heads", "Guides at every head")
    landmark: _colour("landmark", "Landmarks", "Guides at the landmarks")
    target: _colour("target", "Target", "Dashed guides where the plan puts the landmarks")
    drawn: _colour("drawn", "Drawing", "Marks on the reference drawing")
    line_width: FloatProperty(
        name="Line Width", default=1.0, min=0.5, max=4.0, step=10, update=_repaint,
        description="How thick all lines over the model are; 1 is the usual",
    )
    dot_size: FloatProperty(
        name="Dot Size", default=1.0, min=0.5, max=4.0, step=10, update=_repaint,
        description="How large all dots on the model are; 1 is the usual",
    )
    label_size: FloatProperty(
        name="Label Size", default=12.0, min=8.0, max=32.0, precision=0, step=100, update=_repaint,
        description="Size of the words over the model, in pixels",
    )
    has_target: BoolProperty(
        name="Target", default=False, description="Begin every new file with a wanted number of heads"
    )
    target_heads: FloatProperty(
        name="Heads", default=3.0, min=0.5, soft_max=10.0, max=100.0, step=25, precision=2,
        description="How many heads tall figures of new files should be",
    )
    tolerance: FloatProperty(
        name="Tolerance", default=0.0, min=0.0, soft_max=100.0, precision=3,
        description="How far a vertex may lie from its mirror image in new files, in millimetres. "
        "0 takes a ten-thousandth of the figure's height",
    )
    profile: StringProperty(
        name="Profile", subtype="FILE_PATH",
        description="TOML file with targets, limits and canons that new files begin with",
    )

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.row().prop(self, "section", expand=True)
        {"OVERLAY": draw_overlay, "DEFAULTS": draw_defaults, "KEYS": draw_keys}[self.section](layout, self)


def draw_overlay(layout: bpy.types.UILayout, own: EvenfoldPreferences) -> None:
    row = layout.row()
    for title, names in GROUPS:
        column = row.column(align=True)
        column.label(text=title)
        for name in names:
            column.prop(own, name)
    row = layout.row(align=True)
    for name in palette.SIZES:
        row.prop(own, name)
    layout.operator("evenfold.reset_overlay", icon="LOOP_BACK")


def draw_defaults(layout: bpy.types.UILayout, own: EvenfoldPreferences) -> None:
    column = layout.column()
    column.use_property_split = True
    column.use_property_decorate = False
    row = column.row(heading=tr("Target"))
    row.prop(own, "has_target", text="")
    field = row.row()
    field.enabled = own.has_target
    field.prop(own, "target_heads", text="")
    column.prop(own, "tolerance", text="Tolerance (mm)")
    column.prop(own, "profile")
    layout.label(text="The tab takes these over in a file without settings of its own.", icon="INFO")


def draw_keys(layout: bpy.types.UILayout, _own: EvenfoldPreferences) -> None:
    layout.label(text="No key is taken until you give one: click a field and press the key.", icon="INFO")
    keymap.draw(layout.column())


class EVENFOLD_OT_reset_overlay(bpy.types.Operator):
    """Go back to the usual colours and sizes over the viewport"""

    bl_idname = "evenfold.reset_overlay"
    bl_label = "Usual Colours and Sizes"
    bl_description = "Go back to the usual colours and sizes of everything drawn over the model"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        if palette.preferences() is None:
            cls.poll_message_set(tr("Enable the add-on in the preferences first."))
            return False
        return True

    def execute(self, _context: bpy.types.Context) -> Any:
        own = palette.preferences()
        for name in (*palette.COLOURS, *palette.SIZES):
            own.property_unset(name)
        palette.forget()
        manager.redraw()
        return {"FINISHED"}


CLASSES = (EvenfoldPreferences, EVENFOLD_OT_reset_overlay)


def register() -> None:
    palette.forget()
    keymap.register()


def unregister() -> None:
    keymap.unregister()
    palette.forget()
