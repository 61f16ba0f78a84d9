"""How objects are scaled and turned: what exporters and engines stumble over.

Measured in 4.2, 4.5 and 5.0: applying a negative scale turns the surface inside out, applying
an armature's scale leaves pose offsets at their old length, applying on shared data is refused.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..figure import Armature, Figure, FloatArray, Placement, Surface
from ..findings import Place, Readiness

EVEN = 1e-3
"""Scales count as equal within this share. Our choice."""


def transforms_readiness(figure: Figure) -> list[Readiness]:
    """The records on every object; the measured results do not depend on any of this.

    What hangs on a bone as a whole is turned and scaled by that, and only asked for mirroring
    and uneven scales.
    """
    hung = {part.name for part in figure.parts if part.bone_parent is not None}
    told = [
        entry
        for one in figure.surfaces
        for entry in _of_surface(replace(one, placed=None) if one.name in hung else one)
    ]
    return told if figure.armature is None else [*told, *_of_armature(figure.armature)]


def _of_surface(surface: Surface) -> Iterator[Readiness]:
    name, placed = surface.name, surface.placed
    lengths = np.linalg.norm(surface.to_world[:3, :3], axis=0)
    if float(np.linalg.det(surface.to_world[:3, :3])) < 0.0:
        yield Readiness(
            "ready-scale-negative", "warning",
            f"{name} has a negative scale: its left and right are exchanged. Apply the scale, then "
            f"turn its normals round (Flip), because applying turns it inside out.{_unsafe(placed)}", name, (Place(name),),
        )
    elif not _even(lengths):
        yield Readiness(
            "ready-scale-uneven", "warning",
            f"{name} is scaled unevenly ({_shown(lengths)}): bones and physics skew it. Apply the "
            f"scale.{_unsafe(placed)}", name, (Place(name),),
        )
    elif placed is not None and not _ones(placed.scale):
        yield Readiness(
            "ready-scale-unapplied", "note",
            f"{name} has the scale {_shown(np.array(placed.scale))}: shape keys and physics may come "
            f"out {_strength(placed)} in an engine. Apply the scale; its shape keys follow.{_unsafe(placed)}", name, (Place(name),),
        )
    if placed is None:
        return
    if not _ones(placed.parent_scale):
        yield Readiness(
            "ready-parent-inverse", "note",
            f"{name} keeps a scale of {_shown(np.array(placed.parent_scale))} from when it was parented: "
            "exporters may drop it. Clear the parent with its transformation kept, apply the scale, "
            "and parent it again.", name, (Place(name),),
        )
    if placed.turned and float(np.linalg.det(surface.to_world[:3, :3])) > 0.0:
        yield Readiness(
            "ready-rotation-unapplied", "note",
            f"{name} is turned as an object: apply the rotation if it should stand upright in an "
            f"engine.{_unsafe(placed)}", name, (Place(name),),
        )


def _of_armature(armature: Armature) -> Iterator[Readiness]:
    name = armature.name
    lengths = np.linalg.norm(armature.to_world[:3, :3], axis=0)
    unsafe = " Do so only while it is neither posed nor animated: pose offsets keep their old length."
    if float(np.linalg.det(armature.to_world[:3, :3])) < 0.0:
        yield Readiness(
            "ready-scale-negative", "warning",
            f"The armature {name} has a negative scale: its left and right are exchanged. "
            f"Apply the scale.{unsafe}", name, (Place(name),),
        )
    elif not _even(lengths):
        yield Readiness(
            "ready-scale-uneven", "warning",
            f"The armature {name} is scaled unevenly ({_shown(lengths)}): turning bones skews the "
            f"figure. Apply the scale.{unsafe}", name, (Place(name),),
        )
    elif not _ones((lengths[0], lengths[1], lengths[2])):
        yield Readiness(
            "ready-scale-unapplied", "note",
            f"The armature {name} has the scale {_shown(lengths)}: engines may get another size than "
            f"the meshes'. Apply the scale to it and its meshes together.{unsafe}", name, (Place(name),),
        )


def _unsafe(placed: Placement | None) -> str:
    """What speaks against applying just so, as a sentence to add."""
    if placed is None:
        return ""
    said = []
    if placed.linked:
        said.append("It is linked: do it in its own file.")
    if placed.users > 1:
        said.append(f"Its mesh is shared by {placed.users} objects: make it single-user first.")
    if placed.animated:
        said.append("It is animated as an object: applying breaks that.")
    return "".join(f" {one}" for one in said)


def _strength(placed: Placement) -> str:
    return "too strong" if float(np.prod(np.abs(placed.scale))) < 1.0 else "too weak"


def _even(lengths: FloatArray) -> bool:
    return float(lengths.max()) <= float(lengths.min()) * (1.0 + EVEN)


def _ones(scale: tuple[float, float, float]) -> bool:
    return max(abs(one - 1.0) for one in scale) <= EVEN


def _shown(lengths: FloatArray) -> str:
    """One number where all are alike, else the three."""
    if float(np.ptp(lengths)) <= EVEN * float(np.abs(lengths).max()):
        return f"{float(lengths[0]):.4g}"
    return " × ".join(f"{float(one):.4g}" for one in lengths)
