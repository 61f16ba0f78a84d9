"""All forms of one report, and writing files whole or not at all."""

import contextlib
import os
import secrets
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from ..findings import FileResult
from ..settings import Settings
from .against import Against, against_dict, against_text
from .as_csv import csv_parts
from .as_json import file_dict, report_dict
from .as_junit import junit_parts
from .as_page import page_parts
from .as_sarif import sarif_parts
from .as_table import table_parts
from .plain import dumped


def json_text(
    files: Sequence[FileResult], settings: Settings, host: str, against: Against | None = None
) -> str:
    """The JSON report; with a ``comparison`` when there is an earlier one."""
    return "".join(json_parts(files, settings, host, against))


def json_parts(
    files: Iterable[FileResult], settings: Settings, host: str, against: Against | None = None
) -> Iterator[str]:
    """The same piece by piece."""
    report = report_dict((), settings, host)
    if against is not None:
        report["comparison"] = against_dict(against)
    return dumped(report, ("files",), (file_dict(one, settings) for one in files))


def plain_parts(
    files: Iterable[FileResult], settings: Settings, against: Against | None = None
) -> Iterator[str]:
    """The table for people, and what is new since the earlier report, piece by piece."""
    yield from table_parts(files, settings)
    if against is not None:
        yield f"\n{against_text(against)}"


def folder_parts(
    files: Collection[FileResult], settings: Settings, host: str, against: Against | None = None
) -> dict[str, Iterator[str]]:
    """Every file of the report's folder by name, in pieces for more results than memory has room for.

    ``files`` is gone through several times; no result is kept.
    """
    return {
        "index.html": page_parts(files, settings, host, against),
        "report.json": json_parts(files, settings, host, against),
        "report.txt": plain_parts(files, settings, against),
        "junit.xml": junit_parts(files),
        "report.sarif": sarif_parts(files, against),
        "report.csv": csv_parts(files),
    }


def write_all(texts: Mapping[Path, str | Iterable[str]]) -> None:
    """Write all files beside their places first, then put each there; raises OSError.

    A text may come in pieces. Where there is no room or no right to write, what stood there before still stands whole.
    """
    partial: dict[Path, Path] = {}
    try:
        for path, text in texts.items():
            beside = path.with_name(f".evenfold-{secrets.token_hex(8)}")
            partial[path] = beside
            with beside.open("wb") as file:
                for part in [text] if isinstance(text, str) else text:
                    file.write(part.encode("utf-8", "backslashreplace"))
                file.flush()
                os.fsync(file.fileno())
        for path, beside in partial.items():
            beside.replace(path)
    finally:
        for beside in partial.values():
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
