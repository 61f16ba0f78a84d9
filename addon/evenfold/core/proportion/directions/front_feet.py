"""Front from back by the feet: they stick out ahead of the shins. Heights are shares of the figure's."""

import numpy as np

from ...figure import FloatArray

TOLD_FOOT, TOLD_SHIN, LEAST_HIGH = 0.04, (0.07, 0.8), 0.05
"""Of a foot with what is over it the foot lies below the first, the shin over the lesser of the first of the second and that
share of it all; what is not as high as the third shows no shin. Our choice."""
TOLD = 2
"""Feet told from what hangs lower count so much: those on the ground are looked at in two slices. Our choice."""
STANDS = 0.02
"""A half of the figure stands where it begins so near to the lowest point. Our choice."""
SLICES, SHIN = ((0.0, 0.04, 0.14), (0.02, 0.08, 0.2)), 0.06
"""Feet are looked for between the first two heights over the lowest point, their shins over so much up to the third; and once
more further up, for what lies under the feet. Our choice."""
SHORTEST = 0.07
"""Legs that end further up than this, in heights, and under the upper end of the first slice's shins, have that slice lower down. Our choice."""
FEWEST = 3
"""Of so many points or fewer nothing is told."""
TOES, AHEAD = 0.3, 0.02
"""A foot is told from the end of a leg where it is longer than the shin is deep by the first share; its middle lies ahead of the
shin's by the second, in heights, to say all it can. Our choice."""


def feet_over_tails(feet: list[FloatArray], size: float) -> float:
    """What feet (k, 3 each: side, deep, height) say that were told from something that hangs lower; below zero for the back."""
    votes = []
    for own in feet:
        rise = own[:, 2] - own[:, 2].min()
        foot, shin = own[rise < TOLD_FOOT * size, 1], own[rise > min(TOLD_SHIN[0] * size, TOLD_SHIN[1] * rise.max()), 1]
        if len(foot) > FEWEST and len(shin) > FEWEST and rise.max() > LEAST_HIGH * size:
            votes.append(_shift(foot, shin, size))
    return TOLD * float(np.mean(votes)) if votes else 0.0


def feet_on_the_ground(deep: FloatArray, away: FloatArray, height: FloatArray, size: float, beside: float) -> float:
    """What the feet say that lie more than ``beside`` to both sides of the middle, where the figure stands on its lowest points.

    ``deep``, ``away`` from the middle and ``height`` (n,) of its points.
    """
    low, vote = height.min(), 0.0
    standing = [half for half in (away > beside, away < -beside) if half.any() and height[half].min() < low + STANDS * size]
    for first, last, lower, upper in _slices(height[np.abs(away) < beside / 2], low, size):
        for half in standing:
            foot = deep[half & (height >= low + first * size) & (height < low + last * size)]
            shin = deep[half & (height > low + lower * size) & (height < low + upper * size)]
            if len(foot) > FEWEST and len(shin) > FEWEST:
                vote += _shift(foot, shin, size) / len(standing)
    return vote


def _slices(between: FloatArray, low: float, size: float) -> list[tuple[float, float, float, float]]:
    """Where feet begin and end, and shins, in shares of ``size`` over ``low``; ``between`` (k,) are the heights of what is in the middle.

    Legs that end lower than shins are looked at have the first slice twice, as much lower down.
    """
    legs = (float(between.min()) - low) / size if len(between) else 1.0
    usual = [(first, last, upper - SHIN, upper) for first, last, upper in SLICES]
    if not SHORTEST < legs < SLICES[0][2]:
        return usual
    share = legs / SLICES[0][2]
    first, last, lower, upper = usual[0]
    return [(share * first, share * last, share * lower, share * upper)] * len(usual)


def _shift(foot: FloatArray, shin: FloatArray, size: float) -> float:
    """How far a foot's middle lies ahead of its shin's, from -1 to 1; nothing where it is no longer than that."""
    longer = float(np.clip((np.ptp(foot) / max(float(np.ptp(shin)), 1e-12) - 1) / TOES, 0, 1))
    return longer * float(np.clip((foot.max() + foot.min() - shin.max() - shin.min()) / 2 / (AHEAD * size), -1, 1))
