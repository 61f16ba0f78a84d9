"""The headless check as a program, with workers that have no host."""

import sys
from pathlib import Path

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[2] / "tools"), str(HERE.parents[2] / "addon")]

from batch import cli, supervisor  # noqa: E402

supervisor.worker_command = lambda: [sys.executable, str(HERE.with_name("fake_worker.py"))]
if __name__ == "__main__":
    sys.exit(cli.main(sys.argv[1:]))
