"""Which files are checked: each once, in an order that nothing but their names decides."""

import io
import os
import random
import sys
from pathlib import Path

import pytest
from evenfold.core.errors import SettingsError
from evenfold.core.settings import Settings

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))

from batch.inputs import gather, settings_of


def make(folder, *names):
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"-")
    return folder


def names(entries, folder):
    return [str(Path(one.path).relative_to(folder)) for one in entries if one.refused is None]


def refusals(entries):
    return {one.path.name: one.refused.error for one in entries if one.refused is not None}


def test_a_folder_is_searched_in_natural_order_without_hidden_and_backup_files(tmp_path):
    make(tmp_path, "keeper10.blend", "keeper2.GLB", "Cook.fbx", "deep/apprentice.usda", "deep/er/a.vrm", "b.obj", "c.gltf",
         "keeper2.blend1", "keeper2.blend@", ".hidden.blend", "._b.obj", ".git/x.blend", "notes.txt", "d.usdz", "e.usd", "f.usdc")
    assert names(gather([tmp_path]), tmp_path) == [
        "b.obj", "c.gltf", "Cook.fbx", "d.usdz", "e.usd", "f.usdc", "keeper2.GLB", "keeper10.blend",
        "deep/apprentice.usda", "deep/er/a.vrm",
    ]


def test_the_order_does_not_depend_on_the_disk(tmp_path, monkeypatch):
    make(tmp_path, *(f"{folder}/keeper{number}.glb" for folder in ("b", "a", "a/c") for number in range(12)))
    wanted = names(gather([tmp_path]), tmp_path)
    real, shuffled = os.scandir, random.Random(5)  # noqa: S311 - any order will do

    class Shuffled:
        def __init__(self, folder):
            with real(folder) as found:
                self.found = list(found)
            shuffled.shuffle(self.found)

        def __enter__(self):
            return iter(self.found)

        def __exit__(self, *_):
            return None

    monkeypatch.setattr(os, "scandir", Shuffled)
    assert names(gather([tmp_path]), tmp_path) == wanted
    assert wanted[:2] == ["a/keeper0.glb", "a/keeper1.glb"] and len(wanted) == 36


def test_a_file_named_twice_is_checked_once_under_its_first_name(tmp_path, monkeypatch):
    make(tmp_path, "staff/keeper.blend", "staff/cook.blend")
    (tmp_path / "other.blend").symlink_to(tmp_path / "staff" / "cook.blend")
    monkeypatch.chdir(tmp_path)
    found = gather(["other.blend", "staff/keeper.blend", "./staff/../staff/keeper.blend", "staff", tmp_path / "staff", "none.blend", "none.blend"])
    assert [str(one.path) for one in found] == ["other.blend", "staff/keeper.blend", "none.blend"]


def test_what_is_named_is_taken_whatever_it_is(tmp_path):
    """Opening says what is wrong with it: nothing that was named may be passed over."""
    make(tmp_path, ".hidden.blend", "notes.txt")
    named = [tmp_path / name for name in (".hidden.blend", "notes.txt", "missing.blend", "missing")]
    assert [one.path for one in gather(named)] == named


def test_patterns_find_files_in_any_folder(tmp_path, monkeypatch):
    make(tmp_path, "a/keeper1.blend", "a/b/keeper2.blend", "a/b/cook1.glb", "c/keeper3.blend", ".d/keeper4.blend", "c/notes.txt")
    monkeypatch.chdir(tmp_path)
    for pattern, wanted in [
        ("**/keeper*.blend", ["a/keeper1.blend", "a/b/keeper2.blend", "c/keeper3.blend"]),
        ("a/**/*", ["a/b/cook1.glb", "a/b/keeper2.blend", "a/keeper1.blend"]),
        ("*/keeper?.blend", ["a/keeper1.blend", "c/keeper3.blend"]),
        ("[ac]/*.blend", ["a/keeper1.blend", "c/keeper3.blend"]),
        ("a/*/cook1.glb", ["a/b/cook1.glb"]),
        ("?", ["a/keeper1.blend", "a/b/cook1.glb", "a/b/keeper2.blend", "c/keeper3.blend"]),
        (".d/*", [".d/keeper4.blend"]),
    ]:
        assert sorted(str(one.path) for one in gather([pattern])) == sorted(wanted), pattern
    (told,) = gather(["c/*.glb"])
    assert "fits this pattern" in told.refused.error and told.refused.path == "c/*.glb"


