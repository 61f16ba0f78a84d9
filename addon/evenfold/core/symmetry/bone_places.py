"""Bones by where they lie: meant for the middle, or each other's mirror image."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..name_words import words_of

CENTRE_WORDS = frozenset(
    ["root", "hip", "hips", "pelvis", "spine", "chest", "torso", "waist", "belly", "abdomen", "neck",
     "head", "jaw", "chin", "nose", "tongue", "teeth", "master"]
)
"""Bones of these names belong on the centre line. Common practice, no source."""

OF_LENGTH = 0.25
OF_RIG = 0.005
OF_RIG_NAMED = 0.05
"""How far from the plane a bone may lie and still be meant for the middle: as a share of its own
length, of the rig's size, and of that for bones with a name of the middle. Our choice."""


def near_middle(names: tuple[str, ...], ends: FloatArray) -> NDArray[np.bool_]:
    """(n,) which bones with ``ends`` (n, 2, 3) in the plane's frame are meant for the middle."""
    off = np.abs(ends[:, :, 0]).max(axis=1)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    size = float(np.ptp(ends.reshape(-1, 3), axis=0).max())
    named = np.array([bool(CENTRE_WORDS & set(words_of(name))) for name in names], bool)
    reach = np.maximum(np.minimum(OF_LENGTH * length, OF_RIG_NAMED * size), OF_RIG * size)
    return off <= np.where(named, OF_RIG_NAMED * size, reach)


def mirrored_places(ends: FloatArray, among: IntArray, tolerance: float) -> dict[int, int]:
    """For each bone of ``among`` the one of them that lies at its mirror image, or -1.

    Only bones that choose each other count.
    """
    own = ends[among].reshape(len(among), 6)
    image = own * [-1, 1, 1, -1, 1, 1]
    if len(among) < 2:
        return dict.fromkeys(among.tolist(), -1)
    apart = np.abs(image[:, None] - own[None]).max(axis=2)
    np.fill_diagonal(apart, np.inf)
    best = apart.argmin(axis=1)
    close = apart[np.arange(len(best)), best] <= tolerance
    mutual = close & (best[best] == np.arange(len(best)))
    return {int(a): int(among[b]) if m else -1 for a, b, m in zip(among, best, mutual, strict=True)}
