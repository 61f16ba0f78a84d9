"""The Evenfold menu in the menus of the 3D view: Blender's search finds only what is in a menu."""

from typing import Any

import bpy

HOSTS = (
    "VIEW3D_MT_object", "VIEW3D_MT_edit_mesh", "VIEW3D_MT_pose", "VIEW3D_MT_edit_armature",
    "VIEW3D_MT_sculpt", "VIEW3D_MT_paint_weight",
)
"""The host's menus that ours is in, one for each mode in which figures are worked on."""


class EVENFOLD_MT_guides(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_guides"
    bl_label = "Guides"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.prop(context.scene.evenfold_guides, "show")
        layout.operator("evenfold.make_guides")
        layout.operator("evenfold.remove_guides")


class EVENFOLD_MT_compare(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_compare"
    bl_label = "Compare"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.measure_other")
        layout.operator("evenfold.remember_figure")
        layout.operator("evenfold.forget_figures")
        layout.separator()
        layout.operator("evenfold.save_canon")


class EVENFOLD_MT_symmetry(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_symmetry"
    bl_label = "Symmetry"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.prop(context.scene.evenfold_findings, "show", text="Show Differences on Model")
        layout.operator("evenfold.step_finding", text="Next Difference").direction = "NEXT"
        layout.operator("evenfold.step_finding", text="Previous Difference").direction = "PREVIOUS"
        layout.separator()
        layout.operator("evenfold.select_asymmetric")
        layout.operator_menu_enum("evenfold.select_kind", "code")
        layout.operator("evenfold.select_step", text="Select What Is Looked At")
        layout.operator("evenfold.select_island")
        layout.separator()
        layout.operator("evenfold.repair_all")


class EVENFOLD_MT_ready(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_ready"
    bl_label = "Before Hand-off"

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.operator_menu_enum("evenfold.fill_budget", "target")


class EVENFOLD_MT_allowed(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_allowed"
    bl_label = "Meant to Differ"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.allow_selection")
        layout.operator_menu_enum("evenfold.allow_named", "kind", text="Excuse Active")
        layout.operator_menu_enum("evenfold.allow_layer", "layer")
        layout.separator()
        layout.operator("evenfold.save_baseline")
        layout.operator("evenfold.forget_baseline")


class EVENFOLD_MT_told(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_told"
    bl_label = "Pins and Headwear"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.pin_vertex", text="Pin Landmark to Vertex…")
        layout.operator("evenfold.pin_cursor", text="Pin Landmark to 3D Cursor…")
        layout.separator()
        layout.operator_menu_enum("evenfold.leave_out", "kind")
        layout.operator("evenfold.choose_head_bone")
        layout.operator("evenfold.name_head_bone")


class EVENFOLD_MT_humanoid(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_humanoid"
    bl_label = "Humanoid Bones"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.guess_bones")
        layout.operator("evenfold.read_bone_map")
        layout.operator("evenfold.clear_bones")


class EVENFOLD_MT_drawing(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_drawing"
    bl_label = "Reference Drawing"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.load_drawing")
        layout.operator("evenfold.mark_drawing")
        layout.operator("evenfold.mark_drawing_cursor")
        layout.operator("evenfold.match_drawing")


class EVENFOLD_MT_report(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_report"
    bl_label = "Report"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.save_report", text="Save Report as Page…").form = "PAGE"
        layout.operator("evenfold.save_report", text="Save Report as JSON…").form = "JSON"


class EVENFOLD_MT_profile(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_profile"
    bl_label = "Profile"

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.load_profile")
        layout.operator("evenfold.save_profile")
        layout.operator("evenfold.drop_limits")
        layout.operator("evenfold.use_defaults")


PARTS: tuple[Any, ...] = (
    EVENFOLD_MT_guides, EVENFOLD_MT_compare, EVENFOLD_MT_symmetry, EVENFOLD_MT_ready, EVENFOLD_MT_allowed,
    EVENFOLD_MT_told, EVENFOLD_MT_humanoid, EVENFOLD_MT_drawing, EVENFOLD_MT_report, EVENFOLD_MT_profile,
)
"""Our submenus in their order; each goes by the name of the panel with the same buttons."""


class EVENFOLD_MT_main(bpy.types.Menu):
    bl_idname = "EVENFOLD_MT_main"
    bl_label = "Evenfold"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.operator("evenfold.measure")
        layout.operator("evenfold.check_symmetry")
        layout.operator("evenfold.keep_current", text="Keep Current (Live Check)")
        layout.operator("evenfold.bring_up_to_date")
        layout.separator()
        layout.prop(context.scene.evenfold, "has_target", text="Plan to Target")
        layout.operator("evenfold.copy_plan")
        layout.separator()
        for part in PARTS:
            layout.menu(part.bl_idname)


CLASSES = (*PARTS, EVENFOLD_MT_main)


def _draw_in_host(self: bpy.types.Menu, _context: bpy.types.Context) -> None:
    self.layout.separator()
    self.layout.menu(EVENFOLD_MT_main.bl_idname)


def register() -> None:
    """After the classes."""
    for name in HOSTS:
        getattr(bpy.types, name).append(_draw_in_host)


def unregister() -> None:
    for name in HOSTS:
        getattr(bpy.types, name).remove(_draw_in_host)
