"""Build the demo's figures, an invented lighthouse staff: build_figures.py FOLDER (with bpy)."""

import sys
from pathlib import Path

import bpy
import numpy as np
from half_body import (
    BODY_ROWS,
    HEAD_ROWS,
    Build,
    Point,
    Whole,
    arm_joints,
    body,
    ear_joints,
    leg_joints,
    shell,
)
from numpy.typing import NDArray

BUILDS = {
    "keeper": Build(crown=0.9, chin=0.3, torso=0.15),  # 0.9 / 0.6: 1.5 heads
    "cook": Build(crown=1.2, chin=0.8, torso=0.17),  # 1.2 / 0.4: 3 heads
    "apprentice": Build(crown=0.9, chin=0.3, torso=0.15),  # the keeper with planted faults
}
"""Crown and chin in metres above the sole, which is at 0: the constructed truth."""


def planted(whole: Whole) -> Whole:
    """A copy with invented faults: moved, off-centre, one vertex too many, one ripped open."""
    points, faces, shares = whole.points.copy(), list(whole.faces), list(whole.shares)
    heads = [i for i, share in enumerate(shares) if share == {"head": 1.0}]
    left = [i for i in heads if points[i, 0] > 0.05]
    points[left[20:23]] += (0.0, -0.004, 0.003)
    centre = [i for i in heads if points[i, 0] == 0.0 and points[i, 1] < 0.0]
    points[centre[6], 0] = 0.003
    poked = next(face for face in faces if left[60] in face)
    faces.remove(poked)
    extra = len(points)
    faces += [(a, b, extra) for a, b in zip(poked, (*poked[1:], poked[0]), strict=True)]
    ripped = next(i for i, face in enumerate(faces) if left[90] in face)
    faces[ripped] = tuple(extra + 1 if index == left[90] else index for index in faces[ripped])
    points = np.vstack([points, points[list(poked)].mean(0), points[left[90]]])
    added = [extra, extra + 1]
    return Whole(points, faces, [*shares, {"head": 1.0}, {"head": 1.0}], [*whole.partner, *added])


def add_mesh(name: str, whole: Whole, rig: bpy.types.Object, material: str) -> bpy.types.Object:
    """A mesh object with weights, hung on the armature."""
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(whole.points.tolist(), [], whole.faces)
    mesh.validate()
    mesh.materials.append(bpy.data.materials.new(material))
    made = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(made)
    for index, share in enumerate(whole.shares):
        for group, weight in share.items():
            target = made.vertex_groups.get(group) or made.vertex_groups.new(name=group)
            target.add([index], weight, "REPLACE")
    made.parent = rig
    made.modifiers.new("Armature", "ARMATURE").object = rig
    return made


def add_keys(made: bpy.types.Object, whole: Whole, build: Build) -> None:
    """Two one-sided keys and a central one, exact mirror images of each other."""
    made.shape_key_add(name="Basis", from_mix=False)
    heights = (whole.points[:, 2] - build.chin) / build.head
    front = whole.points[:, 1] < -0.2 * build.head
    side = whole.points[:, 0] / build.head
    lids = front & (heights > 0.38) & (heights < 0.55)
    moves = {
        "blinkLeft": lids & (side > 0.1),
        "blinkRight": lids & (side < -0.1),
        "jawOpen": front & (heights > -0.01) & (heights < 0.15),
    }
    for name, moved in moves.items():
        key = made.shape_key_add(name=name, from_mix=False)
        key.value = 0.0
        points: NDArray[np.float32] = whole.points.astype(np.float32)
        points[moved, 2] -= np.float32(0.05 * build.head)
        key.points.foreach_set("co", points.ravel())


def joints(build: Build) -> list[tuple[str, str | None, Point, Point]]:
    """Name, parent, head and tail of the centre bones and the left ones."""
    chin, head = build.chin, build.head
    heights = (0.4 * chin, 0.55 * chin, 0.88 * chin, chin + 0.05 * head, build.crown)
    names = ("hips", "spine", "neck", "head")
    bones: list[tuple[str, str | None, Point, Point]] = [
        (name, names[i - 1] if i else None, (0.0, 0.0, heights[i]), (0.0, 0.0, heights[i + 1]))
        for i, name in enumerate(names)
    ]
    chains = (
        ("spine", ("UpperArm.L", "LowerArm.L", "Hand.L"), arm_joints(build)),
        ("hips", ("UpperLeg.L", "LowerLeg.L", "Foot.L"), leg_joints(build)),
        ("head", ("Ear1.L", "Ear2.L", "Ear3.L"), ear_joints(build)),
    )
    for root, chain, places in chains:
        for i, name in enumerate(chain):
            bones.append((name, chain[i - 1] if i else root, places[i], places[i + 1]))
    return bones


def add_rig(name: str, build: Build) -> bpy.types.Object:
    """An armature whose right bones are the left ones with x negated."""
    rig = bpy.data.objects.new(name, bpy.data.armatures.new(name))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    edit = rig.data.edit_bones
    for sign in (1.0, -1.0):
        for bone, parent, head, tail in joints(build):
            if sign < 0 and not bone.endswith(".L"):
                continue
            own = bone if sign > 0 else bone.replace(".L", ".R")
            above = parent if sign > 0 or parent is None else parent.replace(".L", ".R")
            made = edit.new(own)
            made.head = (sign * head[0], head[1], head[2])
            made.tail = (sign * tail[0], tail[1], tail[2])
            made.parent = edit[above] if above else None
    bpy.ops.object.mode_set(mode="OBJECT")
    return rig


def build_file(name: str, folder: Path) -> None:
    """One figure in one new file: body, hair, coat and armature."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    build, title = BUILDS[name], name.capitalize()
    rig = add_rig(f"{title} Rig", build)
    whole = body(build)
    if name == "apprentice":
        whole = planted(whole)
    add_keys(add_mesh(f"{title} Body", whole, rig, "Skin"), whole, build)
    top = len(BODY_ROWS) + len(HEAD_ROWS)
    add_mesh(f"{title} Hair", shell(build, top - 6, top, 1.12), rig, "Hair")
    add_mesh(f"{title} Coat", shell(build, 1, len(BODY_ROWS) - 1, 1.08), rig, "Cloth")
    bpy.context.preferences.filepaths.save_version = 0
    bpy.ops.wm.save_as_mainfile(filepath=str(folder / f"{name}.blend"), compress=True)


def main() -> int:
    if len(sys.argv) != 2:
        print("Call: build_figures.py FOLDER", file=sys.stderr)
        return 2
    folder = Path(sys.argv[1]).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    for name in BUILDS:
        build_file(name, folder)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
