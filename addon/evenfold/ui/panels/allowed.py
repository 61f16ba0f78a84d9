"""Deliberate asymmetry: what is excused, and why."""

CLASSES: tuple[type, ...] = ()
