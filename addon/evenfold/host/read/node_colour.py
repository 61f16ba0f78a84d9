"""What colours a material: its nodes are followed from the output against the flow, to images, attributes and set colours."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

import bpy
import numpy as np

from ...core.figure import IntArray
from ...core.layers import Float32Array
from .pixels import pixels_of

ALWAYS_NODES = (5, 0, 0)
"""From this version of the host on every material is made of nodes."""
STEPS = 40
"""Links followed from a material's output at most; a ring of groups ends there."""
BASE = ("basecolor", "color", "emissioncolor", "emission", "color1", "a")
"""Inputs so called, in small letters without spaces, hold a node's main colour, the first before the others."""
COLOURLESS = frozenset({"ShaderNodeBsdfTransparent", "ShaderNodeLightPath", "ShaderNodeBsdfRefraction", "ShaderNodeHoldout"})


@dataclass(frozen=True)
class Faces:
    """The triangles of one material: ``rows`` (k, 3) are their corners in the ``mesh``."""

    mesh: bpy.types.Mesh
    rows: IntArray


def colour_of(material: bpy.types.Material | None, of: Faces) -> Float32Array | None:
    """One colour (3,) or each triangle's (k, 3), in linear light; None where nothing tells."""
    if material is None:
        return attribute_colour(of, "")
    tree = material.node_tree if bpy.app.version >= ALWAYS_NODES or material.use_nodes else None
    output = tree.get_output_node("ALL") if tree is not None else None
    if output is None or not output.inputs["Surface"].links:
        return np.array(tuple(cast("Any", material.diffuse_color)), np.float32)[:3]
    return _Walk(of).of_socket(output.inputs["Surface"])


class _Walk:
    """One way through a material's nodes; ``inside`` are the groups it is in."""

    def __init__(self, of: Faces) -> None:
        self.of = of
        self.left = STEPS
        self.inside: list[Any] = []
        self.known: dict[str, Callable[[Any], Float32Array | None]] = {
            "ShaderNodeTexImage": self._image, "ShaderNodeRGB": _set_in_node, "ShaderNodeVertexColor": self._layer,
            "ShaderNodeAttribute": self._attribute, "ShaderNodeMixRGB": self._mix_rgb, "ShaderNodeMix": self._mix,
            "ShaderNodeGroup": self._group, "NodeGroupInput": self._group_input,
        }

    def of_socket(self, socket: Any) -> Float32Array | None:
        """What comes in at a socket; what is set there, where nothing does."""
        if not socket.links:
            return np.array(socket.default_value[:3], np.float32) if socket.type == "RGBA" else None
        self.left -= 1
        if self.left < 0:
            return None
        link = socket.links[0]
        known = self.known.get(link.from_node.bl_idname)
        return known(link) if known is not None else self._first(link.from_node)

    def _first(self, node: Any) -> Float32Array | None:
        """The colour of a node's first linked input that has one, else what is set at its first, where no colour is linked."""
        if node.bl_idname in COLOURLESS:
            return None
        inputs = [one for one in node.inputs if one.enabled and one.type in ("RGBA", "SHADER")]
        inputs.sort(key=lambda one: _rank(one.name))
        for one in inputs:
            if one.links and (found := self.of_socket(one)) is not None:
                return found
        colours = [one for one in inputs if one.type == "RGBA"]
        return self.of_socket(colours[0]) if colours and not any(one.links for one in colours) else None

    def _image(self, link: Any) -> Float32Array | None:
        node = link.from_node
        pixels = pixels_of(node.image) if node.image is not None else None
        places = None if pixels is None else _places(self.of, node)
        return None if pixels is None or places is None else pixels.at(places)

    def _layer(self, link: Any) -> Float32Array | None:
        return attribute_colour(self.of, link.from_node.layer_name)

    def _attribute(self, link: Any) -> Float32Array | None:
        return attribute_colour(self.of, link.from_node.attribute_name)

    def _mix_rgb(self, link: Any) -> Float32Array | None:
        return self._mixed(link.from_node.blend_type, *link.from_node.inputs[:3])

    def _mix(self, link: Any) -> Float32Array | None:
        node = link.from_node
        factor = next((one for one in node.inputs if one.enabled and one.type == "VALUE"), None)
        colours = [one for one in node.inputs if one.enabled and one.type == "RGBA"]
        return self._mixed(node.blend_type, factor, *colours) if factor is not None and len(colours) == 2 else self._first(node)

    def _mixed(self, kind: str, factor: Any, one: Any, other: Any) -> Float32Array | None:
        first, second = self.of_socket(one), self.of_socket(other)
        if first is None or second is None or factor.links or kind not in ("MIX", "MULTIPLY"):
            return second if first is None else first
        share = float(factor.default_value)
        return np.asarray(first * (1.0 - share) + (first * second if kind == "MULTIPLY" else second) * share, np.float32)

    def _group(self, link: Any) -> Float32Array | None:
        """Looked for inside the group; where that leads to its own inputs, at these."""
        node = link.from_node
        nodes = node.node_tree.nodes if node.node_tree is not None else ()
        output = next((one for one in nodes if one.bl_idname == "NodeGroupOutput"), None)
        inner = None if output is None else _like(output.inputs, link.from_socket)
        if inner is None:
            return self._first(node)
        self.inside.append(node)
        found = self.of_socket(inner)
        self.inside.pop()
        return self._first(node) if found is None else found

    def _group_input(self, link: Any) -> Float32Array | None:
        if not self.inside:
            return None
        node = self.inside.pop()
        outer = _like(node.inputs, link.from_socket)
        found = None if outer is None or outer.type not in ("RGBA", "SHADER") else self.of_socket(outer)
        self.inside.append(node)
        return found


