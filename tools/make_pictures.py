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
LARGEST_FILM = 1_500_000
SCRATCH = "tmp/evenfold-pictures"


@dataclass(frozen=True)
class Cut:
    """A scenario's screen and the part of it that is shown, as ImageMagick writes geometry."""

    name: str
    scenario: str
    screen: str
    part: str


CUTS = (
    Cut("guides", "guides", "guides-first", "915x912+370+70"),
    Cut("findings", "findings", "findings-4-first-step", "1290x1240+0+30"),
    Cut("drawing", "drawing", "drawing-5-beside", "800x860+490+70"),
    Cut("plan", "sitting", "sitting-2-plan", "254x840+1028+411"),
)


@dataclass(frozen=True)
class Film:
    """Screens of a scenario, one after the other, as one moving picture."""

    name: str
    scenario: str
    screens: str
    wait: int = 60
    """Hundredths of a second that each is shown."""


FILMS = (Film("live", "live", "live-film-*.png"),)


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


def run_film(tree: Path, screens: Path, wanted: Film) -> int:
    """Put one moving picture together; its size in bytes. Raises CalledProcessError and OSError."""
    scratch = tree / SCRATCH
    scratch.mkdir(parents=True, exist_ok=True)
    frames = sorted(screens.glob(wanted.screens))
    if not frames:
        raise OSError(f"There are no screens {wanted.screens} in {screens}.")
    for number, frame in enumerate(frames):
        shutil.copy(frame, scratch / f"{number:03}.png")
    command = [
        "convert", "-delay", str(wanted.wait), "-loop", "0", f"/{SCRATCH}/*.png", "-strip",
        "-define", "webp:lossless=true", f"/{SCRATCH}/film.webp",
    ]
    subprocess.run(["chroot", str(tree), *command], check=True, timeout=180)
    made = PLACE / f"{wanted.name}.webp"
    shutil.copy(scratch / "film.webp", made)
    shutil.rmtree(scratch)
    return made.stat().st_size


def make(tree: Path, wanted: list[Cut | Film], screens: Path | None) -> bool:
    """Play where no screens are given, cut, and say how large each picture is."""
    out = screens or ROOT / "out" / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    if screens is None:
        archive = build_zip.build(ROOT / "dist")
        for scenario in dict.fromkeys(each.scenario for each in wanted):
            play(tree, scenario, out, archive)
    good = True
    for each in wanted:
        moving = isinstance(each, Film)
        size = run_film(tree, out, each) if isinstance(each, Film) else cut(tree, out, each)
        small = size <= (LARGEST_FILM if moving else LARGEST)
        good &= small
        print(f"{each.name}: {size:,} bytes{'' if small else ', too large'}")
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=[each.name for each in (*CUTS, *FILMS)])
    parser.add_argument("--from", dest="screens", type=Path)
    options = parser.parse_args()
    wanted = [each for each in (*CUTS, *FILMS) if options.only in (None, each.name)]
    try:
        return 0 if make(ensure_window(), wanted, options.screens) else 1
    except (NoWindowError, OSError, subprocess.SubprocessError) as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    raise SystemExit(main())
