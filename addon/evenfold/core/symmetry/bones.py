"""Rest bones: head, tail, axes, parents and counterparts across the plane."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import Armature, FloatArray, IntArray
from ..findings import Finding
from ..plane import frame, into_frame
from ..sides import Pairs, counterpart, pairs
from .bone_places import mirrored_places, near_middle
from .matched import Limits
from .turning import angle_between, twist

CODES = (
    "bone-drifted", "roll-drifted", "bone-off-centre", "bone-unpaired", "bone-parent-unmatched",
    "bone-deform-unmatched",
)

_TURN = np.diag([-1.0, 1.0, 1.0])


def check(armature: Armature, limits: Limits) -> Iterator[Finding]:
    """The findings on an armature's rest bones; elements are positions in a finding's ``names``."""
    if not armature.bones:
        return
    laid = _laid(armature, limits)
    drifted = _drifted(laid)
    yield from drifted.findings
    centre_off = np.abs(laid.ends[laid.centre, :, 0]).max(axis=1, initial=0.0) > limits.tolerance
    yield from _rolls(laid, drifted.off)
    yield from _off_centre(laid, centre_off)
    yield from _unpaired(laid)
    yield from _parents(laid)
    yield from _deform(laid)


@dataclass(frozen=True)
class _Laid:
    """Bones in the plane's frame: ``ends`` (n, 2, 3) heads and tails, ``axes`` (n, 3, 3) columns.

    ``left``, ``right`` (p,) are pairs in step, ``centre`` (c,) the bones meant for the middle,
    ``alone`` (a,) those that miss a counterpart.
    """

    armature: Armature
    limits: Limits
    names: tuple[str, ...]
    paired: Pairs
    ends: FloatArray
    axes: FloatArray
    left: IntArray
    right: IntArray
    centre: IntArray
    alone: IntArray

    def finding(
        self, code: str, elements: IntArray, partners: IntArray, sizes: FloatArray, unit: str, advice: str = ""
    ) -> Finding:
        """``elements`` and ``partners`` are bones; partners -1 where there is none."""
        own = np.arange(len(elements))
        others = tuple(self.names[one] if one >= 0 else None for one in partners)
        return Finding(
            code, own, np.where(partners >= 0, own, -1), sizes, kind="bone", unit=unit,
            names=tuple(self.names[one] for one in elements), partner_names=others, advice=advice,
        )


def _laid(armature: Armature, limits: Limits) -> _Laid:
    bones = armature.bones
    names = tuple(bone.name for bone in bones)
    paired = pairs(names)
    number = {name: place for place, name in enumerate(names)}
    places = np.array([[bone.head, bone.tail] for bone in bones], np.float64)
    ends = into_frame(places.reshape(-1, 3), limits.plane.point, limits.plane.normal).reshape(-1, 2, 3)
    axes = frame(limits.plane.normal) @ np.array([bone.axes for bone in bones]).transpose(0, 2, 1)
    left = np.array([number[name] for name in paired.left], np.int64)
    right = np.array([number[name] for name in paired.right], np.int64)
    rest = np.ones(len(names), bool)
    rest[np.concatenate([left, right])] = False
    sided = np.array([name in paired.singles for name in names], bool)
    middle = near_middle(names, ends)
    likely = np.array([counterpart(name) is not None for name in names], bool) & ~middle
    alone = rest & (sided | likely)
    return _Laid(
        armature, limits, names, paired, ends, axes, left, right,
        np.flatnonzero(rest & ~alone & middle), np.flatnonzero(alone),
    )


@dataclass(frozen=True)
class _Drifted:
    findings: tuple[Finding, ...]
    off: NDArray[np.bool_]


def _drifted(laid: _Laid) -> _Drifted:
    """Pairs of which an end is off; ``off`` (p,) says which."""
    apart = np.linalg.norm(laid.ends[laid.left] @ _TURN - laid.ends[laid.right], axis=2)
    size = apart.max(axis=1, initial=0.0)
    off = size > laid.limits.tolerance
    if not off.any():
        return _Drifted((), off)
    head, tail = (int((apart[off, end] > laid.limits.tolerance).sum()) for end in (0, 1))
    advice = f"Heads off on {head}, tails off on {tail}."
    finding = laid.finding(
        "bone-drifted", laid.left[off], laid.right[off], size[off] * laid.limits.metres, "metres", advice
    )
    return _Drifted((finding,), off)


def _rolls(laid: _Laid, drifted: NDArray[np.bool_]) -> Iterator[Finding]:
    """Rest axes against those of the partner; a centre bone's against its own mirror image.

    For a pair, M A diag(-1, 1, 1) = A' with M the mirroring (measured on the host's rigs). The
    turn about the bone's own axis is told; its direction too where the bone is not told as
    drifted. A centre bone turned by r is 2 r from its mirror image, so half of that is told; its
    axes lie evenly also at a quarter turn, as importers place them.
    """
    wanted = _TURN @ laid.axes[laid.left] @ _TURN
    turned = twist(wanted, laid.axes[laid.right])
    aslant = angle_between(wanted[:, :, 1], laid.axes[laid.right][:, :, 1])
    size = np.where(drifted, turned, np.maximum(turned, aslant))
    own = twist(_TURN @ laid.axes[laid.centre] @ _TURN, laid.axes[laid.centre]) / 2.0
    own = np.minimum(own, 90.0 - own)
    limit = laid.limits.settings.bone_angle
    pair, alone = size > limit, own > limit
    elements = np.concatenate([laid.left[pair], laid.centre[alone]])
    if not len(elements):
        return
    partners = np.concatenate([laid.right[pair], laid.centre[alone]])
    advice = "Compared by the bones' axes: the roll numbers alone mislead."
    if alone.any():
        advice += f" {int(alone.sum())} of them should lie evenly on the centre line."
    yield laid.finding(
        "roll-drifted", elements, partners, np.concatenate([size[pair], own[alone]]), "degrees", advice
    )


def _off_centre(laid: _Laid, off: NDArray[np.bool_]) -> Iterator[Finding]:
    bones = laid.centre[off]
    if len(bones):
        size = np.abs(laid.ends[bones, :, 0]).max(axis=1) * laid.limits.metres
        yield laid.finding("bone-off-centre", bones, bones, size, "metres")


def _unpaired(laid: _Laid) -> Iterator[Finding]:
    """Bones with a side but no counterpart, and those without that mirror each other by place."""
    partner = _by_place(laid)
    free = np.array(sorted(partner), np.int64)
    told = set(laid.alone.tolist())
    shown = [one for one in free.tolist() if _speaks(laid, one, partner[one], told)]
    if not shown:
        return
    elements = np.array(shown, np.int64)
    partners = np.array([partner[one] for one in shown], np.int64)
    yield laid.finding(
        "bone-unpaired", elements, partners, np.full(len(shown), np.nan), "metres",
        _missing(laid, elements, partners),
    )


def _by_place(laid: _Laid) -> dict[int, int]:
    """Of each bone neither paired nor of the middle the one that lies at its mirror image, or -1."""
    known = np.concatenate([laid.left, laid.right, laid.centre])
    free = np.setdiff1d(np.arange(len(laid.names)), known)
    return mirrored_places(laid.ends, free, laid.limits.tolerance)


def unnamed_pairs(armature: Armature | None, limits: Limits) -> frozenset[str]:
    """The bones that mirror each other by place while their names tell no pair."""
    if armature is None or not armature.bones:
        return frozenset()
    laid = _laid(armature, limits)
    return frozenset(laid.names[one] for one, other in _by_place(laid).items() if other >= 0)


def _speaks(laid: _Laid, one: int, other: int, told: set[int]) -> bool:
    """True for a bone to name: of two that mirror each other the sided one, else the left one."""
    if other < 0 or (one in told) != (other in told):
        return one in told
    return bool(laid.ends[one, :, 0].sum() > 0.0)


def _missing(laid: _Laid, elements: IntArray, partners: IntArray) -> str:
    said = []
    for one, other in list(zip(elements.tolist(), partners.tolist(), strict=True))[:4]:
        name, wanted = laid.names[one], counterpart(laid.names[one])
        if other >= 0:
            said.append(f"{laid.names[other]} lies where {name} has its mirror image, but the names do not pair.")
        elif wanted is not None:
            said.append(f"There is no {wanted}.")
    if (partners >= 0).any():
        said.append("Until the names pair, the weights of such bones are not compared.")
    return " ".join(said)


def _parents(laid: _Laid) -> Iterator[Finding]:
    """Parents that are not counterparts, passing over bones already told as unpaired."""
    above = {bone.name: bone.parent for bone in laid.armature.bones}
    lost = {laid.names[one] for one in laid.alone.tolist()}
    partner = laid.paired.partner
    rows = [*zip(laid.left.tolist(), laid.right.tolist(), strict=True), *((c, c) for c in laid.centre.tolist())]
    found, joints = [], 0
    for one, other in rows:
        name, its = laid.names[one], laid.names[other]
        mine, theirs = _nearest(name, above, lost), _nearest(its, above, lost)
        wanted = partner.get(mine, mine) if mine is not None else None
        skipped = mine != above[name] or theirs != above[its]
        bone, twin = laid.armature.bones[one], laid.armature.bones[other]
        loose = not skipped and bone.connected != twin.connected
        if wanted != theirs or loose:
            found.append((one, other))
            joints += loose and wanted == theirs
    if found:
        pair = np.array(found, np.int64)
        advice = f"{joints} differ only in being connected to their parent." if joints else ""
        yield laid.finding(
            "bone-parent-unmatched", pair[:, 0], pair[:, 1], np.full(len(pair), np.nan), "metres", advice
        )


def _nearest(name: str, above: dict[str, str | None], lost: set[str]) -> str | None:
    parent = above[name]
    while parent is not None and parent in lost:
        parent = above.get(parent)
    return parent


def _deform(laid: _Laid) -> Iterator[Finding]:
    flags = np.array([bone.deform for bone in laid.armature.bones], bool)
    off = flags[laid.left] != flags[laid.right]
    if off.any():
        yield laid.finding(
            "bone-deform-unmatched", laid.left[off], laid.right[off], np.full(int(off.sum()), np.nan),
            "metres", "One of each pair deforms the mesh, the other does not.",
        )
