"""Pictures of the open scene with lines at truth and at what was measured, by a plain z-buffer."""

import struct
import zlib
from pathlib import Path

import bpy
import numpy as np
from numpy.typing import NDArray

from .shapes import Points
from .truth import Truth, world_mesh

Image = NDArray[np.uint8]
TALL = 640
TINTS = ((200, 190, 180), (150, 170, 210), (210, 150, 150), (150, 200, 150), (210, 200, 120), (180, 150, 200), (130, 200, 200))


def portrait(
    truth: Truth, facing: float, found: dict[str, Points] | None = None, close: bool = False
) -> Image:
    """(h, w, 3): from the front and from the figure's left; truth in green, measured in red.

    ``close`` shows the head alone.
    """
    turn = np.array([[np.cos(-facing), -np.sin(-facing), 0], [np.sin(-facing), np.cos(-facing), 0], [0, 0, 1]])
    meshes = [world_mesh(item) for item in bpy.context.view_layer.objects if item.type == "MESH"]
    middle = (truth.crown + truth.sole) / 2 if not close else (truth.crown + truth.chin) / 2
    tall = (float((truth.crown - truth.sole) @ truth.up) * 1.3) if not close else truth.head * 1.7
    views = []
    for look in (np.eye(3), np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]])):
        image = _drawn([((points - middle) @ (look @ turn).T / tall, faces) for points, faces in meshes], int(TALL * 0.9))
        for name in ("crown", "chin", "sole"):
            _line(image, (getattr(truth, name) - middle) @ truth.up / tall, (0, 150, 0))
            if found and name in found:
                _line(image, (np.asarray(found[name]) - middle) @ truth.up / tall, (220, 0, 0), 7)
        views.append(image)
    return np.concatenate(views, axis=1)


def _drawn(meshes: list[tuple[Points, list[tuple[int, ...]]]], wide: int) -> Image:
    image = np.full((TALL, wide, 3), 245, np.uint8)
    depth = np.full((TALL, wide), np.inf)
    light = np.array([-0.4, -0.7, 0.6])
    for number, (points, faces) in enumerate(meshes):
        x, y = points[:, 0] * TALL + wide / 2, TALL / 2 - points[:, 2] * TALL
        for face in faces:
            for k in range(1, len(face) - 1):
                a, b, c = face[0], face[k], face[k + 1]
                normal = np.cross(points[b] - points[a], points[c] - points[a])
                size = np.linalg.norm(normal)
                if size < 1e-12:
                    continue
                shade = 0.45 + 0.5 * abs(float(normal @ light)) / size
                _fill(image, depth, x[[a, b, c]], y[[a, b, c]], points[[a, b, c], 1],
                      np.array(TINTS[number % len(TINTS)]) * min(shade, 1.0))
    return image


def _fill(image: Image, depth: Points, x: Points, y: Points, z: Points, tint: Points) -> None:
    left, right = max(int(x.min()), 0), min(int(np.ceil(x.max())) + 1, image.shape[1])
    top, low = max(int(y.min()), 0), min(int(np.ceil(y.max())) + 1, image.shape[0])
    if left >= right or top >= low:
        return
    px, py = np.meshgrid(np.arange(left, right) + 0.5, np.arange(top, low) + 0.5)
    area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])
    if abs(area) < 1e-9:
        return
    u = ((px - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (py - y[0])) / area
    v = ((x[1] - x[0]) * (py - y[0]) - (px - x[0]) * (y[1] - y[0])) / area
    far = z[0] + u * (z[1] - z[0]) + v * (z[2] - z[0])
    on = (u >= -0.01) & (v >= -0.01) & (u + v <= 1.01) & (far < depth[top:low, left:right])
    depth[top:low, left:right][on] = far[on]
    image[top:low, left:right][on] = tint.astype(np.uint8)


def _line(image: Image, height: float, tint: tuple[int, int, int], gap: int = 1) -> None:
    row = round(TALL / 2 - float(height) * TALL)
    if 0 <= row < TALL:
        image[row, ::gap] = tint
        if gap > 1:
            image[row, 1::gap] = tint


def write_png(image: Image, path: Path) -> None:
    height, width, _ = image.shape
    raw = np.concatenate([np.zeros((height, 1), np.uint8), image.reshape(height, -1)], axis=1).tobytes()

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b""))
