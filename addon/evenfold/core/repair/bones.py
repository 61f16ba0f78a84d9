"""Rest bones made to mirror each other: places, rolls, parents, and missing counterparts.

Left and right are what the bones' names say. Meshes at rest stay as they are; posed shapes and
actions on a bone that was turned or moved look different afterwards.
"""

from dataclasses import replace

import numpy as np

from ..allowances import Allowance, outgrown, resolved
from ..figure import Armature, Bone, FloatArray
from ..findings import Finding
from ..plane import reflect
from ..sides import counterpart, pairs, side_of
from ..symmetry.turning import angle_between, carried
from .case import Case, RepairError
from .changes import BoneSet, BonesSet, Plan
from .joints import HEAD, TAIL, End, Rig, in_order, local, turned

ACROSS = 0.9
"""A bone whose direction leans this much towards the plane's normal has no even roll. Our choice."""


def places(case: Case) -> Plan:
    """``bone-drifted``: heads and tails to their mirror images; z axes follow by the shortest turn."""
    rig, rows = _rig(case), _rows(case)
    _mirror_ends(case, rig, rows)
    return _plan(case, rig, "metres")


def onto_plane(case: Case) -> Plan:
    """``bone-off-centre``: heads and tails straight onto the plane, and what is joined to them."""
    rig = _rig(case)
    wishes: dict[End, FloatArray] = {}
    for name in case.finding.names:
        for end in (HEAD, TAIL):
            place = rig.place(name, end)
            wishes[name, end] = 0.5 * (place + _reflect(case, place))
    rig.move(wishes, frozenset(rig.armature.by_name), case.limits.tolerance)
    return _plan(case, rig, "metres")


def rolls(case: Case) -> Plan:
    """``roll-drifted``: z axes mirrored; bones of the middle turned to the nearest even roll.

    Bones that point elsewhere by more than the limit, though their ends are within the
    tolerance, are put on the mirror image as well.
    """
    rig = _rig(case)
    rows = [(left, right) for left, right in _rows(case) if left != right]
    _mirror_ends(case, rig, [row for row in rows if _aslant(case, rig, *row)])
    for left, right in rows:
        _mirror_roll(case, rig, left, right)
    for name, other in _rows(case):
        if name == other:
            _even_roll(case, rig, name)
    return _plan(case, rig, "degrees")


def parents(case: Case) -> Plan:
    """``bone-parent-unmatched``: parent and connection as the counterpart has them."""
    _refuse_average(case)
    rig, paired = _rig(case), _pairs(case)
    made, told = [], []
    for left, right in _rows(case):
        source, target = _winner(case, left, right)
        if left == right:
            told.append(f"{left} hangs on a bone of one side: give it a parent by hand.")
            continue
        above = _known_parent(rig.armature, source, paired)
        bone, wish = rig.bone(target), paired.get(above, above) if above is not None else None
        if wish is not None and wish in rig.armature.below(target):
            told.append(f"{target} was left alone: {wish} hangs on it.")
            continue
        joined = rig.bone(source).connected and rig.bone(source).parent == above
        if joined and wish is not None and _apart(case, rig.bone(wish).tail, bone.head):
            told.append(f"{target} is not connected to {wish}: repair their places first.")
            joined = bone.connected and wish == bone.parent
        if (wish, joined) != (bone.parent, bone.connected):
            made.append(_as_it_is(case, replace(bone, parent=wish, connected=joined)))
    return _bones_plan(case, made, told)


def deforms(case: Case) -> Plan:
    """``bone-deform-unmatched``: both deform the mesh, or neither, as the winner does."""
    _refuse_average(case)
    armature, made = _armature(case), []
    for left, right in _rows(case):
        source, target = (armature.by_name[name] for name in _winner(case, left, right))
        made.append(_as_it_is(case, replace(target, deform=source.deform)))
    return _bones_plan(case, made, [])


def make(case: Case) -> Plan:
    """``bone-unpaired``: the missing counterparts, mirrored, on the mirrored parents."""
    armature, finding = _armature(case), case.finding
    paired, told, found = _pairs(case), [], dict[str, str]()
    for name, partner in zip(finding.names, finding.partner_names, strict=True):
        other = counterpart(name)
        if partner is not None:
            told.append(f"{partner} lies where {name} has its mirror image: rename one of them.")
        elif other is None:
            told.append(f"{name} tells no side: rename it, or move it to the middle.")
        elif other in armature.by_name or other in found.values():
            told.append(f"There is a bone {other} already: rename {name}.")
        else:
            found[name] = other
    known = {**paired, **found}
    made = []
    for name in in_order(armature):
        if name in found:
            bone = armature.by_name[name]
            above = _known_parent(armature, name, known)
            made.append(_made(case, bone, found[name], known.get(above, above) if above else None, above))
    return _bones_plan(case, made, told)


