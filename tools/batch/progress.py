"""How far a run is: one line that changes on a terminal, a line for each file elsewhere."""

import os
import time
from collections import deque

from evenfold.core.findings import FileResult
from evenfold.core.report.as_table import safe

WINDOW = 60.0
"""Seconds of the past that the rate is taken from."""
EVERY = 0.1
"""Seconds between two changes of the line."""
NARROW = 20


class Progress:
    """``total`` inputs are to come; lines go to the file descriptor ``place``."""

    def __init__(self, total: int, place: int = 2, terminal: bool | None = None) -> None:
        self._total, self._place = total, place
        self._terminal = os.isatty(place) if terminal is None else terminal
        self._counts = {"within": 0, "outside": 0, "unreadable": 0}
        self._marks: deque[tuple[float, int]] = deque([(time.monotonic(), 0)])
        self._drawn = 0.0

    def result(self, result: FileResult, unchanged: bool = False) -> None:
        """One more input has its result; ``unchanged`` when it was known from an earlier run."""
        self._counts[result.status] += 1
        done, now = sum(self._counts.values()), time.monotonic()
        if now - self._marks[-1][0] > 0.5:
            self._marks.append((now, done))
            while now - self._marks[0][0] > WINDOW:
                self._marks.popleft()
        if not self._terminal:
            took = "unchanged" if unchanged else f"{result.seconds:.1f} s"
            self._write(f"{done}/{self._total} {safe(result.path)}: {result.status}, {took}\n")
        elif now - self._drawn >= EVERY:
            self._drawn = now
            self._write("\r" + self._fitted(self.line(now)) + "\x1b[K")

    def line(self, now: float) -> str:
        """Count, rate, time left and verdicts, as a terminal shows them."""
        done = sum(self._counts.values())
        since, before = self._marks[0]
        rate = (done - before) / (now - since) if now > since else 0.0
        left = f", {_clock((self._total - done) / rate)} left" if rate > 0 and done > before else ""
        speed = f", {rate:.1f} a second" if rate >= 1 else f", {60 * rate:.1f} a minute"
        return (
            f"{done:,} of {self._total:,}{speed}{left}: {self._counts['outside']:,} outside, "
            f"{self._counts['unreadable']:,} not checked"
        )

    def say(self, text: str) -> None:
        """A line of its own."""
        self._write(("\r\x1b[K" if self._terminal else "") + safe(text) + "\n")

    def finish(self) -> None:
        """Leave the terminal with the last count on a line of its own."""
        if self._terminal and sum(self._counts.values()):
            self._write("\r" + self._fitted(self.line(time.monotonic())) + "\x1b[K\n")

    def _fitted(self, line: str) -> str:
        try:
            width = os.get_terminal_size(self._place).columns
        except OSError:
            return line
        return line[: max(width - 1, NARROW)]

    def _write(self, text: str) -> None:
        data = text.encode("utf-8", "backslashreplace")
        try:
            while data:
                data = data[os.write(self._place, data) :]
        except OSError:
            pass  # nobody reads any more; the run goes on


def _clock(seconds: float) -> str:
    whole = round(min(seconds, 1e7))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"
