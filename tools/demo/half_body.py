"""The left half of an invented figure as rows and tubes of quads, and its exact mirror image."""

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

COLUMNS = 16
Point = tuple[float, float, float]
Share = dict[str, float]
# Head rows in head heights above the chin: front height, back height, half width, half depth.
HEAD_ROWS = (
    (0.06, 0.14, 0.16, 0.15), (0.00, 0.16, 0.26, 0.30), (0.05, 0.19, 0.32, 0.36),
    (0.13, 0.23, 0.39, 0.39), (0.24, 0.29, 0.44, 0.42), (0.33, 0.35, 0.46, 0.43),
    (0.42, 0.42, 0.46, 0.43), (0.52, 0.52, 0.45, 0.42), (0.62, 0.62, 0.43, 0.40),
    (0.72, 0.72, 0.39, 0.37), (0.80, 0.80, 0.34, 0.33), (0.87, 0.87, 0.28, 0.28),
    (0.93, 0.93, 0.21, 0.21), (0.97, 0.97, 0.14, 0.14), (0.99, 0.99, 0.07, 0.07),
)
# Body rows in chin heights: height, share of the torso's half width, group.
BODY_ROWS = (
    (0.38, 0.90, "hips"), (0.46, 1.00, "hips"), (0.55, 0.94, "spine"), (0.64, 0.95, "spine"),
    (0.73, 0.98, "spine"), (0.80, 0.96, "spine"), (0.86, 0.86, "spine"), (0.92, 0.72, "neck"),
)
# The limbs' first rings surround these blocks of quads: rows and columns.
ARM_BLOCK = (4, 6, 6, 10)
EAR_BLOCK = (len(BODY_ROWS) + 10, len(BODY_ROWS) + 12, 6, 10)


@dataclass(frozen=True)
class Build:
    """Heights in metres above the sole, which is at 0; ``torso`` is its half width."""

    crown: float
    chin: float
    torso: float

    @property
    def head(self) -> float:
        return self.crown - self.chin


@dataclass
class Half:
    """What has been built of the half with x >= 0."""

    points: list[Point] = field(default_factory=list)
    shares: list[Share] = field(default_factory=list)
    faces: list[tuple[int, ...]] = field(default_factory=list)

    def add(self, point: Point, share: Share) -> int:
        self.points.append(point)
        self.shares.append(share)
        return len(self.points) - 1

    def row(self, front: float, back: float, half_size: tuple[float, float], share: Share) -> list[int]:
        """Half an ellipse from the front centre to the back centre."""
        made = []
        for column in range(COLUMNS + 1):
            angle = math.pi * column / COLUMNS
            on_plane = column in (0, COLUMNS)
            x = 0.0 if on_plane else half_size[0] * math.sin(angle)
            z = front + (back - front) * (1 - math.cos(angle)) / 2
            made.append(self.add((x, -half_size[1] * math.cos(angle), z), share))
        return made

    def quads(self, first: list[int], second: list[int]) -> None:
        for i in range(len(first) - 1):
            self.faces.append((first[i], first[i + 1], second[i + 1], second[i]))

    def tube(self, loop: list[int], rings: list[tuple[Point, Point, Share]]) -> None:
        """Extend a closed loop by rings (centre, scale, share) and close the end."""
        start = np.array([self.points[index] for index in loop])
        middle = start.mean(0)
        current = loop
        for centre, scale, share in rings:
            moved = np.array(centre) + (start - middle) * scale
            following = [self.add((float(x), float(y), float(z)), share) for x, y, z in moved]
            self.quads([*current, current[0]], [*following, following[0]])
            current = following
        centre, _, share = rings[-1]
        tip = self.add(centre, share)
        for i, index in enumerate(current):
            self.faces.append((index, current[(i + 1) % len(current)], tip))


@dataclass(frozen=True)
class Whole:
    """``points`` (n, 3), faces, one share of groups for each vertex, and each vertex's partner."""

    points: NDArray[np.float64]
    faces: list[tuple[int, ...]]
    shares: list[Share]
    partner: list[int]


def other_side(name: str) -> str:
    ends = {".L": ".R", ".R": ".L"}
    return name[:-2] + ends[name[-2:]] if name[-2:] in ends else name


def without_loose(half: Half) -> Half:
    """A copy without the vertices inside the blocks where limbs begin."""
    used = sorted({index for face in half.faces for index in face})
    place = {old: new for new, old in enumerate(used)}
    return Half(
        [half.points[index] for index in used],
        [half.shares[index] for index in used],
        [tuple(place[index] for index in face) for face in half.faces],
    )


def mirrored(half: Half) -> Whole:
    """Both halves; vertices with x equal to 0 are shared, the others negated exactly."""
    half = without_loose(half)
    points, shares = list(half.points), list(half.shares)
    partner = list(range(len(points)))
    for index, (x, y, z) in enumerate(half.points):
        if x != 0.0:
            partner[index] = len(points)
            partner.append(index)
            points.append((-x, y, z))
            shares.append({other_side(name): w for name, w in half.shares[index].items()})
    faces = list(half.faces)
    # each face begins at the image of its first corner, so that quads are split along mirrored diagonals
    faces += [tuple(partner[i] for i in (face[0], *reversed(face[1:]))) for face in half.faces]
    return Whole(np.array(points), faces, shares, partner)


def in_block(block: tuple[int, int, int, int], row: int, column: int) -> bool:
    return block[0] <= row < block[1] and block[2] <= column < block[3]


