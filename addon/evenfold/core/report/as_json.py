"""Results as plain data for other programs, schema evenfold-report/1."""

import tomllib
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

import numpy as np

from ..allowances import AllowanceUse
from ..findings import FigureResult, FileResult, Finding, MirrorPlane, ObjectResult, Readiness
from ..settings import Settings
from .plain import Json, number, point
from .proportion_json import proportion_dict
from .sized import size_dict

SCHEMA = "evenfold-report/1"


def report_dict(files: Iterable[FileResult], settings: Settings, host: str) -> Json:
    """The whole report, ready for json.dump: no NaN, no array in it."""
    return {
        "schema": SCHEMA,
        "tool": tool_name(),
        "host": host,
        "settings": asdict(settings),
        "files": [file_dict(one, settings) for one in files],
    }


def tool_name() -> str:
    """The tool and its version, as the add-on's manifest has it."""
    manifest = Path(__file__).parents[2] / "blender_manifest.toml"
    try:
        version = tomllib.loads(manifest.read_text("utf-8"))["version"]
    except (OSError, tomllib.TOMLDecodeError, KeyError):
        return "Evenfold"
    return f"Evenfold {version}"


def file_dict(result: FileResult, settings: Settings) -> Json:
    """One entry of the report's ``files``; with ``settings`` where the file has its own."""
    found: Json = {
        "path": result.path,
        "status": result.status,
        "error": result.error,
        "seconds": round(result.seconds, 3),
        "figures": [_figure(one, result.settings or settings) for one in result.figures],
    }
    if result.settings is not None:
        found["settings"] = asdict(result.settings)
    return found


def _figure(result: FigureResult, settings: Settings) -> Json:
    return {
        "name": result.name,
        "status": "within" if result.within else "outside",
        "tolerance": number(result.tolerance),
        "proportion": proportion_dict(result.proportion, settings),
        "mirror_plane": _plane(result.plane),
        "objects": [_object(one) for one in result.objects],
        "readiness": [_readiness(one) for one in result.readiness],
        "size": size_dict(result.size),
        "allowances": [_allowance(one) for one in result.allowances],
        "notes": list(result.notes),
    }


def _readiness(one: Readiness) -> Json:
    return {
        "code": one.code, "level": one.level, "subject": one.subject, "message": one.message,
        "places": [
            {"object": at.owner, "kind": at.kind, "names": list(at.names), "vertices": at.vertices.tolist()}
            for at in one.places
        ],
    }


def _allowance(use: AllowanceUse) -> Json:
    one = use.allowance
    return {
        "kind": one.kind, "subject": one.subject, "owner": one.owner, "reason": one.reason,
        "excuses": int(use.count),
    }


PLANE_WORDS = frozenset({"given", "object", "armature", "world", "fitted"})
"""The report's words for how a plane was found; all that comes from the figure itself is "fitted"."""


def _plane(plane: MirrorPlane) -> Json:
    return {
        "point": point(plane.point),
        "normal": point(plane.normal),
        "how": plane.how if plane.how in PLANE_WORDS else "fitted",
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
        "worst": number(finding.worst),
        "subject": finding.subject,
        "new": finding.new,
        "kind": finding.kind,
        "unit": finding.unit,
        "elements": elements,
        "partners": partners,
        "sizes": [number(one) for one in np.asarray(finding.sizes).tolist()],
        "partner_object": finding.partner_object,
        "islands": int(finding.islands),
        "hidden": int(finding.hidden),
        "advice": finding.advice,
    }
