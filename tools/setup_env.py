"""Make the Python environments of the supported hosts, from locks with hashes."""

import argparse
import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

PYTHONS = {"5.2": "3.13", "4.5": "3.11", "4.2": "3.11"}
LOCKS = Path(__file__).resolve().parent / "locks"
STAMP = "evenfold-stamp.json"


class MissingPythonError(Exception):
    """No Python fits the host; the text says which one is wanted."""


def cache_folder() -> Path:
    """Where environments live: EVENFOLD_CACHE, else the user's cache folder."""
    own = os.environ.get("EVENFOLD_CACHE")
    if own:
        return Path(own)
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "evenfold"


def version_of(command: list[str]) -> str | None:
    """"3.13" for a command that starts such a Python, None if it does not start."""
    try:
        asked = subprocess.run(
            [*command, "-c", "import sys, venv, ensurepip; print('%d.%d' % sys.version_info[:2])"],
            capture_output=True, text=True, timeout=60, check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    return asked.stdout.strip() if asked.returncode == 0 else None


def candidates(version: str) -> list[list[str]]:
    """Commands that may start the wanted Python, most likely first."""
    found = [[sys.executable]]
    root = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    folders = sorted(root.glob(f"{version}.*"), reverse=True)
    found += [[str(folder / "bin" / "python3")] for folder in folders]
    for name in (f"python{version}", "python3", "python"):
        path = shutil.which(name)
        if path:
            found.append([path])
    if shutil.which("py"):
        found.append(["py", f"-{version}"])
    return found


def find_python(version: str) -> list[str]:
    """The command of a Python of that version; raises MissingPythonError."""
    for command in candidates(version):
        if version_of(command) == version:
            return command
    raise MissingPythonError(
        f"No Python {version} with the venv module was found on PATH, in pyenv or by the py "
        f"launcher. Install Python {version} and start this again."
    )


def python_in(folder: Path) -> Path:
    """The interpreter of an environment."""
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def lock_hash(host: str, kind: str) -> str:
    return hashlib.sha256((LOCKS / f"{kind}-{host}.txt").read_bytes()).hexdigest()


def read_stamp(folder: Path) -> dict[str, str]:
    try:
        return dict(json.loads((folder / STAMP).read_text(encoding="utf-8")))
    except (OSError, ValueError):
        return {}


def is_ready(folder: Path, host: str, kind: str) -> bool:
    """Whether the lock, or the wider test lock, is what was installed there last."""
    stamp = read_stamp(folder)
    kinds = {kind, "test"}
    known = any(stamp.get(each) == lock_hash(host, each) for each in kinds)
    return known and python_in(folder).exists()


def ensure_env(host: str, kind: str = "run") -> Path:
    """Make or refresh the environment of a host ("5.2") and return its interpreter."""
    folder = cache_folder() / f"host-{host}"
    if is_ready(folder, host, kind):
        return python_in(folder)
    wanted = PYTHONS[host]
    if version_of([str(python_in(folder))]) != wanted:
        command = find_python(wanted)
        print(f"Making the environment for Blender {host} (about 1 GB) …", flush=True)
        folder.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run([*command, "-m", "venv", "--clear", str(folder)], check=True)
    (folder / STAMP).unlink(missing_ok=True)
    print(f"Installing what {kind}-{host} locks …", flush=True)
    subprocess.run(
        [str(python_in(folder)), "-m", "pip", "install", "--quiet", "--require-hashes",
         "--requirement", str(LOCKS / f"{kind}-{host}.txt")],
        check=True,
    )
    stamp = {kind: lock_hash(host, kind)}
    (folder / STAMP).write_text(json.dumps(stamp), encoding="utf-8")
    return python_in(folder)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("hosts", nargs="*", help="5.2, 4.5 or 4.2; all if none is named")
    parser.add_argument("--kind", choices=("run", "test"), default="run")
    chosen = parser.parse_args()
    for host in chosen.hosts or PYTHONS:
        if host not in PYTHONS:
            print(f"{host} is not one of {', '.join(PYTHONS)}.", file=sys.stderr)
            return 2
        try:
            print(f"Blender {host}: {ensure_env(host, chosen.kind)}")
        except MissingPythonError as error:
            print(error, file=sys.stderr)
            return 2
        except subprocess.CalledProcessError as error:
            print(f"Blender {host}: this step failed: {error}", file=sys.stderr)
            return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
