"""The settings of the plan to a target and of what a figure is compared with."""

import zlib
from collections.abc import Iterable

import bpy
from bpy.props import EnumProperty, PointerProperty, StringProperty

from ...core.canon import Canon
from .. import planning, state

Items = list[tuple[str, str, str, int]]

KEEPS = (
    ("head", "Head", "The head stays as it is; the body shrinks or grows"),
    ("height", "Height", "The whole height stays as it is; the head grows or shrinks"),
)
FROM_FILE = {"ANIMATABLE", "PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else {"ANIMATABLE"}
"""Hosts before 4.5 do not know the option; they take a path beside the file without it."""
_alive: dict[str, Items] = {}
"""The lists last handed to Blender, which does not keep their texts alive itself."""


def _item(key: str, name: str, about: str) -> tuple[str, str, str, int]:
    """An item whose number follows from its key, so that a longer list moves no choice."""
    return key, name, about, zlib.crc32(key.encode("utf-8", "replace")) & 0x3FFFFFFF


REMEMBERED = ("", "Remembered", "", 0)
"""What begins a column of a list: the host takes an item without a key for its heading."""
GROUPS = (
    (("", "Your Own", "", 0), ("own", "figure")), (("", "Stylised", "", 0), ("stylised",)),
    (("", "Adults", "", 0), ("adult", "biomechanics")), (("", "Drawn Children", "", 0), ("child",)),
    (("", "Surveyed Children", "", 0), ("survey",)),
)
"""The columns of a list of canons, and the kinds that stand in each."""


def _grouped(prefix: str, canons: Iterable[Canon]) -> Items:
    """Canons in columns with a heading each, those without any left out."""
    listed = list(canons)
    items: Items = []
    for heading, kinds in GROUPS:
        here = [one for one in listed if one.kind in kinds]
        if here:
            items += [heading, *(_item(prefix + one.key, one.name, f"{one.source} ({one.status})") for one in here)]
    return items


def _canon_items(_self: bpy.types.PropertyGroup, context: bpy.types.Context | None) -> Items:
    items: Items = [(planning.NONE, "The Figure's Own", "Scale all below the chin alike", 0)]
    if context is not None and context.scene is not None:
        items += _grouped("", (one for one in planning.every_canon(context.scene) if one.inner()))
    _alive["canon"] = items
    return items


def _compare_items(_self: bpy.types.PropertyGroup, context: bpy.types.Context | None) -> Items:
    items: Items = [(planning.NONE, "Nothing", "Compare with nothing", 0)]
    figures = [
        _item(planning.FIGURE + name, name, "A figure that was measured and remembered")
        for name in state.remembered()
    ]
    items += [REMEMBERED, *figures] if figures else []
    if context is not None and context.scene is not None:
        items += _grouped(planning.CANON, planning.every_canon(context.scene))
    _alive["compare_with"] = items
    return items


def _changed(self: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    scene = self.id_data
    if isinstance(scene, bpy.types.Scene):
        planning.refresh(scene)


def _is_figure(_self: bpy.types.PropertyGroup, item: bpy.types.Object) -> bool:
    return item.type in ("ARMATURE", "MESH")


class EvenfoldPlan(bpy.types.PropertyGroup):
    """What a plan keeps, which canon it follows, and what the figure is compared with."""

    keep: EnumProperty(
        name="Keep", items=KEEPS, default="head", update=_changed,
        description="What stays as it is on the way to the target",
    )
    canon: EnumProperty(
        name="Inner Proportions", items=_canon_items, update=_changed,
        description="Where the body's inner proportions come from. A canon is a habit of drawing, not anatomy",
    )
    compare_with: EnumProperty(
        name="Compare With", items=_compare_items, update=_changed,
        description="A canon, or a figure that was remembered",
    )
    other: PointerProperty(
        name="Other Figure", type=bpy.types.Object, poll=_is_figure,
        description="Armature or mesh of another figure of this file",
    )
    other_collection: PointerProperty(
        name="Other Collection", type=bpy.types.Collection,
        description="Collection that holds the other figure; taken instead of an object where both are set",
    )
    profile: StringProperty(
        name="Profile", subtype="FILE_PATH", options=FROM_FILE,
        description="TOML file with the targets, limits and canons of a production",
    )
    own_canons: StringProperty(options={"HIDDEN"})
    limits: StringProperty(options={"HIDDEN"})


CLASSES = (EvenfoldPlan,)
POINTERS = {"evenfold_plan": EvenfoldPlan}