def _made(case: Case, bone: Bone, name: str, parent: str | None, above: str | None) -> BoneSet:
    """The mirror image of a bone; connected if the original is, and its parent goes along."""
    head, tail = _reflect(case, bone.head), _reflect(case, bone.tail)
    axes = np.stack([bone.axes[0], bone.axes[1], _reflect_axis(case, bone.axes[2])])
    joined = bone.connected and bone.parent == above
    known = _armature(case).by_name.get(parent or "")
    joined = joined and (known is None or not _apart(case, known.tail, head))
    image = replace(bone, head=head, tail=tail, axes=axes, parent=parent, connected=joined)
    return replace(_as_it_is(case, image), bone=name, like=bone.name)


def _armature(case: Case) -> Armature:
    found = case.figure.armature
    if found is None or found.name != case.entry.name:
        raise RepairError(f"{case.entry.name} is not part of the figure any more: check again.")
    missing = [name for name in case.finding.names if name not in found.by_name]
    if missing:
        raise RepairError(f"{found.name} has no bone {missing[0]} any more: check again.")
    return found


def _rig(case: Case) -> Rig:
    armature = _armature(case)
    held = frozenset[str]()
    for one in case.figure.allowances:
        if one.kind == "bones":
            held |= resolved(one, case.figure).names
        elif one.kind == "bone":
            held |= one.names - _outgrown(one, case.finding)
    return Rig(armature, held)


def _outgrown(one: Allowance, finding: Finding) -> frozenset[str]:
    """The bones of an allowance that are listed again because they differ by more than it covers."""
    if one.code != finding.code:
        return frozenset()
    partners = finding.partner_names or finding.names
    rows = np.flatnonzero(outgrown(one, finding))
    return frozenset(name for row in rows for name in (finding.names[row], partners[row]) if name)


def _rows(case: Case) -> list[tuple[str, str]]:
    """Left and right bone of each element; a bone of the middle stands for both."""
    finding = case.finding
    partners = finding.partner_names or finding.names
    return [(name, other or name) for name, other in zip(finding.names, partners, strict=True)]


def _pairs(case: Case) -> dict[str, str]:
    return pairs(_armature(case).by_name).partner


def _winner(case: Case, left: str, right: str) -> tuple[str, str]:
    return (right, left) if case.wish.way == "right" else (left, right)


def _refuse_average(case: Case) -> None:
    if case.wish.way == "average":
        raise RepairError("There is nothing half-way between these: let left or right win.")


def _known_parent(armature: Armature, name: str, paired: dict[str, str]) -> str | None:
    """The nearest bone above that has a counterpart or is of the middle."""
    above = armature.by_name[name].parent
    while above is not None and above not in paired and side_of(above) is not None:
        above = armature.by_name[above].parent
    return above


def _reflect(case: Case, place: FloatArray) -> FloatArray:
    plane = case.limits.plane
    normal = plane.normal / np.linalg.norm(plane.normal)
    return reflect(place[None], plane.point, normal)[0]


def _reflect_axis(case: Case, axis: FloatArray) -> FloatArray:
    plane = case.limits.plane
    normal = plane.normal / np.linalg.norm(plane.normal)
    return axis - 2.0 * float(axis @ normal) * normal


def _apart(case: Case, one: FloatArray, other: FloatArray) -> bool:
    return float(np.linalg.norm(one - other)) > case.limits.tolerance


def _mirror_ends(case: Case, rig: Rig, rows: list[tuple[str, str]]) -> None:
    """Of each pair the losing bone's ends to the image of the winner's, or both half-way."""
    wishes: dict[End, FloatArray] = {}
    targets: set[str] = set()
    ends = {(name, end) for row in rows for name in row for end in (HEAD, TAIL)}
    for left, right in rows:
        source, target = _winner(case, left, right)
        for end in (HEAD, TAIL):
            image = _reflect(case, rig.place(source, end))
            asked = {(target, end): image}
            if case.wish.way == "average":
                image = 0.5 * (image + rig.place(target, end))
                asked = {(source, end): _reflect(case, image), (target, end): image}
            if _takes_along(case, rig, asked, ends):
                continue
            wishes.update(asked)
            targets.update(name for name, _ in asked)
    sides = {"left": ("right",), "right": ("left",)}.get(case.wish.way, ("left", "right"))
    allowed = {name for name in rig.armature.by_name if side_of(name) in sides} | targets
    rig.move(wishes, frozenset(allowed), case.limits.tolerance)


