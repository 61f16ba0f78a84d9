"""The standard's humanoid bones: missing, wrongly hung, or named like something else."""

from collections.abc import Iterator

from ..figure import Figure
from ..findings import Place, Readiness
from ..humanoid_table import BONES, label, troubles

EVIDENT = 0.6
"""From this share of the required bones on an armature is taken for a humanoid. Our choice."""


def is_humanoid(figure: Figure) -> bool:
    """True where most of the standard's required bones are known and are in the armature."""
    if figure.armature is None:
        return False
    required = [bone.name for bone in BONES if bone.required]
    held = [name for name in required if figure.humanoid.get(name) in figure.armature.by_name]
    return len(held) >= EVIDENT * len(required)


def humanoid_readiness(figure: Figure) -> list[Readiness]:
    """The records on the map from the standard's bones to the armature's; none for other figures."""
    if figure.armature is None or not is_humanoid(figure):
        return []
    told = [
        Readiness("ready-humanoid", "warning", one.sentence, label(one.bone), _place(figure, figure.humanoid.get(one.bone)))
        for one in troubles(figure.humanoid, figure.armature)
    ]
    return [*told, *_namesakes(figure)]


def _place(figure: Figure, bone: str | None) -> tuple[Place, ...]:
    """The bone of the armature, where it is there."""
    rig = figure.armature
    return (Place(rig.name, "bone", (bone,)),) if rig is not None and bone in rig.by_name else ()


def _namesakes(figure: Figure) -> Iterator[Readiness]:
    """A mapped bone's name that an object, or another armature, bears as well."""
    if figure.armature is None:
        return
    owners: dict[str, list[str]] = {}
    for surface in figure.surfaces:
        owners.setdefault(surface.name, []).append("an object")
    owners.setdefault(figure.armature.name, []).append("the armature")
    for name, whose in figure.outside:
        owners.setdefault(name, []).append(whose)
    for standard, bone in figure.humanoid.items():
        if bone in figure.armature.by_name and bone in owners:
            whose = " and ".join(dict.fromkeys(owners[bone]))
            yield Readiness(
                "ready-name-twice", "warning",
                f"'{bone}' is the name of the {label(standard).lower()} bone and of {whose}: engines "
                "look bones up by name and may take the wrong one. Rename the other.", bone, _place(figure, bone),
            )
