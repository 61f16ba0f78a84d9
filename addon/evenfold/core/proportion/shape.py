"""Crown and chin from the bare shape, with a wide range: no weights say what the head is."""

import numpy as np

from ..figure import FloatArray
from .body import Body
from .sample import dense
from .spot import Spot

SLICES = 120


def _widths(own: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heights (SLICES,) and the width of what is joined to the middle there."""
    level = own[:, :2] - np.median(own[:, :2], axis=0)
    axis = np.linalg.eigh(np.cov(level.T))[1][:, -1]
    side = level @ axis
    top = own[:, 2] > own[:, 2].max() - 0.08 * np.ptp(own[:, 2])
    side = side - np.median(side[top])
    low, span = own[:, 2].min(), np.ptp(own[:, 2])
    row = np.minimum(((own[:, 2] - low) / span * SLICES).astype(int), SLICES - 1)
    cell = span / SLICES
    column = np.clip(np.round(side / cell).astype(int) + SLICES, 0, 2 * SLICES)
    filled = np.zeros((SLICES, 2 * SLICES + 1), bool)
    filled[row, column] = True
    right = np.argmin(filled[:, SLICES:], axis=1)
    left = np.argmin(filled[:, SLICES::-1], axis=1)
    return low + (np.arange(SLICES) + 0.5) * cell, (right + left) * cell


def _neck(widths: FloatArray) -> int | None:
    """The highest slice that is clearly narrower than what is above and, somewhat lower, below it."""
    for index in range(int(0.95 * SLICES), int(0.3 * SLICES), -1):
        below = float(widths[max(0, index - SLICES // 6) : index].max())
        above = float(widths[index + 1 :].max())
        lowest = widths[index] <= widths[max(0, index - 6) : index + 7].min() * 1.001
        if lowest and widths[index] < 0.82 * min(below, above):
            return index
    return None


def find_by_shape(body: Body, framed: FloatArray) -> tuple[Spot, Spot] | str:
    """Crown and chin where a neck shows in the outline; else a sentence of refusal."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    own = framed[~body.worn]
    span = float(np.ptp(own[:, 2]))
    used, compact = np.unique(faces, return_inverse=True)
    samples = dense(framed[used], compact.reshape(-1, 3), span / SLICES / 1.5) if len(faces) else own
    heights, widths = _widths(samples)
    top = float(own[:, 2].max())
    neck = _neck(widths)
    if neck is None:
        return "No head could be told from the body by shape alone; name the head bone, or pin crown and chin."
    widest = neck + int(np.argmax(widths[neck:]))
    passed = widths[neck : widest + 1] >= widths[neck] + 0.35 * (widths[widest] - widths[neck])
    edge = neck + int(np.argmax(passed))
    chin_low, chin_high = float(heights[max(neck - 1, 0)]), float(heights[min(edge + 1, SLICES - 1)])
    chin_height = 0.7 * chin_low + 0.3 * chin_high
    head = top - chin_height
    at = own[np.argmax(own[:, 2])]
    crown = Spot(top - 0.03 * head, at, "shape", top - 0.18 * head, top, "highest point of the body; hair cannot be told from the skull")
    chin = Spot(
        chin_height, np.array([at[0], at[1], chin_height]), "shape", chin_low - 0.1 * head, chin_high + 0.08 * head,
        "between the narrowest place and where the head widens",
    )
    return crown, chin


def find_by_bone(body: Body, framed: FloatArray, bone_head: FloatArray) -> tuple[Spot, Spot] | str:
    """Crown above the head bone's start and chin about there: the bone starts where the neck ends."""
    own = framed[~body.worn]
    top = float(own[:, 2].max()) if len(own) else float(bone_head[2])
    size = top - float(bone_head[2])
    if size <= 0:
        return "The head bone starts above everything that is not worn; name the right head bone, or pin crown and chin."
    at = own[np.argmax(own[:, 2])]
    crown = Spot(top, at, "bones", top - 0.15 * size, top, "highest point of the body above the head bone")
    chin = Spot(float(bone_head[2]), bone_head, "bones", float(bone_head[2]) - 0.12 * size, float(bone_head[2]) + 0.15 * size, "start of the head bone; no weights say where the chin is")
    return crown, chin

