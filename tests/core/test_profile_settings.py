"""Settings written into a profile's text: read back the same, all else as it stood. All invented."""

from dataclasses import replace

import pytest
from evenfold.core.errors import SettingsError
from evenfold.core.profile_settings import with_settings
from evenfold.core.settings import Settings, read_profile
from hypothesis import given
from hypothesis import strategies as st

NUMBER = st.floats(1e-6, 1e3, allow_nan=False)
SETTINGS = st.builds(
    Settings, tolerance=st.none() | NUMBER, target_heads=st.none() | NUMBER, target_band=NUMBER, weight_limit=NUMBER,
    plane=st.sampled_from(["automatic", "armature", "object", "world"]), keep=st.sampled_from(["head", "height"]),
    layers=st.lists(st.sampled_from(["uv", "weights", "bones"]), unique=True).map(tuple),
)
TEXTS = (
    "", "# staff\n", "target_heads = 2.0", "layers = [\n  'uv', # first\n  'bones',\n]\ntolerance = 0.1\n",
    "# staff\r\ntolerance = 0.1\r\n\r\n[canons.staff]\r\nheads = 2.0\r\n",
    'plane = """\nworld"""\nweight_limit = 0.5 # loose\n[canons.staff]\nheads = 3.0\n',
)


@pytest.mark.parametrize("text", TEXTS)
@given(settings=SETTINGS)
def test_what_is_written_is_read_again(text, settings, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "staff.toml"
    written = with_settings(text, settings)
    path.write_bytes(written.encode())
    assert replace(read_profile(path, Settings()), canons=()) == settings
    assert with_settings(written, settings) == written, "a second time changes nothing"
    kept = [line for line in text.splitlines() if line.startswith(("#", "[", "heads"))]
    assert [line for line in written.splitlines() if line.startswith(("#", "[canons", "heads"))] == kept


def test_lines_that_say_the_same_stay_as_they_are():
    text = "weight_limit = 0.50 # loose\ntarget_heads = 2\n"
    assert with_settings(text, Settings(weight_limit=0.5, target_heads=2.0)) == text
    assert with_settings(text, Settings(weight_limit=0.25)) == "weight_limit = 0.25\n"


def test_a_text_that_is_no_profile_is_refused():
    with pytest.raises(SettingsError, match="not valid TOML"):
        with_settings("target_heads = ", Settings())
