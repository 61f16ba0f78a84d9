"""The open avatar standard's humanoid bones, and finding them by name."""

from .figure import Armature


def guess_humanoid(armature: Armature) -> dict[str, str]:
    """The standard's bone names and this armature's bones that play them, as far as told."""
    del armature
    return {}
