"""The house rules that no linter knows."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
ADDON = ROOT / "addon"
CORE = ADDON / "evenfold" / "core"
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "blender_manifest_notes.md",
    "pyproject.toml",
    ".gitignore",
    ".ci",
    "addon",
    "tests",
    "tools",
}
MAX_LINES = 400
BARE_COUNT = re.compile(r"\{[^{}:]*\} (?:vertices|polygons|faces|edges|places|points)\b")
BLOCKED = """
import importlib, sys
for name in ("bpy", "bmesh", "mathutils", "gpu"):
    sys.modules[name] = None
for name in sys.argv[1:]:
    importlib.import_module(name)
print(len(sys.argv) - 1)
"""


def core_modules() -> list[str]:
    files = sorted(CORE.rglob("*.py"))
    names = [".".join(path.relative_to(ADDON).with_suffix("").parts) for path in files]
    return [name.removesuffix(".__init__") for name in names]


def start(code: str, names: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *names],
        cwd=ADDON,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_the_core_imports_without_any_host() -> None:
    names = core_modules()
    assert "evenfold.core.check" in names
    done = start(BLOCKED, names)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) == len(names)


def test_the_block_is_a_real_one() -> None:
    done = start(BLOCKED, ["bpy"])
    assert done.returncode != 0
    assert "ModuleNotFoundError" in done.stderr


def test_the_top_of_the_repository_holds_what_the_design_names() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert {name.split("/")[0] for name in listed.stdout.split("\0") if name} == TOP


@pytest.mark.parametrize("folder", ["addon", "tools"])
def test_no_file_is_too_long_to_read(folder: str) -> None:
    files = list((ROOT / folder).rglob("*.py"))
    assert files
    long = [
        path.name
        for path in files
        if len(path.read_text(encoding="utf-8").splitlines()) > MAX_LINES
    ]
    assert long == []


def test_counts_that_can_be_large_have_their_thousands_apart():
    """Messages to developers (ValueError) and what is known to be few may do without."""
    allowed = {"ui/first.py", "core/live.py"}
    found = [
        f"{place}: {line.strip()}"
        for path in sorted((ADDON / "evenfold").rglob("*.py"))
        if (place := path.relative_to(ADDON / "evenfold").as_posix()) not in allowed
        for line in path.read_text(encoding="utf-8").splitlines()
        if BARE_COUNT.search(line)
    ]
    assert not found
    assert BARE_COUNT.search("f'{count} vertices'") and not BARE_COUNT.search("f'{count:,} vertices'")