def test_a_name_with_the_signs_of_a_pattern_is_a_name_where_it_exists(tmp_path, monkeypatch):
    make(tmp_path, "keeper[1].blend", "keeper1.blend")
    monkeypatch.chdir(tmp_path)
    assert [str(one.path) for one in gather(["keeper[1].blend"])] == ["keeper[1].blend"]


@pytest.mark.parametrize("text", ["{0}\n{1}\n", "{0}\r\n\r\n{1}", "{0}\0{1}\0"])
def test_a_list_may_have_one_path_a_line_or_nul_between(tmp_path, text):
    make(tmp_path, "keeper.blend", "staff/cook.glb", "last.obj")
    listed = io.BytesIO(text.format(tmp_path / "keeper.blend", tmp_path / "staff").encode())
    assert names(gather(["-", tmp_path / "last.obj"], listed), tmp_path) == ["keeper.blend", "staff/cook.glb", "last.obj"]


def test_names_in_a_list_are_no_patterns_and_need_not_be_text(tmp_path):
    odd = os.fsdecode(b"two\nlines\xff*.blend")
    make(tmp_path, odd)
    listed = os.fsencode(str(tmp_path / odd)) + b"\0" + os.fsencode(str(tmp_path / "*.glb")) + b"\0"
    assert [one.path.name for one in gather(["-"], io.BytesIO(listed))] == [odd, "*.glb"]


def test_an_empty_list_is_told(tmp_path):
    (told,) = gather(["-"], io.BytesIO(b"\n\n"))
    assert told.refused.status == "unreadable" and "empty" in told.refused.error


def test_loops_of_links_end_and_no_link_leads_out(tmp_path):
    outside = make(tmp_path / "outside", "secret.blend", "deep/other.blend")
    staff = make(tmp_path / "staff", "keeper.blend", "deep/cook.blend")
    (staff / "deep" / "loop").symlink_to(staff)
    (staff / "deep" / "self").symlink_to("self")
    (staff / "again").symlink_to(staff / "deep")
    (staff / "out").symlink_to(outside)
    (staff / "out.blend").symlink_to(outside / "secret.blend")
    (staff / "nothing.blend").symlink_to(staff / "gone.blend")
    for given in (staff, staff / "**" / "*"):
        found = gather([given])
        assert {one.path.name for one in found} == {"keeper.blend", "cook.blend", "nothing.blend", "out.blend"}
        assert list(refusals(found)) == ["out.blend"] and "leads out" in refusals(found)["out.blend"]
        assert len(found) == 4


def test_a_folder_that_cannot_be_read_is_told_and_costs_the_others_nothing(tmp_path, monkeypatch):
    make(tmp_path, "a/keeper.blend", "locked/cook.blend", "z/cook.blend")
    real = os.scandir

    def refuse(folder):
        if Path(folder).name == "locked":
            raise PermissionError(13, "Permission denied")
        return real(folder)

    monkeypatch.setattr(os, "scandir", refuse)
    found = gather([tmp_path])
    assert names(found, tmp_path) == ["a/keeper.blend", "z/cook.blend"]
    assert refusals(found) == {"locked": "The folder cannot be read: Permission denied."}


def test_a_folder_without_figures_is_told(tmp_path):
    make(tmp_path, "notes.txt", ".hidden.blend")
    (told,) = gather([tmp_path])
    assert told.refused.error.startswith("The folder holds no file of these kinds: .blend")


def profile(folder, text):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "evenfold.toml").write_text(text)


def test_each_file_has_the_nearest_profile_upwards_to_the_folder_given(tmp_path):
    profile(tmp_path, "target_heads = 9.0")
    staff = make(tmp_path / "staff", "keeper.blend", "cooks/cook.blend", "cooks/new/apprentice.blend", "guests/guest.blend")
    profile(staff / "cooks", "target_heads = 2.0")
    profile(staff / "cooks" / "new", "uv_limit = 0.1")
    heads = {one.path.name: settings_of(one, Settings()) for one in gather([staff])}
    assert {name: one.target_heads for name, one in heads.items()} == {
        "keeper.blend": None, "guest.blend": None, "cook.blend": 2.0, "apprentice.blend": None}
    assert heads["apprentice.blend"].uv_limit == 0.1
    assert all(one.profile is None for one in gather([staff], profiles=False))
    outer = {one.path.name: one.profile for one in gather([tmp_path])}
    assert outer["keeper.blend"] == tmp_path / "evenfold.toml"
    assert outer["cook.blend"] == staff / "cooks" / "evenfold.toml"


