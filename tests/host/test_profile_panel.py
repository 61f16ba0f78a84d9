"""Profiles loaded and saved, and reports written, from the panel: the script's own. All invented."""

import json
from dataclasses import replace

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.report.written import json_text
from evenfold.core.settings import Settings, read_profile
from evenfold.host.batch import check_file
from evenfold.ui import panels, planning
from evenfold.ui.operators import report
from evenfold.ui.properties import profile_of, settings_of
from host.test_ui import drawn, keeper

STAFF = """# the keeper's watch
target_heads = 1.5 # short and sturdy

layers = [
    "uv",
    "weights",
]
weight_limit = 0.25

[canons.staff]
heads = 2.0
source = "invented"
"""


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def scene():
    return bpy.context.scene


@pytest.mark.parametrize("seed", range(6))
def test_what_the_panel_saves_the_script_reads(seed, tmp_path):
    random = np.random.default_rng(seed)
    panel, path = scene().evenfold, tmp_path / "staff.toml"
    scene().unit_settings.scale_length = float(random.choice([1.0, 0.01]))
    panel.has_target = bool(random.integers(2)) or seed == 0
    panel.target_heads = float(random.integers(10, 80)) / 10
    panel.tolerance = float(random.integers(0, 3)) / 1000
    panel.plane = str(random.choice(["automatic", "armature", "object", "world"]))
    scene().evenfold_plan.keep = str(random.choice(["head", "height"]))
    planning.keep_limits(scene(), replace(Settings(), weight_limit=0.25, layers=("uv",)))
    assert bpy.ops.evenfold.save_profile(filepath=str(path)) == {"FINISHED"}
    assert read_profile(path, Settings()) == profile_of(scene())
    assert len(path.read_text("utf-8")) < 200, "numbers as they were typed"
    expected = profile_of(scene())
    bpy.ops.wm.read_homefile(use_empty=True)
    assert profile_of(scene()) == Settings() != expected
    assert bpy.ops.evenfold.load_profile(filepath=str(path)) == {"FINISHED"}
    assert profile_of(scene()) == expected and scene().evenfold_plan.profile == str(path)


