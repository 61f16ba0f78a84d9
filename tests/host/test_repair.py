"""Repairs on real data: exact, nothing else touched, one undo step, refusals. Invented figures."""

# isort: off
import bpy
import bmesh  # exists only once bpy is there

# isort: on
import evenfold
import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.errors import EvenfoldError
from evenfold.core.findings import Finding
from evenfold.core.repair import Checked, KeyMade, KeyMoved, Moved, Wish, plan_repair
from evenfold.core.settings import Settings
from evenfold.host import allowances
from evenfold.host.nearest import KDFinder
from evenfold.host.read import find_figures, read_figure
from evenfold.host.write.apply import apply, refusal_of
from evenfold.ui import panels, state
from evenfold.ui.operators import repair as repairs
from host.mending import deltas, keeper, layers, normals, places, push, put
from host.test_ui import Recorder


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    bpy.context.preferences.edit.use_global_undo = True
    yield
    evenfold.unregister()


def check():
    """The panel's check: findings by (code, subject) with their places in it."""
    bpy.ops.evenfold.check_symmetry()
    return listed()


def listed():
    objects = state.of(bpy.context.scene).check.objects
    return {
        (f.code, f.subject or ""): (at, number, f)
        for at, entry in enumerate(objects) for number, f in enumerate(entry.findings)
    }


def repair(code, subject="", way="left", **more):
    at, number, _ = check()[code, subject]
    return bpy.ops.evenfold.repair_finding(
        "EXEC_DEFAULT", True, object_index=at, finding_index=number, way=way, **more
    )


def drifted(item, made, count=12, seed=0):
    """Vertices of the right half pushed by 0.2 to 2 mm; their numbers."""
    rng = np.random.default_rng(seed)
    rows = rng.choice(np.flatnonzero(made.surface.positions[:, 0] < -0.2), count, replace=False)
    by = rng.normal(size=(count, 3))
    by *= (rng.uniform(2e-4, 2e-3, count) / np.linalg.norm(by, axis=1))[:, None]
    push(item, rows, by)
    return rows


def mode(name):
    if bpy.context.view_layer.objects.active.mode != name:
        bpy.ops.object.mode_set(mode=name)


def again(name="Keeper"):
    """The object after an undo, which leaves old references behind."""
    return bpy.data.objects[name]


def test_twelve_vertices_come_back_and_every_other_layer_is_the_very_same():
    made, item = keeper()
    exact, lit = places(item).copy(), normals(item)
    rows = drifted(item, made)
    before, by = layers(item), deltas(item)
    assert repair("drifted") == {"FINISHED"}
    assert places(item).tobytes() == exact.tobytes()
    own = np.zeros(exact.size, np.float32)
    item.data.vertices.foreach_get("co", own)
    assert own.tobytes() == exact.tobytes()
    assert layers(item) == before
    assert normals(item) == lit
    for name, now in deltas(item).items():
        assert np.abs(now - by[name]).max() <= 1e-6, name
    assert not {code for code, _ in listed()} & {"drifted", "near-miss"}
    assert len(rows) == 12 and not state.of(bpy.context.scene).stale


def test_custom_normals_are_stored_as_before_and_shade_as_before_once_put_back():
    made, item = keeper(3)
    drifted(item, made)
    lit, off = normals(item), {key.name: places(item, key.name).copy() for key in item.data.shape_keys.key_blocks}
    repair("drifted", way="average")
    assert normals(item) != lit
    for name, table in off.items():
        put(item, name, table)
    item.data.vertices.foreach_set("co", off["Basis"].ravel())
    item.data.update()
    assert normals(item) == lit


@pytest.mark.parametrize("start", ["OBJECT", "EDIT"])
def test_one_undo_step_brings_everything_back_to_the_bit(start):
    made, item = keeper()
    drifted(item, made)
    item.data.update()
    mode(start)
    bpy.ops.ed.undo_push(message="Before")
    mode("OBJECT")
    before = {key.name: places(item, key.name).tobytes() for key in item.data.shape_keys.key_blocks}
    kept = layers(item)
    mode(start)
    repair("drifted")
    assert item.mode == start
    bpy.ops.ed.undo()
    item = again()
    assert item.mode == start
    mode("OBJECT")
    assert {name: places(item, name).tobytes() for name in before} == before
    assert layers(item) == kept


