"""How far the measured landmarks of invented figures lie from the constructed ones."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings

from .build import Built, build_figure


@dataclass(frozen=True)
class Trial:
    """One figure measured. ``error`` is relative to the true count of heads, NaN if refused.

    ``off`` are signed errors of landmarks in shares of the true head, ``held`` says which
    landmarks' brackets hold the truth; heights are told from the true sole. ``width`` is the shown range relative to the true count.
    """

    seed: int
    kind: str
    heads: float
    measured: float | None
    refusal: str | None
    error: float
    inside: bool
    width: float
    off: dict[str, float]
    held: dict[str, bool]
    features: tuple[str, ...]
    recipe: str


def trial_of(built: Built) -> Trial:
    """Measure one built figure."""
    found = measure(built.figure, Settings())
    head = built.truth["crown"] - built.truth["chin"]
    off, held = {}, {}
    sole = found.landmarks.get("sole")
    shift = 0.0 if sole is None else _height(built, sole.point) - _height(built, built.sole)
    for name, landmark in found.landmarks.items():
        if name not in built.truth:
            continue
        truth, slack = built.truth[name] - shift, 1e-6 * head
        off[name] = (landmark.height - truth) / head
        held[name] = landmark.low - slack <= truth <= landmark.high + slack
    heads, inside, error, width = found.heads_tall, False, float("nan"), float("nan")
    if heads is not None and found.low is not None and found.high is not None:
        error = abs(heads / built.heads - 1)
        inside = found.low * (1 - 1e-6) <= built.heads <= found.high * (1 + 1e-6)
        width = (found.high - found.low) / built.heads
    return Trial(
        built.seed, built.recipe.kind, built.heads, heads, found.refusal, error, inside, width, off, held,
        built.recipe.features(), built.recipe.short(),
    )


def _height(built: Built, point: np.ndarray) -> float:
    return float(point @ np.asarray(built.figure.up)) * built.figure.metres_per_unit


def trials(kind: str, seeds: Iterable[int]) -> list[Trial]:
    """Measured figures of one kind, rigged or shape."""
    return [trial_of(build_figure(seed, kind)) for seed in seeds]


@dataclass(frozen=True)
class Spread:
    """Shares of the figures that got a count, but ``refused``, a share of all."""

    count: int
    refused: float
    one: float
    three: float
    worst: float
    inside: float
    width: float


def spread_of(some: Sequence[Trial]) -> Spread:
    """How the errors of some trials are spread; NaN where none got a count."""
    counted = [trial for trial in some if trial.measured is not None]
    refused = 1 - len(counted) / max(len(some), 1)
    if not counted:
        return Spread(len(some), refused, *[float("nan")] * 5)
    error = np.array([trial.error for trial in counted])
    return Spread(
        len(some), refused, float((error <= 0.01).mean()), float((error <= 0.03).mean()), float(error.max()),
        float(np.mean([trial.inside for trial in counted])), float(np.median([trial.width for trial in counted])),
    )


def by_feature(some: Sequence[Trial]) -> dict[str, Spread]:
    """The spread for each class of feature, the worst class first."""
    classes: dict[str, list[Trial]] = {}
    for trial in some:
        for feature in dict.fromkeys(trial.features):
            classes.setdefault(feature, []).append(trial)
    found = {feature: spread_of(own) for feature, own in classes.items()}
    return dict(sorted(found.items(), key=lambda entry: (np.nan_to_num(entry[1].one, nan=-1.0), -entry[1].count)))


def refusals(some: Sequence[Trial]) -> dict[str, int]:
    """How often each sentence of refusal was given."""
    found: dict[str, int] = {}
    for trial in some:
        if trial.measured is None:
            sentence = trial.refusal or "no count and no refusal"
            found[sentence] = found.get(sentence, 0) + 1
    return found


def worst_first(some: Sequence[Trial]) -> list[Trial]:
    """Counted figures by error, the worst first."""
    return sorted((trial for trial in some if trial.measured is not None), key=lambda trial: -trial.error)
