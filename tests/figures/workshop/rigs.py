"""Armatures and what hangs on them: bones from a body's joints, weights made in several ways."""

from dataclasses import dataclass
from itertools import pairwise

import bpy
import numpy as np
from mathutils import Matrix, kdtree

from .bodies import Body
from .heads import Head
from .naming import bone_name
from .placing import Placing, through
from .recipe import Recipe
from .shapes import Piece, Points, joined, vector

UNWEIGHTED = 0.02
"""More vertices without weights than this, and automatic weights count as failed."""


@dataclass(frozen=True)
class BonePlan:
    """A bone by its standard or chain name, in design space."""

    name: str
    parent: str | None
    start: Points
    end: Points
    deform: bool = True


def plan_bones(
    recipe: Recipe, body: Body, head: Head, pieces: list[Piece], truth_chin: Points, rng: np.random.Generator
) -> list[BonePlan]:
    joints = body.joints
    chin = float(truth_chin[2])
    back = float(head.offset[1]) + 0.08
    height = {
        "top": chin + float(rng.uniform(0.03, 0.25)), "chin": chin + float(rng.uniform(-0.03, 0.03)),
        "nape": min(chin - 0.03, float(joints["neck"][2]) + 0.03),
    }[recipe.head_bone]
    start = np.array([0, back, height])
    start[2] = max(start[2], joints["neck"][2] + 0.02)
    high = np.array([0, back, chin + float(rng.uniform(0.6, 1.05))])
    plans = [
        BonePlan("hips", None, joints["hips"], joints["spine"]), BonePlan("spine", "hips", joints["spine"], joints["chest"]),
        BonePlan("chest", "spine", joints["chest"], joints["neck"]), BonePlan("neck", "chest", joints["neck"], start),
        BonePlan("head", "neck", start, high),
    ]
    for side in ("left", "right"):
        for chain, parent in ((("Shoulder", "UpperArm", "LowerArm", "Hand", "Fingers"), "chest"),
                              (("UpperLeg", "LowerLeg", "Foot", "Toes", "ToeEnd"), "hips")):
            above = parent
            for name, after in pairwise(chain):
                plans.append(BonePlan(side + name, above, joints[side + name], joints[side + after]))
                above = side + name
    plans += _helpers(recipe, head, joints, chin)
    if "chains" in recipe.helpers:
        plans += _chains(pieces)
    return plans


def _helpers(recipe: Recipe, head: Head, joints: dict[str, Points], chin: float) -> list[BonePlan]:
    plans = []
    front = head.offset[1] - head.skull.depth * 0.45
    if "jaw" in recipe.helpers:
        plans.append(BonePlan("jaw", "head", np.array([0, front * 0.4, chin + 0.22]), np.array([0, front, chin + 0.06])))
    if "eyes" in recipe.helpers:
        for side, sign in (("left", 1), ("right", -1)):
            place = np.array([sign * head.skull.width * 0.22, front * 0.8, chin + head.skull.eye_height])
            plans.append(BonePlan(side + "Eye", "head", place, place - (0, 0.1, 0)))
    for side, letter in (("left", "L"), ("right", "R")):
        if "twist" in recipe.helpers:
            a, b = joints[side + "LowerArm"], joints[side + "Hand"]
            plans.append(BonePlan(f"forearm_twist.{letter}", side + "LowerArm", (a + b) / 2, b))
        if "ik" in recipe.helpers:
            foot, hand = joints[side + "Foot"], joints[side + "Hand"]
            plans.append(BonePlan(f"foot_ik.{letter}", None, foot, foot + vector(0, 0.15, 0), deform=False))
            plans.append(BonePlan(f"hand_ik.{letter}", None, hand, hand + vector(0, 0.15, 0), deform=False))
    if "end" in recipe.helpers:
        top = np.array([0, 0.05, chin + 1.02])
        plans.append(BonePlan("head_end", "head", top, top + vector(0, 0, 0.05), deform=False))
        for side, letter in (("left", "L"), ("right", "R")):
            plans.append(BonePlan(f"toe_end.{letter}", side + "Toes", joints[side + "ToeEnd"], joints[side + "ToeEnd"] - (0, 0.05, 0),
                                  deform=False))
    return plans


def _chains(pieces: list[Piece]) -> list[BonePlan]:
    """Bones along what swings: each piece that names a chain of its own gets one."""
    plans: list[BonePlan] = []
    for piece in pieces:
        chain = [name for name in piece.bones if name[-2:] in (".1", ".2")]
        if not chain or any(one.name == chain[0] for one in plans):
            continue
        span = len(piece.points) // 3
        a, b, c = piece.points[:span].mean(axis=0), piece.points[span:-span].mean(axis=0), piece.points[-span:].mean(axis=0)
        plans.append(BonePlan(chain[0], piece.bones[0], a, b if len(chain) > 1 else c))
        if len(chain) > 1:
            plans.append(BonePlan(chain[1], chain[0], b, c))
    return plans


