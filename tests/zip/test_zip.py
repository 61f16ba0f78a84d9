"""The built zip: what it holds, that Blender's tool accepts it, that it enables and leaves nothing."""

import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
SOURCE = ROOT / "addon" / "evenfold"
MANIFEST = tomllib.loads((SOURCE / "blender_manifest.toml").read_text(encoding="utf-8"))
CYCLES = """
import sys
import bpy
import addon_utils

def own():
    found = set()
    for kind in (bpy.types.Scene, bpy.types.Object, bpy.types.Mesh, bpy.types.WindowManager):
        found |= {(kind.__name__, name) for name in dir(kind) if "evenfold" in name.lower()}
        found |= {(kind.__name__, p.identifier) for p in kind.bl_rna.properties
                  if "evenfold" in p.identifier.lower()}
    found |= {("type", n) for n in dir(bpy.types) if "evenfold" in n.lower()}
    found |= {("operator", n) for n in dir(bpy.ops.evenfold)}
    for name in dir(bpy.app.handlers):
        calls = getattr(bpy.app.handlers, name)
        if isinstance(calls, list):
            found |= {(name, str(c)) for c in calls if "evenfold" in str(c.__module__)}
    return found

bpy.ops.wm.read_factory_settings(use_empty=True)
repo = bpy.context.preferences.extensions.repos.new(
    name="Trial", module="trial", custom_directory=sys.argv[1])
before = own()
assert not before, before
for turn in range(3):
    module = addon_utils.enable("bl_ext.trial.evenfold", default_set=True)
    assert module is not None, "not enabled"
    assert own(), "enabled, but nothing of it is there"
    addon_utils.disable("bl_ext.trial.evenfold", default_set=True)
    assert own() == before, own() - before
print("three times")
"""


@pytest.fixture(scope="module")
def archive() -> Path:
    """The zip that the build step made from this very source."""
    path = ROOT / "dist" / f"{MANIFEST['id']}-{MANIFEST['version']}.zip"
    if not path.exists():
        pytest.fail("There is no zip: run python3 tools/build_zip.py first.")
    return path


def test_holds_every_source_file_unchanged_and_nothing_else(archive: Path) -> None:
    expected = {path.relative_to(SOURCE).as_posix() for path in SOURCE.rglob("*.py")}
    expected.add("blender_manifest.toml")
    expected |= {path.relative_to(SOURCE).as_posix() for path in SOURCE.rglob("*.schema.json")}
    expected |= {path.relative_to(SOURCE).as_posix() for path in SOURCE.rglob("*.po")}
    with zipfile.ZipFile(archive) as opened:
        names = {name for name in opened.namelist() if not name.endswith("/")}
        assert names - {"LICENSE"} == expected
        stale = [name for name in expected if opened.read(name) != (SOURCE / name).read_bytes()]
    assert stale == [], "the zip is older than the source"


def validate(path: Path) -> subprocess.CompletedProcess[str]:
    import bpy

    tool = Path(bpy.utils.resource_path("LOCAL")) / "scripts/addons_core/bl_pkg/cli/blender_ext.py"
    assert tool.exists()
    return subprocess.run(
        [sys.executable, str(tool), "validate", str(path)],
        capture_output=True, text=True, check=False,
    )


def test_passes_blenders_own_validation(archive: Path) -> None:
    done = validate(archive)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_validation_can_fail(archive: Path, tmp_path: Path) -> None:
    broken = tmp_path / archive.name
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(broken, "w") as new:
        for name in old.namelist():
            if name != "blender_manifest.toml":
                new.writestr(name, old.read(name))
    assert validate(broken).returncode != 0


def test_enables_and_disables_three_times_without_a_trace(archive: Path, tmp_path: Path) -> None:
    shutil.unpack_archive(archive, tmp_path / "repo" / "evenfold")
    done = subprocess.run(
        [sys.executable, "-c", CYCLES, str(tmp_path / "repo")],
        capture_output=True, text=True, check=False, timeout=300,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "three times" in done.stdout
