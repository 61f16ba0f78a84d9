"""How well figures are counted that somebody judged by eye: <python with bpy> tools/judge_counts.py FOLDER.

FOLDER holds model files and ``truth.tsv`` with a line of names and the columns ``file``, ``heads`` ("none" where
no honest count exists) and ``pm``, how far the eye may be off, in heads. The files are not part of the
repository; judge them by a ruler on pictures from front and side before anything is measured.
"""

import argparse
import csv
import json
import statistics
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SLIGHT, FAIR, GROSS = 0.03, 0.1, 0.25


@dataclass(frozen=True)
class Judged:
    """One file: what the eye says, and what was told; None where nothing is or was counted."""

    file: str
    heads: float | None
    pm: float
    told: float | None
    low: float | None
    high: float | None

    @property
    def off(self) -> float | None:
        """The error as a share of the eye's count."""
        return None if self.heads is None or self.told is None else self.told / self.heads - 1

    @property
    def is_inside(self) -> bool:
        """Whether the range told reaches what the eye allows."""
        if self.heads is None or self.low is None or self.high is None:
            return False
        return self.low <= self.heads + self.pm and self.high >= self.heads - self.pm


def read_truth(path: Path) -> dict[str, tuple[float | None, float]]:
    """The eye's count and its doubt by file name. Raises SystemExit with what is wrong."""
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines, delimiter="\t"))
    if not rows or not {"file", "heads", "pm"} <= set(rows[0]):
        raise SystemExit(f"{path.name} needs a line of names with file, heads and pm, parted by tabs.")
    return {row["file"]: (None, 0.0) if row["heads"] == "none" else (float(row["heads"]), float(row["pm"])) for row in rows}


def judged(truth: dict[str, tuple[float | None, float]], report: dict) -> list[Judged]:
    """Each file's first figure of a report beside the eye's count."""
    rows = []
    for entry in report["files"]:
        name = Path(entry["path"]).name
        figures = entry.get("figures") or []
        told = figures[0]["proportion"] if figures else {}
        if name in truth:
            rows.append(Judged(name, *truth[name], told.get("heads_tall"), told.get("low"), told.get("high")))
    return rows


def lines_of(rows: list[Judged]) -> list[str]:
    """A line for each file, the furthest off first, and a summary."""
    made = []
    for row in sorted(rows, key=lambda one: -abs(one.off or 0.0)):
        eye = "no count" if row.heads is None else f"{row.heads:.2f} ± {row.pm:.2f}"
        told = "refused" if row.told is None else f"{row.told:.2f} ({row.low:.2f} to {row.high:.2f})"
        off = "" if row.off is None else f"{row.off:+.1%} {'inside' if row.is_inside else 'OUTSIDE'}"
        made.append(f"{row.file:36}{eye:18}{told:28}{off}".rstrip())
    figures = [row for row in rows if row.heads is not None]
    offs = [abs(row.off) for row in figures if row.off is not None]
    if offs:
        shares = ", ".join(f"{sum(one <= most for one in offs)} within {most:.0%}" for most in (SLIGHT, FAIR))
        made.append(
            f"{len(figures)} figures, {len(offs)} counted: {shares}, {sum(one > GROSS for one in offs)} beyond {GROSS:.0%}, "
            f"half of them within {statistics.median(offs):.1%}; {sum(row.is_inside for row in figures)} ranges reach what the eye allows"
        )
    others = [row for row in rows if row.heads is None]
    made.append(f"{len(others)} without an honest count, {sum(row.told is None for row in others)} of them refused")
    return made


def main() -> int:
    asked = argparse.ArgumentParser(description="How well figures judged by eye are counted.")
    asked.add_argument("folder", type=Path)
    folder = asked.parse_args().folder
    truth = read_truth(folder / "truth.tsv")
    with tempfile.TemporaryDirectory() as kept:
        made = Path(kept) / "report.json"
        command = [sys.executable, str(ROOT / "tools" / "batch_check.py"), str(folder), "--no-cache", "--json", str(made)]
        subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
        if not made.is_file():
            raise SystemExit("The files could not be checked; run tools/batch_check.py on the folder to see why.")
        report = json.loads(made.read_text(encoding="utf-8"))
    print("\n".join(lines_of(judged(truth, report))))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
