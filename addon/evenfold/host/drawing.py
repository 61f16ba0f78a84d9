"""A reference drawing: an empty that shows an image, with landmarks marked on it.

The host draws the picture in the empty's own XY plane: its longer side spans
``empty_display_size``, the other follows the image's shape, and ``empty_image_offset`` says where
the lower left corner lies, in shares of the picture's own width and height (overlay drawing in
the host's source, the same in 4.2, 4.5 and 5.2). Marks are kept on the empty as JSON, in shares
of the picture from its lower left corner: they hold whatever becomes of its size and place.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import bpy
import numpy as np
from mathutils import Matrix

from ..core.drawing import DrawingError, PicturePlane
from ..core.figure import FloatArray
from ..core.spoken import plain_word
from .kept import each, keep_rows, rows_on
from .read.place import as_array

MARKS_KEY = "evenfold_drawing_marks"
UNSUITABLE = {
    "MOVIE": "is a film: save one frame as a picture and load that",
    "SEQUENCE": "is a sequence of pictures: load one of them by itself",
    "TILED": "is made of tiles: load a picture in one piece",
    "VIEWER": "is a render: save it as a picture and load that",
}
STRENGTH = 0.5
"""How opaque a new drawing is shown: it lies over the model, which is seen through it; our choice."""
MOVED = ("location", "rotation", "scale", "delta")


@dataclass(frozen=True)
class Picture:
    """``to_world`` (4, 4) takes shares of the picture (right, up, 0, 1) to the world, scene units."""

    name: str
    to_world: FloatArray
    pixels: tuple[int, int]

    def points(self, shares: FloatArray) -> FloatArray:
        """(n, 3) world points of (n, 2) shares."""
        shares = np.asarray(shares, float).reshape(-1, 2)
        return shares @ self.to_world[:3, :2].T + self.to_world[:3, 3]

    def shares(self, points: FloatArray) -> FloatArray:
        """(n, 2) shares of the places straight in front of (n, 3) world points."""
        away = np.asarray(points, float).reshape(-1, 3) - self.to_world[:3, 3]
        return np.asarray(away @ np.linalg.pinv(self.to_world[:3, :2]).T)

    def hit(self, origin: FloatArray, direction: FloatArray, *, behind: bool = False) -> FloatArray:
        """(2,) shares where a ray meets the picture; ``behind`` lets it run backwards too.

        Raises DrawingError beside the picture.
        """
        normal = np.cross(self.to_world[:3, 0], self.to_world[:3, 1])
        slope = float(np.asarray(direction, float) @ normal)
        steep = abs(slope) / max(float(np.linalg.norm(normal) * np.linalg.norm(direction)), 1e-30)
        if steep < 1e-3:
            raise DrawingError("The picture is seen from its edge: turn the view towards it.")
        way = float((self.to_world[:3, 3] - np.asarray(origin, float)) @ normal) / slope
        if way < 0 and not behind:
            raise DrawingError("The picture is behind you: turn the view towards it.")
        return self.inside(np.asarray(origin, float) + way * np.asarray(direction, float))

    def inside(self, point: FloatArray) -> FloatArray:
        """(2,) shares of a world point. Raises DrawingError when it is beside the picture."""
        share = self.shares(point)[0]
        if not ((share >= 0).all() and (share <= 1).all()):
            raise DrawingError("That is beside the picture: mark a place on the drawing itself.")
        return np.asarray(share)


def picture_of(item: bpy.types.Object | None) -> Picture:
    """Where an empty shows its picture. Raises DrawingError with what to do when it shows none.

    As of the scene's last update.
    """
    image = image_of(item)
    width, height = numbers(image.size)
    if width < 1 or height < 1:
        raise DrawingError(
            f"The picture {image.name} cannot be found: choose its file in the empty's properties, or load it again."
        )
    size = _size_of(item, image)
    offset = np.array(numbers(item.empty_image_offset))
    shape = np.diag([size[0], size[1], 1.0, 1.0])
    shape[:2, 3] = offset * size
    return Picture(item.name, as_array(item.matrix_world) @ shape, (int(width), int(height)))


def image_of(item: bpy.types.Object | None) -> bpy.types.Image:
    """The still image an empty shows. Raises DrawingError."""
    if item is None:
        raise DrawingError("Choose the drawing, an empty that shows an image, or load one.")
    if item.type != "EMPTY" or item.empty_display_type != "IMAGE":
        raise DrawingError(f"{item.name} shows no image: choose an empty that does, or load a drawing.")
    if item.data is None:
        raise DrawingError(f"{item.name} has no image yet: choose one in its properties, or load a drawing.")
    image = cast("bpy.types.Image", item.data)
    if image.source in UNSUITABLE:
        raise DrawingError(f"{image.name} {UNSUITABLE[image.source]}.")
    return image


def marks_on(item: bpy.types.Object) -> dict[str, FloatArray]:
    """The marks on a drawing in shares of its picture (2,), by landmark; unreadable ones left out."""
    return dict(each(rows_on(item, MARKS_KEY), _mark))


def _mark(row: dict[str, Any]) -> tuple[str, FloatArray]:
    across, rise = (float(value) for value in row["place"])
    return str(row["landmark"]), np.array([across, rise])


def set_mark(item: bpy.types.Object, landmark: str, share: FloatArray) -> None:
    """Keep a mark at shares (2,) of the picture, in place of an earlier one. Raises DrawingError."""
    require_editable(item)
    marks = marks_on(item)
    marks[landmark] = np.asarray(share, float)
    put_marks(item, marks)


def remove_mark(item: bpy.types.Object, landmark: str) -> None:
    """Take a mark off the drawing. Raises DrawingError where it is not marked."""
    require_editable(item)
    marks = marks_on(item)
    if landmark not in marks:
        raise DrawingError(f"The {plain_word(landmark)} is not marked on {item.name}.")
    put_marks(item, {name: place for name, place in marks.items() if name != landmark})


def put_marks(item: bpy.types.Object, marks: dict[str, FloatArray]) -> None:
    """Make these the drawing's marks; none leaves nothing behind on it."""
    rows = [{"landmark": name, "place": [float(v) for v in place]} for name, place in marks.items()]
    keep_rows(item, MARKS_KEY, rows)


