"""The plan to the target as a picture: the figure's outline now, and with its heights as planned."""

import numpy as np

from ...figure import FloatArray
from ...planning.plan import Plan
from .drawing import EDGE, TEXT, Drawn, path_of

MOST_LINES = 40


def planned(one: Drawn, plan: Plan) -> str:
    """Two outlines on one floor, each with lines a head apart; only heights change, no width."""
    left, top, right, bottom = one.box("front")
    after = [_moved(loop, plan) for loop in one.portrait.front]
    top = min(top, *(float(-loop[:, 1].max()) * one.scale for loop in after))
    width = right - left + 3.0 * EDGE + 2.0 * TEXT
    shape = "".join(path_of(loop * np.array([1.0, -1.0]) * one.scale) for loop in after)
    wanted = (
        f'<path class="body" fill-rule="evenodd" d="{shape}"/>'
        f"{_lines(plan.height_after, plan.head_after, one.scale, left, right)}"
    )
    inner = [
        f'<use class="body" href="#{one.mark}-front"/>',
        _lines(plan.height_before, plan.head_before, one.scale, left, right),
        f'<g transform="translate({width:.0f} 0)">{wanted}</g>',
        f'<path class="floor" d="M{left - EDGE:.0f} 0H{right + width + EDGE:.0f}"/>',
        f'<text class="label" x="{left:.0f}" y="{bottom + 2 * TEXT:.0f}">now, {plan.heads:.2f} heads</text>',
        f'<text class="label" x="{left + width:.0f}" y="{bottom + 2 * TEXT:.0f}">wanted, {plan.target:.2f} heads</text>',
    ]
    box = f"{left - EDGE - 2 * TEXT:.0f} {top - EDGE:.0f} {right - left + width + 2 * EDGE + 6 * TEXT:.0f} {bottom - top + EDGE + 3 * TEXT:.0f}"
    return f'<svg role="img" class="planned" viewBox="{box}" aria-label="The outline now and as planned">{"".join(inner)}</svg>'


def _moved(loop: FloatArray, plan: Plan) -> FloatArray:
    """The outline (n, 2) with its heights moved as the plan's spans are; above the crown as the head is."""
    ends = {plan.before[name]: plan.after[name] for span in plan.spans for name in (span.upper, span.lower)}
    old = np.array(sorted(ends))
    new = np.array([ends[one] for one in old.tolist()])
    heights = loop[:, 1]
    inside = np.interp(heights, old, new)
    above = new[-1] + (heights - old[-1]) * plan.head_after / plan.head_before
    moved = np.where(heights > old[-1], above, np.where(heights < 0.0, heights, inside))
    return np.stack([loop[:, 0], moved], axis=1)


def _lines(height: float, head: float, scale: float, left: float, right: float) -> str:
    """Lines a head apart from the crown down to the floor, and their count."""
    made, counts = [], []
    for step in range(min(int(np.floor(height / head + 1e-6)), MOST_LINES) + 1):
        y = round(-(height - step * head) * scale)
        made.append(f"M{left:.0f} {y}H{right:.0f}")
        counts.append(f'<text class="count" x="{left - 6:.0f}" y="{y}" dy=".35em">{step}</text>')
    return f'<path class="unit" d="{"".join(made)}"/>{"".join(counts)}'
