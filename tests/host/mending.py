"""A layered figure of real data with planted faults, and all that a repair must leave as it was."""

import bpy
import numpy as np
from evenfold.host import store
from figures.layered import Layered, layered
from host.layered_mesh import add_layered


def keeper(seed: int = 1) -> tuple[Layered, bpy.types.Object]:
    """The figure with a muted key, a chain, a mask group, a locked group, a pin; active and selected."""
    made = layered(seed)
    item = add_layered(made, "Keeper")
    keys = item.data.shape_keys.key_blocks
    chain = item.shape_key_add(name="Wide", from_mix=False)
    chain.points.foreach_set("co", (2 * places(item, "Jaw") - places(item)).ravel())
    chain.relative_key, chain.value = keys["Jaw"], 0.0
    keys["Blink.R"].mute = True
    keys["Smile.L"].value = 0.25
    item.vertex_groups["Head"].lock_weight = True
    item.active_shape_key_index = 2
    store.pin_vertex(item, "chin", 11)
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    round_trip(item)
    return made, item


def round_trip(item: bpy.types.Object) -> None:
    """Into edit mode and back, as any file has been that an artist worked on."""
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")


def places(item: bpy.types.Object, key: str = "") -> np.ndarray:
    """(n, 3) the places of a key, the neutral one by default."""
    table = np.zeros(len(item.data.vertices) * 3, np.float32)
    block = item.data.shape_keys
    if block is None:
        item.data.vertices.foreach_get("co", table)
    else:
        (block.key_blocks[key] if key else block.reference_key).points.foreach_get("co", table)
    return table.reshape(-1, 3)


def put(item: bpy.types.Object, key: str, table: np.ndarray) -> None:
    item.data.shape_keys.key_blocks[key].points.foreach_set("co", np.float32(table).ravel())
    item.data.update()


def push(item: bpy.types.Object, rows, by) -> None:
    """The neutral shape edited as in edit mode: all keys and the mesh's own places along."""
    offset = np.zeros((len(item.data.vertices), 3), np.float32)
    offset[rows] = by
    for key in item.data.shape_keys.key_blocks:
        put(item, key.name, places(item, key.name) + offset)
    own = np.zeros(offset.size, np.float32)
    item.data.vertices.foreach_get("co", own)
    item.data.vertices.foreach_set("co", own + offset.ravel())
    item.data.update()


def deltas(item: bpy.types.Object) -> dict[str, np.ndarray]:
    return {
        key.name: places(item, key.name).astype(float) - places(item, key.relative_key.name)
        for key in item.data.shape_keys.key_blocks
    }


def normals(item: bpy.types.Object) -> bytes:
    table = np.zeros(len(item.data.loops) * 3, np.float32)
    item.data.corner_normals.foreach_get("vector", table)
    return table.tobytes()


def layers(item: bpy.types.Object) -> dict[str, object]:
    """All that is not a place of a vertex, as comparable values."""
    mesh = item.data
    kept: dict[str, object] = {
        "corners": _flat(mesh.loops, "vertex_index", np.int32), "edges": _flat(mesh.edges, "vertices", np.int32, 2),
        "faces": _flat(mesh.polygons, "loop_start", np.int32), "material": _flat(mesh.polygons, "material_index", np.int32),
        "smooth": _flat(mesh.polygons, "use_smooth", bool), "seams": _flat(mesh.edges, "use_seam", bool),
        "uv": [_flat(layer.uv, "vector", np.float32, 2) for layer in mesh.uv_layers],
        "groups": [(g.name, g.lock_weight) for g in item.vertex_groups],
        "weights": [[(g.group, g.weight) for g in v.groups] for v in mesh.vertices],
        "keys": [
            (k.name, k.value, k.slider_min, k.slider_max, k.mute, k.vertex_group, k.relative_key.name)
            for k in mesh.shape_keys.key_blocks
        ],
        "active key": item.active_shape_key_index, "pin": item.show_only_shape_key,
        "custom": mesh.has_custom_normals,
        "told": sorted((name, str(item[name])) for name in item.keys()),  # noqa: SIM118
    }
    fields = {"FLOAT": "value", "FLOAT_COLOR": "color", "INT": "value", "BOOLEAN": "value", "INT16_2D": "value", "INT32_2D": "value"}
    for one in mesh.attributes:
        if one.data_type in fields and not one.name.startswith(".select") and len(one.data):
            sample = getattr(one.data[0], fields[one.data_type])
            width = len(sample) if hasattr(sample, "__len__") else 1
            dtype = {"FLOAT": np.float32, "FLOAT_COLOR": np.float32, "BOOLEAN": bool}.get(one.data_type, np.int32)
            kept[f"attribute {one.name}"] = _flat(one.data, fields[one.data_type], dtype, width)
    return kept


def _flat(sequence, field: str, dtype, width: int = 1) -> bytes:
    table = np.zeros(len(sequence) * width, dtype)
    sequence.foreach_get(field, table)
    return table.tobytes()