def marks_in(item: bpy.types.Object, picture: Picture, plane: PicturePlane) -> dict[str, FloatArray]:
    """The marks as places (2,) in the picture's plane, scene units."""
    marks = marks_on(item)
    if not marks:
        return {}
    places = plane.places(picture.points(np.array(list(marks.values()))))
    return dict(zip(marks, places, strict=True))


def require_editable(item: bpy.types.Object) -> None:
    """Raises DrawingError when the drawing is linked from another file."""
    if item.library is not None or not item.is_editable:
        raise DrawingError(f"{item.name} is linked from another file: mark it there, or make it local here.")


def require_movable(item: bpy.types.Object, *, turning: bool = False) -> None:
    """Raises DrawingError when something but the artist decides where the drawing stands."""
    require_editable(item)
    locks = (*item.lock_location, *item.lock_scale, *(item.lock_rotation if turning else ()))
    if any(locks):
        raise DrawingError(f"{item.name} is locked: unlock its location and scale, then match it.")
    if any(not entry.mute for entry in item.constraints):
        raise DrawingError(f"{item.name} has constraints that place it: remove them, then match it.")
    moved = item.animation_data
    if moved is not None and (
        moved.action is not None or len(moved.nla_tracks) or
        any(driver.data_path.startswith(MOVED) for driver in moved.drivers)
    ):
        raise DrawingError(f"{item.name} is animated: remove its keyframes and drivers, then match it.")


def move_by(item: bpy.types.Object, matrix: FloatArray, scale: float, *, turning: bool = False) -> None:
    """Move an object by a similarity (4, 4) of the world with this scale, whatever it hangs on.

    Needs an updated scene; the world matrix follows with the next update. Raises DrawingError,
    and then leaves it where it was.
    """
    require_movable(item, turning=turning)
    basis, world = item.matrix_basis.copy(), item.matrix_world
    if abs(basis.determinant()) < 1e-30 or abs(world.determinant()) < 1e-30:
        raise DrawingError(f"{item.name} has a scale of zero: give it one above zero, then match it.")
    above = world @ basis.inverted()
    wanted = above.inverted() @ Matrix(matrix.tolist()) @ above @ basis
    if turning:
        item.matrix_basis = wanted
    else:
        item.scale = item.scale * scale
        item.location = item.location + wanted.translation - basis.translation
    off = np.abs(as_array(item.matrix_basis) - as_array(wanted)).max()
    if off > 1e-4 * np.abs(as_array(wanted)).max():
        item.matrix_basis = basis
        raise DrawingError(f"{item.name} is stretched by its parent: clear its parent, or do not straighten.")


def load_drawing(
    path: Path, collection: bpy.types.Collection, stand: FloatArray, height: float
) -> bpy.types.Object:
    """A new empty that shows the image at ``path``; raises DrawingError, leaving nothing behind.

    ``stand`` (4, 4) takes right, up and towards the viewer to the world, from the middle of the
    picture's lower edge; ``height`` is in scene units. Wherever it stands it is drawn over the
    model, half transparent, and only from its own side.
    """
    image = _load_image(path)
    item = bpy.data.objects.new(path.stem, None)
    item.empty_display_type = "IMAGE"
    item.data = cast("Any", image)
    item.empty_image_depth = item.empty_image_side = "FRONT"
    item.use_empty_image_alpha = True
    cast("Any", item).color[3] = STRENGTH
    _, rise = _size_of(item, image) / item.empty_display_size
    item.empty_display_size = height / rise
    matrix = np.array(stand, float)
    matrix[:3, 3] += matrix[:3, 1] * height / 2
    item.matrix_world = Matrix(matrix.tolist())
    collection.objects.link(item)
    return item


def _load_image(path: Path) -> bpy.types.Image:
    if not path.is_file():
        raise DrawingError(f"{path.name or 'The picture'} is not there: choose an image file.")
    before = set(bpy.data.images)
    try:
        image = bpy.data.images.load(str(path), check_existing=True)
    except RuntimeError as error:
        raise DrawingError(f"{path.name} cannot be read as an image: choose another file.") from error
    why = UNSUITABLE.get(image.source)
    if why is None and numbers(image.size)[0] < 1:
        why = "cannot be read as an image: choose another file"
    if why is not None:
        if image not in before:
            bpy.data.images.remove(image)
        raise DrawingError(f"{path.name} {why}.")
    return image


def _size_of(item: bpy.types.Object, image: bpy.types.Image) -> FloatArray:
    """(2,) width and height of the picture in the empty's own units."""
    aspect = np.array(numbers(image.display_aspect))
    shape = np.array(numbers(image.size)) * aspect / aspect.max()
    return np.asarray(shape / shape.max() * item.empty_display_size)


def numbers(values: Any) -> list[float]:
    """The host's short arrays as plain numbers."""
    return [float(value) for value in values]
