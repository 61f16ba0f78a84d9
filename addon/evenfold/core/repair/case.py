"""What every repair starts from: the finding, whom its vertices mirror onto, and which side is left."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..allowances import LAYER_OF_CODE, Allowance, named_in, outgrown, resolved, vertices_of
from ..errors import EvenfoldError
from ..figure import Figure, FloatArray, IntArray, Surface
from ..findings import FigureResult, Finding, MirrorPlane, ObjectResult, Readiness
from ..nearest import Finder
from ..plane import into_frame
from ..settings import Settings
from ..sides import pairs
from ..symmetry import Compared, Limits, check_surfaces, limits_of
from ..symmetry.keys.moves import keys_of, moves_of
from ..symmetry.matched import Matched
from ..symmetry.paired_rows import paired_rows, weights_sign
from ..symmetry.rebuilt import rebuilt
from .applied import applied
from .changes import Change, Moved, Wish
from .image import MirrorMap, mirror_map


class RepairError(EvenfoldError):
    """A repair that would guess or harm something."""


@dataclass(frozen=True)
class Checked:
    """A figure as it was checked: what every repair of one run shares.

    ``kept`` holds, by what and object, answers that repairs do not change.
    """

    figure: Figure
    limits: Limits
    finder: Finder
    kept: dict[tuple[str, str], Any] = field(default_factory=dict, compare=False)

    @staticmethod
    def of(figure: Figure, result: FigureResult, settings: Settings, finder: Finder) -> "Checked":
        """With the plane and tolerance that ``result`` was found with."""
        tolerance = result.tolerance / figure.metres_per_unit
        return Checked(figure, limits_of(figure, tolerance, result.plane, settings), finder)

    @cached_property
    def surfaces(self) -> dict[str, Surface]:
        return {surface.name: surface for surface in self.figure.surfaces}

    @cached_property
    def compared(self) -> dict[str, Compared]:
        """Each object's partners, as the check found them."""
        limits = self.limits
        found = check_surfaces(
            self.figure.surfaces, limits.plane, limits.tolerance, limits.metres, self.finder
        )
        return {one.result.name: one for one in found}

    def after(self, changes: Iterable[Change]) -> "Checked":
        """The same with the figure as these changes leave it.

        Who is whose partner is kept: repairs settle places, they do not change it.
        """
        changes = tuple(changes)
        if not changes:
            return self
        later = Checked(applied(self.figure, changes), self.limits, self.finder, self.kept)
        moved = any(isinstance(one, Moved) for one in changes)
        later.__dict__["compared"] = {
            name: one if one.matched is None else replace(one, matched=later.renewed(one.matched, moved))
            for name, one in self.compared.items()
        }
        later.__dict__["sign"] = self.sign
        return later

    def renewed(self, matched: Matched, moved: bool) -> Matched:
        """The same partners on the surfaces of this figure."""
        here, there = self.surfaces[matched.here.name], self.surfaces[matched.there.name]
        points = self.across(here) if moved else matched.points
        return Matched(here, there, points, matched.partner, matched.off, matched.doubled)

    @cached_property
    def sign(self) -> int:
        """+1 where the names call left the half the plane's normal points to, -1 the other way.

        Told by the bones, else by the weights; +1 where no name tells.
        """
        return _by_bones(self) or _by_weights(self) or 1

    def rebuilt(self, name: str) -> Readiness | None:
        """The word on an object of which one half was rebuilt from the other; None on others."""
        if ("rebuilt", name) not in self.kept:
            found = self.compared.get(name)
            matched = None if found is None or found.half else found.matched
            told = None if matched is None else rebuilt(matched, self.limits)
            self.kept["rebuilt", name] = told
        return self.kept["rebuilt", name]

    def key_sign(self, matched: Matched) -> int:
        """+1 where the keys called left lie on the plane's left half, as the check takes it."""
        name = matched.here.name
        if ("sign", name) not in self.kept:
            moves = moves_of(matched.here, self.limits)
            self.kept["sign", name] = keys_of(paired_rows(matched), self.limits, moves).sign
        return int(self.kept["sign", name])

    def is_half(self, name: str) -> bool:
        """True for half a model whose other half a live Mirror modifier makes."""
        found = self.compared.get(name)
        return found is not None and found.half

    def across(self, surface: Surface) -> FloatArray:
        """(n, 3) a surface's vertices in the plane's frame."""
        return into_frame(surface.world, self.limits.plane.point, self.limits.plane.normal)

    def excused_for(self, finding: Finding, owner: str) -> dict[str, NDArray[np.bool_]]:
        """By object, the vertices (n,) that no repair of this finding on ``owner`` may change.

        They are excused of everything, or of findings on the very things that mending this one
        changes. What has outgrown its allowance, or is listed here as something else, is free.
        """
        covers = {name: np.zeros(len(one.positions), bool) for name, one in self.surfaces.items()}
        for one in self.figure.allowances:
            known = resolved(one, self.figure)
            if known.kind not in ("selection", "object", "group", "material") or known.owner not in covers:
                continue
            if known.code and not _on_the_same(known, finding):
                continue
            flags = np.zeros(len(covers[known.owner]), bool)
            flags[known.vertices[(known.vertices >= 0) & (known.vertices < len(flags))]] = True
            if known.code:
                flags[_released(known, finding, owner, self.surfaces[known.owner])] = False
            covers[known.owner] |= flags
        return covers