def test_an_existing_profile_keeps_its_comments_and_canons(tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text(STAFF, "utf-8")
    bpy.ops.evenfold.load_profile(filepath=str(path))
    scene().evenfold.tolerance = 0.002
    scene().evenfold_plan.compare_with = "canon:staff"
    assert bpy.ops.evenfold.save_profile() == {"FINISHED"}
    text = path.read_text("utf-8")
    for kept in ("# the keeper's watch\n", "target_heads = 1.5 # short and sturdy\n", '    "weights",\n', "weight_limit = 0.25\n"):
        assert kept in text
    found = read_profile(path, Settings())
    assert (found.tolerance, found.canon, found.layers) == (0.002, "staff", ("uv", "weights"))
    assert found == profile_of(scene())
    scene().evenfold.has_target = False
    bpy.ops.evenfold.save_profile()
    assert read_profile(path, Settings()).target_heads is None


@pytest.mark.parametrize(("text", "words"), [
    ("target_heads = ", "not valid TOML"), ("target_heads = -1", "above zero"), ("colour = 1", "sets colour"),
])
def test_a_broken_profile_is_refused_in_a_sentence_and_changes_nothing(text, words, tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text(text, "utf-8")
    before = settings_of(scene())
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.load_profile(filepath=str(path))
    assert settings_of(scene()) == before and not scene().evenfold_plan.profile


def test_a_profile_is_saved_only_where_there_is_a_folder(tmp_path):
    with pytest.raises(RuntimeError, match="Name the profile"):
        bpy.ops.evenfold.save_profile()
    with pytest.raises(RuntimeError, match="cannot be written"):
        bpy.ops.evenfold.save_profile(filepath=str(tmp_path / "nowhere" / "a.toml"))
    with pytest.raises(RuntimeError, match="is a folder"):
        bpy.ops.evenfold.save_profile(filepath=str(tmp_path))


@pytest.mark.parametrize(("operator", "suffix", "words"), [
    ("save_profile", ".toml", "The profile .* cannot be written"),
    ("load_profile", ".toml", "The profile .* cannot be read"),
    ("save_report", ".html", "The report .* cannot be written"),
    ("save_report", "/a.html", "The folder .* does not exist"),
])
def test_names_the_system_will_not_take_are_refused_in_a_sentence(operator, suffix, words, tmp_path):
    keeper()
    with pytest.raises(RuntimeError, match=f"^Error: {words}"):
        getattr(bpy.ops.evenfold, operator)(filepath=f"{tmp_path}/{300 * 'a'}{suffix}")
    assert not list(tmp_path.iterdir())


def test_a_file_that_is_no_text_is_no_profile(tmp_path):
    path = tmp_path / "staff.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RuntimeError, match=r"^Error: The profile .* is not a text in UTF-8: choose another file"):
        bpy.ops.evenfold.load_profile(filepath=str(path))


def test_file_dialogs_ask_before_they_write_over_a_file():
    for name in ("save_profile", "save_report"):
        operator = getattr(bpy.ops.evenfold, name).get_rna_type()
        assert operator.properties["check_existing"].default is True
        assert operator.properties["filepath"].subtype == "FILE_PATH"


def same(text):
    """A report without what differs from run to run."""
    found = json.loads(text)
    for one in found["files"]:
        one["seconds"] = 0
    return found


def test_the_panels_report_is_the_scripts(tmp_path):
    keeper(moved=[9])
    scene().evenfold.has_target, scene().evenfold.target_heads = True, 2.2
    file, out, profile = tmp_path / "keeper.blend", tmp_path / "keeper.json", tmp_path / "staff.toml"
    bpy.ops.wm.save_as_mainfile(filepath=str(file))
    before = file.read_bytes()
    assert bpy.ops.evenfold.save_report(form="JSON", filepath=str(out)) == {"FINISHED"}
    bpy.ops.evenfold.save_profile(filepath=str(profile))
    assert file.read_bytes() == before and report.last_written(scene()) == out
    mine = same(out.read_text("utf-8"))
    settings = read_profile(profile, Settings())
    assert mine["settings"]["target_heads"] == 2.2
    host = f"Blender {bpy.app.version_string}"
    assert mine == same(json_text([check_file(file, settings)], settings, host))
    codes = [one["code"] for part in mine["files"][0]["figures"][0]["objects"] for one in part["findings"]]
    assert codes, "the planted vertex is in it"


def test_the_page_has_the_figure_and_its_picture(tmp_path):
    keeper(moved=[9])
    assert "evenfold.save_report" in drawn(panels.report.EVENFOLD_PT_report)
    assert "wm.url_open" not in drawn(panels.report.EVENFOLD_PT_report)
    assert bpy.ops.evenfold.save_report(filepath=str(tmp_path / "keeper")) == {"FINISHED"}
    text = (tmp_path / "keeper.html").read_text("utf-8")
    assert "<svg" in text and "Keeper" in text and "not saved yet" in text
    shown = drawn(panels.report.EVENFOLD_PT_report)
    assert {"wm.url_open", "wm.path_open", "Written: keeper.html"} <= set(shown)


@pytest.mark.parametrize("case", ["no name", "no folder", "no figure"])
def test_a_report_that_cannot_be_written_is_said(case, tmp_path):
    if case != "no figure":
        keeper()
    where = {"no name": "", "no folder": str(tmp_path / "nowhere" / "a.html")}.get(case, str(tmp_path / "a.html"))
    words = {"no name": "Name a file", "no folder": "create it first"}.get(case, "Click a mesh")
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.save_report(filepath=where)
    assert not list(tmp_path.iterdir())


def test_the_profile_panel_shows_its_buttons():
    shown = drawn(panels.profile.EVENFOLD_PT_profile)
    assert {"prop profile", "evenfold.load_profile", "evenfold.save_profile", "evenfold.use_defaults"} <= set(shown)
