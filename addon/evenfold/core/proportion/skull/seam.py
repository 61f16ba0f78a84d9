"""What a seam around the face says: hair, a brim, or the eyes and brows of a bare head.

How much it turns is in radians, heights are shares of the way from chin to top, steps in heads.
"""

from dataclasses import dataclass

HAIR_OVER, HAIR_BESIDE = 0.3, 0.38
"""Over the forehead alone hair turns by at least the first, and by the second on both sides of the face; a brow over the eyes
turns less over the forehead, eyes, noses and cheeks less at the sides."""
HAIR_AROUND = 0.75
"""Over the forehead and beside the face together hair turns by at least this much."""

BRIM = 2.4
"""Over the forehead a brim turns by at least this much: up to it and away from it."""
BRIM_AROUND = 0.9
"""And it goes on at the sides by at least this much, more than anything beside the face turns: a fringe ends at
the temples, and locks hang down from it."""
LOWEST_BRIM = 0.58
"""No brim begins lower than this; eyes and an open mouth do. Our choice."""

EYES_UNDER, EYES_EVEN = 0.62, 0.56
"""What begins under the first and runs less evenly than the second is eyes, lids and brows,
not hair: by ready models of bald heads, which had 0.07 to 0.55, and of hair, which mostly had 0.6 and more."""
EYES_TURN = 5.3
"""Eyes alone turn less than this over the forehead and beside the face together; bald ready models had up to 5.1, one with a
quiff over its eyes 5.6."""
BROW_STEP = 0.06
"""A brow stands out over what is under it by less than this: up to 0.045 on 150 invented heads without hair in their skin. Our choice."""
GAPS = 0.2
"""What runs less evenly than this has the gaps of eyes wherever the head bone ends. Our choice."""

BARE_UNDER, BARE_STEP = 0.68, 0.001
"""What turns under the first and stands out nowhere in front, to the second, is where a bare face
stands out itself, with its brows and cheeks: hair lies on the face. Of 300 invented heads 14 bare ones did so, one with
hair in their skin."""
SMOOTH_TURN, SMOOTH_STEPS = 0.2, (0.005, 0.012)
"""Less turning than the first, and less of a step in front and at the sides than the second, is no seam at all. Our choice."""


@dataclass(frozen=True)
class Seam:
    """Turning in radians: ``front`` over the forehead, ``sides`` on the less turned side of the
    face, ``ring`` level lines at the sides.

    ``level`` is the height at which what turns over the forehead begins, NaN where nothing does;
    ``share`` the same from the chin (0) to the top (1). ``even`` is how evenly it runs from side to
    side: the little that turns in some columns, over the mean of all. ``step`` is how far hair or a hat stands
    forward over the face in the middle, in heads, and ``bulge`` how far it stands out on both sides;
    both are 0 where that is too much for a step: in front the face is ``overhung`` then, as under an opening's edge.
    """

    front: float
    sides: float
    ring: float
    level: float
    share: float
    even: float = 1.0
    step: float = 0.0
    bulge: float = 0.0
    overhung: bool = False

    @property
    def is_eyes(self) -> bool:
        """True when what turns lies as low as eyes and brows and has gaps beside and between them, as these have."""
        return self.share < EYES_UNDER and self.even < EYES_EVEN and self.front + self.sides < EYES_TURN and self.step < BROW_STEP

    @property
    def is_bare(self) -> bool:
        """True when what turns lies low and nothing stands out over the face: brows and cheeks that stand out themselves."""
        return self.share < BARE_UNDER and self.step < BARE_STEP and not self.overhung

    @property
    def is_brim(self) -> bool:
        """True when something stands out over the forehead and goes on around the head."""
        return self.share >= LOWEST_BRIM and not self.is_eyes and self.front >= BRIM and self.ring >= BRIM_AROUND and self.ring > self.sides

    @property
    def is_hair(self) -> bool:
        """True when something begins all around the face."""
        return self.may_be_hair and not self.is_eyes and not self.is_bare

    @property
    def is_smooth(self) -> bool:
        """True when nothing turns and nothing stands out: what is called hair there is paint."""
        return max(self.front, self.sides, self.ring) < SMOOTH_TURN and self.step < SMOOTH_STEPS[0] and self.bulge < SMOOTH_STEPS[1]

    @property
    def may_be_hair(self) -> bool:
        """True when enough turns all around the face, be it hair or eyes, lids and cheeks."""
        return not self.is_brim and self.front >= HAIR_OVER and self.sides >= HAIR_BESIDE and self.front + self.sides >= HAIR_AROUND


NONE = Seam(0.0, 0.0, 0.0, float("nan"), float("nan"))
