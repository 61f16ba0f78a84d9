"""Our reading of the host's rule for left and right, against the host itself, name by name."""

import bpy
import numpy as np
import pytest
from evenfold.core.face_shapes import SHAPES, STYLES, spelt
from evenfold.core.sides import host_flip, host_flips, pairs

PIECES = [
    "L", "R", "l", "r", "left", "Right", "RIGHT", "LeFt", "rIght", "left", "right", ".", "_", "-", " ", "arm",
    "Eye", "B", "x", "0", "001", ".001", ".12", "左", "é", "ß", "İ", "b", "up", ":",
]
LONGEST = 60


@pytest.mark.parametrize("seed", range(4))
def test_thousands_of_made_up_names_flip_as_the_host_flips_them(seed):
    rng = np.random.default_rng(seed)
    names = ["".join(rng.choice(PIECES, rng.integers(1, 7)).tolist()) for _ in range(8000)]
    names = [name for name in names if len(name.encode()) <= LONGEST]
    unlike = {name: bpy.utils.flip_name(name) for name in names if bpy.utils.flip_name(name) != host_flip(name)}
    assert unlike == {}
    turned = sum(map(host_flips, names))
    assert 1000 < turned < len(names)


def test_known_names_pair_as_the_host_pairs_them():
    known = [spelt(one, style) for style in STYLES for one in SHAPES] + ["blinkLeft", "lookRight", "lookleft", "blink_l", "neutral"]
    for name in known:
        assert host_flip(name) == bpy.utils.flip_name(name)
        partner = pairs([name, bpy.utils.flip_name(name)]).partner
        assert partner.get(name, name) == bpy.utils.flip_name(name)
