"""How much of a figure a target takes: limits on triangles, vertices, meshes, materials, bones and shape keys."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from .errors import SettingsError
from .values import shown

AMOUNTS = {
    "triangles": "triangles", "vertices": "vertices in the engine", "meshes": "meshes", "materials": "materials",
    "bones": "bones", "keys": "shape keys on one mesh",
}
"""What can be limited, with its words."""
LARGEST = 2**31 - 1


@dataclass(frozen=True)
class Budget:
    """The most a figure may have of each; 0 sets no limit. ``source`` says where the limits come from.

    Raises SettingsError for what is no whole number of things.
    """

    triangles: int = 0
    vertices: int = 0
    meshes: int = 0
    materials: int = 0
    bones: int = 0
    keys: int = 0
    source: str = ""

    def __post_init__(self) -> None:
        for name in AMOUNTS:
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= LARGEST:
                raise SettingsError(f"{name} of the budget must be a whole number, 0 for no limit, not {shown(value)}.")
        if not isinstance(self.source, str):
            raise SettingsError(f"source of the budget must be a text, not {shown(self.source)}.")

    @property
    def limits(self) -> dict[str, int]:
        """What is limited, by name."""
        return {name: getattr(self, name) for name in AMOUNTS if getattr(self, name)}


NO_LIMITS = Budget()
QUOTED = "What public platforms of this kind ask for. Common practice, no source"
USUAL: Mapping[str, tuple[str, Budget]] = {
    "desktop-tight": ("Desktop, tight", Budget(32000, 0, 1, 4, 75, 0, QUOTED)),
    "desktop-wide": ("Desktop, wide", Budget(70000, 0, 2, 8, 150, 0, QUOTED)),
    "phone-tight": ("Phone or headset, tight", Budget(7500, 0, 1, 1, 75, 0, QUOTED)),
    "phone-middle": ("Phone or headset, middle", Budget(10000, 0, 1, 1, 90, 0, QUOTED)),
    "phone-wide": ("Phone or headset, wide", Budget(15000, 0, 2, 2, 150, 0, QUOTED)),
    "shared-world": ("Shared online world", Budget(15000, 0, 8, 8, 128, 64, QUOTED)),
    "shop": ("Shop", Budget(20000, 0, 0, 4, 0, 0, QUOTED)),
}
"""Budgets to begin with, by key, with their names: the tighter figure where platforms differ."""


def read_budget(table: object) -> Budget:
    """The budget of a profile's ``[budget]`` table. Raises SettingsError with the reason."""
    if not isinstance(table, Mapping):
        raise SettingsError("budget must be a table [budget] with limits such as triangles.")
    known = (*AMOUNTS, "source")
    unknown = sorted(str(name) for name in set(table) - set(known))
    if unknown:
        raise SettingsError(f"The budget sets {', '.join(unknown)}, but only {', '.join(known)} are known.")
    return Budget(**table)


def set_of(budget: Budget) -> dict[str, int | str]:
    """What the budget sets, as a profile's table has it."""
    return {name: value for name, value in asdict(budget).items() if value}
