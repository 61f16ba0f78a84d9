"""Builds the figure of a recipe in an empty scene."""

from dataclasses import dataclass, replace

import bpy
import numpy as np
from host.scenes import empty_scene
from mathutils import Matrix

from .assemble import CAGED, LEVELS, Assembly, SpoiltError, assemble
from .naming import bone_name, object_name
from .negatives import negative_pieces
from .placing import Placing, place, through
from .recipe import Recipe
from .rigs import (
    bind,
    bind_automatically,
    build_armature,
    choice_of_bones,
    hang,
    paint,
    plan_bones,
    strike_pose,
)
from .shapes import Piece
from .styles import halved, mesh_object, split_everywhere
from .truth import Truth, lost

HEAD_OBJECTS = ("head", "face", "eyes", "mouth", "ears", "hair", "hair_front", "hat", "beard")


@dataclass(frozen=True)
class Made:
    """``truth`` in world space, None for what has no heads to count; ``weights`` is what the rig
    got in the end; ``spoilt`` says why a recipe does not count, "" when it does; ``main`` is the
    name of the object that holds the body."""

    recipe: Recipe
    truth: Truth | None
    weights: str = "none"
    spoilt: str = ""
    main: str = ""


def build(recipe: Recipe) -> Made:
    """Clears the file and builds; what is built can be read from the open scene."""
    empty_scene()
    if recipe.kind != "figure":
        return _build_negative(recipe)
    try:
        plan = assemble(recipe)
    except SpoiltError as error:
        return Made(recipe, None, spoilt=str(error))
    rng = np.random.default_rng((recipe.seed, 8))
    placing = place(recipe, rng)
    bpy.context.scene.unit_settings.scale_length = placing.unit
    if recipe.weights == "parented":
        plan = replace(plan, objects=_each_apart(plan))
    items = {}
    for number, (key, pieces) in enumerate(plan.objects.items()):
        items[key] = mesh_object(object_name(recipe.naming, key, number), pieces, recipe.naming, recipe.style == "lowpoly")
    for item in items.values():
        item.data.transform(Matrix(placing.data.tolist()))
    bpy.context.view_layer.update()
    if recipe.rigged:
        root, weights = _rig(plan, items, placing, rng)
    else:
        root, weights = None, "none"
    _finish(plan, items)
    _stand(root, items, placing)
    bpy.context.view_layer.update()
    truth = plan.truth.placed(placing)
    solid = [item for key, item in items.items() if key.split(".")[0] in ("body", "head", "face", "hair")]
    shown = ("chin", "sole") if recipe.hair_made == "fused" else ("crown", "chin", "sole")
    gone = lost(truth, solid, shown)
    if root is not None and recipe.posed:
        strike_pose(root, recipe)
    return Made(recipe, truth, weights, f"the finished mesh does not show the {gone}" if gone else "", items["body"].name)


def _points(item: bpy.types.Object) -> np.ndarray:
    return np.array([vertex.co for vertex in item.data.vertices]).reshape(-1, 3)


def _each_apart(plan: Assembly) -> dict[str, list[Piece]]:
    """Every piece an object of its own; the first of each kind keeps the kind's key."""
    objects: dict[str, list[Piece]] = {}
    for key, pieces in plan.objects.items():
        for number, piece in enumerate(pieces):
            objects[key if number == 0 else f"{key}.{number}"] = [piece]
    return objects


def _rig(
    plan: Assembly, items: dict[str, bpy.types.Object], placing: Placing, rng: np.random.Generator
) -> tuple[bpy.types.Object, str]:
    recipe = plan.recipe
    bones = plan_bones(recipe, plan.body, plan.head, plan.parts, plan.truth.chin, rng)
    rig = build_armature(bones, recipe, placing)
    inverse = np.linalg.inv(placing.data)
    said = recipe.weights
    for key, item in items.items():
        chosen = choice_of_bones(through(inverse, _points(item)), plan.parts, bones, plan.head)
        if recipe.weights == "parented":
            names, counts = np.unique(np.array(chosen, str), return_counts=True)
            hang(item, rig, bone_name(recipe.bones, str(names[counts.argmax()])))
            continue
        if recipe.weights == "auto" and key in ("body", "head", "face"):
            took = bind_automatically(item, rig)
            if took != "auto":
                said = took
            if took != "none":
                continue
        paint(item, chosen, recipe, 0 if recipe.weights == "rigid" else int(rng.integers(2, 7)))
        bind(item, rig)
    return rig, "painted after automatic failed" if said == "none" else said


