"""Build and validate dist/evenfold-<version>.zip with Blender's own extension tool."""

import subprocess
import sys
import tomllib
from pathlib import Path

from setup_env import MissingPythonError, ensure_env

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "addon" / "evenfold"
FIND = "import importlib.util as u; print(u.find_spec('bpy').submodule_search_locations[0])"


def extension_tool(python: Path) -> Path:
    """The extension tool inside the bpy wheel of that interpreter."""
    asked = subprocess.run([str(python), "-c", FIND], capture_output=True, text=True, check=True)
    return Path(asked.stdout.strip()) / "5.2/scripts/addons_core/bl_pkg/cli/blender_ext.py"


def build(dist: Path) -> Path:
    """Build the zip into ``dist`` and validate it; raises CalledProcessError."""
    manifest = tomllib.loads((SOURCE / "blender_manifest.toml").read_text(encoding="utf-8"))
    python = ensure_env("5.2")
    tool = [str(python), str(extension_tool(python))]
    dist.mkdir(parents=True, exist_ok=True)
    made = dist / f"{manifest['id']}-{manifest['version']}.zip"
    made.unlink(missing_ok=True)
    subprocess.run(
        [*tool, "build", "--source-dir", str(SOURCE), "--output-dir", str(dist)], check=True
    )
    subprocess.run([*tool, "validate", str(made)], check=True)
    return made


def main() -> int:
    try:
        print(f"Built {build(ROOT / 'dist').relative_to(ROOT)}")
    except (MissingPythonError, subprocess.CalledProcessError) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
