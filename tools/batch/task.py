"""What one worker is asked, and what it answers: plain records, the same on every machine."""

import os
from dataclasses import dataclass, field, replace

from evenfold.core.findings import FileResult
from evenfold.core.settings import Settings

SECONDS = 300.0
MEMORY_MB = 8192
"""What one file may take where the call does not say; our choice, far above any figure we met."""
TEMPORARY = "evenfold-worker-"
"""What the name of each worker's own temporary folder begins with."""


@dataclass(frozen=True)
class Limits:
    """What one file may take: seconds, and megabytes of memory with Blender itself (None: no limit)."""

    seconds: float = SECONDS
    memory_mb: int | None = MEMORY_MB


@dataclass(frozen=True)
class Task:
    """One file to check. Every task has its own settings, since profiles go by folder.

    ``pictures`` asks for each figure's portrait. A relative ``path`` counts from the folder the
    process that calls ``Supervisor.run`` works in: see ``absolute``.
    """

    path: str
    settings: Settings = field(default_factory=Settings)
    pictures: bool = False
    limits: Limits = field(default_factory=Limits)

    def absolute(self) -> "Task":
        """The same task for a process that works in another folder."""
        return replace(self, path=os.path.abspath(self.path))  # noqa: PTH100 - must not follow links


@dataclass(frozen=True)
class Answer:
    """The result and what is worth knowing about how it came to be.

    ``host`` is the Blender that checked, empty where none did. ``depends`` are the other files the
    result may rest on (absolute paths), None where that cannot be told; ``lasting`` is true when
    the same file would always give the same result, so that it may be kept.
    """

    result: FileResult
    host: str = ""
    depends: tuple[str, ...] | None = None
    lasting: bool = False
