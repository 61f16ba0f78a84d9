"""Rest bones: head, tail, axes, parents and counterparts across the plane."""

from collections.abc import Iterator

from ..figure import Armature
from ..findings import Finding
from .matched import Limits

CODES = ("bone-drifted", "roll-drifted", "bone-off-centre", "bone-unpaired", "bone-parent-unmatched")


def check(armature: Armature, limits: Limits) -> Iterator[Finding]:
    """The findings on an armature's rest bones; elements are bone names."""
    del armature, limits
    yield from ()
