"""Damaged files for the fault run: small invented figures of every kind, broken from a seed."""

import json
import os
import random
import re
import struct
from collections.abc import Callable
from pathlib import Path

KINDS = (".blend", ".glb", ".gltf", ".vrm", ".fbx", ".obj", ".usda", ".usdc", ".usdz")
Damage = Callable[[bytes, random.Random], bytes | None]
"""The damaged bytes, or None where this damage does not fit the file."""
HUGE = (0xFFFFFFFF, 0x7FFFFFFF, 0x80000000, 0x10000000)
NOT_NUMBERS = (0x7FC00000, 0x7F800000, 0xFF800000, 0x7F7FFFFF)
NUMBER = re.compile(rb"-?\d+\.\d+(?:e-?\d+)?")


def make_seeds(folder: Path) -> dict[str, bytes]:
    """One small figure with bones, weights, keys, UVs and a material in every format."""
    import bpy

    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.context.preferences.filepaths.save_version = 0
    bpy.ops.object.armature_add()
    rig = bpy.context.object
    bpy.ops.mesh.primitive_uv_sphere_add(segments=12, ring_count=8)
    body = bpy.context.object
    body.name = "Keeper"
    body.data.materials.append(bpy.data.materials.new("Coat"))
    body.parent = rig
    body.modifiers.new("Rig", "ARMATURE").object = rig
    body.vertex_groups.new(name=rig.data.bones[0].name).add(range(len(body.data.vertices)), 1.0, "REPLACE")
    body.shape_key_add(name="Basis")
    body.shape_key_add(name="Smile").points[3].co.z += 0.1
    place = folder / "seed"
    bpy.ops.wm.save_as_mainfile(filepath=f"{place}.blend", compress=False)
    bpy.ops.export_scene.fbx(filepath=f"{place}.fbx", add_leaf_bones=False, bake_anim=False)
    bpy.ops.wm.obj_export(filepath=f"{place}.obj")
    for suffix in ("usda", "usdc", "usdz"):
        bpy.ops.wm.usd_export(filepath=f"{place}.{suffix}")
    bpy.ops.export_scene.gltf(filepath=f"{place}.glb", export_format="GLB", export_animations=False)
    found = {kind: Path(f"{place}{kind}").read_bytes() for kind in KINDS if kind not in (".gltf", ".vrm")}
    found[".vrm"] = _with_tree(found[".glb"], _as_avatar)
    found[".gltf"] = _embedded(found[".glb"])
    return found


def truncated(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(1, len(data))]


def flipped(data: bytes, rng: random.Random) -> bytes:
    made = bytearray(data)
    for _ in range(rng.choice((1, 4, 16, 64))):
        made[rng.randrange(len(made))] ^= 1 << rng.randrange(8)
    return bytes(made)


def blanked(data: bytes, rng: random.Random) -> bytes:
    start, length = rng.randrange(len(data)), rng.randrange(1, 4096)
    return data[:start] + bytes(min(length, len(data) - start)) + data[start + length :]


def huge_counts(data: bytes, rng: random.Random) -> bytes:
    if _is_tree(data):
        return _changed_numbers(data, rng, (2**31 - 1, 2**53, -1, 2**32 + 1))
    return _with_words(data, rng, HUGE)


def not_numbers(data: bytes, rng: random.Random) -> bytes:
    if data.lstrip()[:1] in (b"#", b"m") and NUMBER.search(data):
        return NUMBER.sub(lambda one: rng.choice((b"nan", b"inf", b"-inf", b"1e999")) if rng.random() < 0.05 else one[0], data)
    return _with_words(data, rng, NOT_NUMBERS)


def cyclic(data: bytes, rng: random.Random) -> bytes | None:
    """A node that is its own ancestor, where the format says parents in text."""
    if data.startswith(b"#usda"):
        return data.replace(b"def Xform", b'def Xform "Loop" (\n references = </Loop>\n)\n{\n}\ndef Xform', 1)
    if not _is_tree(data):
        return None

    def change(tree: dict[str, list[dict[str, object]]]) -> None:
        nodes = tree.get("nodes", [])
        for node in nodes:
            node["children"] = [rng.randrange(len(nodes)) for _ in range(2)]

    return _with_tree(data, change)


def emptied(_: bytes, __: random.Random) -> bytes:
    return b""


