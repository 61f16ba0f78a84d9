"""A figure's size for the reports: as data and as a line of text."""

from ..budget import AMOUNTS
from ..size import Size
from .plain import Json


def size_dict(size: Size | None) -> Json | None:
    """The size as plain data; None where it was not taken."""
    if size is None:
        return None
    objects = [
        {
            "name": one.name, "triangles": one.triangles, "vertices": one.vertices, "vertices_stored": one.stored,
            "materials": one.materials, "keys": one.keys,
        }
        for one in size.objects
    ]
    return {**{one: getattr(size, one) for one in AMOUNTS}, "vertices_stored": size.stored, "objects": objects}


def size_line(size: Size) -> str:
    """All amounts in one line, the stored vertices beside those an engine gets."""
    told = []
    for one, called in AMOUNTS.items():
        stored = f" ({size.stored:,} stored)" if one == "vertices" else ""
        told.append(f"{getattr(size, one):,} {called}{stored}")
    return ", ".join(told)
