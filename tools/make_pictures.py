"""Make the README's pictures in tools/pictures from what the window tests show.

Usage: make_pictures.py [--only NAME] [--from FOLDER]. Plays the window scenarios that the
pictures come from with the zip built now (Linux and root; a few minutes each), then cuts the
pictures out of their screens. With --from the screens of an earlier run are cut, and nothing is
played. Exit status 0 when every picture was made and is small enough.
"""

import argparse
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import build_zip
from window_host import NoWindowError, ensure_window

ROOT = Path(__file__).resolve().parent.parent
PLACE = ROOT / "tools" / "pictures"
LARGEST = 200_000
"""Bytes."""
SCRATCH = "tmp/evenfold-pictures"


@dataclass(frozen=True)
class Cut:
    """A scenario's screen and the part of it that is shown, as ImageMagick writes geometry."""

    name: str
    scenario: str
    screen: str
    part: str


CUTS = (
    Cut("guides", "guides", "guides-first", "960x960+370+70"),
    Cut("findings", "findings", "findings-4-first-step", "1290x1240+0+30"),
    Cut("drawing", "drawing", "drawing-5-beside", "800x860+490+70"),
    Cut("plan", "sitting", "sitting-2-plan", "254x950+1028+325"),
)


def play(tree: Path, scenario: str, out: Path, archive: Path) -> None:
    """Play a scenario for its screens; raises CalledProcessError if a check in it fails."""
    script = str(ROOT / "tests" / "window" / "run_window.py")
    words = ["--chroot", str(tree), "--zip", str(archive), "--out", str(out), "--only", scenario]
    subprocess.run([sys.executable, script, *words], check=True)


def cut(tree: Path, screens: Path, wanted: Cut) -> int:
    """Cut one picture out; its size in bytes. Raises CalledProcessError and OSError."""
    scratch = tree / SCRATCH
    scratch.mkdir(parents=True, exist_ok=True)
    shutil.copy(screens / f"{wanted.screen}.png", scratch / "screen.png")
    crop = ["-crop", wanted.part, "+repage", "-strip", "+dither", "-colors", "255"]
    command = ["convert", f"/{SCRATCH}/screen.png", *crop, f"PNG8:/{SCRATCH}/cut.png"]
    subprocess.run(["chroot", str(tree), *command], check=True, timeout=60)
    made = PLACE / f"{wanted.name}.png"
    PLACE.mkdir(exist_ok=True)
    shutil.copy(scratch / "cut.png", made)
    shutil.rmtree(scratch)
    return made.stat().st_size


def make(tree: Path, cuts: list[Cut], screens: Path | None) -> bool:
    """Play where no screens are given, cut, and say how large each picture is."""
    out = screens or ROOT / "out" / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    if screens is None:
        archive = build_zip.build(ROOT / "dist")
        for scenario in dict.fromkeys(each.scenario for each in cuts):
            play(tree, scenario, out, archive)
    good = True
    for each in cuts:
        size = cut(tree, out, each)
        good &= size <= LARGEST
        print(f"{each.name}.png: {size:,} bytes{'' if size <= LARGEST else ', too large'}")
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=[each.name for each in CUTS])
    parser.add_argument("--from", dest="screens", type=Path)
    options = parser.parse_args()
    cuts = [each for each in CUTS if options.only in (None, each.name)]
    try:
        return 0 if make(ensure_window(), cuts, options.screens) else 1
    except (NoWindowError, OSError, subprocess.SubprocessError) as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    raise SystemExit(main())
