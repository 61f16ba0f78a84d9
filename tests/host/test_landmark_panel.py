"""The panels of landmarks and humanoid bones, and their operators. All figures are invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.findings import Landmark, Proportion, Reading, Span
from evenfold.host import bone_map
from evenfold.ui import panels, state, words
from host.scenes import add_box, add_rig, deform, enter, said_in_header
from host.test_bone_map import NEWER, avatar

POINT = np.zeros(3)
ICONS = set(bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items.keys())


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


@pytest.fixture
def rig():
    keeper = add_rig("Keeper")
    deform(add_box("Body"), keeper)
    bpy.context.view_layer.objects.active = keeper
    return keeper


class Recorder:
    """Stands in for a layout: keeps texts, buttons with what they are given, and what is marked."""

    def __init__(self, kept=None):
        self.__dict__["kept"] = [] if kept is None else kept
        self.__dict__["alert"] = False

    def __setattr__(self, name, value):
        if name == "alert" and value:
            self.kept.append("marked")

    def label(self, text="", icon="NONE", translate=True):
        assert icon in ICONS
        self.kept.append(text)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties
        self.kept.append(f"prop {name}")

    def operator(self, name, text="", icon="NONE", emboss=True):
        assert icon in ICONS
        group, function = name.split(".")
        known = getattr(getattr(bpy.ops, group), function).get_rna_type().properties
        kept = self.kept

        class Options:
            def __setattr__(self, key, value):
                assert key in known
                kept.append(f"{name} {key}={value}")

        self.kept.append(f"{name} '{text}'")
        return Options()

    def row(self, **_options):
        return Recorder(self.kept)

    box = column = split = row


def drawn(panel):
    recorder = Recorder()
    panel.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    return recorder.kept


def told(panel):
    return " ".join(drawn(panel))


def measured(**more):
    chin = Landmark(1.0, POINT, "weights", 0.98, 1.02, "the lowest point of the jaw", (Reading("weights", 1.01, 0.99, 1.03), Reading("bones", 0.9, 0.9, 0.9)))
    readings = Reading("weights", 0.31, 0.29, 0.33), Reading("bones", 0.2, 0.2, 0.2)
    knee = Landmark(0.25, POINT, "bones", 0.24, 0.26, "start of the lower leg bones; the left one is higher", readings)
    marks = {"chin": chin, "knee": knee, "sole": Landmark(0.0, POINT, "shape", 0.0, 0.0, "lowest point")}
    spans = {"arm_span": Span(1.75, POINT, POINT, "weights", "along the arms")}
    found = Proportion(3.0, 2.9, 3.1, 0.5, 1.5, 1.6, marks, spans=spans)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, found, **more))


def test_landmarks_show_scene_units_and_heads_and_open_their_evidence():
    panel = panels.landmarks.EVENFOLD_PT_landmarks
    assert "Measure the figure to see its landmarks." in " ".join(drawn(panel))
    measured()
    shown = drawn(panel)
    assert [text for text in shown if text in ("Chin", "Knee", "Sole", "Arm span")] == ["Knee", "Arm span"], "the others stand beside the count"
    assert "0.25 m, 0.50 heads" in shown and "1.75 m, 3.50 heads" in shown
    assert not any("lower leg" in text or "along the arms" in text for text in shown)
    assert bpy.ops.evenfold.open_landmark(name="knee") == {"FINISHED"}
    text = " ".join(drawn(panel))
    assert "Start of the lower leg bones; the left one is higher." in text and "from bones" in text and "0.24 m and 0.26 m" in text
    assert "0.31 m (0.29 m to 0.33 m)" in text and "0.2 m" in text and "along the arms" not in text
    bpy.ops.evenfold.open_landmark(name="arm_span")
    text = " ".join(drawn(panel))
    assert "Along the arms." in text and "lower leg" not in text
    shown = drawn(panels.heads.EVENFOLD_PT_heads)
    assert {"0.5 m", "1.5 m", "1.6 m", "1 m", "0 m"} <= set(shown) and not any(" cm" in one for one in shown)
    bpy.ops.evenfold.open_landmark(name="arm_span")
    assert "Along the arms." not in " ".join(drawn(panel))


def test_evidence_that_is_one_of_the_readings_is_told_once():
    reading = Reading("outline of the chin", 1.0, 0.98, 1.02)
    chin = Landmark(1.0, POINT, "weights", 0.98, 1.02, "outline of the chin", (reading,))
    found = Proportion(3.0, 2.9, 3.1, 0.5, 1.5, 1.6, {"chin": chin})
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, found))
    bpy.ops.evenfold.open_landmark(name="chin")
    assert told(panels.heads.EVENFOLD_PT_heads).lower().count("outline of the chin") == 1


def test_a_long_name_of_a_reading_is_wrapped_where_the_sidebar_is_narrow(monkeypatch):
    name = "lowest point in front of the head's own turning point, seen from the side"
    monkeypatch.setattr(panels.shared, "_letters", lambda: 40.0)
    recorder = Recorder()
    panels.shared.fact(recorder, name, "96.59 cm (96.22 cm to 97.7 cm)", own=True)
    assert " ".join(recorder.kept).startswith(f"{name} 96.59 cm") and len(recorder.kept) == 3
    assert all(words.text_width(line, 11.0) <= 200 for line in recorder.kept)


def test_stale_landmarks_say_so():
    measured(stale=True)
    recorder = Recorder()
    said_in_header(panels.landmarks.EVENFOLD_PT_landmarks, recorder)
    assert "out of date" in recorder.kept


def test_the_count_lists_only_what_it_rests_on():
    measured()
    shown = drawn(panels.heads.EVENFOLD_PT_heads)
    assert "Chin" in shown and "Sole" in shown and "Knee" not in shown


def test_without_an_armature_the_panel_says_what_to_do():
    add_box("Lantern")
    assert "Click the figure's armature" in " ".join(drawn(panels.landmarks.EVENFOLD_PT_humanoid))
    with pytest.raises(RuntimeError, match="Click the figure's armature"):
        bpy.ops.evenfold.guess_bones()


def test_guessing_keeps_the_map_and_marks_what_is_missing(rig):
    panel = panels.landmarks.EVENFOLD_PT_humanoid
    shown = drawn(panel)
    assert "evenfold.guess_bones 'Guess Bones'" in shown and not any("map_bone" in text for text in shown)
    assert bpy.ops.evenfold.guess_bones() == {"FINISHED"}
    assert bone_map.stored_map(rig) == {"spine": "Spine", "head": "Head"}
    shown = drawn(panel)
    assert shown.count("evenfold.map_bone 'required'") == 13 and shown.count("marked") == 13
    assert "evenfold.map_bone 'Spine'" in shown and "evenfold.guess_bones 'Guess Again'" in shown
    assert not any("has no bone" in text for text in shown)


@pytest.mark.parametrize(("which", "count"), [("REQUIRED", 15), ("BODY", 25), ("ALL", 55)])
def test_the_list_can_be_made_longer(rig, which, count):
    bpy.ops.evenfold.guess_bones()
    bpy.context.scene.evenfold_landmarks.bones = which
    assert sum("standard=" in text for text in drawn(panels.landmarks.EVENFOLD_PT_humanoid)) == 2 * count


def test_choosing_correcting_and_clearing(rig):
    assert bpy.ops.evenfold.map_bone(standard="hips", bone="Spine") == {"FINISHED"}
    assert bone_map.stored_map(rig) == {"head": "Head", "hips": "Spine"}
    enter(rig, "POSE")
    rig.data.bones.active = rig.data.bones["Head"]
    assert bpy.ops.evenfold.map_bone(standard="jaw", use_active=True) == {"FINISHED"}
    assert bone_map.stored_map(rig) == {"hips": "Spine", "jaw": "Head"}
    enter(rig, "OBJECT")
    with pytest.raises(RuntimeError, match="no bone 'Nobody'"):
        bpy.ops.evenfold.map_bone(standard="jaw", bone="Nobody")
    assert bpy.ops.evenfold.map_bone(standard="jaw", bone="") == {"FINISHED"}
    assert bone_map.stored_map(rig) == {"hips": "Spine"}
    assert bpy.ops.evenfold.clear_bones() == {"FINISHED"}
    assert bone_map.BONE_MAP_KEY not in rig


def test_without_an_active_bone_the_reason_is_given(rig):
    rig.data.bones.active = None
    with pytest.raises(RuntimeError, match="no active bone"):
        bpy.ops.evenfold.map_bone(standard="jaw", use_active=True)
    assert bone_map.stored_map(rig) is None


def test_a_bone_that_hangs_wrong_is_marked_with_its_sentence(rig):
    bpy.ops.evenfold.map_bone(standard="hips", bone="Head")
    bpy.ops.evenfold.map_bone(standard="spine", bone="Spine")
    text = " ".join(drawn(panels.landmarks.EVENFOLD_PT_humanoid))
    assert "must hang below 'Head'" in text
    rig[bone_map.BONE_MAP_KEY] = '{"hips": "Spine"}'
    assert "must hang below" not in " ".join(drawn(panels.landmarks.EVENFOLD_PT_humanoid))


def test_the_map_is_read_from_an_avatar_file(rig, tmp_path):
    path = avatar(tmp_path / "cook.vrm", NEWER)
    assert bpy.ops.evenfold.read_bone_map(filepath=str(path)) == {"FINISHED"}
    assert bone_map.stored_map(rig) == {"hips": "Spine", "leftThumbMetacarpal": "Head"}
    with pytest.raises(RuntimeError, match="holds no humanoid bone table"):
        bpy.ops.evenfold.read_bone_map(filepath=str(avatar(tmp_path / "empty.vrm", {})))
    with pytest.raises(RuntimeError, match="cannot be read"):
        bpy.ops.evenfold.read_bone_map(filepath=str(tmp_path / "nowhere.vrm"))
    assert bone_map.stored_map(rig) == {"hips": "Spine", "leftThumbMetacarpal": "Head"}


def test_the_map_is_only_changed_where_it_can_be_undone(rig):
    enter(rig)
    for call in (
        bpy.ops.evenfold.guess_bones, bpy.ops.evenfold.clear_bones,
        lambda: bpy.ops.evenfold.map_bone(standard="head", bone="Head"),
    ):
        with pytest.raises(RuntimeError, match="Go to object mode first"):
            call()
    assert bone_map.stored_map(rig) is None
    enter(rig, "OBJECT")
    assert bpy.ops.evenfold.guess_bones() == {"FINISHED"}


def test_a_bone_that_was_renamed_is_marked(rig):
    bpy.ops.evenfold.map_bone(standard="hips", bone="Spine")
    bpy.ops.evenfold.map_bone(standard="head", bone="Head")
    assert "No longer in Keeper" not in told(panels.landmarks.EVENFOLD_PT_humanoid)
    before = told(panels.landmarks.EVENFOLD_PT_humanoid).count("marked")
    rig.data.bones["Head"].name = "Kopf"
    text = told(panels.landmarks.EVENFOLD_PT_humanoid)
    assert "No longer in Keeper: the bones chosen for head. Choose them again." in text
    assert text.count("marked") == before + 1


def test_the_guess_of_the_last_measuring_is_shown_and_kept_nowhere(rig):
    text = told(panels.landmarks.EVENFOLD_PT_humanoid)
    assert "Guessed when last measured" not in text
    bpy.ops.evenfold.measure()
    text = told(panels.landmarks.EVENFOLD_PT_humanoid)
    assert "Guessed when last measured" in text and "Head Head" in text
    assert bone_map.stored_map(rig) is None
    bpy.ops.evenfold.guess_bones()
    assert "Guessed when last measured" not in told(panels.landmarks.EVENFOLD_PT_humanoid)


def test_what_the_count_rests_on_opens_where_the_count_is(rig):
    bpy.ops.evenfold.measure()
    found = Proportion(
        2.0, 1.9, 2.1, 0.5, 1.0, 1.0,
        {"chin": Landmark(0.5, POINT, "shape", 0.45, 0.55, "lowest point of the jaw", (Reading("by shape", 0.5, 0.45, 0.55),))},
    )
    state.of(bpy.context.scene).proportion = found
    assert "Lowest point of the jaw" not in told(panels.heads.EVENFOLD_PT_heads)
    bpy.ops.evenfold.open_landmark(name="chin")
    assert "Lowest point of the jaw" in told(panels.heads.EVENFOLD_PT_heads)
    assert "Lowest point of the jaw" not in told(panels.landmarks.EVENFOLD_PT_landmarks), "in one place only"


def test_results_are_out_of_date_once_the_map_is_changed(rig):
    bpy.ops.evenfold.measure()
    assert not state.of(bpy.context.scene).stale
    bpy.ops.evenfold.map_bone(standard="hips", bone="Spine")
    assert state.of(bpy.context.scene).stale


@pytest.mark.parametrize("how", ["mesh", "collection", "armature"])
def test_the_armature_is_found_from_whatever_is_chosen(rig, how):
    panel = bpy.context.scene.evenfold
    if how == "mesh":
        bpy.context.view_layer.objects.active = bpy.data.objects["Body"]
    else:
        bpy.context.view_layer.objects.active = None
        panel.figure_from = how.upper()
        panel.collection, panel.armature = bpy.data.collections.new("Staff"), rig
        panel.collection.objects.link(bpy.data.objects["Body"])
    assert bpy.ops.evenfold.guess_bones() == {"FINISHED"}
    assert bone_map.stored_map(rig)
