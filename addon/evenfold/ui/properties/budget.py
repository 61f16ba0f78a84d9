"""How much of a figure its target takes: a limit a field, 0 for none."""

import bpy
from bpy.props import IntProperty, StringProperty

from ...core.budget import LARGEST


def _own(self: "EvenfoldBudget", _context: bpy.types.Context) -> None:
    """A limit of the artist's own is no longer what the source says."""
    self.source = ""


class EvenfoldBudget(bpy.types.PropertyGroup):
    """The most a figure may have of each."""

    triangles: IntProperty(
        name="Triangles", default=0, min=0, max=LARGEST, update=_own,
        description="The most triangles, with Mirror and Subdivision. 0 sets no limit",
    )
    vertices: IntProperty(
        name="Engine Vertices", default=0, min=0, max=LARGEST, update=_own,
        description="The most vertices an engine gets: hard edges, seams of UVs and materials split them. 0 sets no limit",
    )
    meshes: IntProperty(
        name="Meshes", default=0, min=0, max=LARGEST, update=_own,
        description="The most objects with faces. 0 sets no limit",
    )
    materials: IntProperty(
        name="Materials", default=0, min=0, max=LARGEST, update=_own,
        description="The most materials in use, counted anew on every object. 0 sets no limit",
    )
    bones: IntProperty(
        name="Bones", default=0, min=0, max=LARGEST, update=_own,
        description="The most bones of the armature. 0 sets no limit",
    )
    keys: IntProperty(
        name="Shape Keys", default=0, min=0, max=LARGEST, update=_own,
        description="The most shape keys on one mesh, without the neutral one. 0 sets no limit",
    )
    source: StringProperty(
        name="Source", description="Where these limits come from: reports and profiles name it"
    )


CLASSES = (EvenfoldBudget,)
POINTERS = {"evenfold_budget": EvenfoldBudget}
