"""All forms of one report as texts, and writing files whole or not at all."""

import contextlib
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from ..findings import FileResult
from ..settings import Settings
from .against import Against, against_dict, against_text
from .as_csv import as_csv
from .as_json import report_dict
from .as_junit import as_junit
from .as_page import page
from .as_sarif import as_sarif
from .as_table import table


def json_text(
    files: Sequence[FileResult], settings: Settings, host: str, against: Against | None = None
) -> str:
    """The JSON report; with a ``comparison`` when there is an earlier one."""
    report = report_dict(files, settings, host)
    if against is not None:
        report["comparison"] = against_dict(against)
    return json.dumps(report, indent=1, allow_nan=False) + "\n"


def plain_text(files: Sequence[FileResult], settings: Settings, against: Against | None = None) -> str:
    """The table for people, and what is new since the earlier report."""
    shown = table(files, settings)
    return shown if against is None else f"{shown}\n{against_text(against)}"


def folder_texts(
    files: Sequence[FileResult], settings: Settings, host: str, against: Against | None = None
) -> dict[str, str]:
    """Every file of the report's folder by name."""
    return {
        "index.html": page(files, settings, host, against),
        "report.json": json_text(files, settings, host, against),
        "report.txt": plain_text(files, settings, against),
        "junit.xml": as_junit(files),
        "report.sarif": as_sarif(files, against),
        "report.csv": as_csv(files),
    }


def write_all(texts: Mapping[Path, str]) -> None:
    """Write all files beside their places first, then put each there; raises OSError.

    Where there is no room or no right to write, what stood there before still stands whole.
    """
    partial: dict[Path, Path] = {}
    try:
        for path, text in texts.items():
            beside = path.with_name(f".{path.name}.{os.getpid()}")
            partial[path] = beside
            with beside.open("wb") as file:
                file.write(text.encode("utf-8", "backslashreplace"))
                file.flush()
                os.fsync(file.fileno())
        for path, beside in partial.items():
            beside.replace(path)
    finally:
        for beside in partial.values():
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