def _finish(plan: Assembly, items: dict[str, bpy.types.Object]) -> None:
    """Half models, live or applied subdivision, split vertices: what changes vertices comes last."""
    recipe = plan.recipe
    for key, item in items.items():
        base = key.split(".")[0]
        if recipe.mirror and base in ("body", "head", "face") and recipe.weights != "parented":
            halved(item)
        if recipe.style in CAGED and base in ("body", "head", "face", "eyes", "ears", "worn", "tail"):
            item.modifiers.new("Subdivision", "SUBSURF").levels = LEVELS
            item.modifiers["Subdivision"].render_levels = LEVELS
        if recipe.style == "lowpoly" and not recipe.mirror:
            split_everywhere(item)
        _armature_last(item)
        if recipe.style in CAGED and not recipe.live and not recipe.mirror:
            _apply_subdivision(item)


def _armature_last(item: bpy.types.Object) -> None:
    for number, change in enumerate(item.modifiers):
        if change.type == "ARMATURE":
            item.modifiers.move(number, len(item.modifiers) - 1)
            return


def _apply_subdivision(item: bpy.types.Object) -> None:
    if "Subdivision" in item.modifiers:
        bpy.context.view_layer.objects.active = item
        bpy.ops.object.modifier_apply(modifier="Subdivision")


def _stand(root: bpy.types.Object | None, items: dict[str, bpy.types.Object], placing: Placing) -> None:
    """Give what is at the top of the figure the placing's matrix."""
    outer = Matrix(placing.outer.tolist())
    top = [root] if root is not None else list(items.values())
    if placing.empties:
        parent = None
        for level in range(placing.empties):
            empty = bpy.data.objects.new(f"Empty.{level + 1:03d}", None)
            bpy.context.scene.collection.objects.link(empty)
            empty.parent = parent
            parent = empty
            if level == 0:
                empty.matrix_world = outer
        for item in top:
            item.parent = parent
        return
    for item in top:
        item.matrix_world = outer


def _build_negative(recipe: Recipe) -> Made:
    pieces = negative_pieces(recipe)
    item = mesh_object("Object", pieces, "default")
    item.data.transform(Matrix.Scale(recipe.size, 4))
    if recipe.rigged and recipe.kind in ("bust", "head", "dog"):
        _small_rig(item, recipe)
    bpy.context.view_layer.update()
    return Made(recipe, None, main=item.name)


def _small_rig(item: bpy.types.Object, recipe: Recipe) -> None:
    """A root, and a head bone for what has a head, over the bounds of the object."""
    points = _points(item)
    low, high = points.min(axis=0), points.max(axis=0)
    rig = bpy.data.objects.new("Armature", bpy.data.armatures.new("Armature"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    tall = high[2] - low[2]
    start = high[2] - (0.9 if recipe.kind == "head" else 0.4 if recipe.kind == "dog" else 0.7) * min(tall, recipe.size)
    front = low[1] * 0.75 if recipe.kind == "dog" else 0.0
    root = rig.data.edit_bones.new("root")
    root.head, root.tail = (0, 0, low[2]), (0, front * 0.5, start)
    head = rig.data.edit_bones.new("head")
    head.head, head.tail, head.parent = (0, front, start), (0, front, high[2]), root
    bpy.ops.object.mode_set(mode="OBJECT")
    on = (points[:, 2] > start) & (points[:, 1] < front + recipe.size)
    item.vertex_groups.new(name="head").add(np.flatnonzero(on).tolist(), 1.0, "REPLACE")
    item.vertex_groups.new(name="root").add(np.flatnonzero(~on).tolist(), 1.0, "REPLACE")
    bind(item, rig)
