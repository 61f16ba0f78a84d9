"""A figure's size as the page's table: every object, all of them, and what the budget allows."""

from collections.abc import Sequence

from ...budget import Budget
from ...size import Size
from .markup import cell, name, table, words

HEADS = [
    ("Object", False), ("Triangles", True), ("Vertices", True), ("Stored", True), ("Materials", True), ("Keys", True),
]


def size_table(size: Size, budget: Budget) -> str:
    """The page's table: every object, then all of them, then what the budget allows."""
    rows = [
        [cell(name(one.name)), *_numbers([one.triangles, one.vertices, one.stored, one.materials, one.keys])]
        for one in size.objects
    ]
    whole = [size.triangles, size.vertices, size.stored, size.materials, size.keys]
    rows.append([cell("<strong>The whole figure</strong>"), *_numbers(whole)])
    limits = budget.limits
    if limits:
        allowed = [limits.get(one) for one in ("triangles", "vertices", "", "materials", "keys")]
        rows.append([cell("<strong>Allowed</strong>"), *_numbers(allowed)])
    source = f" Allowed by: {words(budget.source)}." if limits and budget.source else ""
    counted = f"{size.meshes:,}{_of(limits.get('meshes'))} meshes, {size.bones:,}{_of(limits.get('bones'))} bones."
    return table(HEADS, rows, "Size as an engine gets it, its vertices beside the stored ones") + f'<p class="soft">{counted}{source}</p>'


def _numbers(values: Sequence[int | None]) -> list[str]:
    return [cell("") if value is None else cell(f"{value:,}", value) for value in values]


def _of(limit: int | None) -> str:
    return f" of {limit:,} allowed" if limit else ""
