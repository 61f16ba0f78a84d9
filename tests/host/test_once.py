"""What the panels say once instead of for each thing, and long lists that open on request. All invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.findings import (
    FigureResult,
    Landmark,
    MirrorPlane,
    ObjectResult,
    Proportion,
    Readiness,
)
from evenfold.core.humanoid_table import label, lacking, troubles
from evenfold.ui import once, panels, state
from host.scenes import add_rig
from host.test_landmark_panel import Recorder

NAMES = ("Coat", "Cap", "Boots", "Lamp", "Apron", "Scarf")
POINT = np.zeros(3)
PLANE = MirrorPlane(POINT, np.array([1.0, 0.0, 0.0]), "world")


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def drawn(panel):
    recorder = Recorder()
    panel.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    return recorder.kept


def keep(*, objects=(), readiness=(), notes=(), guesses=(), figure_notes=()):
    sole = Landmark(0.0, POINT, "shape", 0.0, 0.0)
    found = Proportion(3.0, 2.9, 3.1, 0.5, 1.5, 1.6, {"sole": sole}, guesses=tuple(guesses))
    check = FigureResult("Keeper", found, PLANE, 1e-4, tuple(objects), tuple(readiness), tuple(notes))
    results = state.SceneResults("Keeper", 1.0, dict.fromkeys(NAMES), found, check, notes=tuple(figure_notes))
    state.keep(bpy.context.scene, results)
    return results


def boxed(panel):
    """What stands in each box of a panel."""
    class Boxes(Recorder):
        def box(self):
            inner = Recorder()
            self.kept.append(inner)
            return inner

    boxes = Boxes()
    panel.draw(type("Panel", (), {"layout": boxes})(), bpy.context)
    return [" ".join(one.kept) for one in boxes.kept if isinstance(one, Recorder)]


def test_missing_bones_share_one_box_and_other_troubles_keep_theirs():
    wanting = ("hips", "head", "leftFoot", "rightFoot")
    names = [label(name) for name in wanting]
    rows = [Readiness("ready-humanoid", "warning", lacking(name), name) for name in names]
    other = Readiness("ready-humanoid", "warning", "Neck: 'N' is no bone of this armature; choose another.", "Neck")
    keep(readiness=(rows[0], other, *rows[1:], Readiness("heads-unknown", "error", "No count could be made.")))
    boxes = boxed(panels.ready.EVENFOLD_PT_ready)
    assert len(boxes) == 2 and boxes[1] == other.message
    assert boxes[0].startswith("4 required bones are missing: ") and boxes[0].endswith("Choose them under Humanoid Bones.")
    assert all(name.lower() in boxes[0] for name in names)


def test_one_missing_bone_keeps_its_own_sentence():
    keep(readiness=(Readiness("ready-humanoid", "warning", lacking("Hips"), "Hips"),))
    assert boxed(panels.ready.EVENFOLD_PT_ready) == [lacking("Hips")]


def test_the_core_says_missing_bones_as_the_panel_looks_for_them():
    from evenfold.host.bone_map import rest_bones

    told = troubles({}, rest_bones(add_rig("Keeper Rig")))
    assert len(told) > 5 and all(one.sentence == lacking(label(one.bone)) for one in told)


def test_the_gravest_stands_first():
    rows = [Readiness("ready-names", "note", "a"), Readiness("ready-x", "error", "b"), Readiness("ready-y", "warning", "c")]
    assert [one.text for one in once.handed_off(rows)] == ["b", "c", "a"]


def many(number, name):
    return Readiness("ready-influences", "warning", f"{number} vertices of {name} follow more than 4 bones.", name)


def test_what_is_true_of_many_objects_is_one_box_with_each_ones_number():
    keep(readiness=[many(number, name) for number, name in zip((12, 1, 40), NAMES, strict=False)])
    (box,) = boxed(panels.ready.EVENFOLD_PT_ready)
    assert box == "12 vertices of Coat follow more than 4 bones. The same on Cap (1) and Boots (40)."


@pytest.mark.parametrize("other", [
    Readiness("ready-scale-unapplied", "note", "Cap has the scale 0.02: apply it.", "Cap"),
    Readiness("ready-scale-unapplied", "warning", "Cap has the scale 0.01: apply it.", "Cap"),
    Readiness("ready-scale-unapplied", "note", "Cap has the scale 0.01: clear it.", "Cap"),
])
def test_sentences_that_say_something_else_are_not_joined(other):
    one = Readiness("ready-scale-unapplied", "note", "Coat has the scale 0.01: apply it.", "Coat")
    assert len(once.handed_off([one, other])) == 2
    same = Readiness("ready-scale-unapplied", "note", "Cap has the scale 0.01: apply it.", "Cap")
    assert len(once.handed_off([one, same])) == 1


def test_two_unlike_numbers_are_not_joined():
    rows = [once.Row(f"{first} of the keys of {name} run to {last}.", name) for name, first, last in (("Coat", 1, 2), ("Cap", 3, 4), ("Boots", 9, 2))]
    assert [(one.text[:1], one.others) for one in once.once(rows)] == [("1", ["Boots (9)"]), ("3", [])]


def test_a_note_of_several_objects_is_told_once_and_one_of_a_single_object_with_it():
    free = "UV map UVMap: islands laid out freely are not compared ({} of 12)."
    objects = [ObjectResult(name, "mesh", 8, notes=(free.format(number),)) for number, name in enumerate(NAMES, 1)]
    objects[2] = ObjectResult("Boots", "mesh", 8, notes=(free.format(3), "Lies wholly on one side."))
    results = keep(objects=objects)
    shown = " ".join(drawn(panels.symmetry.EVENFOLD_PT_symmetry))
    assert shown.count("laid out freely") == 1 and "Coat: UV map UVMap" in shown
    assert "The same on Cap (2 of 12), Boots (3 of 12), Lamp (4 of 12) and 2 more." in shown
    shared, alone = once.noted(results.check.objects)
    assert alone == {"Boots": ["Lies wholly on one side."]} and len(shared) == 1
    assert sum(1 + len(one.others) for one in shared) + 1 == sum(len(one.notes) for one in objects), "none is lost"


def test_a_figures_notes_are_told_once_under_heads_tall_and_counted():
    notes = [f"{name} has constraints: it is read where they put it." for name in NAMES]
    keep(notes=notes, figure_notes=notes)
    panel = panels.heads.EVENFOLD_PT_notes
    assert "constraints" not in " ".join(drawn(panels.symmetry.EVENFOLD_PT_symmetry) + drawn(panels.heads.EVENFOLD_PT_heads))
    assert panel.poll(bpy.context)
    recorder = Recorder()
    panel.draw_header(type("Panel", (), {"layout": recorder})(), bpy.context)
    assert recorder.kept == ["1 note"]
    shown = " ".join(drawn(panel))
    assert shown.count("constraints") == 1 and "The same on Cap, Boots, Lamp and 2 more." in shown
    assert "DEFAULT_CLOSED" in panel.bl_options


def test_without_notes_there_is_no_panel_for_them():
    keep(guesses=("The bone 'Ear.L' is left out of the body because its name says 'ear'.",))
    assert not panels.heads.EVENFOLD_PT_notes.poll(bpy.context)
    keep(guesses=("Leaving out would leave nothing.",))
    assert panels.heads.EVENFOLD_PT_notes.poll(bpy.context)


@pytest.mark.parametrize(("count", "shown"), [(3, 3), (4, 4), (5, 3), (12, 3)])
def test_a_long_list_of_what_is_left_out_is_cut_and_opens_on_request(count, shown):
    words = ("ear", "hair", "hat", "cap", "horn", "beard", "wig", "helmet", "veil", "hood", "mask", "crest")
    keep(guesses=[f"The bone 'B{n}' is left out of the body because its name says '{word}'." for n, word in enumerate(words[:count])])
    panel = panels.heads.EVENFOLD_PT_heads

    def lines():
        return sum("is left out of the count" in text for text in drawn(panel))

    button = [text for text in drawn(panel) if text.startswith("evenfold.show_whole '")]
    assert lines() == shown
    assert button == ([] if shown == count else [f"evenfold.show_whole 'and {count - shown} more'"])
    if button:
        assert bpy.ops.evenfold.show_whole(name="left_out") == {"FINISHED"}
        assert lines() == count and any("Show fewer" in text for text in drawn(panel))
        bpy.ops.evenfold.show_whole(name="left_out")
        assert lines() == shown


def test_what_is_said_once_is_said_in_german_too():
    from evenfold.ui.language import speaker

    say = speaker("de_DE").say
    assert say(once.missing_bones(["hips", "left foot"])) == (
        "2 erforderliche Knochen fehlen: Becken, Linker Fuß. Unter Humanoide Knochen wählen."
    )
    assert say(once.Once("", "note", others=["Coat (2)", "Cap"]).likewise) == "Ebenso bei Coat (2) and Cap."
    assert say("Coat, Cap, Lamp and 3 more") == "Coat, Cap, Lamp und 3 weitere"


@pytest.mark.parametrize(("sideways", "doubted"), [(0.0, False), (0.13, True)])
def test_a_plane_that_was_chosen_and_matches_nothing_is_told_where_it_is_seen(sideways, doubted):
    from host.test_ui import drawn, keeper

    keeper(location=(sideways, 0.0, 0.0))
    bpy.context.scene.evenfold.plane = "world"
    bpy.ops.evenfold.check_symmetry()
    shown = " ".join(drawn(panels.symmetry.EVENFOLD_PT_symmetry))
    assert ("of the points match about the mirror plane (middle of the scene)" in shown) == doubted
    assert ("Hardly anything matches" in " ".join(drawn(panels.figure.EVENFOLD_PT_figure))) == doubted


@pytest.mark.parametrize("locale", ["de_DE", "ja_JP"])
def test_no_line_of_the_heads_panel_stays_english(monkeypatch, locale):
    """Every word of the panel without an open list; names of bones and numbers aside."""
    from evenfold.ui.language import speaker

    keep()
    state.of(bpy.context.scene).proportion = Proportion(3.0, 2.9, 3.1, 0.5, 1.5, 1.9, {"crown": Landmark(1.5, POINT, "shape", 1.5, 1.5)})
    texts = [text for text in drawn(panels.heads.EVENFOLD_PT_heads) if text[:1].isupper() and not text.startswith("Keeper")]
    assert {"Head", "Height", "With hair, hat", "Landmarks above the sole", "Crown"} <= set(texts)
    said = {text: speaker(locale).say(text) for text in texts}
    assert [text for text, other in said.items() if text == other] == []
