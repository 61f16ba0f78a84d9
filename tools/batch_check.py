"""Check character files without a window: python tools/batch_check.py PATH…, or
blender --background --python tools/batch_check.py -- PATH…

Exit status: 0 all within limits, 1 some figure is not, 2 the call is wrong, 3 some input
could not be checked.
"""

import os
import sys
import traceback
from pathlib import Path

TABLE = 1
if __name__ == "__main__":
    # Where the caller has closed a standard stream, no other file may get its number.
    while (place := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(place)
    # What Blender says, from its very start, must not stand between the table's lines.
    if sys.stdout is not None:
        sys.stdout.flush()
    TABLE = os.dup(1)
    os.dup2(2, 1)

for folder in (Path(__file__).resolve().parent, Path(__file__).resolve().parents[1] / "addon"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

try:
    from batch.cli import NOT_CHECKED, main
except ImportError as missing:
    if __name__ != "__main__":
        raise
    sys.stderr.write(f"This Python cannot run the check ({missing}): make one with tools/setup_env.py, or use Blender's.\n")
    sys.exit(2)


def _own_arguments() -> list[str]:
    """What follows the program's name, or in Blender what follows two dashes."""
    bpy = sys.modules.get("bpy")
    if bpy is None or getattr(bpy.app, "module", not bpy.app.binary_path):
        return sys.argv[1:]
    return sys.argv[sys.argv.index("--") + 1 :] if "--" in sys.argv else []


if __name__ == "__main__":
    try:
        STATUS = main(_own_arguments(), TABLE)
    except KeyboardInterrupt:
        STATUS = NOT_CHECKED
    except Exception:  # noqa: BLE001 - Blender itself would end with 0, as if all were well
        traceback.print_exc()
        STATUS = NOT_CHECKED
    sys.exit(STATUS)
