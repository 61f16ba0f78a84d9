"""Repairs for what the check found."""

CLASSES: tuple[type, ...] = ()
