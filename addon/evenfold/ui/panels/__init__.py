"""The sidebar. Draws what is known; computes nothing. One file a panel."""

from . import (
    allowed,
    drawing,
    figure,
    guides,
    heads,
    landmarks,
    live,
    plan,
    profile,
    ready,
    repair,
    report,
    symmetry,
    told,
)

CLASSES = (
    *figure.CLASSES,
    *live.CLASSES,
    *profile.CLASSES,
    *heads.CLASSES,
    *guides.CLASSES,
    *plan.CLASSES,
    *landmarks.CLASSES,
    *drawing.CLASSES,
    *symmetry.CLASSES,
    *repair.CLASSES,
    *ready.CLASSES,
    *allowed.CLASSES,
    *told.CLASSES,
    *report.CLASSES,
)
