"""Colours, sizes, defaults and keys in the preferences, with and without an enabled add-on. All invented."""

from itertools import combinations

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core import marks
from evenfold.ui import defaults, first, keymap, panels, preferences, state
from evenfold.ui.overlay import findings, guides, manager, palette
from evenfold.ui.properties import settings_of
from host import scenes
from host.test_guides import measured
from host.test_ui import Recorder, drawn, keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


@pytest.fixture
def own():
    """The preferences of the add-on as if it were enabled."""
    entry = bpy.context.preferences.addons.new()
    entry.module = "evenfold"
    palette.forget()
    yield entry.preferences
    if (left := bpy.context.preferences.addons.get("evenfold")) is not None:
        bpy.context.preferences.addons.remove(left)
    palette.forget()


def lightness_and_hue(colour, deficiency):
    """A colour in CIELAB as a colour-blind reader sees it, by Viénot, Brettel and Mollon (1999)."""
    rgb = np.array(colour[:3])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = {
        "none": np.eye(3),
        "protan": np.array([(0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0)]),
        "deutan": np.array([(0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0)]),
    }[deficiency] @ linear
    xyz = np.array([
        (0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505),
    ]) @ np.clip(seen, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("deficiency", ["none", "protan", "deutan"])
@pytest.mark.parametrize("names", [
    ("least", "small", "middle", "large", "worst"), ("worst", "unsized", "excused"),
    ("least", "unsized", "excused"), ("head", "landmark", "target"),
])
def test_colours_that_stand_beside_each_other_are_told_apart(names, deficiency):
    seen = [lightness_and_hue(getattr(palette.USUAL, name), deficiency) for name in names]
    assert min(np.linalg.norm(one - other) for one, other in combinations(seen, 2)) > 12.0


def test_without_preferences_the_usual_palette_is_in_force():
    assert palette.preferences() is None
    assert palette.current() is palette.current() and palette.current() == palette.USUAL
    assert not bpy.ops.evenfold.reset_overlay.poll()


def test_preferences_begin_with_the_usual_palette(own):
    assert palette.current() == palette.USUAL
    assert set(palette.COLOURS) == {name for _, names in preferences.GROUPS for name in names}


def test_a_colour_and_width_set_there_reach_every_mark_and_are_reset(own):
    keeper(moved=[9])
    scene = bpy.context.scene
    bpy.ops.evenfold.check_symmetry()
    scene.evenfold_findings.show = True
    before = findings.source(scene)
    assert findings.source(scene) is before, "the same record, so that buffers are kept"
    own.worst, own.dot_size = (0.0, 0.5, 1.0, 1.0), 2.0
    after = findings.source(scene)
    assert after is not before
    old, new = before.views[0].dots[-1], after.views[0].dots[-1]
    assert tuple(old.colours[0]) == marks.RAMP[-1] and tuple(new.colours[0]) == (0.0, 0.5, 1.0, 1.0)
    assert new.size == 2 * old.size
    assert (0.0, 0.5, 1.0, 1.0) in [colour for colour, _ in after.legend.entries]
    assert bpy.ops.evenfold.reset_overlay() == {"FINISHED"}
    again = findings.source(scene)
    assert palette.current() == palette.USUAL and tuple(again.views[0].dots[-1].colours[0]) == marks.RAMP[-1]


def test_every_colour_is_used_where_it_says(own):
    scene = bpy.context.scene
    for number, name in enumerate(palette.COLOURS):
        setattr(own, name, (number / 20, 0.0, 0.0, 1.0))
    now = palette.current()
    usual = (*marks.RAMP, marks.UNSIZED, marks.WANTED, marks.EXCUSED)
    assert [now.of_mark(one) for one in usual] == [(round(n / 20, 6), 0.0, 0.0, 1.0) for n in range(8)]
    item = scenes.add_box("Keeper", 0.45)
    bpy.context.view_layer.update()
    scene.evenfold_guides.show = True
    measured(scene, item)
    picture = guides.source(scene)
    assert {colour for colour, _ in picture.legend.entries} == {now.head, now.landmark}
    assert {tuple(one) for one in picture.views[0].strokes[0].colours} == {now.head, now.landmark}
    width = picture.views[0].strokes[0].width
    own.line_width = 3.0
    assert guides.source(scene).views[0].strokes[0].width == 3 * width
    assert manager.pictures(scene)["guides"] is guides.source(scene)


@pytest.mark.parametrize("section", [name for name, _, _ in preferences.SECTIONS])
def test_each_section_of_the_preferences_draws(own, section):
    own.section = section
    recorder = Recorder()
    {"OVERLAY": preferences.draw_overlay, "DEFAULTS": preferences.draw_defaults, "KEYS": preferences.draw_keys}[
        section](recorder, own)
    wanted = {"OVERLAY": "prop worst", "DEFAULTS": "prop target_heads", "KEYS": "Next Difference"}[section]
    assert wanted in recorder.kept


def test_a_new_file_begins_with_the_defaults_and_a_used_one_keeps_its_own(own):
    scene = bpy.context.scene
    own.has_target, own.target_heads, own.tolerance = True, 2.2, 0.5
    scene.unit_settings.scale_length = 0.01
    assert settings_of(scene).target_heads is None
    first.look_now(bpy.context)
    found = settings_of(scene)
    assert (found.target_heads, found.tolerance) == (2.2, 0.0005)
    own.target_heads = 5.0
    first.look_now(bpy.context)
    assert settings_of(scene).target_heads == 2.2, "set once, the file has its own"
    assert bpy.ops.evenfold.use_defaults() == {"FINISHED"}
    assert settings_of(scene).target_heads == 5.0


def test_no_default_leaves_a_new_file_untouched(own):
    first.look_now(bpy.context)
    assert defaults.untouched(bpy.context.scene)


def test_a_default_profile_is_taken_and_a_broken_one_is_said(own, tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text("target_heads = 1.5\nweight_limit = 0.25\n", "utf-8")
    own.profile, own.tolerance = str(path), 0.5
    first.look_now(bpy.context)
    found = settings_of(bpy.context.scene)
    assert (found.target_heads, found.weight_limit, found.tolerance) == (1.5, 0.25, 0.0005)
    bpy.ops.wm.read_homefile(use_empty=True)
    path.write_text("colour = 1\n", "utf-8")
    said = first.look_now(bpy.context).said
    assert "sets colour" in said[0].text and said[0].grave
    assert defaults.untouched(bpy.context.scene)


def test_keys_are_listed_without_a_key_and_go_with_the_add_on():
    keys = bpy.context.window_manager.keyconfigs.addon

    def ours():
        found = keys.keymaps.get(keymap.MAP)
        return [item for item in (found.keymap_items if found else ()) if item.idname.startswith("evenfold.")]

    items = ours()
    assert len(items) == len(keymap.ENTRIES) and {item.type for item in items} == {"NONE"}
    directions = [item.properties.direction for item in items if item.idname == "evenfold.step_finding"]
    assert directions == ["NEXT", "PREVIOUS"]
    for name, _, words in keymap.ENTRIES:
        group, function = name.split(".")
        assert getattr(getattr(bpy.ops, group), function).get_rna_type() and words
    for _ in range(3):
        evenfold.unregister()
        assert not ours()
        evenfold.register()
    assert len(ours()) == len(keymap.ENTRIES)


def test_each_key_is_listed_by_what_it_does_also_two_of_one_operator(monkeypatch):
    keys = bpy.context.window_manager.keyconfigs.addon.keymaps[keymap.MAP]
    items = [item for item in keys.keymap_items if item.idname.startswith("evenfold.")]

    def with_key(name, options):
        return keys, next(
            item for item in items
            if item.idname == name and all(getattr(item.properties, key) == one for key, one in options.items())
        )

    monkeypatch.setattr(keymap, "user_item", with_key)
    recorder = Recorder()
    keymap.draw(recorder)
    words = [words for _, _, words in keymap.ENTRIES]
    assert [one for one in recorder.kept if one in words] == words
    assert recorder.kept.count("prop type") == len(items) == recorder.kept.count("prop map_type")


def test_another_file_brings_the_preferences_that_hold_then(own):
    own.worst = (0.0, 0.5, 1.0, 1.0)
    assert palette.current().worst == (0.0, 0.5, 1.0, 1.0)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    assert palette.preferences() is None and palette.current() == palette.USUAL


def test_results_are_still_there_when_a_preference_changes(own):
    keeper(moved=[9])
    bpy.ops.evenfold.check_symmetry()
    own.label_size = 20.0
    assert state.of(bpy.context.scene).check is not None and palette.current().label_size == 20.0
    assert drawn(panels.symmetry.EVENFOLD_PT_symmetry)
