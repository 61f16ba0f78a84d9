"""Where a figure has more of something than its budget allows."""

from collections.abc import Iterator

from ..budget import AMOUNTS, Budget
from ..findings import Place, Readiness
from ..size import ObjectSize, Size

CODE = "ready-over-budget"
LARGEST = 3
"""So many objects are named as the largest. Our choice."""
BY_OBJECT = ("triangles", "vertices", "materials", "keys")
"""What each object has of its own."""


def size_readiness(size: Size, budget: Budget) -> Iterator[Readiness]:
    """``ready-over-budget`` for each limit that is passed, with the objects that have most of it."""
    for name, limit in budget.limits.items():
        count = getattr(size, name)
        if count > limit:
            largest, what, total = _largest(size, name), AMOUNTS[name], count - limit
            names = _listed(largest, name)
            most = f" Most are on {names}." if names and len(size.objects) > 1 else ""
            yield Readiness(
                CODE, "error", f"{count:,} {what}, {limit:,} allowed: {total:,} too many.{most}",
                what, tuple(Place(one.name) for one in largest),
            )


def _largest(size: Size, name: str) -> list[ObjectSize]:
    if name not in BY_OBJECT:
        return []
    ordered = sorted(size.objects, key=lambda one: -getattr(one, name))
    return [one for one in ordered[:LARGEST] if getattr(one, name)]


def _listed(objects: list[ObjectSize], name: str) -> str:
    return ", ".join(f"{one.name} ({getattr(one, name):,})" for one in objects)
