"""A canon: levels of the body in head heights, always together with where they come from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .errors import SettingsError
from .values import is_number, shown


@dataclass(frozen=True)
class Canon:
    """``levels`` are heads down from the crown by landmark; crown, chin and sole are filled in.

    ``heads`` is how many heads tall it is and ``spread`` its standard deviation where it was
    surveyed. ``spans`` are widths in head heights. ``kind`` is adult, child, biomechanics,
    survey, stylised, own or figure; ``status`` says how sure the numbers are. A canon is a habit
    of drawing or a mean of many people, never the anatomy of one. Raises SettingsError.
    """

    key: str
    name: str
    heads: float
    levels: Mapping[str, float]
    source: str
    status: str
    kind: str
    spans: Mapping[str, float] = field(default_factory=dict)
    spread: float | None = None

    def __post_init__(self) -> None:
        if not self.source.strip():
            raise SettingsError(f"The canon {self.name} names no source: say where it comes from.")
        if not (is_number(self.heads) and self.heads > 1):
            raise SettingsError(f"The canon {self.name} needs heads above 1, not {shown(self.heads)}.")
        for name, value in (*self.levels.items(), *self.spans.items()):
            if not is_number(value) or value < 0:
                raise SettingsError(
                    f"{name} of the canon {self.name} must be a number of heads, 0 or more, not {shown(value)}."
                )
        fixed = {"crown": 0.0, "chin": 1.0, "sole": float(self.heads)}
        for name, value in fixed.items():
            if abs(self.levels.get(name, value) - value) > 1e-6:
                raise SettingsError(
                    f"{name} of the canon {self.name} must lie {value:g} heads down from the crown: correct it or leave it out."
                )
        levels = {**{name: float(value) for name, value in self.levels.items()}, **fixed}
        for name, value in levels.items():
            if value > self.heads + 1e-6:
                raise SettingsError(f"{name} of the canon {self.name} lies below its sole: correct it.")
        object.__setattr__(self, "levels", dict(sorted(levels.items(), key=lambda item: item[1])))
        object.__setattr__(self, "spans", {name: float(value) for name, value in self.spans.items()})

    def share(self, landmark: str) -> float:
        """Height of a landmark above the sole as a share of the whole height. Raises KeyError."""
        return 1.0 - self.levels[landmark] / self.heads

    def inner(self) -> dict[str, float]:
        """The levels between chin and sole, as shares of that stretch above the sole."""
        return {
            name: (self.heads - level) / (self.heads - 1.0)
            for name, level in self.levels.items()
            if 1.0 < level < self.heads
        }
