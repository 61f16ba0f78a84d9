"""Small invented scenes of the lighthouse staff, made in code."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import bpy
import pytest
from evenfold.core.figure import Figure
from evenfold.host.read import FigureSource, find_figures, read_figure
from mathutils import Matrix

BOX = [(x, y, z) for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (0.0, 2.0)]
FACES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


@contextmanager
def cache_in(folder: Path) -> Iterator[None]:
    """What batch runs keep stays in this folder."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVENFOLD_CACHE", str(folder))
        yield


@cache
def factory_preferences() -> None:
    """Once in a process: six times as slow as an empty scene. A test that changes them puts them back."""
    bpy.ops.wm.read_factory_settings(use_empty=True)


def empty_scene() -> bpy.types.Scene:
    factory_preferences()
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return bpy.context.scene


def add_box(name: str, scale: float = 1.0, points: list | None = None) -> bpy.types.Object:
    """A box of eight vertices from -1 to 1 and 0 to 2, times ``scale``."""
    mesh = bpy.data.meshes.new(name)
    corners = BOX if points is None else points
    mesh.from_pydata([tuple(c * scale for c in p) for p in corners], [], FACES)
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    return item


def add_rig(name: str) -> bpy.types.Object:
    """An armature with the bones Spine (0 to 1) and, on it, Head (1 to 2)."""
    rig = bpy.data.objects.new(name, bpy.data.armatures.new(name))
    bpy.context.scene.collection.objects.link(rig)
    enter(rig)
    spine = rig.data.edit_bones.new("Spine")
    spine.head, spine.tail = (0, 0, 0), (0, 0, 1)
    head = rig.data.edit_bones.new("Head")
    head.head, head.tail = (0, 0, 1), (0, 0, 2)
    head.parent = spine
    head.use_connect = True
    bpy.ops.object.mode_set(mode="OBJECT")
    return rig


def enter(item: bpy.types.Object, mode: str = "EDIT") -> None:
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode=mode)


def deform(item: bpy.types.Object, rig: bpy.types.Object, bone: str = "Head") -> None:
    """Let the rig carry every vertex of the object by one bone."""
    item.parent = rig
    item.modifiers.new("Armature", "ARMATURE").object = rig
    item.vertex_groups.new(name=bone).add(range(len(item.data.vertices)), 0.75, "REPLACE")


def pose(rig: bpy.types.Object, bone: str = "Head") -> None:
    rig.pose.bones[bone].matrix_basis = Matrix.Translation((0.3, 0.2, 0.1)) @ Matrix.Rotation(1, 4, "X")
    bpy.context.view_layer.update()


def counts() -> dict[str, int]:
    """How many data blocks of each kind the open file has."""
    kinds = ("objects", "meshes", "scenes", "collections", "shape_keys", "worlds", "armatures")
    return {kind: len(getattr(bpy.data, kind)) for kind in kinds}


def sources_of(scene: bpy.types.Scene) -> list[FigureSource]:
    scene.view_layers[0].update()
    return find_figures(scene)


def read_only() -> Figure:
    (source,) = sources_of(bpy.context.scene)
    return read_figure(source, bpy.context.scene)


def said_in_header(panel: type, layout: object) -> None:
    """Draw the right end of a panel's header into a recorder."""
    panel.draw_header_preset(type("Panel", (), {"layout": layout, "out_of_date": staticmethod(panel.out_of_date)})(), bpy.context)