def _set_in_node(link: Any) -> Float32Array:
    return np.array(link.from_socket.default_value[:3], np.float32)


def _like(sockets: Any, other: Any) -> Any:
    return next((one for one in sockets if one.identifier == other.identifier), None)


def _rank(name: str) -> int:
    plain = name.replace(" ", "").lower()
    return BASE.index(plain) if plain in BASE else len(BASE)


def attribute_colour(of: Faces, name: str) -> Float32Array | None:
    """Colours (k, 3) of a colour attribute; the one that is rendered, or else the first, where it has no name."""
    attributes = of.mesh.color_attributes
    index = attributes.find(name) if name else max(attributes.render_color_index, 0)
    if not 0 <= index < len(attributes):
        return None
    found: Any = attributes[index]
    values = np.zeros(len(found.data) * 4, np.float32)
    found.data.foreach_get("color", values)
    rows = of.rows
    if found.domain == "POINT":
        vertex = np.zeros(len(of.mesh.loops), np.int32)
        of.mesh.loops.foreach_get("vertex_index", vertex)
        rows = vertex.astype(np.int64)[rows]
    return np.asarray(values.reshape(-1, 4)[rows, :3].mean(axis=1), np.float32)


def _places(of: Faces, node: Any) -> Float32Array | None:
    """(k, 4, 2) where the middle of each triangle and three places around it lie in the node's UV map."""
    name = _uv_name(node)
    found = next((one for one in of.mesh.uv_layers if (one.name == name if name else one.active_render)), None)
    if found is None:
        return None
    flat = np.zeros(len(of.mesh.loops) * 2, np.float32)
    found.uv.foreach_get("vector", flat)
    ends = np.nan_to_num(flat.reshape(-1, 2)[of.rows])
    middle = ends.mean(axis=1, keepdims=True)
    return np.asarray(np.concatenate([middle, 0.5 * (ends + middle)], axis=1), np.float32)


def _uv_name(node: Any) -> str:
    """The UV map that a texture's coordinates come from, through a mapping or two; "" for the rendered one."""
    for _ in range(STEPS):
        links = next((one.links for one in node.inputs if one.name == "Vector"), ())
        if not links:
            return ""
        node = links[0].from_node
        if node.bl_idname == "ShaderNodeUVMap":
            return str(node.uv_map)
    return ""
