"""How much memory a process holds, seen from outside."""

import shutil
import subprocess
import sys
from pathlib import Path

PAGE_MB = 4096 / 2**20
if sys.platform != "win32":
    import resource

    PAGE_MB = resource.getpagesize() / 2**20


def resident_mb(process: int) -> float:
    """Megabytes of memory the process holds; 0 where that cannot be told, as on Windows.

    Linux says it in /proc; elsewhere ``ps`` is asked, where there is one.
    """
    if sys.platform == "linux":
        try:
            return int(Path(f"/proc/{process}/statm").read_bytes().split()[1]) * PAGE_MB
        except (OSError, IndexError, ValueError):
            return 0.0
    asked = shutil.which("ps")
    if asked is None:
        return 0.0
    done = subprocess.run([asked, "-o", "rss=", "-p", str(process)], capture_output=True, check=False)
    return int(done.stdout) / 1024 if done.stdout.strip().isdigit() else 0.0
