"""Profiles: what they may set, own canons read and written, and nothing else touched."""

import json
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.canon import Canon
from evenfold.core.errors import SettingsError
from evenfold.core.profile import read_canons, with_canon
from evenfold.core.profile_settings import with_settings
from evenfold.core.settings import Settings, read_profile
from evenfold.core.symmetry import LAYERS
from evenfold.core.toml_text import write_key, write_text
from hypothesis import given
from hypothesis import strategies as st


def canon(key="keeper", heads=3.0, levels=None, source="Measured on Keeper"):
    levels = {"crotch": 2.0, "eye_line": 0.5} if levels is None else levels
    return Canon(key, key, heads, levels, source, "measured", "own", {"arm_span": 2.25}, 0.125)


def profile(tmp_path, text):
    path = tmp_path / "profile.toml"
    path.write_bytes(text.encode())
    return read_profile(path, Settings())


def test_keep_and_canon_may_be_set(tmp_path):
    assert profile(tmp_path, "target_heads = 1.5").keep == "head"
    found = profile(tmp_path, 'keep = "height"\ncanon = "navy-8"')
    assert (found.keep, found.canon, found.canons) == ("height", "navy-8", ())


def test_an_own_canon_may_be_named(tmp_path):
    found = profile(tmp_path, 'canon = "staff"\n[canons.staff]\nheads = 2.5\nlevels = {crotch = 2.0}\n')
    (own,) = found.canons
    assert (own.key, own.heads, own.levels["crotch"], own.kind) == ("staff", 2.5, 2.0, "own")
    assert own.source and own.levels["sole"] == 2.5


@pytest.mark.parametrize(("text", "words"), [
    ('keep = "neck"', "keep must be head or height"),
    ("keep = 3", "keep must be head or height"),
    ("canon = 8", "canon must be the name"),
    ('canon = "nobody"', "no canon nobody"),
    ("colour = 1", "sets colour"),
    ('layers = ["weight"]', "layers names 'weight', but only surface, topology, normals, uv, .*weights.*bones"),
    ('layers = ["uv", "Weights", ""]', "layers names 'Weights', '', but only"),
    ("layers = [3]", "must be a list of names"),
    ('layers = "uv"', "must be a list of names"),
    ('plane = "floor"', "plane must be automatic, armature, object or world, not 'floor'"),
    ("target_heads = 1" + 400 * "0", "target_heads must be a number above zero, not 10+…"),
    ("target_heads = 1" + 5000 * "0", "not valid TOML: a number in it has too many digits"),
    ("target_heads = 0x1" + 5000 * "0", "above zero, not what is too long to repeat"),
    ("target_heads = " + 5000 * "[" + 5000 * "]", "not valid TOML: its lists or tables are nested too deeply"),
    ("[canons.staff]\nheads = 1" + 400 * "0", "heads above 1"),
    ("[canons.staff]\nheads = 2\nlevels = {knee = 1" + 400 * "0" + "}", "must be a number of heads"),
    ("[canons.staff]\nheads = 2\nspread = 1" + 400 * "0", "spread of the canon staff"),
    ("[canons.staff]\nheads = 2\nspread = nan", "spread of the canon staff"),
    ("canons = 3", r"\[canons.NAME\]"),
    ("[canons]\nstaff = 3", r"must be a table \[canons.staff\]"),
    ("[canons.staff]\nlevels = {}", "says no heads"),
    ("[canons.staff]\nheads = 2\ncolour = 1", "staff sets colour"),
    ("[canons.staff]\nheads = 2\nlevels = 3", "levels of the canon staff"),
    ("[canons.staff]\nheads = 2\nlevels = {knee = 3}", "below its sole"),
    ("[canons.staff]\nheads = true", "heads above 1"),
    ("[canons.staff]\nheads = 2\nsource = 3", "source of the canon staff"),
    ("[canons.staff]\nheads = 2\nspread = 'wide'", "spread of the canon staff"),
])
def test_what_is_wrong_is_refused_with_a_sentence(tmp_path, text, words):
    with pytest.raises(SettingsError, match=words):
        profile(tmp_path, text)


def test_a_profile_may_name_every_layer_there_is(tmp_path):
    found = profile(tmp_path, f"layers = {json.dumps(LAYERS)}")
    assert found.layers == LAYERS


@pytest.mark.parametrize("text", ["a = 1" + 5000 * "0", "a = " + 5000 * "[" + 5000 * "]"])
def test_nothing_is_written_into_a_text_that_cannot_be_read(text):
    with pytest.raises(SettingsError, match="not valid TOML"):
        with_canon(text, canon())
    with pytest.raises(SettingsError, match="not valid TOML"):
        with_settings(text, Settings(target_heads=2.0))


def test_writing_appends_and_reads_back(tmp_path):
    text = "# limits of the lighthouse\ntarget_heads = 1.5\n"
    written = with_canon(text, canon())
    assert written.startswith(text)
    found = profile(tmp_path, written)
    assert found.target_heads == 1.5
    assert found.canons == (canon(),)


