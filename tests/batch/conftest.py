"""The batch tools' package, found as batch_check.py finds it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