def test_edit_mode_goes_on_with_its_selection_and_select_mode():
    made, item = keeper()
    rows = drifted(item, made)
    mode("EDIT")
    bpy.context.tool_settings.mesh_select_mode = (True, False, False)
    at, number, _ = check()["drifted", ""]
    bpy.ops.evenfold.select_finding(object_index=at, finding_index=number)
    item.update_from_editmode()
    chosen = {v.index for v in item.data.vertices if v.select}
    assert chosen == set(rows.tolist())
    repair("drifted")
    assert item.mode == "EDIT" and item.active_shape_key_index == 2
    assert tuple(bpy.context.tool_settings.mesh_select_mode) == (True, False, False)
    item.update_from_editmode()
    assert {v.index for v in item.data.vertices if v.select} == chosen
    assert item.select_get() and bpy.context.view_layer.objects.active == item
    mode("OBJECT")
    assert places(item).tobytes() == made.surface.positions.tobytes()


def test_only_the_selected_are_mended_and_an_empty_selection_is_refused():
    made, item = keeper()
    rows = drifted(item, made)
    for vertex in item.data.vertices:
        vertex.select = vertex.index in rows[:4]
    mode("EDIT")
    repair("drifted", only_selected=True)
    mode("OBJECT")
    still = (places(item) != made.surface.positions).any(axis=1)
    assert set(np.flatnonzero(still).tolist()) == set(rows[4:].tolist())
    mode("EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    with pytest.raises(RuntimeError, match="No vertex is selected"):
        repair("drifted", only_selected=True)


def test_what_is_excused_stays_where_it_is():
    made, item = keeper()
    rows = drifted(item, made)
    allowances.allow_vertices(item, rows[:5], "a dent")
    held = places(item)[rows[:5]].tobytes()
    repair("drifted")
    assert places(item)[rows[:5]].tobytes() == held
    assert (places(item)[rows[5:]] == made.surface.positions[rows[5:]]).all()
    assert ("drifted", "") not in listed()


@pytest.mark.parametrize("scale", [1.0, 100.0])
def test_blenders_own_key_mirror_finds_every_vertex_after_tightening(capfd, scale):
    made, item = keeper()
    if scale != 1.0:
        for key in item.data.shape_keys.key_blocks:
            put(item, key.name, places(item, key.name) * np.float32(scale))
        item.data.vertices.foreach_set("co", places(item).ravel())
        item.scale = (1 / scale,) * 3
    row = int(np.flatnonzero(made.surface.positions[:, 0] < -0.3)[5])
    push(item, [row], [[0.0, 0.0, 0.00003 * max(1.0, scale / 3)]])
    bpy.context.view_layer.update()
    assert mirrored(item, capfd) is False
    assert ("near-miss", "") in check()
    repair("near-miss")
    assert mirrored(item, capfd) is True


def mirrored(item, capfd) -> bool:
    """True when the host's own operator mirrors the jaw without leaving a vertex out."""
    item.active_shape_key_index = item.data.shape_keys.key_blocks.find("Jaw")
    kept = places(item, "Jaw").copy()
    capfd.readouterr()
    bpy.ops.object.shape_key_mirror(use_topology=False)
    said = capfd.readouterr().out
    put(item, "Jaw", kept)
    assert "mirrored" in said
    return "failed" not in said


def test_all_that_is_safe_goes_in_one_step():
    made, item = keeper()
    exact = places(item).copy()
    drifted(item, made)
    centre = np.flatnonzero(made.partner == np.arange(len(made.partner)))[9]
    push(item, [centre], [[0.001, 0.0, 0.0]])
    jaw = places(item, "Jaw").copy()
    other = int(np.flatnonzero(made.partner == np.arange(len(made.partner)))[20])
    jaw[other, 0] = 0.0006
    put(item, "Jaw", jaw)
    assert {"drifted", "off-centre", "key-off-centre"} <= {code for code, _ in check()}
    assert bpy.ops.evenfold.repair_all("EXEC_DEFAULT", True, way="left") == {"FINISHED"}
    assert places(item).tobytes() == exact.tobytes()
    assert places(item, "Jaw")[other, 0] == 0.0
    assert not {code for code, _ in listed()} & {"drifted", "off-centre", "key-off-centre"}
    with pytest.raises(RuntimeError, match="nothing of this kind"):
        bpy.ops.evenfold.repair_all(code="drifted")


def test_where_nothing_is_safe_the_button_of_each_kind_is_named():
    _, item = keeper()
    base = places(item)
    right = places(item, "Smile.R").copy()
    put(item, "Smile.R", base + np.float32(0.8) * (right - base))
    assert {code for code, _ in check()} == {"key-pair-drifted"}
    with pytest.raises(RuntimeError, match=r"safe to mend without a look\..*each kind: .*counterpart key"):
        bpy.ops.evenfold.repair_all("EXEC_DEFAULT", True, way="left")
    put(item, "Smile.R", right)
    assert check() == {}
    with pytest.raises(RuntimeError, match="Nothing here that could be repaired"):
        bpy.ops.evenfold.repair_all("EXEC_DEFAULT", True, way="left")


def test_a_change_of_weights_is_not_told_as_a_length(monkeypatch):
    made, item = keeper()
    said = []
    monkeypatch.setattr(repairs._Repairing, "announce", lambda _self, kinds, text: said.append(text))
    name = item.vertex_groups[0].name
    rows = [v.index for v in item.data.vertices if any(g.group == 0 and g.weight > 0.5 for g in v.groups)]
    row = next(one for one in rows if made.partner[one] != one)
    group = item.vertex_groups[name]
    group.add([row], group.weight(row) - 0.125, "REPLACE")
    assert "weight-drifted" in {code for code, _ in check()}
    bpy.ops.evenfold.repair_all("EXEC_DEFAULT", True, way="left")
    assert "Largest change of a weight: 0." in said[-1] and "Largest change:" not in said[-1]


def test_a_far_vertex_is_left_alone_by_one_finding_too_unless_asked_for():
    made, item = keeper()
    exact = places(item).copy()
    right = np.flatnonzero(made.surface.positions[:, 0] < -0.2)
    push(item, right[[3, 60]], [[0.0, 0.001, 0.0], [0.0, 0.05, 0.0]])
    repair("drifted")
    assert places(item)[right[3]].tobytes() == exact[right[3]].tobytes()
    assert places(item)[right[60]].tobytes() != exact[right[60]].tobytes()
    repair("drifted", far=True)
    assert places(item).tobytes() == exact.tobytes()


def test_an_uneven_smile_and_a_missing_one_are_made_to_match():
    made, item = keeper()
    right = places(item, "Smile.R").copy()
    base = places(item)
    put(item, "Smile.R", base + np.float32(0.8) * (right - base))
    before = layers(item)
    repair("key-pair-drifted", "Smile.L / Smile.R")
    assert places(item, "Smile.R").tobytes() == right.tobytes()
    assert layers(item) == before
    item.shape_key_remove(item.data.shape_keys.key_blocks["Smile.R"])
    item.active_shape_key_index = 2
    repair("key-unpaired", "Smile.L")
    made_key = item.data.shape_keys.key_blocks["Smile.R"]
    assert places(item, "Smile.R").tobytes() == right.tobytes()
    assert (made_key.value, made_key.relative_key.name) == (0.0, "Basis")
    assert item.active_shape_key_index == 2 and listed() == {}
    assert made


def test_a_chin_edit_is_carried_over_to_the_keys():
    made, item = keeper()
    by = deltas(item)
    base = places(item).copy()
    fall = np.clip(1 - np.linalg.norm(base - np.float32((0.0, -0.6, 0.9)), axis=1) / 0.4, 0, 1)[:, None]
    put(item, "Basis", base + fall**2 * np.float32((0.0, -0.008, -0.008)))
    item.data.vertices.foreach_set("co", places(item).ravel())
    neutral = places(item).tobytes()
    repair("key-stale")
    assert places(item).tobytes() == neutral
    for name, now in deltas(item).items():
        assert np.abs(now - by[name]).max() < 1e-6, name
    assert ("key-stale", "") not in listed() and made


def test_under_a_live_mirror_the_halves_join_at_every_value_again():
    item, row = half_face()
    keys = item.data.shape_keys.key_blocks
    assert evaluated(item, 0.0) < evaluated(item, 1.0)
    found = {code: f for (code, _), (_, _, f) in check().items()}
    assert found["key-off-centre"].elements.tolist() == [row]
    assert found["key-off-centre"].worst == pytest.approx(0.0006)
    repair("key-off-centre", "jawLeft")
    assert places(item, "jawLeft")[row, 0] == 0.0 and len(keys) == 2
    assert evaluated(item, 0.0) == evaluated(item, 1.0)


def test_a_gap_under_a_live_mirror_is_closed_with_its_keys():
    item, _ = half_face()
    item.data.shape_keys.key_blocks["jawLeft"].points[10].co.x = 0.0
    push(item, [5], [[0.0011, 0.0, 0.0]])
    by = deltas(item)["jawLeft"]
    assert {code for code, _ in check()} == {"mirror-gap"}
    (subject,) = (subject for _, subject in listed())
    repair("mirror-gap", subject)
    assert places(item)[5, 0] == 0.0 and listed() == {}
    assert np.abs(deltas(item)["jawLeft"] - by).max() < 1e-6


def half_face():
    """A grid of 5 by 5 on the left of the plane, its key 0.6 mm off at one centre vertex."""
    mesh = bpy.data.meshes.new("Half")
    points = [(x * 0.1, 0.0, z * 0.1) for z in range(5) for x in range(5)]
    faces = [(a, a + 1, a + 6, a + 5) for z in range(4) for a in range(5 * z, 5 * z + 4)]
    mesh.from_pydata(points, [], faces)
    item = bpy.data.objects.new("Half", mesh)
    bpy.context.scene.collection.objects.link(item)
    bpy.context.view_layer.objects.active = item
    item.modifiers.new("Mirror", "MIRROR")
    item.shape_key_add(name="Basis", from_mix=False)
    item.shape_key_add(name="jawLeft", from_mix=False).points[10].co.x = 0.0006
    bpy.context.view_layer.update()
    return item, 10


def evaluated(item, value):
    item.data.shape_keys.key_blocks["jawLeft"].value = value
    bpy.context.view_layer.update()
    return len(item.evaluated_get(bpy.context.evaluated_depsgraph_get()).data.vertices)


MOVE = Moved("Keeper", np.array([3]), np.zeros((1, 3)))


def refused(match, *changes, **more):
    """Refused with this sentence, and not a bit of the figure is other than before."""
    item = again()
    before = {key.name: places(item, key.name).tobytes() for key in item.data.shape_keys.key_blocks}
    with pytest.raises(EvenfoldError, match=match):
        apply(changes or (MOVE,), bpy.context.scene, **more)
    assert {key.name: places(item, key.name).tobytes() for key in item.data.shape_keys.key_blocks} == before


def test_a_shared_mesh_is_refused():
    _, item = keeper()
    bpy.context.scene.collection.objects.link(bpy.data.objects.new("Twin", item.data))
    refused("shares its data with Twin")


def test_linked_and_overridden_data_are_refused(tmp_path):
    keeper()
    path = str(tmp_path / "keeper.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    with bpy.data.libraries.load(path, link=True) as (_there, here):
        here.objects = ["Keeper"]
    item = here.objects[0]
    bpy.context.scene.collection.objects.link(item)
    refused("linked from another file")
    local = item.override_create(remap_local_usages=True)
    assert refusal_of(local) == "Keeper is linked from another file: open that file to repair it."
    local.data.override_create(remap_local_usages=True)
    assert refusal_of(local) == "Keeper is a library override: repair it in the file it comes from."


def test_what_is_gone_or_changed_since_the_check_is_refused():
    keeper()
    refused("changed since the check", counts={"Keeper": 5})
    refused("changed since the check", Moved("Keeper", np.array([10**6]), np.zeros((1, 3))))
    refused("not in this file any more", Moved("Nobody", np.array([3]), np.zeros((1, 3))))
    refused("no key Frown", MOVE, KeyMoved("Keeper", "Frown", np.array([3]), np.zeros((1, 3))))
    points = np.zeros((1998, 3))
    refused("has a key Jaw already", MOVE, KeyMade("Keeper", "Jaw", points, "Smile.L", "Basis"))
    refused("no key Frown", MOVE, KeyMade("Keeper", "Grin", points, "Frown", "Basis"))
    refused("changed since the check", MOVE, KeyMade("Keeper", "Grin", points[:7], "Jaw", "Basis"))


def test_painting_and_sculpting_are_refused_and_editing_is_not():
    made, item = keeper()
    for name in ("SCULPT", "WEIGHT_PAINT"):
        mode(name)
        refused("go to Object or Edit Mode")
    mode("EDIT")
    apply((Moved("Keeper", np.array([3]), np.float64(made.surface.positions[[3]]) + 0.01),), bpy.context.scene)
    assert item.mode == "EDIT"


def test_half_a_model_is_not_mirrored_over():
    item, _ = half_face()
    (source,) = find_figures(bpy.context.scene)
    figure = read_figure(source, bpy.context.scene, layers=True)
    result = check_figure(figure, Settings(), KDFinder)
    forged = Finding("drifted", np.array([1]), np.array([2]), np.array([0.1]))
    with pytest.raises(EvenfoldError, match="Mirror modifier"):
        plan_repair(Checked.of(figure, result, Settings(), KDFinder), result.objects[0], forged, Wish())
    assert item


def test_the_operator_refuses_without_a_check_and_on_a_stale_one():
    made, item = keeper()
    with pytest.raises(RuntimeError, match="Check the symmetry first"):
        bpy.ops.evenfold.repair_finding(object_index=0, finding_index=0)
    drifted(item, made)
    at, number, _ = check()["drifted", ""]
    push(item, [5], [[0.0, 0.01, 0.0]])
    state.compare(bpy.context.scene)
    before = places(item).tobytes()
    with pytest.raises(RuntimeError, match="check again"):
        bpy.ops.evenfold.repair_finding(object_index=at, finding_index=number)
    assert places(item).tobytes() == before


def test_a_face_rebuilt_by_the_host_gets_no_key_repairs():
    _, item = keeper()
    item.active_shape_key_index = 0
    mode("EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.symmetrize(direction="POSITIVE_X")
    mode("OBJECT")
    asked = [key for key in check() if key[0].startswith("key-")]
    assert asked
    for code, subject in asked:
        with pytest.raises(RuntimeError, match="backup"):
            repair(code, subject)


def test_the_panel_offers_what_there_is_with_the_way_and_a_caution():
    made, item = keeper()
    drifted(item, made)
    check()
    recorder = Recorder()
    panels.repair.EVENFOLD_PT_repair.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    said = " ".join(str(one) for one in recorder.kept)
    assert "prop way" in said and "evenfold.repair_all" in said and "Keep a backup" in said


def test_two_objects_in_edit_mode_and_one_active_elsewhere_all_come_back():
    made, item = keeper()
    rows = drifted(item, made)
    other = bpy.data.objects.new("Hat", bpy.data.meshes.new("Hat"))
    other.data.from_pydata([(0.0, 0.0, 2.0), (0.1, 0.0, 2.0), (-0.1, 0.0, 2.0)], [], [])
    bpy.context.scene.collection.objects.link(other)
    other.select_set(True)
    bpy.context.view_layer.objects.active = other
    mode("EDIT")
    assert item.mode == other.mode == "EDIT"
    item.select_set(False)
    apply((Moved("Keeper", rows, np.float64(made.surface.positions[rows])),), bpy.context.scene)
    assert item.mode == other.mode == "EDIT"
    assert bpy.context.view_layer.objects.active == other
    assert other.select_get() and not item.select_get()
    mode("OBJECT")
    assert places(item).tobytes() == made.surface.positions.tobytes()


def test_run_again_with_another_way_the_operator_finds_its_finding_by_name():
    made, item = keeper()
    rows = drifted(item, made)
    start = {key.name: places(item, key.name).copy() for key in item.data.shape_keys.key_blocks}
    repair("drifted", way="left")
    for name, table in start.items():
        put(item, name, table)
    item.data.vertices.foreach_set("co", start["Basis"].ravel())
    bpy.ops.evenfold.repair_finding(object_name="Keeper", code="drifted", way="right")
    assert places(item)[rows].tobytes() == start["Basis"][rows].tobytes()
    assert ("drifted", "") not in listed()


def test_the_dialog_says_what_will_happen_and_asks_the_way_only_where_it_matters():
    made, item = keeper()
    drifted(item, made)
    jaw = places(item, "Jaw").copy()
    jaw[int(np.flatnonzero(made.partner == np.arange(len(made.partner)))[20]), 0] = 0.0006
    put(item, "Jaw", jaw)
    check()
    said = dialog("drifted", "")
    assert "prop way" in said and "Put on Mirror Image: Keeper" in said and "keys move along" in said
    assert "prop only_selected" not in said
    assert "prop far" in said
    assert "prop way" not in dialog("key-off-centre", "Jaw")
    assert "prop far" not in dialog("key-off-centre", "Jaw")
    mode("EDIT")
    assert "prop only_selected" in dialog("drifted", "")


def dialog(code, subject):
    """What the dialog of a repair shows."""
    own = repairs.EVENFOLD_OT_repair_finding

    class Stand:
        layout = Recorder()
        bl_rna = bpy.ops.evenfold.repair_finding.get_rna_type()
        object_name, other = "Keeper", ""
        found, draw_wish, draw = own.found, own.draw_wish, own.draw

    stand = Stand()
    stand.code, stand.subject = code, subject
    stand.draw(bpy.context)
    return " ".join(str(one) for one in stand.layout.kept)


def shaded_even(item, made):
    """The mesh's custom normals set to an even shading as the mesh lies now."""
    item.data.normals_split_custom_set(made.layers.corner_normals.tolist())
    item.data.update()


def uneven_corners(item, made, lit, now, limit, same=0.01):
    """How many pairs of corners differ by more than the limit, and by more than before; by their vertices alone."""
    mesh, partner = item.data, made.partner
    number = {}
    for polygon in mesh.polygons:
        for corner in polygon.loop_indices:
            number[frozenset(polygon.vertices), mesh.loops[corner].vertex_index] = corner
    pairs = set()
    for (face, vertex), corner in number.items():
        other = number[frozenset(int(partner[one]) for one in face), int(partner[vertex])]
        angles = []
        for table in (lit, now):
            one, two = table[corner].astype(float), table[other].astype(float) * (-1, 1, 1)
            angles.append(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, two)), one @ two)))
        if angles[1] > limit and angles[1] > angles[0] + same:
            pairs.add(frozenset((corner, other)))
    return len(pairs)


