"""The top of a skull that nothing covers, though things may stand on both sides of it."""

import numpy as np

from ...findings import Reading
from ..face.side_outline import cuts
from ..fuse import Bracket
from ..head.region import Head
from ..points.sample import along, plane_cut
from .dome import Dome, bare_line

BARE = ("highest point of the skull", "dome under what stands on it")
BARE_TOP = Bracket(0.004, 0.004)
"""How far a bare top may be off, in heads."""

UPPER_HALF = 0.5
"""The middle line of the skull is looked at over this share of the head's height. Our choice."""
FEWEST = 30
"""Fewer points are no middle line."""
ASIDE, AROUND = 0.1, 0.1
"""What is beside the middle line is looked at so far off it, in heads or in widths of the head where these are less, and within
the second before and behind its highest place, in heads. Our choice."""
SPACING = 0.01
"""Points there are about so far apart, in heads."""
RIDGE = 0.025
"""A middle line that stands over what is beside it by more than this is a ridge, no skull."""


def between_ears(head: Head, dome: Dome, size: float) -> Dome:
    """The dome's top on the middle line where things stand on both sides of it, none on it."""
    if dome.bare:
        return dome
    line = cuts(head.framed, head.faces_of(head.skull), head.side, head.width)
    line = line[line[:, 2] > head.low + UPPER_HALF * head.size] if len(line) else line
    if len(line) < FEWEST:
        return dome
    top = bare_line(line[:, 1:], size)
    if top is None:
        return dome
    place = float(line[np.argmax(line[:, 2]), 1])
    aside = ASIDE * min(head.width, size)
    for off in (-aside, aside):
        beside = along(plane_cut(head.framed, head.faces_of(head.skull), 0, head.side + off), SPACING * size)
        near = beside[np.abs(beside[:, 1] - place) < AROUND * size]
        if not len(near) or near[:, 2].max() < top - RIDGE * size:
            return dome
    return Dome(top, top, True, BARE_TOP.above * size, np.array([head.side, place]))


def from_dome(dome: Dome, size: float) -> Reading:
    """Where a bare skull ends, or one with narrow things on it."""
    if dome.bare:
        return BARE_TOP.about(BARE[0], dome.top, size)
    return Reading(BARE[1], dome.top, dome.top - dome.slack, min(dome.top + dome.slack, dome.highest))
