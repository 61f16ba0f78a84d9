"""Which finding the artist looks at, and which objects' lists are open: for this session only."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import bpy

from ..core.findings import Finding, ObjectResult
from ..core.halves import Halves
from ..core.places import Laid, LaidFigure
from . import state

FEW = 5
"""Findings an object may have for its list to be open unless the artist says otherwise."""

MOST = 3
"""Entries shown of a long list until the artist asks for all; our choice."""

_folded: dict[tuple[int, str], bool] = {}
_whole: set[tuple[int, str]] = set()


@dataclass
class Looking:
    """Places of all findings as read at the check; ``at`` is the finding stepped through.

    ``halves`` tell left from right, by object name.
    """

    laid: LaidFigure
    halves: Mapping[str, Halves] = field(default_factory=dict)
    at: tuple[int, int] | None = None
    step: int = 0


@dataclass(frozen=True)
class Seen:
    """The finding that is stepped through, with its places and the step."""

    entry: ObjectResult
    finding: Finding
    laid: Laid
    step: int


def seen(scene: bpy.types.Scene) -> Seen | None:
    """What is stepped through now, None if nothing is."""
    results = state.of(scene)
    if results is None or results.check is None or results.looking is None:
        return None
    at = results.looking.at
    if at is None:
        return None
    entry = results.check.objects[at[0]]
    laid = results.looking.laid.objects[at[0]][at[1]]
    return Seen(entry, entry.findings[at[1]], laid, results.looking.step)


def is_open(scene: bpy.types.Scene, entry: ObjectResult) -> bool:
    """Whether an object's findings are listed one by one."""
    folded = _folded.get((scene.session_uid, entry.name))
    return len(entry.findings) <= FEW if folded is None else not folded


def fold(scene: bpy.types.Scene, entry: ObjectResult) -> None:
    """Open an object's list if it is folded, else fold it."""
    _folded[scene.session_uid, entry.name] = is_open(scene, entry)


def is_whole(scene: bpy.types.Scene, name: str) -> bool:
    """Whether the long list of this name is shown to its end."""
    return (scene.session_uid, name) in _whole


def show_whole(scene: bpy.types.Scene, name: str) -> None:
    """Show a long list to its end, or its beginning again."""
    _whole.symmetric_difference_update({(scene.session_uid, name)})


def forget() -> None:
    _folded.clear()
    _whole.clear()
