"""Names that Blender's own mirror tools read otherwise than they are meant."""

from collections.abc import Iterable, Iterator

from ..figure import Figure
from ..findings import Place, Readiness
from ..sides import counterpart, host_flips, pairs
from ..symmetry.paired_rows import shown


def names_readiness(figure: Figure) -> list[Readiness]:
    """Notes on bones, groups and keys; a group named like a bone is told with the bones only."""
    told: set[str] = set()
    found: list[Readiness] = []
    for owner, names in _named(figure):
        fresh = [name for name in names if name not in told]
        told.update(fresh)
        found += _notes(owner, fresh)
    return found


def _named(figure: Figure) -> Iterator[tuple[str, tuple[str, ...]]]:
    if figure.armature is not None:
        yield figure.armature.name, tuple(bone.name for bone in figure.armature.bones)
    for surface in figure.surfaces:
        if surface.layers is not None:
            yield surface.name, surface.layers.weights.names
            if surface.layers.keys is not None:
                yield surface.name, tuple(key.name for key in surface.layers.keys.keys)


def _notes(owner: str, names: Iterable[str]) -> Iterator[Readiness]:
    listed = list(names)
    paired = pairs(listed)
    place = (Place(owner),)
    yield from (Readiness("ready-names", "note", f"{owner}: {note}", owner, place) for note in paired.notes)
    misread = [
        name for name in listed
        if name not in paired.partner and counterpart(name) is None and host_flips(name)
    ]
    if misread:
        words = f"{owner}: Blender itself reads a side into these names: {shown(misread)}. Rename them before mirroring."
        yield Readiness("ready-names", "note", words, owner, place)
