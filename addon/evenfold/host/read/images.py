"""Painted masks kept as images: whole, and sampled where the face corners lie in the UV map."""

import hashlib
import re
import weakref
from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

import bpy
import numpy as np

from ...core.figure import IntArray
from ...core.layers import Float32Array, Mask, Picture

MASK_WORDS = frozenset({"mask", "masks", "outline", "width", "weight"})
NORMAL_WORDS = frozenset({"normal", "normals", "nrm", "nor", "bump"})
"""Words of an image's name. Our choice: a mask is an image of data (not of colour) or one whose
name has a mask word, unless its name or its use says that it bends normals."""

LARGEST = 4096 * 4096
"""Pixels up to which an image is read. Our choice: four such channels take 256 MB."""

RANGE = (-8.0, 8.0)
"""Values of images in floating point beyond these are taken for these. Our choice."""
AT_ONCE = 1 << 20
"""Pixels turned into whole numbers at a time."""

DEPTH = 8
"""How deep groups of nodes are followed."""


@dataclass(frozen=True)
class _Use:
    """An image in a material: where its coordinates come from, None where that is no UV map."""

    slot: int
    image: bpy.types.Image
    uv_map: str | None
    repeat: bool


def read_images(
    item: bpy.types.Object,
    mesh: bpy.types.Mesh,
    maps: dict[str, Float32Array],
    face_material: IntArray,
) -> tuple[tuple[Mask, ...], tuple[str, ...]]:
    """One mask for each mask image and UV map it is used with; NaN on other materials' corners.

    ``maps`` are the UV maps' (c, 2) places by name. Also returns notes on images left out.
    """
    if not maps or not len(item.material_slots):
        return (), ()
    rendered = next((one.name for one in mesh.uv_layers if one.active_render), next(iter(maps)))
    slots: dict[tuple[str, str], set[int]] = {}
    uses: dict[tuple[str, str], _Use] = {}
    notes: dict[str, None] = {}
    for use in _uses(item):
        name = rendered if use.uv_map == "" else use.uv_map
        if name is None or name not in maps:
            notes[f"The mask image {use.image.name} is not placed by a UV map: it is not compared."] = None
            continue
        slots.setdefault((use.image.name, name), set()).add(use.slot)
        uses[use.image.name, name] = use
    lengths = np.zeros(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("loop_total", lengths)
    last = max(len(item.material_slots) - 1, 0)
    corner_slot = np.repeat(np.clip(face_material, 0, last), lengths)
    found = []
    for (image_name, name), use in uses.items():
        loaded = use.image.has_data
        refusal = _refusal(use.image)
        if refusal:
            notes[f"The mask image {image_name} {refusal}: it is not compared."] = None
        else:
            rows = np.flatnonzero(np.isin(corner_slot, list(slots[image_name, name])))
            values, picture = _sampled(use, maps[name], rows)
            found.append(Mask(image_name, "corner", values, "image", name, picture))
        if not loaded and use.image.source == "FILE" and not use.image.is_dirty:
            use.image.buffers_free()
    return tuple(found), tuple(notes)


def _uses(item: bpy.types.Object) -> Iterator[_Use]:
    for number, slot in enumerate(item.material_slots):
        tree = slot.material.node_tree if slot.material is not None else None
        if tree is not None:
            for node in all_nodes(tree):
                if _is_mask(node):
                    yield _Use(number, node.image, _map_of(node), node.extension == "REPEAT")


def images_mark(item: bpy.types.Object) -> str:
    """Which mask images an object has, where they lie and whether they are painted on; loads none."""
    return repr([
        (
            use.slot, use.image.name_full, use.image.filepath, use.image.source, use.image.is_dirty,
            use.uv_map, use.repeat,
        )
        for use in _uses(item)
    ])


def all_nodes(tree: bpy.types.NodeTree, depth: int = DEPTH) -> Iterator[bpy.types.Node]:
    """The nodes of a tree and of the groups in it, ``depth`` groups deep."""
    for node in tree.nodes:
        yield node
        if node.bl_idname == "ShaderNodeGroup" and node.node_tree is not None and depth:
            yield from all_nodes(node.node_tree, depth - 1)


def _is_mask(node: bpy.types.Node) -> bool:
    if node.bl_idname != "ShaderNodeTexImage" or node.image is None:
        return False
    words = set(re.findall(r"[a-z]+", re.sub(r"([a-z])([A-Z])", r"\1 \2", node.image.name).lower()))
    bends = any(
        link.to_node.bl_idname in ("ShaderNodeNormalMap", "ShaderNodeBump")
        for out in node.outputs
        for link in out.links
    )
    if bends or words & NORMAL_WORDS:
        return False
    return bool(words & MASK_WORDS) or node.image.colorspace_settings.is_data


def _map_of(node: bpy.types.Node) -> str | None:
    """The UV map an image node reads; "" for the one that is rendered, None for no UV map."""
    links = node.inputs["Vector"].links
    if not links:
        return ""
    source = links[0].from_node
    if source.bl_idname == "ShaderNodeUVMap":
        return source.uv_map
    if source.bl_idname == "ShaderNodeTexCoord" and links[0].from_socket.name == "UV":
        return ""
    return None


def _refusal(image: bpy.types.Image) -> str:
    """Why an image cannot be sampled, in words; empty where it can."""
    if image.source not in ("FILE", "GENERATED"):
        return "is no single still image"
    wide, high = _size(image)
    if not wide or not high:
        return "is missing"
    if wide * high > LARGEST:
        return f"is larger than {LARGEST} pixels"
    return ""


def _size(image: bpy.types.Image) -> tuple[int, int]:
    wide, high = cast("tuple[int, int]", image.size)
    return int(wide), int(high)


def _sampled(use: _Use, places: Float32Array, rows: IntArray) -> tuple[Float32Array, Picture | None]:
    """(c, channels) values, NaN but at ``rows``, between pixel centres by their distance; and the image."""
    wide, high = _size(use.image)
    channels = use.image.channels
    pixels = np.zeros(wide * high * channels, np.float32)
    use.image.pixels.foreach_get(pixels)
    shaped = pixels.reshape(high, wide, channels)
    values = np.full((len(places), channels), np.nan, np.float32)
    values[rows] = bilinear(shaped, places[rows], use.repeat)
    return values, picture_of(shaped, use.repeat, whole=not use.image.is_float)


_SEEN: "weakref.WeakValueDictionary[bytes, Picture]" = weakref.WeakValueDictionary()
"""Pictures in use by their contents: the objects of a figure share one."""


def picture_of(pixels: Float32Array, repeat: bool, *, whole: bool) -> Picture | None:
    """(high, wide, channels) pixels as a record; None where they are the same everywhere.

    ``whole`` pixels are kept in bytes of 255 steps, others in 65,535 steps from the lowest to the highest.
    """
    low, step = 0.0, 1.0 / 255.0
    if not whole:
        finite = pixels[np.isfinite(pixels)]
        low, top = np.clip([finite.min(initial=RANGE[1]), finite.max(initial=RANGE[0])], *RANGE).tolist()
        step = max(top - low, 1e-6) / 65535.0
    kind: type[np.unsignedinteger] = np.uint8 if whole else np.uint16
    numbers = np.empty(pixels.shape, kind)
    source, goal = pixels.reshape(-1), numbers.reshape(-1)
    most = 255.0 if whole else 65535.0
    for start in range(0, len(source), AT_ONCE):
        part = (source[start : start + AT_ONCE] - np.float32(low)) * np.float32(1.0 / step) + np.float32(0.5)
        goal[start : start + AT_ONCE] = np.clip(np.nan_to_num(part), 0.0, most)
    kept: list[int] = []
    for channel in range(pixels.shape[2]):
        plane = numbers[:, :, channel]
        if (plane != plane[0, 0]).any() and not any((plane == numbers[:, :, one]).all() for one in kept):
            kept.append(channel)
    if not kept:
        return None
    room = 4 if len(kept) == 3 else len(kept)
    packed = np.zeros((*numbers.shape[:2], room), kind)
    packed[:, :, : len(kept)] = numbers[:, :, kept]
    made = Picture(packed, tuple(kept), repeat, low, step)
    said = f"{packed.shape}/{packed.dtype}/{made.channels}/{repeat}/{low}/{step}"
    mark = hashlib.blake2b(packed.data, key=hashlib.blake2b(said.encode(), digest_size=32).digest(), digest_size=16).digest()
    return _SEEN.setdefault(mark, made)


def bilinear(pixels: Float32Array, places: Float32Array, repeat: bool) -> Float32Array:
    """(k, channels) values of (high, wide, channels) pixels at (k, 2) UV places."""
    high, wide = pixels.shape[:2]
    at = np.nan_to_num(places.astype(np.float64)) * (wide, high) - 0.5
    low = np.floor(at)
    part = (at - low)[:, :, None]
    low = low.astype(np.int64)
    size = np.array([wide, high])
    near, far = (np.mod(one, size) if repeat else np.clip(one, 0, size - 1) for one in (low, low + 1))
    below = pixels[near[:, 1], near[:, 0]] * (1 - part[:, 0]) + pixels[near[:, 1], far[:, 0]] * part[:, 0]
    above = pixels[far[:, 1], near[:, 0]] * (1 - part[:, 0]) + pixels[far[:, 1], far[:, 0]] * part[:, 0]
    return (below * (1 - part[:, 1]) + above * part[:, 1]).astype(np.float32)