def _takes_along(case: Case, rig: Rig, asked: dict[End, FloatArray], ends: set[End]) -> bool:
    """True, and told, where a bone joined to these ends and not off itself would be taken off its mirror image.

    So it is where one of a pair is connected and the other is not. ``ends`` are those of all bones that are off.
    """
    paired = _pairs(case)
    for one, place in asked.items():
        if not _apart(case, place, rig.place(*one)):
            continue
        for name, end in rig.joint(*one):
            other = paired.get(name)
            if (name, end) in ends or other is None:
                continue
            if not _apart(case, _reflect(case, rig.place(other, end)), rig.place(name, end)):
                rig.told.append(_would_take(one, name))
                return True
    return False


def _would_take(end: End, over: str) -> str:
    bone = end[0]
    return (
        f"The {'tail' if end[1] else 'head'} of {bone} was left alone: it is connected to {over}, "
        "which is not off and would move along. Use Match Parents first."
    )


def _aslant(case: Case, rig: Rig, left: str, right: str) -> bool:
    """True where the directions differ though the ends are within the tolerance."""
    ends = [_apart(case, _reflect(case, rig.place(left, end)), rig.place(right, end)) for end in (0, 1)]
    image = _reflect_axis(case, rig.bone(left).axes[1])
    angle = float(angle_between(image[None], rig.bone(right).axes[1][None])[0])
    return not any(ends) and angle > case.limits.settings.bone_angle


def _mirror_roll(case: Case, rig: Rig, left: str, right: str) -> None:
    source, target = _winner(case, left, right)
    if {source, target} & rig.held:
        return
    image = _image_z(case, rig, source, target, rig.bone(source).axes[2])
    if case.wish.way != "average":
        rig.z_axes[target] = image
        return
    own = carried(rig.bone(target).axes[2][None], rig.bone(target).axes[1][None], rig.direction(target)[None])[0]
    middle = own + image
    length = float(np.linalg.norm(middle))
    if length < 1e-3:
        rig.told.append(f"{left} and {right} are half a turn apart: let one of them win.")
        return
    rig.z_axes[target] = middle / length
    rig.z_axes[source] = _image_z(case, rig, target, source, middle / length, rig.direction(target))


def _image_z(
    case: Case, rig: Rig, source: str, target: str, z_axis: FloatArray, along: FloatArray | None = None
) -> FloatArray:
    """The image of a z axis of ``source``, brought onto ``target``'s direction by the shortest turn."""
    start = rig.bone(source).axes[1] if along is None else along
    image = _reflect_axis(case, start)
    return carried(_reflect_axis(case, z_axis)[None], image[None], rig.direction(target)[None])[0]


def _even_roll(case: Case, rig: Rig, name: str) -> None:
    bone = rig.bone(name)
    normal = case.limits.plane.normal / np.linalg.norm(case.limits.plane.normal)
    y_axis = bone.axes[1]
    if abs(float(y_axis @ normal)) > ACROSS:
        rig.told.append(f"{name} was left alone: it lies across the middle, so no roll of it is even.")
        return
    flat = normal - float(normal @ y_axis) * y_axis
    flat /= np.linalg.norm(flat)
    wishes = np.stack([flat, -flat, np.cross(y_axis, flat), -np.cross(y_axis, flat)])
    rig.z_axes[name] = wishes[int(np.argmax(wishes @ bone.axes[2]))]


def _as_it_is(case: Case, bone: Bone) -> BoneSet:
    into = np.linalg.inv(_armature(case).to_world)
    head, tail = local(into, bone.head), local(into, bone.tail)
    return BoneSet(
        bone.name, head, tail, turned(into, bone.axes[2]), bone.parent, bone.connected, bone.deform
    )


def _plan(case: Case, rig: Rig, unit: str) -> Plan:
    sets = tuple(rig.sets())
    largest = 0.0
    for one in sets:
        bone = rig.bone(one.bone)
        if unit == "degrees":
            along = carried(bone.axes[2][None], bone.axes[1][None], rig.direction(one.bone)[None])
            largest = max(largest, float(angle_between(along, rig.z_axis(one.bone)[None])[0]))
        else:
            by = [np.linalg.norm(rig.place(one.bone, end) - (bone.head, bone.tail)[end]) for end in (0, 1)]
            largest = max(largest, float(max(by)) * case.metres)
    changes = (BonesSet(rig.armature.name, sets),) if sets else ()
    return Plan(changes, tuple(rig.told), case.finding.count, largest, unit)


def _bones_plan(case: Case, made: list[BoneSet], told: list[str]) -> Plan:
    changes = (BonesSet(_armature(case).name, tuple(made)),) if made else ()
    return Plan(changes, tuple(told), case.finding.count)