def build_armature(plans: list[BonePlan], recipe: Recipe, placing: Placing) -> bpy.types.Object:
    rig = bpy.data.objects.new("Rig" if recipe.naming == "tidy" else "Armature", bpy.data.armatures.new("Armature"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    for plan in plans:
        bone = rig.data.edit_bones.new(bone_name(recipe.bones, plan.name))
        ends = through(placing.data, np.array([plan.start, plan.end]))
        bone.head, bone.tail, bone.use_deform = ends[0], ends[1], plan.deform
        if plan.parent:
            bone.parent = rig.data.edit_bones[bone_name(recipe.bones, plan.parent)]
            bone.use_connect = bool((bone.head - bone.parent.tail).length < 1e-6)
        thick = float(np.linalg.norm(ends[1] - ends[0])) * 0.3
        bone.head_radius = bone.tail_radius = thick
        bone.envelope_distance = thick
    bpy.ops.object.mode_set(mode="OBJECT")
    return rig


def choice_of_bones(points: Points, pieces: list[Piece], plans: list[BonePlan], head: Head) -> list[str]:
    """The one bone that each of (n, 3) design-space points hangs on most, by the piece it is of."""
    by_name = {plan.name: plan for plan in plans}
    source, _ = joined(pieces)
    owner = np.repeat(np.arange(len(pieces)), [len(piece.points) for piece in pieces])
    if len(source) != len(points) or not np.allclose(source, points, atol=1e-5):
        tree = kdtree.KDTree(len(source))
        for number, place in enumerate(source):
            tree.insert(place, number)
        tree.balance()
        owner = owner[[tree.find(place)[1] for place in points]]
    chosen = np.empty(len(points), object)
    for number, piece in enumerate(pieces):
        rows = owner == number
        if not rows.any():
            continue
        names = [name for name in piece.bones if name in by_name] or ["head" if piece.bones[0] == "head" else "hips"]
        away = np.array([_distance(points[rows], by_name[name]) for name in names])
        own = np.array(names, object)[away.argmin(axis=0)]
        if "jaw" in by_name and piece.label in ("head", "face", "teeth", "tongue"):
            local = points[rows] - head.offset
            own[(local[:, 2] < 0.24) & (local[:, 1] < -0.1)] = "jaw"
        chosen[rows] = own
    return list(chosen)


def _distance(points: Points, plan: BonePlan) -> Points:
    along = plan.end - plan.start
    t = np.clip((points - plan.start) @ along / (along @ along), 0, 1)
    return np.linalg.norm(points - plan.start - t[:, None] * along, axis=1)


def paint(item: bpy.types.Object, chosen: list[str], recipe: Recipe, smooth: int) -> None:
    """Write one bone for each vertex, blended over ``smooth`` rings of neighbours, four at most."""
    names = sorted(set(chosen))
    table = np.zeros((len(chosen), len(names)))
    table[np.arange(len(chosen)), [names.index(name) for name in chosen]] = 1.0
    edges = np.array([edge.vertices[:] for edge in item.data.edges], int).reshape(-1, 2)
    degree = np.bincount(edges.ravel(), minlength=len(chosen))[:, None]
    for _ in range(smooth):
        total = table.copy()
        np.add.at(total, edges[:, 0], table[edges[:, 1]])
        np.add.at(total, edges[:, 1], table[edges[:, 0]])
        table = total / (degree + 1)
    if len(names) > 4:
        table[table < -np.sort(-table, axis=1)[:, 3:4]] = 0
    table /= table.sum(axis=1, keepdims=True)
    for column, name in enumerate(names):
        group = item.vertex_groups.new(name=bone_name(recipe.bones, name))
        for number in np.flatnonzero(table[:, column] > 0.005):
            group.add([int(number)], float(table[number, column]), "REPLACE")


def bind(item: bpy.types.Object, rig: bpy.types.Object) -> None:
    item.parent = rig
    item.modifiers.new("Armature", "ARMATURE").object = rig


def bind_automatically(item: bpy.types.Object, rig: bpy.types.Object) -> str:
    """Automatic weights, else envelopes; says which took, or "none" (then nothing is bound)."""
    for kind, said in (("ARMATURE_AUTO", "auto"), ("ARMATURE_ENVELOPE", "envelope")):
        for one in bpy.context.view_layer.objects:
            one.select_set(one in (item, rig))
        bpy.context.view_layer.objects.active = rig
        bpy.ops.object.parent_set(type=kind)
        empty = sum(not any(g.weight > 0.001 for g in vertex.groups) for vertex in item.data.vertices)
        if empty <= UNWEIGHTED * len(item.data.vertices):
            return said
        item.vertex_groups.clear()
        for change in [one for one in item.modifiers if one.type == "ARMATURE"]:
            item.modifiers.remove(change)
        item.parent = None
    return "none"


def hang(item: bpy.types.Object, rig: bpy.types.Object, bone: str) -> None:
    """Parent an object to a bone and leave it where it is."""
    kept = item.matrix_world.copy()
    item.parent, item.parent_type, item.parent_bone = rig, "BONE", bone
    bpy.context.view_layer.update()
    item.matrix_world = kept


def strike_pose(rig: bpy.types.Object, recipe: Recipe) -> None:
    """A pose, and perhaps an action left on, which is not how the figure rests."""
    turns = {"leftUpperArm": ("Z", 0.7), "head": ("X", 0.4), "spine": ("X", 0.3), "rightUpperLeg": ("X", 0.8)}
    for name, (axis, angle) in turns.items():
        bone = rig.pose.bones[bone_name(recipe.bones, name)]
        bone.matrix_basis = Matrix.Rotation(angle, 4, axis)
        if recipe.action:
            bone.rotation_mode = "XYZ"
            bone.keyframe_insert("rotation_euler", frame=1)
    rig.data.pose_position = "POSE"
    bpy.context.view_layer.update()
