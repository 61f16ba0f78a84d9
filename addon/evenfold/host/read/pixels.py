"""The pixels of colour images, looked up at places of a UV map."""

from dataclasses import dataclass
from pathlib import Path
from typing import cast

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.layers import Float32Array
from .images import LARGEST

WIDEST = 1024
"""Images are kept with about so many pixels a side: a face covers many. Our choice."""
KEPT = 24
"""So many images are kept from one reading to the next, 3 MB each at most."""


@dataclass(frozen=True)
class Pixels:
    """An image's ``colours`` (high, wide, 3) in 255 steps, in linear light or encoded as sRGB."""

    colours: NDArray[np.uint8]
    is_linear: bool

    def at(self, places: Float32Array) -> Float32Array:
        """(k, 3) in linear light, the middle one of the colours at ``places`` (k, m, 2), the image repeated."""
        high, wide = self.colours.shape[:2]
        cell = np.floor((places - np.floor(places)) * (wide, high)).astype(np.int64)
        seen = self.colours[np.minimum(cell[..., 1], high - 1), np.minimum(cell[..., 0], wide - 1)]
        middle = np.asarray(np.median(seen, axis=1) / 255.0, np.float32)
        return middle if self.is_linear else to_linear(middle)


_kept: dict[tuple[object, ...], Pixels] = {}


def pixels_of(image: bpy.types.Image) -> Pixels | None:
    """An image's pixels, read once while it stays as it is; None where it cannot be sampled.

    The buffer of an image that was not loaded is freed again.
    """
    if image.is_dirty or image.source != "FILE":
        return _read(image)
    mark = _mark(image)
    if mark not in _kept:
        found = _read(image)
        if found is None:
            return None
        for old in list(_kept)[: max(len(_kept) - KEPT + 1, 0)]:
            del _kept[old]
        _kept[mark] = found
    return _kept[mark]


def _mark(image: bpy.types.Image) -> tuple[object, ...]:
    """Which file an image comes from, and in which state that is."""
    path = Path(bpy.path.abspath(image.filepath, library=image.library))
    changed = path.stat().st_mtime_ns if path.is_file() else 0
    packed = image.packed_file
    return (
        bpy.data.filepath, image.name_full, image.filepath, changed, None if packed is None else hash(packed.data),
        image.colorspace_settings.name,
    )


def _read(image: bpy.types.Image) -> Pixels | None:
    loaded = image.has_data
    wide, high = (int(one) for one in cast("tuple[int, int]", image.size))
    if image.source not in ("FILE", "GENERATED") or not 0 < wide * high <= LARGEST:
        return None
    channels = image.channels
    is_linear = image.is_float or image.colorspace_settings.name.lower().startswith(("linear", "non-color", "raw"))
    flat = np.zeros(wide * high * channels, np.float32)
    image.pixels.foreach_get(flat)
    if not loaded and image.source == "FILE" and not image.is_dirty:
        image.buffers_free()
    step = max(1, round(max(wide, high) / WIDEST))
    colours = flat.reshape(high, wide, channels)[::step, ::step, : 3 if channels > 2 else 1]
    steps = np.clip(np.nan_to_num(colours) * 255.0 + 0.5, 0, 255).astype(np.uint8)
    return Pixels(np.array(np.broadcast_to(steps, (*steps.shape[:2], 3))), is_linear)


def to_linear(colours: Float32Array) -> Float32Array:
    """Values encoded as sRGB in linear light (IEC 61966-2-1)."""
    return np.asarray(np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4), np.float32)
