"""A sculpted figure of quads whose halves are alike to the last bit, cut up the way exports cut."""

import bmesh
import bpy
import numpy as np
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.clay.to_host import put

APPRENTICE = Recipe(2.4, "short", "jaw", "painted", "dotted", "a", "object", seed=11, vertices=2500)


def put_even(flat: bool = False, unwrapped: bool = False) -> list[bpy.types.Object]:
    """The apprentice in an emptied scene; returns its meshes. Some of its faces have six corners.

    Every third band of the UV map lies apart, so that exports must store its border again; or the
    map is ``unwrapped`` around the figure, with its seam on the left only. ``flat`` shades every
    face by itself.
    """
    items, _ = put(sculpt(APPRENTICE).figure)
    for item in items:
        _make_even(item)
        _lay_out(item.data, unwrapped)
        if flat:
            item.data.shade_flat()
    _wink(items[0])
    bpy.context.view_layer.update()
    return items


def _make_even(item: bpy.types.Object) -> None:
    mesh = item.data
    made = bmesh.new()
    made.from_mesh(mesh)
    bmesh.ops.symmetrize(made, input=[*made.verts, *made.edges, *made.faces], direction="X", dist=2e-3)
    for vertex in made.verts:
        if abs(vertex.co.x) < 1e-5:
            vertex.co.x = 0.0
    _join_some(made)
    made.to_mesh(mesh)
    made.free()
    _exchange_groups(item)


def _join_some(made: bmesh.types.BMesh) -> None:
    """Joins neighbouring faces, alike on both halves and across the middle."""
    def joined(edge: bmesh.types.BMEdge) -> bool:
        place = (edge.verts[0].co + edge.verts[1].co) * 0.5
        return len(edge.link_faces) == 2 and (round(abs(place.x) * 1e4) * 7 + round(place.y * 1e4) + round(place.z * 1e4)) % 19 == 0

    taken: set[bmesh.types.BMFace] = set()
    chosen = []
    for edge in sorted(filter(joined, made.edges), key=lambda one: -one.calc_length()):
        if not taken & set(edge.link_faces):
            taken |= set(edge.link_faces)
            chosen.append(edge)
    bmesh.ops.dissolve_edges(made, edges=chosen)


def _exchange_groups(item: bpy.types.Object) -> None:
    """Symmetrizing copies weights with their groups; the right half belongs to the right ones."""
    names = [group.name for group in item.vertex_groups]
    for vertex in item.data.vertices:
        held = {names[entry.group]: entry.weight for entry in vertex.groups}
        if vertex.co.x > 0:
            continue
        for name in held:
            item.vertex_groups[name].remove([vertex.index])
        wanted = {_other(name): weight for name, weight in held.items()}
        if vertex.co.x == 0:
            both = {name: 0.5 * (held.get(name, 0.0) + wanted.get(name, 0.0)) for name in {*held, *wanted}}
            heaviest = sorted({name[:-1]: weight for name, weight in both.items()}.items(), key=lambda one: -one[1])[:2]
            wanted = {name: weight for name, weight in both.items() if name[:-1] in dict(heaviest)}
        for name, weight in wanted.items():
            item.vertex_groups[name].add([vertex.index], weight, "REPLACE")


def _other(name: str) -> str:
    return name[:-1] + {"L": "R", "R": "L"}[name[-1]] if name.endswith((".L", ".R")) else name


def _lay_out(mesh: bpy.types.Mesh, unwrapped: bool) -> None:
    corners = np.zeros(len(mesh.loops), np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    all_places = np.array([vertex.co for vertex in mesh.vertices])
    places = all_places[corners] / np.abs(all_places).max()
    lengths = [polygon.loop_total for polygon in mesh.polygons]
    centres = np.repeat(np.array([polygon.center for polygon in mesh.polygons]), lengths, axis=0)
    if unwrapped:
        middle = np.arctan2(centres[:, 1], centres[:, 0])
        turn = np.arctan2(places[:, 1], places[:, 0])
        turn += 2 * np.pi * np.round((middle - turn) / (2 * np.pi))
        uv = np.stack([turn / 7 + 0.5, 0.5 + 0.4 * places[:, 2]], axis=1)
    else:
        band = np.floor((centres[:, 2] - centres[:, 2].min()) / np.ptp(centres[:, 2]) * 8.9)
        uv = np.stack([0.5 + 0.4 * places[:, 0], 0.1 * places[:, 2] + 0.1 + 0.3 * (band % 3 == 0)], axis=1)
    mesh.uv_layers.new(name="Map").uv.foreach_set("vector", uv.astype(np.float32).ravel())


def _wink(item: bpy.types.Object) -> None:
    """Two one-sided keys, each the other's mirror image."""
    item.shape_key_add(name="Basis")
    places = np.array([vertex.co for vertex in item.data.vertices])
    top = places[:, 2] > places[:, 2].max() - 0.2 * np.ptp(places[:, 2])
    for name, side in (("Wink.L", 1.0), ("Wink.R", -1.0)):
        moved = places.copy()
        chosen = top & (places[:, 0] * side > 0.1 * places[:, 0].max())
        moved[chosen, 2] -= 0.02
        item.shape_key_add(name=name).points.foreach_set("co", moved.astype(np.float32).ravel())
        item.data.shape_keys.key_blocks[name].value = 0.0
