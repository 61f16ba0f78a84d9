"""Results as a check hands them to the reports, small and invented; and names that mean harm."""

from dataclasses import replace

import numpy as np
from evenfold.core.allowances import Allowance, AllowanceUse
from evenfold.core.budget import NO_LIMITS
from evenfold.core.findings import (
    FigureResult,
    FileResult,
    Finding,
    MirrorPlane,
    ObjectResult,
    Place,
    Readiness,
)
from evenfold.core.portrait import portrait_of
from evenfold.core.readiness.size import size_readiness
from evenfold.core.report.written import folder_parts
from evenfold.core.size import ObjectSize, Size

from figures.measured import measured
from figures.people import Person, keeper

HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "'; alert(1); '", "</style><b>", "--><!--",
    "]]>", "=1+1", "@SUM(A1)", "Kee\x00per\x1b[2J", "Kee\u202erepeek\u2066", "two\nlines\r\n\ttab",
    "\ud800half", "\ufffe\uffff", "&amp;&lt;", "{0}[here](https://lighthouse.invalid)", "a" * 5000, "كوخ البحر",
)


def found(code="drifted", sizes=(0.004, 0.001), elements=None, **more):
    count = len(sizes)
    elements = np.arange(count) if elements is None else np.asarray(elements)
    return Finding(code, elements, np.full(count, -1), np.array(sizes, float), **more)


def named(code="bone-drifted", names=("Arm.L",), **more):
    count = len(names)
    more = {"kind": "bone", "partner_names": (None,) * count, **more}
    return Finding(code, np.arange(count), np.full(count, -1), np.full(count, np.nan), names=tuple(names), **more)


def figure_result(*findings, name="Keeper", thing="Body", readiness=(), allowances=(), heads=0.3, target=None, vertices=8):
    return FigureResult(
        name, measured(0.9, heads, {"crotch": 0.3}, target=target),
        MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), "world", "It fits."), 1e-4,
        (ObjectResult(thing, "mesh", vertices, 4, findings=tuple(findings)),), tuple(readiness), (), tuple(allowances),
    )


SIZE = Size((ObjectSize("Body", 9000, 6100, 4500, 2, 52), ObjectSize("Boots", 1000, 700, 500, 1, 0)), 70)


def sized(budget=NO_LIMITS, **more):
    """A figure result with a size, and with what is said of it where a budget is passed."""
    return replace(figure_result(readiness=tuple(size_readiness(SIZE, budget)), **more), size=SIZE)


def file_result(*figures, path="staff/keeper.blend", error=None):
    return FileResult(path, error, 0.25, tuple(figures))


def error(code="ready-humanoid", subject=None, level="error"):
    at = (Place(subject or "Body", "vertex", ("Arm",), np.array([3, 4])),)
    return Readiness(code, level, f"Something of {subject} stands in the way.", subject, at)


def allowance(subject="Satchel", reason="worn on one side", count=5):
    return AllowanceUse(Allowance("m1", "group", subject, reason, "Body"), count)


def hostile_files():
    """Every text that can come from a file, in every place it can stand."""
    files = []
    for bad in HOSTILE:
        result = figure_result(
            found(subject=bad, advice=f"About {bad}."), named(names=(bad,)), found(code="unpaired", partner_object=bad),
            name=bad, thing=bad, readiness=[error(bad, bad)], allowances=[allowance(bad, bad)],
        )
        result = replace(result, notes=(bad,), plane=replace(result.plane, why=bad))
        files += [file_result(result, path=f"{bad}.blend"), file_result(path=f"not {bad}", error=f"No {bad}.")]
    return files


def with_portrait(result, person=None):
    """The result with the pictures of an invented person, its findings' spots on them."""
    figure = keeper(person or Person())
    return replace(result, portrait=portrait_of(figure, result))


def folder_texts(files, settings, host, against=None):
    """Every file of the report's folder by name, each as one text."""
    return {name: "".join(parts) for name, parts in folder_parts(files, settings, host, against).items()}
