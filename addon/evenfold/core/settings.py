"""One frozen record of settings, made once from panel, profile or command line."""

from dataclasses import dataclass, fields, replace
from pathlib import Path

from .budget import NO_LIMITS, Budget, read_budget
from .canon import Canon
from .errors import SettingsError
from .planning.canons import canon_named
from .profile import read_canons
from .toml_text import toml_of
from .values import is_number, shown

HOST_MIRROR_TOLERANCE = 0.00002
"""How far off a partner may lie for Blender's mirror tools, in the mesh's own units (measured)."""


_NUMBERS = (
    "tolerance", "tolerance_share", "target_heads", "target_band", "weight_limit", "uv_limit",
    "mask_limit", "bone_angle", "normal_angle",
)


_NOT_COMPARED = ("target_heads", "target_band", "keep", "canon", "canons", "budget")


@dataclass(frozen=True)
class Settings:
    """``tolerance`` is a length in metres, None for ``tolerance_share`` of the figure's height.

    ``target_heads`` is the wanted count and ``target_band`` how far off it may be, in heads.
    ``plane`` is automatic, armature, object or world. ``weight_limit`` and ``mask_limit`` are
    differences of values from 0 to 1, ``uv_limit`` of UV coordinates; ``bone_angle`` and
    ``normal_angle`` are degrees. ``layers`` names the layers to check, none named means all.
    ``keep`` says what a plan to the target leaves as it is, head or height; ``canon`` is the key
    of the canon to compare with, "" for none, and ``canons`` are the profile's own. ``budget`` limits
    how much of everything the figure may have.
    """

    tolerance: float | None = None
    tolerance_share: float = 1e-4
    target_heads: float | None = None
    target_band: float = 0.05
    plane: str = "automatic"
    weight_limit: float = 0.005
    uv_limit: float = 0.0005
    mask_limit: float = 0.01
    bone_angle: float = 0.05
    normal_angle: float = 1.0
    layers: tuple[str, ...] = ()
    keep: str = "head"
    canon: str = ""
    canons: tuple[Canon, ...] = ()
    budget: Budget = NO_LIMITS

    @property
    def compared_by(self) -> "Settings":
        """What the halves are compared by alone: without target, plan, canons and budget."""
        return replace(self, **{name: getattr(Settings, name) for name in _NOT_COMPARED})

    def __post_init__(self) -> None:
        for name in _NUMBERS:
            value = getattr(self, name)
            if value is None and name in ("tolerance", "target_heads"):
                continue
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise SettingsError(f"{name} must be a number, not {shown(value)}.")
            if not (is_number(value) and value > 0):
                raise SettingsError(f"{name} must be a number above zero, not {shown(value)}.")
        if self.plane not in ("automatic", "armature", "object", "world"):
            raise SettingsError(
                f"plane must be automatic, armature, object or world, not {shown(self.plane)}."
            )
        if not isinstance(self.layers, tuple) or not all(isinstance(one, str) for one in self.layers):
            raise SettingsError(f"layers must be a list of names, not {shown(self.layers)}.")
        if self.keep not in ("head", "height"):
            raise SettingsError(f"keep must be head or height, not {shown(self.keep)}.")
        if not isinstance(self.canon, str):
            raise SettingsError(f"canon must be the name of a canon, not {shown(self.canon)}.")


def read_profile(path: Path, base: Settings) -> Settings:
    """``base`` with what the TOML file at ``path`` sets; raises SettingsError with the reason."""
    try:
        values = toml_of(path.read_bytes().decode("utf-8"))
    except OSError as error:
        raise SettingsError(f"The profile {path} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"The profile {path} is not a text in UTF-8: choose another file.") from error
    except ValueError as error:
        raise SettingsError(f"The profile {path} is not valid TOML: {error}.") from error
    known = {entry.name for entry in fields(Settings)}
    unknown = sorted(set(values) - known)
    if unknown:
        raise SettingsError(
            f"The profile {path} sets {', '.join(unknown)}, but only {', '.join(sorted(known))} are known."
        )
    if isinstance(values.get("layers"), list):
        values["layers"] = tuple(values["layers"])
    if "canons" in values:
        own = {canon.key: canon for canon in (*base.canons, *read_canons(values["canons"]))}
        values["canons"] = tuple(own.values())
    if "budget" in values:
        values["budget"] = read_budget(values["budget"])
    settings = replace(base, **values)
    _require_layers(settings.layers)
    if settings.canon:
        canon_named(settings.canon, settings.canons)
    return settings


def _require_layers(names: tuple[str, ...]) -> None:
    """A misspelt layer would never be checked. Raises SettingsError that lists the known ones."""
    from .symmetry import LAYERS  # here, because the layers rest on the settings

    wrong = [shown(name) for name in names if name not in LAYERS]
    if wrong:
        raise SettingsError(f"layers names {', '.join(wrong)}, but only {', '.join(LAYERS)} are known.")
