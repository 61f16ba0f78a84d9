"""The plan to a target, and comparison with a canon."""

CLASSES: tuple[type, ...] = ()
