"""Guides drawn over the model."""

CLASSES: tuple[type, ...] = ()
