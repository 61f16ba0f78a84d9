"""A worker without a host that takes a while over each file, and says the same of it each time."""

import sys
import time
from pathlib import Path

TOOLS = Path(__file__).parents[2] / "tools"
sys.path[:0] = [str(TOOLS), str(TOOLS.parent / "addon")]

from batch.pipe import own_ends  # noqa: E402
from batch.task import Answer, Task  # noqa: E402
from batch.worker import serve  # noqa: E402
from evenfold.core.findings import FileResult  # noqa: E402


def check(task: Task) -> Answer:
    name = Path(task.path).stem
    time.sleep(30.0 if name.startswith("hang") else 0.1)
    return Answer(FileResult(task.path, f"said of {name}", 0.1), lasting=True)


if __name__ == "__main__":
    serve(*own_ends(sys.argv), "Lighthouse 1.0", check)
