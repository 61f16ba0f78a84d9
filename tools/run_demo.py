"""Make three invented figures, check them headless, and say where the report lies."""

import json
import subprocess
import sys
from pathlib import Path

from setup_env import MissingPythonError, ensure_env

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "out" / "demo"


def any_env() -> Path:
    """An environment of the newest host this machine has a Python for."""
    try:
        return ensure_env("5.2")
    except MissingPythonError as first:
        try:
            return ensure_env("4.5")
        except MissingPythonError as second:
            raise MissingPythonError(f"{first}\n{second}") from second


def went_as_expected(report: Path, status: int) -> bool:
    """Whether exactly the figure with planted faults is outside its limits."""
    verdicts = {
        Path(entry["path"]).stem: entry["status"]
        for entry in json.loads(report.read_text(encoding="utf-8"))["files"]
    }
    expected = {"keeper": "within", "cook": "within", "apprentice": "outside"}
    return status == 1 and verdicts == expected


def main() -> int:
    try:
        python = str(any_env())
        OUT.mkdir(parents=True, exist_ok=True)
        report = OUT / "report.json"
        report.unlink(missing_ok=True)
        builder = ROOT / "tools" / "demo" / "build_figures.py"
        subprocess.run([python, str(builder), str(OUT)], check=True)
    except (MissingPythonError, subprocess.CalledProcessError) as error:
        print(error, file=sys.stderr)
        return 2
    command = [python, str(ROOT / "tools" / "batch_check.py"), str(OUT), "--json", str(report)]
    status = subprocess.run(command, check=False).returncode
    if not report.exists():
        print(f"The check ended with status {status} and wrote no report.", file=sys.stderr)
        return 2
    print(f"\nReport: {report.relative_to(ROOT)}")
    if not went_as_expected(report, status):
        print(f"Unexpected: the check ended with status {status}; see the report.", file=sys.stderr)
        return 1
    print("As expected: the check ended with status 1, because the apprentice's faults were planted.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
