"""Invented meshes, exactly mirrored about column 0, made with numpy alone."""

import numpy as np
from evenfold.core.pairing import Mesh


def mesh_of(points, faces):
    """A Mesh from (n, 3) points and a list of faces (lists of vertex numbers)."""
    lengths = [len(face) for face in faces]
    corners = np.array([corner for face in faces for corner in face], np.int64)
    starts = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    edges = {
        tuple(sorted((face[i], face[(i + 1) % len(face)])))
        for face in faces
        for i in range(len(face))
    }
    return Mesh(
        np.asarray(points, float), np.array(sorted(edges), np.int64).reshape(-1, 2), corners, starts
    )


def lumpy_ball(rings=16, around=24, seed=0, shuffle=True):
    """A closed, smoothly bumpy ball of quads and triangles; returns (mesh, partner) with partner known.

    The seam of columns runs so that columns 0 and around / 2 lie on the plane.
    """
    rng = np.random.default_rng(seed)
    turn = 2.0 * np.pi * np.arange(around) / around
    rise = np.pi * np.arange(1, rings) / rings
    column = np.minimum(np.arange(around), around - np.arange(around))
    fold = 2.0 * np.pi * column / around
    radius = np.ones((rings - 1, around))
    for wave in range(1, 5):
        height, phase, lean = rng.normal(), *rng.uniform(0.0, 6.0, 2)
        radius += (
            0.06 / wave * height * np.cos(wave * rise + phase)[:, None] * np.cos(wave * fold + lean)
        )
    across = np.sin(turn)
    across[[0, around // 2]] = 0.0
    across[around // 2 + 1 :] = -across[1 : around // 2][::-1]
    deep = np.cos(turn)
    deep[around // 2 + 1 :] = deep[1 : around // 2][::-1]
    points = np.stack(
        [
            radius * np.sin(rise)[:, None] * across,
            radius * np.sin(rise)[:, None] * deep,
            radius * np.cos(rise)[:, None] * np.ones(around),
        ],
        axis=2,
    ).reshape(-1, 3)
    points = np.concatenate([points, [[0, 0, 1.0], [0, 0, -1.0]]])
    top, bottom = len(points) - 2, len(points) - 1
    faces = []
    for ring in range(rings - 2):
        for step in range(around):
            beside = (step + 1) % around
            here, below = ring * around, (ring + 1) * around
            faces.append([here + step, below + step, below + beside, here + beside])
    last = (rings - 2) * around
    for step in range(around):
        beside = (step + 1) % around
        faces.append([top, step, beside])
        faces.append([bottom, last + beside, last + step])
    number = np.arange(rings - 1)[:, None] * around + (-np.arange(around)) % around
    partner = np.concatenate([number.ravel(), [top, bottom]])
    if shuffle:
        order = rng.permutation(len(points))
        place = np.empty_like(order)
        place[order] = np.arange(len(order))
        faces = [[int(place[corner]) for corner in face] for face in faces]
        points, partner = points[order], place[partner[order]]
    return mesh_of(points, faces), partner


def joined(*meshes):
    """Several meshes as one, in order."""
    starts = np.cumsum([0] + [len(mesh.points) for mesh in meshes])
    faces = []
    for mesh, start in zip(meshes, starts, strict=False):
        for first, last in zip(mesh.face_starts[:-1], mesh.face_starts[1:], strict=True):
            faces.append([int(c + start) for c in mesh.corners[first:last]])
    return mesh_of(np.concatenate([mesh.points for mesh in meshes]), faces)


def split_at_faces(mesh):
    """Every face with its own vertices, as flat-shaded exports give them."""
    faces = [
        list(range(first, last))
        for first, last in zip(mesh.face_starts[:-1], mesh.face_starts[1:], strict=True)
    ]
    return mesh_of(mesh.points[mesh.corners], faces)


def sheet(points_by_row, flip=False):
    """Quads over a grid of points (rows, columns, 3)."""
    rows, columns = points_by_row.shape[:2]
    faces = []
    for row in range(rows - 1):
        for column in range(columns - 1):
            here = row * columns + column
            face = [here, here + 1, here + columns + 1, here + columns]
            faces.append(face[::-1] if flip else face)
    return mesh_of(points_by_row.reshape(-1, 3), faces)
