"""Operators: see the panel of this name."""

CLASSES: tuple[type, ...] = ()
