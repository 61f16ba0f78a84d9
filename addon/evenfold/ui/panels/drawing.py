"""The reference drawing beside the model."""

CLASSES: tuple[type, ...] = ()
