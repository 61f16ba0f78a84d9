"""Repairs: from a finding to the changes that mend it, always by moving what exists."""

from collections.abc import Callable
from dataclasses import dataclass

from ..findings import Finding, ObjectResult
from . import bones, key_made, key_stale, keys, surface, uv, weights
from .case import Case, Checked, RepairError
from .changes import (
    WAYS,
    BoneSet,
    BonesSet,
    Change,
    KeyMade,
    KeyMoved,
    Moved,
    Plan,
    SeamsSet,
    UVMoved,
    Weighted,
    Wish,
)


@dataclass(frozen=True)
class Repair:
    """``title`` for a button, ``about`` a sentence on what will happen.

    ``ways`` are those that make a difference, none where there is only one. ``safe`` repairs
    neither make anything nor need a judgement, and may run together.
    """

    title: str
    about: str
    function: Callable[[Case], Plan]
    ways: tuple[str, ...] = WAYS
    safe: bool = False


REPAIRS: dict[str, Repair] = {
    "drifted": Repair(
        "Put on Mirror Image",
        "Moves one vertex of each pair to the mirror image of the other; all shape keys move along",
        surface.mend, WAYS, True,
    ),
    "near-miss": Repair(
        "Tighten Pairs",
        "Moves one vertex of each pair so exactly that Blender's mirror tools find it",
        surface.mend, WAYS, True,
    ),
    "off-centre": Repair(
        "Put on Centre Line", "Moves these vertices straight onto the mirror plane",
        surface.mend, (), True,
    ),
    "mirror-gap": Repair(
        "Close the Middle", "Moves these vertices onto the plane the Mirror modifier mirrors about",
        surface.close_gap, (), True,
    ),
    "key-off-centre": Repair(
        "Put on Centre Line in This Key",
        "Moves these vertices onto the mirror plane in this key only", keys.off_centre, (), True,
    ),
    "key-stale": Repair(
        "Carry the Edit Over",
        "Adds the edit of the neutral shape to the keys that were left behind",
        key_stale.carry_over, (),
    ),
    "key-spill": Repair(
        "Clear the Wrong Half",
        "Takes this key's movement off these vertices; the blend at the centre stays",
        keys.spill, (), True,
    ),
    "key-lopsided": Repair(
        "Match Halves in This Key", "Makes this key move both halves alike", keys.lopsided, WAYS,
    ),
    "key-pair-drifted": Repair(
        "Mirror Onto Counterpart", "Makes one key of the pair the mirror image of the other",
        keys.pair, WAYS,
    ),
    "key-swapped": Repair(
        "Exchange Keys", "Exchanges the two keys' movements; names and settings stay", keys.swapped, (),
    ),
    "key-same-side": Repair(
        "Mirror the Right One",
        "Makes the key on the wrong half the mirror image of its counterpart. Say which one is right",
        keys.same_side, ("left", "right"),
    ),
    "key-unpaired": Repair(
        "Make Counterpart Key", "Makes the missing key as the mirror image of this one", key_made.make, (),
    ),
    "weight-drifted": Repair(
        "Mirror Weights",
        "Carries these weights across with left and right groups exchanged; locked groups stay",
        weights.mend, WAYS, True,
    ),
    "group-unpaired": Repair(
        "Make Counterpart Group",
        "Makes the missing group with this one's weights mirrored; empty under a Mirror modifier",
        weights.make_group, (),
    ),
    "uv-drifted": Repair(
        "Match UVs",
        "Moves these UVs to where the map's layout has their mirror image, its copy or its shape",
        uv.mend, WAYS, True,
    ),
    "seam-unmatched": Repair(
        "Match Seams", "Marks both edges of a pair alike; with the average both become seams",
        uv.seams, WAYS, True,
    ),
    "bone-off-centre": Repair(
        "Put Bones on Centre Line",
        "Moves these rest bones onto the mirror plane; poses and actions on them look different",
        bones.onto_plane, (),
    ),
    "bone-drifted": Repair(
        "Put Bones on Mirror Image",
        "Moves one rest bone of each pair; poses and actions on it look different",
        bones.places,
    ),
    "roll-drifted": Repair(
        "Mirror Roll",
        "Turns one rest bone of each pair about itself; poses and actions on it look different",
        bones.rolls,
    ),
    "bone-parent-unmatched": Repair(
        "Match Parents", "Gives one bone of each pair the counterpart of the other's parent",
        bones.parents, ("left", "right"),
    ),
    "bone-deform-unmatched": Repair(
        "Match Deform", "Lets both bones of each pair deform the mesh, or neither",
        bones.deforms, ("left", "right"),
    ),
    "bone-unpaired": Repair(
        "Make Counterpart Bones",
        "Makes the missing bones as mirror images; weights and constraints are not made",
        bones.make, (),
    ),
}
"""Every kind of finding that can be mended, by its code, in the order repairs run in."""

LEFT_ALONE = {
    "unpaired": "These vertices have no partner: mirror them by hand, or excuse them.",
    "doubled": "Several vertices share these places: merge them by hand, then check again.",
    "ambiguous": "Several partners are equally good here: join or separate them by hand first.",
    "mirror-beside": "The modifier mirrors beside the middle: choose another mirror object for it.",
    "mirror-merge": "Lower the modifier's merge limit, or move these clear of the middle by hand.",
    "mirror-wall": "These faces are not needed: delete them by hand.",
}
"""Why some kinds of finding are never mended by a guess."""


ON_HALVES = frozenset({"off-centre", "mirror-gap", "key-off-centre", "key-stale", "group-unpaired"})
"""What can be mended on half a model under a live Mirror modifier."""


def plan_repair(checked: Checked, entry: ObjectResult, finding: Finding, wish: Wish) -> Plan:
    """The changes that mend one finding. Raises RepairError with the reason where there are none."""
    repair = REPAIRS.get(finding.code)
    if repair is None:
        reason = LEFT_ALONE.get(finding.code, "There is no repair for this: mend it by hand.")
        raise RepairError(reason)
    if wish.way not in WAYS:
        raise RepairError(f"{wish.way} is no way to repair: choose left, right or average.")
    if checked.is_half(entry.name) and finding.code not in ON_HALVES:
        raise RepairError(
            f"A Mirror modifier makes the other half of {entry.name} already: mend the half that is there."
        )
    return repair.function(Case(checked, entry, finding, wish))


__all__ = [
    "LEFT_ALONE",
    "ON_HALVES",
    "REPAIRS",
    "WAYS",
    "BoneSet",
    "BonesSet",
    "Case",
    "Change",
    "Checked",
    "KeyMade",
    "KeyMoved",
    "Moved",
    "Plan",
    "Repair",
    "RepairError",
    "SeamsSet",
    "UVMoved",
    "Weighted",
    "Wish",
    "plan_repair",
]