def table_of_normals(item):
    return np.frombuffer(normals(item), np.float32).reshape(-1, 3).copy()


@pytest.mark.parametrize("everything", [False, True])
@pytest.mark.parametrize("late", [False, True])
def test_a_repair_says_where_custom_normals_end_up_further_off(monkeypatch, late, everything):
    made, item = keeper()
    drifted(item, made)
    if late:
        shaded_even(item, made)
    lit = table_of_normals(item)
    said = []
    monkeypatch.setattr(repairs._Repairing, "announce", lambda _self, kinds, text: said.append((kinds, text)))
    if everything:
        check()
        bpy.ops.evenfold.repair_all("EXEC_DEFAULT", True, code="", way="left")
    else:
        repair("drifted")
    expected = uneven_corners(item, made, lit, table_of_normals(item), Settings().normal_angle)
    (kinds, text), = said
    assert (expected > 0) == late
    if late:
        assert f"Keeper: {expected:,} custom normals are now further off the mirror image than before: make them anew" in text
        assert kinds == {"WARNING"}
    else:
        assert "custom normal" not in text


def test_what_the_repair_advises_puts_the_normals_right():
    """The host's own Reset Vectors, on the listed vertices and their partners."""
    made, item = keeper()
    drifted(item, made)
    shaded_even(item, made)
    repair("drifted")
    at, number, finding = listed()["normal-drifted", ""]
    assert finding.count > 0
    bpy.ops.evenfold.select_finding(object_index=at, finding_index=number)
    edit = bmesh.from_edit_mesh(item.data)
    edit.verts.ensure_lookup_table()
    for corner in finding.partners:
        edit.verts[item.data.loops[corner].vertex_index].select = True
    edit.select_flush_mode()
    item.active_shape_key_index = 0
    bpy.ops.mesh.normals_tools(mode="RESET")
    bpy.ops.object.mode_set(mode="OBJECT")
    assert ("normal-drifted", "") not in check()
