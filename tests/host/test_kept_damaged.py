"""What is kept in the file may hold anything: it is read or ignored, never stumbled over. Invented figures."""

import base64
import json
import zlib

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.baseline import Baseline, Inherited, Shape
from evenfold.host import allowances, baselines, bone_map, drawing, kept, store
from evenfold.host.fingerprint import fingerprint
from evenfold.ui import panels, planning
from host.scenes import add_box, add_rig, deform, empty_scene, read_only
from host.test_ui import Recorder

TEXTS = [
    "", "5", "null", "true", '"x"', "{}", '{"a": 1}', "[5]", "[null, [], {}]", "{not json", "[" * 100_000,
    "1" * 6000, "NaN",
    '[{"kind": "object", "landmark": "chin", "mark": null, "names": 3}]',
    '[{"kind": "group", "point": [1e999, 0, 0], "landmark": "chin", "tag": 1e999, "place": [1], "worst": 1e999}]',
    f'[{{"kind": "key", "point": [1{"0" * 400}, 0, 0], "landmark": "chin", "place": [1{"0" * 400}, 2], "worst": 1{"0" * 400}}}]',
]
VALUES = [*TEXTS, 5, 1.5, b"\xff\xfe", [1, 2], {"a": 1}]
KEYS = (
    store.PINS_KEY, store.WORN_KEY, store.HEAD_KEY, allowances.KEY, baselines.KEY, bone_map.BONE_MAP_KEY,
    drawing.MARKS_KEY,
)


@pytest.fixture(autouse=True)
def _fresh() -> None:
    empty_scene()


@pytest.mark.parametrize("value", VALUES, ids=lambda value: str(value)[:24])
@pytest.mark.parametrize("key", KEYS)
def test_whatever_a_property_holds_the_figure_is_read(key: str, value: object) -> None:
    rig = add_rig("Rig")
    body = add_box("Body")
    deform(body, rig)
    for owner in (rig, body, bpy.context.scene):
        owner[key] = value
    figure = read_only()
    assert len(figure.surfaces) == 1
    assert all(np.isfinite(pin.point).all() for pin in figure.pins)
    drawing.marks_on(body)
    assert fingerprint(body) == fingerprint(body)


def test_the_sound_rows_beside_a_damaged_one_are_kept() -> None:
    body = add_box("Body")
    body[store.PINS_KEY] = json.dumps([{"landmark": "chin", "point": ["x", 0, 0]}, {"landmark": "sole", "point": [1, 2, 3]}])
    body[allowances.KEY] = json.dumps([{"kind": "group", "worst": "much", "mark": "a"}, {"kind": "nonsense", "mark": "b"}])
    body[drawing.MARKS_KEY] = json.dumps([{"landmark": "chin", "place": [1]}, {"landmark": "sole", "place": [1, 2]}])
    assert [pin.landmark for pin in store.stored_pins(body)] == ["sole"]
    assert [row.mark for row in allowances.stored_on(body)] == ["a"]
    assert list(drawing.marks_on(body)) == ["sole"]


def packed(change) -> str:
    """A baseline's text with something changed in it."""
    body = add_box("Other")
    one = Inherited("drifted", None, "vertex", np.array([4, 9]), np.array([0.25, np.nan]), np.zeros((2, 3)))
    baselines.keep_baseline(body, Baseline(Shape(8, 12, 6, 77, ()), (one,)))
    data = json.loads(zlib.decompress(base64.b64decode(body[baselines.KEY])))
    change(data)
    return base64.b64encode(zlib.compress(json.dumps(data).encode())).decode()


DAMAGE = {
    "endless count": lambda data: data["shape"].update(vertices=float("inf")),
    "no number": lambda data: data["shape"].update(vertices=float("nan")),
    "number too long": lambda data: data["findings"][0].update(elements=[10**30, 1]),
    "endless element": lambda data: data["findings"][0].update(elements=[float("inf"), 1]),
    "sizes missing": lambda data: data["findings"][0].update(sizes=[1.0]),
    "size too long": lambda data: data["findings"][0].update(sizes=[10**400, 1.0]),
    "place nowhere": lambda data: data["findings"][0].update(places=[[float("nan"), 0, 0]]),
    "shape a list": lambda data: data.update(shape=[1]),
    "findings none": lambda data: data.update(findings=None),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_baseline_is_left_out(name: str) -> None:
    text = packed(DAMAGE[name])
    body = add_box("Body")
    body[baselines.KEY] = text
    assert baselines.baseline_on(body) is None


def test_an_undamaged_one_is_read() -> None:
    text = packed(lambda data: None)
    body = add_box("Body")
    body[baselines.KEY] = text
    assert baselines.baseline_on(body).shape.vertices == 8


@pytest.mark.parametrize("text", TEXTS, ids=lambda text: text[:24])
def test_panels_are_drawn_whatever_is_kept(text: str) -> None:
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    try:
        body = add_box("Body")
        bpy.context.view_layer.objects.active = body
        for owner in (body, bpy.context.scene):
            for key in KEYS:
                owner[key] = text
        bpy.context.scene.evenfold_plan.limits = text
        bpy.context.scene.evenfold_plan.own_canons = text
        bpy.context.view_layer.update()
        for panel in (panels.told.EVENFOLD_PT_told, panels.allowed.EVENFOLD_PT_allowed):
            panel.draw(type("Holder", (), {"layout": Recorder()})(), bpy.context)
        planning.limits_of(bpy.context.scene)
        planning.own_canons(bpy.context.scene)
    finally:
        evenfold.unregister()


def test_a_text_that_cannot_be_decoded_counts_as_none() -> None:
    class Owner:
        def get(self, _key):
            raise UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid")

    assert kept.text_on(Owner(), "any") is None