KEPT = '''# limits
target_heads = 1.5  # heads
layers = [
  "uv", # not
  # [canons.keeper]
  "weights",
]

[canons.cook]
heads = 2.0
source = """
[canons.keeper]
heads = 9
"""

# the keeper's own
[canons.keeper]
heads = 4.0
levels = { crotch = 3.0 }

# the apprentice comes last
[canons."the apprentice"]
heads = 2.5
'''


def test_writing_replaces_its_own_table_and_no_other_line(tmp_path):
    written = with_canon(KEPT, canon())
    before, _, rest = KEPT.partition("# the keeper's own\n")
    assert written.startswith(before + "# the keeper's own\n[canons.keeper]\n")
    assert written.endswith(rest[rest.index("\n# the apprentice"):])
    found = {own.key: own for own in profile(tmp_path, written).canons}
    assert found["keeper"] == canon() and list(found) == ["cook", "keeper", "the apprentice"]
    assert with_canon(written, canon()) == written
    assert with_canon(written, canon(heads=2.5)) != written


def test_tables_below_the_own_one_go_with_it():
    text = "[canons.keeper]\nheads = 4\n[canons.keeper.levels]\nknee = 3\n[canons.cook]\nheads = 2\n"
    written = with_canon(text, canon())
    assert tomllib.loads(written)["canons"]["keeper"]["levels"] == {"eye_line": 0.5, "crotch": 2.0}
    assert written.endswith("[canons.cook]\nheads = 2\n")


@pytest.mark.parametrize("text", [
    "canons.keeper.heads = 4\n", "[canons]\nkeeper = {heads = 4}\n", "canons = {keeper = {heads = 4}}\n",
    "[canons]\nkeeper.heads = 4\n", "canons = {cook = {heads = 4}}\n",
])
def test_a_canon_kept_in_another_form_is_left_alone(text):
    tomllib.loads(text)
    with pytest.raises(SettingsError, match="by hand first"):
        with_canon(text, canon())


def test_what_is_no_profile_is_not_written_to():
    with pytest.raises(SettingsError, match="not valid TOML"):
        with_canon("target = = 3", canon())
    with pytest.raises(SettingsError, match="no table"):
        with_canon("canons = 3", canon())


@pytest.mark.parametrize("text", ["", "a = 1", "a = 1\n", "a = 1\r\nb = 2\r\n", "[a]\n\n\n"])
def test_the_files_own_line_ends_are_kept(text):
    text = text.replace("a = 1", "target_heads = 1.5").replace("b = 2", 'keep = "head"')
    written = with_canon(text, canon())
    assert written.startswith(text)
    ending = "\r\n" if "\r\n" in text else "\n"
    assert written.count("\n") == written.count(ending)


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@given(TEXTS)
def test_any_text_is_read_back_as_it_was(text):
    assert tomllib.loads(f"a = {write_text(text)}")["a"] == text
    assert tomllib.loads(f"{write_key(text)} = 1") == {text: 1}


@given(TEXTS.filter(str.strip), TEXTS, st.floats(1.1, 20), st.dictionaries(TEXTS, st.floats(0, 1), max_size=4))
def test_any_canon_survives_the_profile(key, source, heads, levels):
    kept = {name: value for name, value in levels.items() if name not in ("crown", "chin", "sole")}
    one = canon(key, heads, kept, source if source.strip() else "invented")
    (again,) = (c for c in read_canons(tomllib.loads(with_canon(KEPT, one))["canons"]) if c.key == key)
    assert (again.name, again.source, again.status) == (one.name, one.source, one.status)
    assert again.heads == pytest.approx(one.heads, abs=1e-8)
    assert dict(again.levels) == pytest.approx(dict(one.levels), abs=1e-8)


def test_text_that_is_no_unicode_is_refused():
    with pytest.raises(SettingsError, match="rename it"):
        write_text("keeper\ud800")


@pytest.mark.parametrize("seed", range(20))
def test_other_tables_survive_many_exchanges(seed):
    rng = np.random.default_rng(seed)
    names = ["keeper", "cook", "apprentice", "the cook's cat", 'a "b"', "x.y"]
    text, kept = KEPT, {}
    for _ in range(12):
        one = canon(str(rng.choice(names)), float(np.round(rng.uniform(2.5, 8), 4)))
        kept[one.key] = one
        text = with_canon(text, one)
    assert {c.key: c for c in read_canons(tomllib.loads(text)["canons"]) if c.key in kept} == kept
    values = tomllib.loads(text)
    assert (values["target_heads"], values["layers"]) == (1.5, ["uv", "weights"])
    assert "# the apprentice comes last\n" in text and "target_heads = 1.5  # heads\n" in text


def test_what_the_halves_are_compared_by_leaves_out_target_and_canons():
    base = Settings(tolerance=0.001, layers=("weights",))
    assert replace(base, target_heads=1.5, keep="height", canon="navy-8").compared_by == base.compared_by
    for other in ({"tolerance": 0.002}, {"plane": "object"}, {"layers": ()}, {"weight_limit": 0.1}):
        assert replace(base, **other).compared_by != base.compared_by, other
