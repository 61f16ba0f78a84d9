"""A mesh whose numbers point at nothing is refused before the host walks into it."""

import re
import struct

import bpy
import pytest
from evenfold.core.errors import UnreadableError
from evenfold.host.files import open_input
from evenfold.host.read.sound import is_sound
from host.scenes import BOX, FACES, add_box, empty_scene


def test_every_ordinary_mesh_is_sound():
    empty_scene()
    meshes = [add_box("Keeper").data, bpy.data.meshes.new("Empty"), bpy.data.meshes.new("Loose")]
    meshes[2].from_pydata([(0, 0, 0), (1, 0, 0)], [(0, 1)], [])
    assert all(is_sound(mesh) for mesh in meshes)


@pytest.mark.parametrize("number", [len(BOX), 2**31 - 1, -1])
@pytest.mark.parametrize("what", ["corner", "edge"])
def test_a_number_of_no_vertex_is_found(what, number):
    empty_scene()
    mesh = add_box("Keeper").data
    if what == "corner":
        mesh.attributes[".corner_vert"].data[5].value = number
    else:
        mesh.attributes[".edge_verts"].data[2].value = (0, number)
    assert not is_sound(mesh)


@pytest.mark.parametrize("number", [len(BOX), 2**31 - 1])
def test_a_file_with_such_a_mesh_is_refused(tmp_path, number):
    empty_scene()
    add_box("Keeper")
    file = tmp_path / "keeper.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(file), compress=False)
    data = file.read_bytes()
    corners = struct.pack("<24i", *(vertex for face in FACES for vertex in face))
    assert len(re.findall(re.escape(corners), data)) == 1
    file.write_bytes(data.replace(corners, corners[:-4] + struct.pack("<i", number)))
    with pytest.raises(UnreadableError, match=r"mesh Keeper in keeper\.blend is damaged"):
        open_input(file)
