"""Baselines as they are kept in the artist's file: on each object, packed into one text."""

import base64
import json
import zlib
from collections.abc import Iterable
from typing import Any

import bpy
import numpy as np

from ..core.baseline import Baseline, Inherited, Shape
from .kept import DAMAGED, text_on
from .named import unique_name
from .store import require_editable

KEY = "evenfold_baseline"


def read_baselines(items: Iterable[bpy.types.Object]) -> dict[str, Baseline]:
    """The baselines kept on these objects, by object name; damaged ones are left out."""
    found = {}
    for item in items:
        baseline = baseline_on(item)
        if baseline is not None:
            found[unique_name(item)] = baseline
    return found


def baseline_on(item: bpy.types.Object) -> Baseline | None:
    text = text_on(item, KEY)
    if text is None:
        return None
    try:
        return _unpacked(json.loads(zlib.decompress(base64.b64decode(text))))
    except (*DAMAGED, zlib.error):
        return None


def keep_baseline(item: bpy.types.Object, baseline: Baseline) -> None:
    """Keep what the object is like now. Raises PinError on linked objects."""
    require_editable(item)
    text = json.dumps(_packed(baseline)).encode()
    item[KEY] = base64.b64encode(zlib.compress(text, 9)).decode()


def forget_baseline(item: bpy.types.Object) -> None:
    require_editable(item)
    if item.get(KEY) is not None:
        del item[KEY]


def _packed(baseline: Baseline) -> dict[str, Any]:
    shape = baseline.shape
    return {
        "shape": None if shape is None else vars(shape),
        "findings": [
            {
                "code": one.code, "subject": one.subject, "kind": one.kind,
                "elements": one.elements.tolist(),
                "sizes": [None if np.isnan(size) else float(size) for size in one.sizes],
                "places": np.round(one.places, 7).tolist(), "names": list(one.names),
            }
            for one in baseline.findings
        ],
    }


def _unpacked(data: dict[str, Any]) -> Baseline:
    row = data["shape"]
    shape = None
    if row is not None:
        shape = Shape(
            int(row["vertices"]), int(row["edges"]), int(row["faces"]), int(row["order"]),
            tuple(str(key) for key in row["keys"]),
        )
    return Baseline(shape, tuple(_inherited(one) for one in data["findings"]))


def _inherited(one: dict[str, Any]) -> Inherited:
    """Raises one of DAMAGED for what no finding of the base can have been."""
    elements = np.array(one["elements"], np.int64)
    sizes = np.array([np.nan if size is None else float(size) for size in one["sizes"]], np.float64)
    places = np.array(one["places"], np.float64).reshape(-1, 3)
    if elements.ndim != 1 or len(sizes) != len(elements) or not np.isfinite(places).all():
        raise ValueError("no finding")
    return Inherited(
        str(one["code"]), None if one["subject"] is None else str(one["subject"]), str(one["kind"]),
        elements, sizes, places, tuple(str(name) for name in one["names"]),
    )
