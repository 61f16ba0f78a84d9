"""Every command an artist may look for is in a menu, because Blender's search finds only those."""

import bpy
import evenfold
import pytest
from evenfold.ui import CLASSES, menus


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


ON_A_LINE = {
    "choose_figure", "count_as_body", "forget_left_out", "open_landmark", "map_bone", "remove_pin", "unmark_drawing",
    "select_finding", "repair_finding", "allow_finding", "forget_allowance", "show_allowance", "remove_canon",
    "stop_stepping", "fold_object", "show_whole", "show_ready",
}
"""Operators that work on one line of a panel and come to nothing without it."""
ELSEWHERE = {"reset_overlay"}
"""Buttons of the preferences."""


class Recorder:
    """Stands in for a menu's layout: what can be chosen, submenus followed."""

    def __init__(self, kept):
        self.kept = kept

    def operator(self, name, **_options):
        self.kept.append(name)
        return type("Options", (), {})()

    def operator_menu_enum(self, name, property_name, **_options):
        assert property_name in operator(name).get_rna_type().properties
        self.kept.append(name)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties
        self.kept.append(f"prop {name}")

    def menu(self, name):
        kind = getattr(bpy.types, name)
        kind.draw(type("Menu", (), {"layout": self})(), bpy.context)

    def separator(self):
        pass


def operator(name):
    return getattr(bpy.ops.evenfold, name.partition(".")[2])


def test_every_command_is_in_the_menu_once_and_no_button_of_a_line_is():
    kept = []
    Recorder(kept).menu(menus.EVENFOLD_MT_main.bl_idname)
    ours = {one.bl_idname for one in CLASSES if issubclass(one, bpy.types.Operator)}
    assert set(ours) - set(kept) == {f"evenfold.{name}" for name in ON_A_LINE | ELSEWHERE}
    assert {"prop show", "prop has_target"} <= set(kept)
    twice = {name for name in kept if kept.count(name) > 1 and not name.startswith("prop")}
    assert twice == {"evenfold.step_finding", "evenfold.save_report"}, "each of these for two things"
    assert not any(operator(name).get_rna_type() is None for name in kept if not name.startswith("prop"))


@pytest.mark.parametrize("name", menus.HOSTS)
def test_the_menu_of_every_mode_holds_ours(name):
    assert menus._draw_in_host in getattr(bpy.types, name).draw._draw_funcs