def _on_the_same(one: Allowance, finding: Finding) -> bool:
    """Whether an allowance made from a finding is on what mending this one changes.

    The weights of a vertex hang together, whichever groups they are in; keys stand by themselves.
    """
    layer = LAYER_OF_CODE.get(one.code)
    if layer == "uv":
        return one.code == finding.code and one.names == frozenset(finding.about)
    if layer != LAYER_OF_CODE.get(finding.code):
        return False
    named = named_in(finding)
    apart = bool(one.names) and bool(named) and one.names.isdisjoint(named)
    return layer != "shape_keys" or not apart


def _released(one: Allowance, finding: Finding, owner: str, surface: Surface) -> IntArray:
    """The vertices (k,) of the allowance's object that are listed although it covers them."""
    exactly = one.code == finding.code and one.names == frozenset(finding.about)
    if finding.names or (not exactly and LAYER_OF_CODE.get(one.code) == "weights"):
        return np.zeros(0, np.int64)
    listed = outgrown(one, finding) if exactly else np.ones(finding.count, bool)
    mine = finding.elements[listed] if surface.name == owner else finding.elements[:0]
    its = finding.partners[listed]
    if surface.name != (finding.partner_object or owner):
        its = its[:0]
    return vertices_of(finding.kind, np.append(mine, its[its >= 0]), surface)


def _by_bones(checked: Checked) -> int:
    armature, normal = checked.figure.armature, checked.limits.plane.normal
    if armature is None:
        return 0
    paired = pairs(armature.by_name)
    apart = [
        float((armature.by_name[left].head - armature.by_name[right].head) @ normal)
        for left, right in zip(paired.left, paired.right, strict=True)
    ]
    return int(np.sign(np.sum(np.sign(apart)))) if apart else 0


def _by_weights(checked: Checked) -> int:
    for one in sorted(checked.figure.surfaces, key=lambda entry: -len(entry.positions)):
        if one.layers is None or not one.layers.weights.names:
            continue
        matched = Matched(
            one, one, checked.across(one), np.zeros(0, np.int64), np.zeros(0, bool)
        )
        sign = weights_sign(matched, one.layers.weights, pairs(one.layers.weights.names))
        if sign:
            return sign
    return 0


@dataclass(frozen=True)
class Case:
    """One finding to mend, and how the artist wishes it."""

    checked: Checked
    entry: ObjectResult
    finding: Finding
    wish: Wish

    @property
    def figure(self) -> Figure:
        return self.checked.figure

    @property
    def limits(self) -> Limits:
        return self.checked.limits

    @property
    def metres(self) -> float:
        return self.checked.limits.metres

    @cached_property
    def excused(self) -> dict[str, NDArray[np.bool_]]:
        """By object, the vertices (n,) that must stay as they are, see ``Checked.excused_for``."""
        return self.checked.excused_for(self.finding, self.entry.name)

    @cached_property
    def here(self) -> Surface:
        """The object the finding is on. Raises RepairError when it is gone."""
        return self._surface(self.entry.name)

    @cached_property
    def there(self) -> Surface:
        """The object the partners are in: another one, or the same."""
        return self._surface(self.finding.partner_object or self.entry.name)

    @cached_property
    def matched(self) -> Matched:
        """Everybody's partners. Raises RepairError where the check knows of none."""
        found = self.checked.compared.get(self.entry.name)
        if found is None or found.matched is None:
            raise RepairError(f"{self.entry.name}: no partners are known here. Check again.")
        return found.matched

    @cached_property
    def plane(self) -> MirrorPlane:
        """The mirror plane; for half a model that of the modifier which completes it."""
        found = self.checked.compared.get(self.entry.name)
        if found is None or found.mirrored is None:
            return self.limits.plane
        modifier = found.mirrored.modifier
        return MirrorPlane(modifier.plane_point, modifier.plane_normal, "given")

    def map(self, here: Surface, there: Surface) -> MirrorMap:
        """How places of one object are mirrored into the other's own space."""
        return mirror_map(here, there, self.plane)

    def left(self, surface: Surface) -> FloatArray:
        """(n,) how far each vertex lies on the half called left, scene units."""
        return self.checked.across(surface)[:, 0] * self.checked.sign

    def wanted(self, owner: str, vertices: IntArray) -> NDArray[np.bool_]:
        """(k,) which of these the artist asked for: all, unless some were chosen."""
        if not self.wish.only:
            return np.ones(len(vertices), bool)
        return np.isin(vertices, self.wish.only.get(owner, np.zeros(0, np.int64)))

    def _surface(self, name: str) -> Surface:
        found = self.checked.surfaces.get(name)
        if found is None:
            raise RepairError(f"{name} is not part of the figure any more: check again.")
        return found
