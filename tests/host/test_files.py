"""Files are opened without running anything, and refused in a sentence."""

import json
import struct

import bpy
import numpy as np
import pytest
from evenfold.core.errors import UnreadableError
from evenfold.host.files import open_input
from evenfold.host.nearest import KDFinder
from evenfold.host.read.vrm import humanoid_of, read_json_chunk
from host.scenes import add_box, empty_scene


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def test_nothing_written_in_a_file_is_run(tmp_path):
    mark = tmp_path / "ran"
    text = bpy.data.texts.new("start.py")
    text.write(f"open({str(mark)!r}, 'w').close()")
    text.use_module = True
    add_box("Body")
    file = tmp_path / "scripted.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(file))
    open_input(file)
    assert "start.py" in bpy.data.texts
    assert not mark.exists()


@pytest.mark.parametrize("content", [None, b"", b"BLENDER-v402 cut", b"no file of Blender's"])
def test_a_bad_file_is_refused_and_does_not_leave_the_last_one_open(tmp_path, content):
    add_box("Body")
    file = tmp_path / "bad.blend"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(UnreadableError, match=r"bad\.blend"):
        open_input(file)
    assert "Body" not in bpy.data.objects or content in (None, b"")


def glb(tree: dict) -> bytes:
    body = json.dumps(tree).encode()
    body += b" " * (-len(body) % 4)
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(body), len(body), 0x4E4F534A) + body


NODES = [{"name": "Hip"}, {"name": "Skull"}]


@pytest.mark.parametrize("extension", [
    {"VRM": {"humanoid": {"humanBones": [{"bone": "head", "node": 1}, {"bone": "jaw", "node": 9}]}}},
    {"VRMC_vrm": {"humanoid": {"humanBones": {"head": {"node": 1}, "jaw": {}}}}},
])
def test_avatar_bones_are_read_in_both_versions(tmp_path, extension):
    file = tmp_path / "keeper.vrm"
    file.write_bytes(glb({"nodes": NODES, "extensions": extension}))
    assert humanoid_of(read_json_chunk(file)) == {"head": "Skull"}


def test_a_binary_gltf_that_is_cut_short_is_refused(tmp_path):
    file = tmp_path / "keeper.glb"
    file.write_bytes(glb({"nodes": NODES})[:-8])
    with pytest.raises(UnreadableError, match="cut short"):
        open_input(file)


def test_the_tree_gives_nearest_first_and_pads_what_is_missing():
    finder = KDFinder(np.array([[0.0, 0, 0], [1, 0, 0]]))
    distances, indices = finder.query(np.array([[0.9, 0, 0]]), 3)
    assert indices.tolist() == [[1, 0, -1]]
    np.testing.assert_allclose(distances, [[0.1, 0.9, np.inf]])
    none, missing = KDFinder(np.zeros((0, 3))).query(np.zeros((1, 3)), 1)
    assert none.tolist() == [[np.inf]] and missing.tolist() == [[-1]]
