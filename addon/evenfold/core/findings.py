"""Plain records of what was found: one result for each object, figure and file."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from .figure import FloatArray, IntArray

if TYPE_CHECKING:
    from .allowances import AllowanceUse
    from .portrait import Portrait
    from .settings import Settings
    from .size import Size

NOTE_CODES = frozenset({"near-miss"})


MOST_NAMES = 3
"""So many bones are named in one line. Our choice."""


@dataclass(frozen=True)
class Finding:
    """One kind of mismatch on one object.

    ``elements`` (k,) numbers of what ``kind`` says (vertex, edge, face, corner), or for bones,
    groups and keys positions in ``names``; ``partners`` (k,) likewise, -1 where none is known,
    ``partner_names`` for named ones. ``sizes`` (k,) in ``unit``: metres, degrees, weight, uv or
    value; NaN where there is none. ``vertices`` are the vertices to select for elements that
    have no vertices of their own. ``partner_object`` names the object the partners are in when
    it is another one; ``islands`` counts separate pieces. ``advice`` is a sentence on this very
    finding, where the code's own words do not say it all. ``subject`` is for reading; of a pair
    ``subjects`` are the two names.
    """

    code: str
    elements: IntArray
    partners: IntArray
    sizes: FloatArray
    subject: str | None = None
    partner_object: str | None = None
    islands: int = 0
    hidden: int = 0
    new: bool | None = None
    kind: str = "vertex"
    unit: str = "metres"
    names: tuple[str, ...] = ()
    partner_names: tuple[str | None, ...] = ()
    vertices: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    advice: str = ""
    subjects: tuple[str, ...] = ()

    @property
    def about(self) -> tuple[str, ...]:
        """The names of the key, group or map, or of the two, that the finding is about."""
        return self.subjects or ((self.subject,) if self.subject else ())

    @property
    def whose(self) -> str:
        """What the finding is about, for reading: its subject, and the bones it lists, each with its counterpart."""
        if self.kind != "bone" or not self.names:
            return self.subject or ", ".join(self.names[:MOST_NAMES])
        others = self.partner_names or (None,) * len(self.names)
        named = [one if other in (None, one) else f"{one} / {other}" for one, other in zip(self.names, others, strict=True)]
        more = f" +{len(named) - MOST_NAMES}" if len(named) > MOST_NAMES else ""
        return ": ".join(part for part in (self.subject, ", ".join(named[:MOST_NAMES]) + more) if part)

    @property
    def count(self) -> int:
        return len(self.elements)

    @property
    def worst(self) -> float | None:
        """The largest size in the finding's unit, or None when no element has one."""
        known = self.sizes[np.isfinite(self.sizes)]
        return float(known.max()) if known.size else None


def ways(differing: Iterable[Finding]) -> int:
    """In how many ways the halves differ: what stands on several objects alike is one."""
    return len({(finding.code, finding.subject) for finding in differing})


@dataclass(frozen=True)
class ObjectResult:
    """``allowed`` elements are excused; ``allowed_places`` of them are vertices that do not match."""

    name: str
    kind: str
    vertices: int
    pairs: int = 0
    centre: int = 0
    allowed: int = 0
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    allowed_places: int = 0


@dataclass(frozen=True)
class MirrorPlane:
    """``point`` and unit ``normal`` (3,) in world space; the left half is where the normal points.

    ``how`` is a key of ``plane.PLANES``; ``why`` says in a sentence how much matches about it,
    ``share`` the same as a share of the points, None where there are none.
    """

    point: FloatArray
    normal: FloatArray
    how: str
    why: str = ""
    share: float | None = None


@dataclass(frozen=True)
class Reading:
    """One piece of evidence for a landmark: its own height and bracket, metres above the sole."""

    method: str
    height: float
    low: float
    high: float


@dataclass(frozen=True)
class Span:
    """A width or length between two places, in metres: shoulder width, arm span.

    ``start`` and ``end`` (3,) in world space, scene units; ``how`` is bones or shape.
    """

    length: float
    start: FloatArray
    end: FloatArray
    how: str
    evidence: str = ""


@dataclass(frozen=True)
class Landmark:
    """``height`` in metres above the sole; ``point`` (3,) in world space, scene units.

    ``how`` is pinned, weights, bones or shape; ``low`` and ``high`` bracket the height;
    ``evidence`` says in words what it rests on; ``readings`` are all the pieces of evidence.
    """

    height: float
    point: FloatArray
    how: str
    low: float
    high: float
    evidence: str = ""
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True)
class Proportion:
    """Heads tall with its range, or None and the ``refusal`` that says why there is no count.

    All lengths in metres. ``guesses`` are sentences on what was left out of the crown and why.
    ``heads_with_hair`` counts the head with all that is worn or grown on it. ``spans`` are
    widths by name. ``up`` and ``forward`` (3,) are unit directions in world space.
    """

    heads_tall: float | None = None
    low: float | None = None
    high: float | None = None
    head_height: float | None = None
    height: float | None = None
    full_height: float | None = None
    landmarks: dict[str, Landmark] = field(default_factory=dict)
    target: float | None = None
    within_target: bool | None = None
    refusal: str | None = None
    guesses: tuple[str, ...] = ()
    heads_with_hair: float | None = None
    spans: dict[str, Span] = field(default_factory=dict)
    up: FloatArray | None = None
    forward: FloatArray | None = None

    @property
    def hair_shows(self) -> bool:
        """Whether the count with hair and ears is another number than the one by skull, as both are written."""
        if self.heads_tall is None or self.heads_with_hair is None or not np.isfinite(self.heads_with_hair):
            return False
        return f"{self.heads_with_hair:.2f}" != f"{self.heads_tall:.2f}"


@dataclass(frozen=True)
class Place:
    """Where to look for what a hand-off record says: the object ``owner``, or what ``kind`` says of it.

    A vertex has its numbers in ``vertices`` (k,), a bone or key its name in ``names``.
    """

    owner: str
    kind: str = "object"
    names: tuple[str, ...] = ()
    vertices: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))


@dataclass(frozen=True)
class Readiness:
    """What an engine or a stage will stumble over; ``places`` are empty where nothing can be shown."""

    code: str
    level: str
    message: str
    subject: str | None = None
    places: tuple[Place, ...] = field(default=(), compare=False)


@dataclass(frozen=True)
class FigureResult:
    name: str
    proportion: Proportion
    plane: MirrorPlane
    tolerance: float
    objects: tuple[ObjectResult, ...]
    readiness: tuple[Readiness, ...] = ()
    notes: tuple[str, ...] = ()
    allowances: "tuple[AllowanceUse, ...]" = ()
    portrait: "Portrait | None" = None
    size: "Size | None" = None

    @property
    def within(self) -> bool:
        """True when nothing but notes was found, no target is missed and no budget passed."""
        mismatched = any(
            finding.count and finding.code not in NOTE_CODES
            for result in self.objects
            for finding in result.findings
        )
        return not mismatched and not any(entry.level == "error" for entry in self.readiness)


@dataclass(frozen=True)
class FileResult:
    """One file; ``settings`` are its own where they are not those of the run."""

    path: str
    error: str | None = None
    seconds: float = 0.0
    figures: tuple[FigureResult, ...] = ()
    settings: "Settings | None" = None

    @property
    def status(self) -> str:
        if self.error is not None:
            return "unreadable"
        return "within" if all(figure.within for figure in self.figures) else "outside"
