"""Deliberate asymmetry: what the artist has excused, and taking exactly that out of findings."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .baseline import GROWN
from .figure import Figure, IntArray, Surface
from .findings import NOTE_CODES, Finding, ObjectResult
from .pairing.islands import components
from .symmetry import ARMATURE_LAYERS, SURFACE_LAYERS

KINDS = ("selection", "group", "material", "object", "bones", "bone", "key", "layer")
"""What an allowance can cover: vertices (the first four), a bone chain, single bones, a key, or a
whole layer."""

_SURFACE_CODES = (
    "drifted", "off-centre", "unpaired", "doubled", "ambiguous", "near-miss",
    "mirror-gap", "mirror-beside", "mirror-merge", "mirror-wall",
)
LAYER_OF_CODE = {
    **dict.fromkeys(_SURFACE_CODES, "surface"),
    **{code: name for name, layer in SURFACE_LAYERS.items() for code in layer.CODES},
    **{code: name for name, layer in ARMATURE_LAYERS.items() for code in layer.CODES},
}
"""Which layer each finding code belongs to."""


@dataclass(frozen=True)
class Allowance:
    """A deliberate asymmetry with its reason.

    ``mark`` tells allowances apart. ``subject`` names the group, material, first bone of the
    chain, key or layer. ``owner`` names the object it is kept on; for "layer" it may be empty
    and means the whole figure. ``vertices`` (k,) are what it covers on the owner, for the kinds
    that cover vertices; ``names`` are the bones of a chain.

    One made from a finding has its ``code``, as ``names`` what the finding was about or listed by
    name, and as ``worst`` its largest size, None where it had none. It covers only findings of that
    code on these, while they have not grown.
    """

    mark: str
    kind: str
    subject: str
    reason: str
    owner: str
    vertices: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    names: frozenset[str] = frozenset()
    code: str = ""
    worst: float | None = None


@dataclass(frozen=True)
class AllowanceUse:
    """``count`` elements of findings are excused by this allowance; 0 means it excuses nothing."""

    allowance: Allowance
    count: int


def excuse(
    figure: Figure, objects: Iterable[ObjectResult], allowances: tuple[Allowance, ...]
) -> tuple[tuple[ObjectResult, ...], tuple[AllowanceUse, ...]]:
    """The results without the elements that are excused, and how much each allowance covers.

    An element is excused when it, or its partner, is covered; of an edge, face or corner all its
    vertices. Excused elements are counted in ``ObjectResult.allowed``.
    """
    surfaces = {surface.name: surface for surface in figure.surfaces}
    allowances = tuple(resolved(one, figure) for one in allowances)
    counts = [0] * len(allowances)
    cleaned: list[ObjectResult] = []
    for result in objects:
        kept: list[Finding] = []
        taken = places = 0
        for finding in result.findings:
            away = np.zeros(finding.count, bool)
            marker = any(
                _about_itself(one, finding) and one.owner == result.name for one in allowances
            )
            for number, one in enumerate(allowances):
                covered = _covered(one, result, finding, surfaces)
                counts[number] += 0 if marker else int(covered.sum())
                away |= covered
            excused = 0 if marker else int(away.sum())
            taken += excused
            if LAYER_OF_CODE.get(finding.code) == "surface" and finding.code not in NOTE_CODES:
                places += excused
            if not away.any():
                kept.append(finding)
            elif not away.all():
                kept.append(_without(finding, away, surfaces.get(result.name)))
        cleaned.append(replace(
            result, findings=tuple(kept), allowed=result.allowed + taken,
            allowed_places=result.allowed_places + places,
        ))
    uses = zip(allowances, counts, strict=True)
    return tuple(cleaned), tuple(AllowanceUse(one, count) for one, count in uses)


def resolved(one: Allowance, figure: Figure) -> Allowance:
    """The allowance with the vertices or bones it covers on this figure filled in."""
    if one.code and one.kind != "selection":
        return one
    if one.kind == "bones":
        below = figure.armature.below(one.subject) if figure.armature else frozenset()
        return replace(one, names=below)
    surface = next((entry for entry in figure.surfaces if entry.name == one.owner), None)
    if surface is None:
        return one
    if one.kind == "object":
        return replace(one, vertices=np.arange(len(surface.positions)))
    layers = surface.layers
    if one.kind == "group" and layers is not None and one.subject in layers.weights.names:
        weights = layers.weights
        rows = (weights.group == weights.names.index(one.subject)) & (weights.weight > 0.0)
        return replace(one, vertices=np.unique(weights.vertex[rows]))
    if one.kind == "material" and layers is not None:
        slots = [number for number, name in enumerate(layers.materials) if name == one.subject]
        faces = np.flatnonzero(np.isin(layers.face_material, slots))
        return replace(one, vertices=vertices_of("face", faces, surface))
    return one


def _about_itself(one: Allowance, finding: Finding) -> bool:
    """A group that marks what is excused lies on one side itself; that alone excuses nothing."""
    return one.kind == "group" and not one.code and one.subject in named_in(finding)


def _covered(
    one: Allowance, result: ObjectResult, finding: Finding, surfaces: dict[str, Surface]
) -> NDArray[np.bool_]:
    """(count,) which elements of the finding the allowance covers."""
    none = np.zeros(finding.count, bool)
    if one.code:
        return _covered_exactly(one, result, finding, surfaces)
    if one.kind == "layer":
        here = not one.owner or one.owner == result.name
        return none | (here and LAYER_OF_CODE.get(finding.code) == one.subject)
    if one.kind == "key":
        about_keys = finding.code.startswith("key-") and _on(one, result, finding)
        return none | (about_keys and one.subject in named_in(finding))
    if one.kind == "bones":
        return _covered_bones(one, finding)
    if one.owner == result.name and _about_itself(one, finding):
        return ~none
    return _covered_vertices(one, result, finding, surfaces)


def _on(one: Allowance, result: ObjectResult, finding: Finding) -> bool:
    return one.owner in (result.name, finding.partner_object)


def _covered_exactly(
    one: Allowance, result: ObjectResult, finding: Finding, surfaces: dict[str, Surface]
) -> NDArray[np.bool_]:
    """As ``_covered`` for an allowance made from a finding: that code, those names, that size."""
    none = np.zeros(finding.count, bool)
    if one.code != finding.code or not _on(one, result, finding):
        return none
    small = ~outgrown(one, finding)
    if finding.names:
        return small & _covered_bones(one, finding, ("bone", "group", "key"))
    if frozenset(finding.about) != one.names:
        return none
    return small & _covered_vertices(one, result, finding, surfaces)


def outgrown(one: Allowance, finding: Finding) -> NDArray[np.bool_]:
    """(count,) which elements have grown by more than a tenth since the allowance was made from them."""
    bound = np.inf if one.worst is None else GROWN * one.worst + 1e-12
    return np.asarray(finding.sizes > bound)


def _covered_vertices(
    one: Allowance, result: ObjectResult, finding: Finding, surfaces: dict[str, Surface]
) -> NDArray[np.bool_]:
    covered = np.zeros(finding.count, bool)
    if one.owner == result.name and result.name in surfaces:
        covered = covered | _inside(one, finding, finding.elements, surfaces[result.name])
    other = finding.partner_object or result.name
    if one.owner == other and other in surfaces:
        covered = covered | _inside(one, finding, finding.partners, surfaces[other])
    return covered


def named_in(finding: Finding) -> set[str]:
    """Every name a finding is about: its subjects and its named elements."""
    return set(finding.about) | set(finding.names) | {name for name in finding.partner_names if name}


def _covered_bones(
    one: Allowance, finding: Finding, kinds: tuple[str, ...] = ("bone",)
) -> NDArray[np.bool_]:
    if finding.kind not in kinds:
        return np.zeros(finding.count, bool)
    partners = finding.partner_names or (None,) * len(finding.names)
    inside = [
        name in one.names or partner in one.names
        for name, partner in zip(finding.names, partners, strict=True)
    ]
    return np.array(inside, bool)


def _inside(
    one: Allowance, finding: Finding, elements: IntArray, surface: Surface
) -> NDArray[np.bool_]:
    """(count,) elements of which every vertex is covered; never those without a number."""
    count = len(surface.positions)
    covers = np.zeros(count, bool)
    covers[one.vertices[(one.vertices >= 0) & (one.vertices < count)]] = True
    if finding.kind in ("group", "key"):
        mine = finding.vertices
        return np.full(finding.count, bool(len(mine)) and bool(covers[mine].all()))
    known = elements >= 0
    found = np.zeros(finding.count, bool)
    numbers = elements[known]
    if finding.kind == "vertex":
        found[known] = covers[numbers]
    elif finding.kind == "edge":
        found[known] = covers[surface.edges[numbers]].all(axis=1)
    elif finding.kind == "corner":
        found[known] = covers[surface.corners[numbers]]
    elif finding.kind == "face":
        outside = np.concatenate([[0], np.cumsum(~covers[surface.corners])])
        starts = surface.face_starts
        found[known] = outside[starts[numbers + 1]] == outside[starts[numbers]]
    return found


def _without(finding: Finding, away: NDArray[np.bool_], surface: Surface | None) -> Finding:
    stay = ~away
    elements = finding.elements[stay]
    vertices, islands = finding.vertices, finding.islands
    if surface is not None:
        if finding.kind == "vertex" and finding.code == "unpaired":
            inside = np.zeros(len(surface.positions), bool)
            inside[elements] = True
            edges = surface.edges.reshape(-1, 2)
            label = components(len(inside), edges[inside[edges].all(axis=1)])
            islands = len(np.unique(label[elements]))
        if len(vertices) and finding.kind in ("edge", "face", "corner"):
            vertices = vertices_of(finding.kind, elements, surface)
    names = finding.names
    partner_names = finding.partner_names
    if names:
        rows = np.flatnonzero(stay)
        names = tuple(names[row] for row in rows)
        partner_names = tuple(partner_names[row] for row in rows) if partner_names else ()
        elements = np.arange(len(names))
    hidden = finding.hidden
    if surface is not None and surface.hidden is not None and finding.kind == "vertex":
        partners = finding.partners[stay] if finding.partner_object is None else elements
        hidden = int((surface.hidden[elements] | ((partners >= 0) & surface.hidden[partners])).sum())
    return replace(
        finding, elements=elements, partners=finding.partners[stay], sizes=finding.sizes[stay],
        names=names, partner_names=partner_names, vertices=vertices, islands=islands, hidden=hidden,
    )


def vertices_of(kind: str, elements: IntArray, surface: Surface) -> IntArray:
    """The vertices (k,) of edges, faces or corners, each once."""
    if kind == "edge":
        return np.unique(surface.edges[elements])
    if kind == "corner":
        return np.unique(surface.corners[elements])
    if kind == "face":
        chosen = np.zeros(len(surface.face_starts) - 1, bool)
        chosen[elements] = True
        return np.unique(surface.corners[np.repeat(chosen, np.diff(surface.face_starts))])
    return np.unique(elements)