def noise(_: bytes, rng: random.Random) -> bytes:
    return rng.randbytes(rng.randrange(1, 5000))


DAMAGES: dict[str, Damage] = {
    "truncated": truncated, "bits flipped": flipped, "block of zeros": blanked, "huge counts": huge_counts,
    "not a number": not_numbers, "cyclic parents": cyclic, "empty": emptied, "noise": noise,
}


def damage(folder: Path, seeds: dict[str, bytes], count: int, seed: int) -> dict[str, str]:
    """Write ``count`` files, a tenth of them whole ones under another kind's name or as they were.

    Returns what was done to each, by its name.
    """
    rng = random.Random(seed)  # noqa: S311 - the same seed gives the same files
    done: dict[str, str] = {}
    weights = [1 if name in ("empty", "noise") else 4 for name in DAMAGES]
    while len(done) < count:
        kind = rng.choice(KINDS)
        what = rng.choices([*DAMAGES, "wrong suffix", "whole"], [*weights, 2, 1])[0]
        if what in DAMAGES:
            made = DAMAGES[what](seeds[kind], rng)
        else:
            made = seeds[rng.choice([one for one in KINDS if one != kind])] if what == "wrong suffix" else seeds[kind]
        if made is not None:
            name = f"{len(done):05}{kind}"
            (folder / name).write_bytes(made)
            done[name] = what
    return done


def hanging(folder: Path) -> Path:
    """A scene whose data comes from a pipe that nobody writes to."""
    os.mkfifo(folder / "never.bin")
    return _with_buffer(folder / "hangs.gltf", "never.bin")


def endless(folder: Path) -> Path:
    """A scene whose data has no end."""
    (folder / "endless.bin").symlink_to("/dev/zero")
    return _with_buffer(folder / "allocates.gltf", "endless.bin")


def _with_buffer(path: Path, uri: str) -> Path:
    tree = {
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}],
        "buffers": [{"uri": uri, "byteLength": 36}], "bufferViews": [{"buffer": 0, "byteLength": 36}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3", "min": [0, 0, 0], "max": [1, 1, 1]}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
    }
    path.write_text(json.dumps(tree))
    return path


def _with_words(data: bytes, rng: random.Random, words: tuple[int, ...]) -> bytes:
    made = bytearray(data)
    for _ in range(rng.choice((1, 3, 10))):
        if len(made) >= 8:
            struct.pack_into("<I", made, rng.randrange(len(made) // 4 - 1) * 4, rng.choice(words))
    return bytes(made)


def _is_tree(data: bytes) -> bool:
    return data.startswith((b"glTF", b"{"))


def _with_tree(data: bytes, change: Callable[..., None]) -> bytes:
    """A glTF, binary or not, with its JSON changed."""
    if data.startswith(b"{"):
        tree = json.loads(data)
        change(tree)
        return json.dumps(tree).encode()
    (size,) = struct.unpack_from("<I", data, 12)
    tree = json.loads(data[20 : 20 + size])
    change(tree)
    body = json.dumps(tree).encode()
    body += b" " * (-len(body) % 4)
    rest = data[20 + size :]
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(body) + len(rest), len(body), 0x4E4F534A) + body + rest


def _changed_numbers(data: bytes, rng: random.Random, values: tuple[int, ...]) -> bytes:
    def change(tree: object) -> None:
        places: list[tuple[dict | list, object]] = []  # type: ignore[type-arg]
        todo = [tree]
        while todo:
            one = todo.pop()
            for key, value in one.items() if isinstance(one, dict) else enumerate(one) if isinstance(one, list) else ():
                todo.append(value)
                if isinstance(value, int):
                    places.append((one, key))
        for holder, key in rng.sample(places, min(len(places), rng.choice((1, 1, 3)))):
            holder[key] = rng.choice(values)

    return _with_tree(data, change)


def _as_avatar(tree: dict[str, object]) -> None:
    tree["extensions"] = {"VRM": {"humanoid": {"humanBones": [{"bone": "head", "node": 0}]}}}


def _embedded(glb: bytes) -> bytes:
    import base64

    (size,) = struct.unpack_from("<I", glb, 12)
    tree = json.loads(glb[20 : 20 + size])
    tree["buffers"][0]["uri"] = "data:application/octet-stream;base64," + base64.b64encode(glb[28 + size :]).decode()
    return json.dumps(tree).encode()
