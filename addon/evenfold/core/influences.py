"""Vertex weights as an engine gets them: deforming groups only, four to a vertex, summing to one."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .figure import FloatArray, IntArray

INFLUENCES = 4
"""Joints in one JOINTS_n / WEIGHTS_n set; a loader may read only one set (glTF 2.0, Skinned Mesh
Attributes)."""

TIE = 1e-5
"""Weights closer than this count as equal when the four strongest are chosen. Our choice."""


@dataclass(frozen=True)
class Entries:
    """One row for each (vertex, group) membership, sorted by vertex: all (k,)."""

    row: IntArray
    group: IntArray
    weight: FloatArray

    def only(self, kept: NDArray[np.bool_]) -> "Entries":
        return Entries(self.row[kept], self.group[kept], self.weight[kept])


def trimmed(entries: Entries, rows: int) -> Entries:
    """The four strongest of each of ``rows`` rows, scaled to sum 1; equal ones by group number."""
    entries = entries.only(entries.weight > 0.0)
    steps = np.round(entries.weight / TIE)
    order = np.lexsort((entries.group, -steps, entries.row))
    sorted_rows = entries.row[order]
    place = np.arange(len(order)) - np.searchsorted(sorted_rows, sorted_rows)
    kept = order[place < INFLUENCES]
    chosen = Entries(entries.row[kept], entries.group[kept], entries.weight[kept])
    total = np.bincount(chosen.row, chosen.weight, minlength=rows)
    return Entries(chosen.row, chosen.group, chosen.weight / total[chosen.row])