def block_loop(rows: list[list[int]], block: tuple[int, int, int, int]) -> list[int]:
    """The vertices around a block of missing quads, counterclockwise from outside."""
    low, high, first, last = block
    loop = [rows[low][column] for column in range(first, last)]
    loop += [rows[row][last] for row in range(low, high)]
    loop += [rows[high][column] for column in range(last, first, -1)]
    return loop + [rows[row][first] for row in range(high, low, -1)]


def all_rows(half: Half, build: Build) -> list[list[int]]:
    """The rows of the body, the neck and the head, from the hips to just under the crown."""
    rows = []
    for height, width, group in BODY_ROWS:
        size = build.torso * width
        rows.append(half.row(height * build.chin, height * build.chin, (size, size * 0.75), {group: 1.0}))
    for number, (front, back, width, depth) in enumerate(HEAD_ROWS):
        share = {"head": 1.0} if number else {"head": 0.5, "neck": 0.5}
        heights = (build.chin + front * build.head, build.chin + back * build.head)
        rows.append(half.row(*heights, (width * build.head, depth * build.head), share))
    return rows


def body(build: Build) -> Whole:
    """A closed body with head, arms, legs and tall ears; crown, chin and sole as constructed."""
    half = Half()
    rows = all_rows(half, build)
    for row in range(len(rows) - 1):
        for column in range(COLUMNS):
            if not (in_block(ARM_BLOCK, row, column) or in_block(EAR_BLOCK, row, column)):
                half.quads(rows[row][column : column + 2], rows[row + 1][column : column + 2])
    crown = half.add((0.0, 0.0, build.crown), {"head": 1.0})
    for column in range(COLUMNS):
        half.faces.append((rows[-1][column], rows[-1][column + 1], crown))
    half.tube(block_loop(rows, ARM_BLOCK), arm_rings(build))
    half.tube(block_loop(rows, EAR_BLOCK), ear_rings(build))
    front, back = half.points[rows[0][0]], half.points[rows[0][-1]]
    bar = [
        half.add((0.0, front[1] + (back[1] - front[1]) * step / 4, front[2]), {"hips": 1.0})
        for step in (1, 2, 3)
    ]
    half.tube([*reversed(rows[0]), *bar], leg_rings(build))
    return mirrored(half)


def arm_joints(build: Build) -> list[Point]:
    """Shoulder, elbow, wrist and fingertip of the left arm."""
    drop, reach = build.chin * 0.14, build.torso * 0.5
    return [(build.torso + reach * i, 0.0, build.chin * 0.79 - drop * i) for i in range(4)]


def arm_rings(build: Build) -> list[tuple[Point, Point, Share]]:
    names = ("UpperArm.L", "LowerArm.L", "Hand.L")
    joints = arm_joints(build)
    rings: list[tuple[Point, Point, Share]] = []
    for number, name in enumerate(names):
        a, b = np.array(joints[number]), np.array(joints[number + 1])
        for part in (0.3, 0.9):
            x, y, z = (a + (b - a) * part).tolist()
            size = 0.9 - 0.1 * number
            rings.append(((x, y, z), (size, size, size), {name: 1.0}))
    return rings


def ear_joints(build: Build) -> list[Point]:
    """Root, two bends and tip of the left ear: up, out, and hanging over."""
    steps = ((0.27, 0.92), (0.32, 1.25), (0.48, 1.42), (0.66, 1.30))
    return [(x * build.head, 0.03 * build.head * i, build.chin + z * build.head)
            for i, (x, z) in enumerate(steps)]


def ear_rings(build: Build) -> list[tuple[Point, Point, Share]]:
    joints = ear_joints(build)
    rings: list[tuple[Point, Point, Share]] = []
    for number, name in enumerate(("Ear1.L", "Ear2.L", "Ear3.L")):
        a, b = np.array(joints[number]), np.array(joints[number + 1])
        for part in (0.35, 0.9):
            x, y, z = (a + (b - a) * part).tolist()
            rings.append(((x, y, z), (0.9, 0.8, 0.6), {name: 1.0}))
    return rings


def leg_joints(build: Build) -> list[Point]:
    """Hip, knee, ankle and toe of the left leg."""
    x = build.torso * 0.55
    return [(x, 0.0, build.chin * 0.36), (x, 0.0, build.chin * 0.2), (x, 0.0, build.chin * 0.06),
            (x, -build.torso * 0.6, 0.0)]


def leg_rings(build: Build) -> list[tuple[Point, Point, Share]]:
    x = build.torso * 0.55
    steps = ((0.30, 0.0, 0.75, "UpperLeg.L"), (0.20, 0.0, 0.7, "UpperLeg.L"),
             (0.12, 0.0, 0.65, "LowerLeg.L"), (0.06, 0.0, 0.65, "Foot.L"))
    rings: list[tuple[Point, Point, Share]] = [
        ((x, y, build.chin * z), (size, size, 0.0), {name: 1.0}) for z, y, size, name in steps
    ]
    rings.append(((x, -build.torso * 0.15, 0.0), (0.7, 0.9, 0.0), {"Foot.L": 1.0}))
    return rings


def shell(build: Build, first: int, last: int, grow: float) -> Whole:
    """A one-layer shell over the rows ``first`` to ``last``, grown by a factor in x and y."""
    half = Half()
    rows = all_rows(half, build)[first:last]
    kept = Half()
    made = [
        [
            kept.add((half.points[i][0] * grow, half.points[i][1] * grow, half.points[i][2]),
                     half.shares[i])
            for i in row
        ]
        for row in rows
    ]
    for below, above in pairwise(made):
        kept.quads(below, above)
    return mirrored(kept)
