"""The settings an artist makes in the panel, kept with the scene."""

from dataclasses import replace
from typing import cast

import bpy
from bpy.props import (
    BoolProperty,
    EnumProperty,
    FloatProperty,
    PointerProperty,
)

from ...core.settings import Settings
from ...host.read.place import metres_per_unit
from .. import planning
from ..budgeting import budget_of

LANDMARKS = (
    ("crown", "Crown", "Top of the skull, without hair, ears and hats"),
    ("eye_line", "Eye line", "Height of the eyes"),
    ("chin", "Chin", "Lowest point of the chin"),
    ("neck_base", "Neck base", "Where the neck leaves the shoulders"),
    ("shoulder", "Shoulder", "Height of the shoulders"),
    ("elbow", "Elbow", "Height of the elbows, in the rest pose"),
    ("waist", "Waist", "Height of the waist"),
    ("navel", "Navel", "Height of the navel"),
    ("hip", "Hip", "Height of the hip joints"),
    ("crotch", "Crotch", "Height of the crotch"),
    ("wrist", "Wrist", "Height of the wrists, in the rest pose"),
    ("fingertip", "Fingertip", "Height of the fingertips, in the rest pose"),
    ("knee", "Knee", "Height of the knees"),
    ("ankle", "Ankle", "Height of the ankles"),
    ("foot_sole", "Foot's own sole", "Underside of the foot below the ankle, without heel or platform"),
    ("sole", "Sole", "Where the figure stands"),
)
FIGURE_CHOICES = (
    ("AUTOMATIC", "Guess from Active", "The figure the active object belongs to"),
    ("ARMATURE", "Armature", "An armature and the meshes it deforms"),
    ("SELECTED", "Selected Objects", "The selected meshes are one figure"),
    ("COLLECTION", "Collection", "Everything in a collection is one figure"),
)
PLANE_CHOICES = (
    ("automatic", "Automatic", "Armature, object or world, whichever the figure is built on"),
    ("armature", "Armature", "The middle of the armature"),
    ("object", "Object", "The middle of each object's own axes"),
    ("world", "World", "The middle of the scene"),
)
SIDES = (
    ("LISTED", "Found", "Select the vertices the check lists"),
    ("PARTNERS", "Partners", "Select the vertices on the other side instead"),
    ("BOTH", "Both", "Select both sides"),
    ("LEFT", "Left", "Select what lies on the figure's left half, found and partners"),
    ("RIGHT", "Right", "Select what lies on the figure's right half, found and partners"),
)


def _retarget(self: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    planning.retarget(cast("bpy.types.Scene", self.id_data))


class EvenfoldSettings(bpy.types.PropertyGroup):
    """What to check and against which limits."""

    figure_from: EnumProperty(
        name="Figure", items=FIGURE_CHOICES, default="AUTOMATIC",
        description="What makes up the figure to measure and check",
    )
    armature: PointerProperty(
        name="Armature", type=bpy.types.Object,
        description="Armature of the figure",
    )
    collection: PointerProperty(
        name="Collection", type=bpy.types.Collection, description="Collection that holds the figure"
    )
    has_target: BoolProperty(
        name="Target", default=False, update=_retarget,
        description="Compare the figure with a wanted number of heads",
    )
    target_heads: FloatProperty(
        name="Heads", default=3.0, min=0.5, soft_max=10.0, max=100.0, step=25, precision=2, update=_retarget,
        description="How many heads tall the figure should be",
    )
    tolerance: FloatProperty(
        name="Tolerance", default=0.0, min=0.0, soft_max=0.1, precision=5, subtype="DISTANCE",
        description="How far a vertex may lie from its mirror image. "
        "0 takes a ten-thousandth of the figure's height",
    )
    plane: EnumProperty(
        name="Mirror", items=PLANE_CHOICES, default="automatic",
        description="Where the middle of the figure is",
    )
    side: EnumProperty(
        name="Select", items=SIDES, default="LISTED", description="Which side the select buttons take"
    )
    landmark: EnumProperty(
        name="Landmark", items=LANDMARKS, default="chin", description="Landmark to pin"
    )


def settings_of(scene: bpy.types.Scene) -> Settings:
    """The panel's settings with the limits of a loaded profile, lengths in metres. Raises SettingsError."""
    panel = scene.evenfold
    metres = planning.plain(panel.tolerance * metres_per_unit(scene))
    return replace(
        planning.limits_of(scene),
        tolerance=metres if panel.tolerance > 0 else None,
        target_heads=planning.target_of(scene),
        plane=panel.plane,
        keep=scene.evenfold_plan.keep,
        budget=budget_of(scene),
    )


def profile_of(scene: bpy.types.Scene) -> Settings:
    """The settings as a profile or report holds them: with the canons too. Raises SettingsError."""
    return replace(
        settings_of(scene), canon=planning.canon_of(scene), canons=planning.own_canons(scene)
    )


CLASSES = (EvenfoldSettings,)
POINTERS = {"evenfold": EvenfoldSettings}
