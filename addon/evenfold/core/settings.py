"""One frozen record of settings, made once from panel, profile or command line."""

import math
import tomllib
from dataclasses import dataclass, fields, replace
from pathlib import Path

from .canon import Canon
from .errors import SettingsError
from .profile import read_canons

HOST_MIRROR_TOLERANCE = 0.00002
"""How far off a partner may lie for Blender's mirror tools, in the mesh's own units (measured)."""


_NUMBERS = (
    "tolerance", "tolerance_share", "target_heads", "target_band", "weight_limit", "uv_limit",
    "mask_limit", "bone_angle", "normal_angle",
)


@dataclass(frozen=True)
class Settings:
    """``tolerance`` is a length in metres, None for ``tolerance_share`` of the figure's height.

    ``target_heads`` is the wanted count and ``target_band`` how far off it may be, in heads.
    ``plane`` is automatic, armature, object or world. ``weight_limit`` and ``mask_limit`` are
    differences of values from 0 to 1, ``uv_limit`` of UV coordinates; ``bone_angle`` and
    ``normal_angle`` are degrees. ``layers`` names the layers to check, none named means all.
    ``keep`` says what a plan to the target leaves as it is, head or height; ``canon`` is the key
    of the canon to compare with, "" for none, and ``canons`` are the profile's own.
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

    def __post_init__(self) -> None:
        for name in _NUMBERS:
            value = getattr(self, name)
            if value is None and name in ("tolerance", "target_heads"):
                continue
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise SettingsError(f"{name} must be a number, not {value!r}.")
            if not (math.isfinite(value) and value > 0):
                raise SettingsError(f"{name} must be a number above zero, not {value!r}.")
        if self.plane not in ("automatic", "armature", "object", "world"):
            raise SettingsError(
                f"plane must be automatic, armature, object or world, not {self.plane!r}."
            )
        if not isinstance(self.layers, tuple) or not all(isinstance(one, str) for one in self.layers):
            raise SettingsError(f"layers must be a list of names, not {self.layers!r}.")
        if self.keep not in ("head", "height"):
            raise SettingsError(f"keep must be head or height, not {self.keep!r}.")
        if not isinstance(self.canon, str):
            raise SettingsError(f"canon must be the name of a canon, not {self.canon!r}.")


def read_profile(path: Path, base: Settings) -> Settings:
    """``base`` with what the TOML file at ``path`` sets; raises SettingsError with the reason."""
    from .proportion.canons import canon_named  # here, because proportion rests on the settings

    try:
        with path.open("rb") as file:
            values = tomllib.load(file)
    except OSError as error:
        raise SettingsError(f"The profile {path} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"The profile {path} is not a text in UTF-8: choose another file.") from error
    except tomllib.TOMLDecodeError as error:
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
    settings = replace(base, **values)
    if settings.canon:
        canon_named(settings.canon, settings.canons)
    return settings