def test_inside_the_working_folder_a_file_has_one_profile_however_it_is_named(tmp_path, monkeypatch):
    """A hook names single files, a build server the folder: both must judge alike."""
    make(tmp_path, "house/staff/new/keeper.blend")
    profile(tmp_path / "house", "target_heads = 2.0")
    profile(tmp_path, "target_heads = 9.0")
    monkeypatch.chdir(tmp_path / "house")
    for given in (".", "staff", "staff/new/keeper.blend", "staff/**/*.blend", "../house/staff", tmp_path / "house" / "staff"):
        (one,) = gather([given])
        assert one.profile == tmp_path / "house" / "evenfold.toml", given


@pytest.mark.parametrize(("text", "words"), [
    ("target_heads = ", "is not valid TOML"), ("target_heads = -1", "above zero"), ("colour = 1", "sets colour"),
    ("\udcff", "not a text in UTF-8"), ("x" * 1_000_001, "no text file"),
    ("target_heads = 1" + 400 * "0", "above zero"), ("target_heads = 1" + 5000 * "0", "too many digits"),
    ("a = " + 5000 * "[" + 5000 * "]", "nested too deeply"), ('layers = ["weight"]', "layers names 'weight'"),
])
def test_a_broken_profile_refuses_its_files_and_no_others(tmp_path, text, words):
    make(tmp_path, "good/keeper.blend", "bad/cook.blend", "bad/deep/apprentice.blend")
    (tmp_path / "bad" / "evenfold.toml").write_bytes(os.fsencode(text))
    found = gather([tmp_path])
    assert names(found, tmp_path) == ["good/keeper.blend"]
    told = refusals(found)
    assert set(told) == {"cook.blend", "apprentice.blend"}
    assert all(words in one and str(tmp_path / "bad" / "evenfold.toml") in one for one in told.values())
    assert len(gather([tmp_path], profiles=False)) == 3


def test_a_profile_that_is_no_file_refuses_too(tmp_path):
    make(tmp_path, "a/keeper.blend", "b/cook.blend", "c/guest.blend")
    os.mkfifo(tmp_path / "a" / "evenfold.toml")
    (tmp_path / "b" / "evenfold.toml").symlink_to(tmp_path / "gone")
    found = refusals(gather([tmp_path]))
    assert set(found) == {"keeper.blend", "cook.blend"}


def test_settings_of_a_profile_are_laid_over_those_of_the_call(tmp_path):
    make(tmp_path, "keeper.blend")
    profile(tmp_path, "target_heads = 2.0")
    (one,) = gather([tmp_path])
    found = settings_of(one, Settings(tolerance=0.5))
    assert (found.tolerance, found.target_heads) == (0.5, 2.0)
    (tmp_path / "evenfold.toml").write_text("target_heads = 0")
    with pytest.raises(SettingsError, match="above zero"):
        settings_of(one, Settings())


def test_many_files_are_gathered_quickly(tmp_path):
    for number in range(30):
        make(tmp_path, *(f"{number}/keeper{one}.glb" for one in range(100)))
    assert len(gather([tmp_path, tmp_path])) == 3000


@pytest.mark.parametrize("pair", [("model", "model2"), ("LICENSE", "LICENSE2"), ("2", "two"), ("a1b", "a1")])
def test_names_that_begin_alike_are_sorted_with_and_without_a_number(tmp_path, pair):
    """Files without an ending and folders: text was held against a number where one name is the start of the other."""
    make(tmp_path, *(f"{name}/keeper.glb" for name in pair))
    (tmp_path / "x").mkdir()
    make(tmp_path, *(f"x/{name}" for name in pair), "x/keeper.glb")
    found = names(gather([tmp_path]), tmp_path)
    assert found == [f"{name}/keeper.glb" for name in sorted(pair)] + ["x/keeper.glb"]
