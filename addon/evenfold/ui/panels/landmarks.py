"""Every landmark with its evidence, and the humanoid bone map."""

CLASSES: tuple[type, ...] = ()
