"""Results as plain data for other programs, schema evenfold-report/1."""

import math
import tomllib
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

import numpy as np

from ..findings import FigureResult, FileResult, Finding, MirrorPlane, ObjectResult, Proportion
from ..settings import Settings

SCHEMA = "evenfold-report/1"
Json = dict[str, object]


def report_dict(files: Iterable[FileResult], settings: Settings, host: str) -> Json:
    """The whole report, ready for json.dump: no NaN, no array in it."""
    return {
        "schema": SCHEMA,
        "tool": tool_name(),
        "host": host,
        "settings": asdict(settings),
        "files": [_file(one) for one in files],
    }


def tool_name() -> str:
    """The tool and its version, as the add-on's manifest has it."""
    manifest = Path(__file__).parents[2] / "blender_manifest.toml"
    try:
        version = tomllib.loads(manifest.read_text("utf-8"))["version"]
    except (OSError, tomllib.TOMLDecodeError, KeyError):
        return "Evenfold"
    return f"Evenfold {version}"


def _file(result: FileResult) -> Json:
    return {
        "path": result.path,
        "status": result.status,
        "error": result.error,
        "seconds": round(result.seconds, 3),
        "figures": [_figure(one) for one in result.figures],
    }


def _figure(result: FigureResult) -> Json:
    return {
        "name": result.name,
        "status": "within" if result.within else "outside",
        "tolerance": _number(result.tolerance),
        "proportion": _proportion(result.proportion),
        "mirror_plane": _plane(result.plane),
        "objects": [_object(one) for one in result.objects],
        "readiness": [asdict(one) for one in result.readiness],
        "notes": list(result.notes),
    }


def _proportion(found: Proportion) -> Json:
    landmarks = {
        name: {
            "height": _number(one.height),
            "point": _point(one.point),
            "how": one.how,
            "low": _number(one.low),
            "high": _number(one.high),
            "evidence": one.evidence,
        }
        for name, one in found.landmarks.items()
    }
    return {
        "heads_tall": _number(found.heads_tall),
        "low": _number(found.low),
        "high": _number(found.high),
        "head_height": _number(found.head_height),
        "height": _number(found.height),
        "full_height": _number(found.full_height),
        "landmarks": landmarks,
        "target": _number(found.target),
        "within_target": found.within_target,
        "refusal": found.refusal,
        "guesses": list(found.guesses),
    }


def _plane(plane: MirrorPlane) -> Json:
    return {
        "point": _point(plane.point),
        "normal": _point(plane.normal),
        "how": plane.how,
        "why": plane.why,
    }


def _object(result: ObjectResult) -> Json:
    return {
        "name": result.name,
        "kind": result.kind,
        "vertices": int(result.vertices),
        "pairs": int(result.pairs),
        "centre": int(result.centre),
        "allowed": int(result.allowed),
        "findings": [_finding(one) for one in result.findings],
        "notes": list(result.notes),
    }


def _finding(finding: Finding) -> Json:
    elements: list[object] = np.asarray(finding.elements).tolist()
    partners: list[object] = [
        None if one == -1 else one for one in np.asarray(finding.partners).tolist()
    ]
    if finding.names:
        elements, partners = list(finding.names), list(finding.partner_names)
    return {
        "code": finding.code,
        "count": finding.count,
        "worst": _number(finding.worst),
        "subject": finding.subject,
        "new": finding.new,
        "kind": finding.kind,
        "unit": finding.unit,
        "elements": elements,
        "partners": partners,
        "sizes": [_number(one) for one in np.asarray(finding.sizes).tolist()],
        "partner_object": finding.partner_object,
        "islands": int(finding.islands),
        "hidden": int(finding.hidden),
        "advice": finding.advice,
    }


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _point(point: Iterable[float]) -> list[float | None]:
    return [_number(value) for value in point]
