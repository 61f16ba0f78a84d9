"""Parts of the layered figure as objects of their own, vertices split as exports do, and plain
answers to who is whose partner."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from evenfold.core.check import check_figure
from evenfold.core.figure import Surface, Weights
from evenfold.core.layers import SurfaceLayers
from evenfold.core.settings import Settings
from oracles.finder import ScipyFinder

from figures.layered import Layered
from figures.records import figure_of

LEFT, RIGHT = (1, 3), (2, 4)


def findings(*surfaces: Surface, **settings):
    """All findings on a figure of these surfaces, of every layer."""
    result = check_figure(figure_of(*surfaces), Settings(**settings), ScipyFinder)
    return [finding for entry in result.objects for finding in entry.findings]


def notes(*surfaces: Surface):
    """All notes on the objects of a figure."""
    result = check_figure(figure_of(*surfaces), Settings(), ScipyFinder)
    return [note for entry in result.objects for note in entry.notes]


def face_twins(made: Layered) -> list[int]:
    """The partner of each face, -1 where none, by looking it up."""
    known = {frozenset(face): number for number, face in enumerate(made.faces)}
    return [known.get(frozenset(made.partner[face].tolist()), -1) for face in made.faces]


def corner_twins(made: Layered) -> np.ndarray:
    """The partner of each corner, by looking it up."""
    starts, twins = made.surface.face_starts, face_twins(made)
    found = []
    for number, face in enumerate(made.faces):
        other = made.faces[twins[number]]
        found += [int(starts[twins[number]]) + other.index(made.partner[one]) for one in face]
    return np.array(found)


def edge_twins(made: Layered) -> np.ndarray:
    """The partner of each edge, by looking it up."""
    edges = made.surface.edges
    known = {frozenset(edge): number for number, edge in enumerate(edges.tolist())}
    return np.array([known[frozenset(pair)] for pair in made.partner[edges].tolist()])


def part(made: Layered, pieces=None, name="Body", split=False) -> Surface:
    """The faces of these pieces as an object of their own.

    ``split`` gives each face its own vertices, "left" only those on the left.
    """
    chosen = np.arange(len(made.face_piece)) if pieces is None else np.flatnonzero(np.isin(made.face_piece, pieces))
    rows = np.flatnonzero(np.isin(made.corner_face, chosen))
    source = made.surface.corners[rows]
    alone = np.full(len(rows), split is True)
    if split == "left":
        x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])
        alone = (x > 0)[made.corner_face[rows]]
    own = np.stack([source, np.where(alone, np.arange(len(rows)), -1)], axis=1)
    kept, corners = np.unique(own, axis=0, return_inverse=True)
    origin, corners = kept[:, 0], corners.reshape(-1)
    starts = np.concatenate([[0], np.cumsum(np.diff(made.surface.face_starts)[chosen])])
    edges = np.array(sorted(_edges(corners.tolist(), starts.tolist())))
    layers = _layers(made, chosen, rows, origin, edges)
    return Surface(name, made.surface.positions[origin], edges, corners, starts, np.eye(4), layers=layers)


def _edges(corners, starts):
    return {tuple(sorted((f[i - 1], f[i]))) for a, b in pairwise(starts) for f in [corners[a:b]] for i in range(b - a)}


def _layers(made, chosen, rows, origin, edges) -> SurfaceLayers:
    old = made.layers
    marked = {frozenset(edge) for edge in made.surface.edges[old.seams].tolist()}
    number = np.full(len(made.surface.corners), -1)
    number[rows] = np.arange(len(rows))
    kept = np.isin(old.triangle_face, chosen)
    table = np.zeros((len(made.partner), len(old.weights.names)))
    table[old.weights.vertex, old.weights.group] = old.weights.weight
    vertex, group = np.nonzero(table[origin])
    keys = replace(old.keys, keys=tuple(replace(one, points=one.points[origin]) for one in old.keys.keys))
    return replace(
        old, weights=Weights(old.weights.names, vertex, group, table[origin][vertex, group]),
        seams=np.array([frozenset(origin[pair].tolist()) in marked for pair in edges]),
        face_material=old.face_material[chosen],
        uv_maps=tuple(replace(one, places=one.places[rows]) for one in old.uv_maps), keys=keys,
        masks=tuple(replace(m, values=m.values[origin if m.domain == "vertex" else rows]) for m in old.masks),
        corner_normals=old.corner_normals[rows], triangles=number[old.triangles[kept]],
        triangle_face=np.searchsorted(chosen, old.triangle_face[kept]),
    )
