"""One verdict for each file, a report as promised, and exit statuses that tell the truth."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
from evenfold.core.findings import (
    FigureResult,
    FileResult,
    Finding,
    Landmark,
    MirrorPlane,
    ObjectResult,
    Proportion,
)
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_table import table
from evenfold.core.settings import Settings
from evenfold.host import batch as host_batch
from evenfold.host.batch import check_files
from host.scenes import add_box, add_rig, cache_in, deform, empty_scene, pose

TOOL = Path(__file__).parents[2] / "tools" / "batch_check.py"


def save(path: Path) -> Path:
    bpy.ops.wm.save_as_mainfile(filepath=str(path), check_existing=False)
    return path


def even_file(path: Path) -> Path:
    empty_scene()
    add_box("Keeper")
    return save(path)


def uneven_file(path: Path) -> Path:
    empty_scene()
    add_box("Keeper").data.vertices[0].co.x -= 0.1
    return save(path)


def bare_file(path: Path) -> Path:
    empty_scene()
    return save(path)


def truncated_file(path: Path) -> Path:
    even_file(path)
    path.write_bytes(path.read_bytes()[:200])
    return path


@pytest.fixture(scope="module", autouse=True)
def _own_cache(tmp_path_factory):
    with cache_in(tmp_path_factory.mktemp("cache")):
        yield


@pytest.fixture(scope="module")
def tool():
    """The tool's own module, to ask it without another process."""
    spec = importlib.util.spec_from_file_location("batch_check", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def call(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(TOOL), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)


def result_with(findings: tuple[Finding, ...] = (), name: str = "Keeper") -> FigureResult:
    nan = float("nan")
    marks = {"sole": Landmark(0.0, np.array([0.0, nan, 0.0]), "shape", 0.0, nan)}
    return FigureResult(
        name,
        Proportion(1.5, 1.49, 1.51, 0.4, 0.6, 0.74, marks, 1.5, True),
        MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), "world", "It fits."),
        0.0001,
        (ObjectResult("Body", "mesh", 8, 4, findings=findings),),
    )


def drifted(sizes: list[float]) -> Finding:
    count = len(sizes)
    return Finding("drifted", np.arange(count), np.full(count, -1), np.array(sizes), hidden=1)


def test_one_bad_file_costs_the_others_nothing(tmp_path):
    missing = tmp_path / "missing.blend"
    (tmp_path / "empty.blend").write_bytes(b"")
    files = [
        even_file(tmp_path / "even.blend"),
        truncated_file(tmp_path / "cut.blend"),
        missing,
        tmp_path / "empty.blend",
        bare_file(tmp_path / "bare.blend"),
        uneven_file(tmp_path / "uneven.blend"),
    ]
    seen: list[str] = []
    results = check_files(files, Settings(), lambda result: seen.append(result.path))
    assert [one.status for one in results] == ["within", *["unreadable"] * 4, "outside"]
    assert seen == [str(file) for file in files]
    assert "nothing to check" in results[4].error
    (alone,) = check_files([files[0]], Settings())
    first, again = (report_dict([one], Settings(), "")["files"][0] for one in (results[0], alone))
    assert first["figures"] == again["figures"]


def other_scene(name: str, *items: bpy.types.Object) -> bpy.types.Scene:
    """A further scene with these objects, which then is the open one's last in order."""
    scene = bpy.data.scenes.new(name)
    for item in items:
        scene.collection.objects.link(item)
    return scene


def check_saved(path: Path) -> FileResult:
    (result,) = check_files([save(path)], Settings())
    return result


def test_a_faulty_figure_of_another_scene_puts_the_file_outside(tmp_path):
    empty_scene()
    add_box("Keeper")
    cook = add_box("Cook")
    cook.data.vertices[0].co.x -= 0.1
    bpy.context.scene.collection.objects.unlink(cook)
    other_scene("A rework", cook)
    result = check_saved(tmp_path / "two.blend")
    assert [figure.name for figure in result.figures] == ["Keeper", "Cook"]
    assert result.status == "outside"


def test_the_open_scene_comes_first_and_empty_ones_cost_nothing(tmp_path):
    empty_scene()
    add_box("Keeper")
    cook = add_box("Cook")
    bpy.context.scene.collection.objects.unlink(cook)
    other_scene("Bare")
    bpy.context.window.scene = other_scene("A rework", cook)
    result = check_saved(tmp_path / "two.blend")
    assert [figure.name for figure in result.figures] == ["Cook", "Keeper"]


def test_what_is_linked_into_several_scenes_is_checked_once(tmp_path):
    empty_scene()
    rig, body, hat = add_rig("Keeper"), add_box("Body"), add_box("Hat")
    deform(body, rig)
    deform(hat, rig)
    bpy.context.scene.collection.objects.unlink(hat)
    hat.use_fake_user = True
    other_scene("Shop", rig, body)
    assert [one.name for one in check_saved(tmp_path / "once.blend").figures] == ["Keeper"]
    bpy.data.scenes["Shop"].collection.objects.link(bpy.data.objects["Hat"])
    result = check_saved(tmp_path / "hat.blend")
    assert [one.name for one in result.figures] == ["Keeper", "Keeper (Shop)"]
    assert [[entry.name for entry in one.objects if entry.kind == "mesh"] for one in result.figures] == [["Body"], ["Body", "Hat"]]


def test_figures_of_one_name_are_told_apart_by_their_scene(tmp_path):
    empty_scene()
    for scene in (bpy.context.scene, bpy.data.scenes.new("Rework")):
        for part in ("Body", "Hair"):
            item = add_box(part)
            bpy.context.scene.collection.objects.unlink(item)
            scene.collection.objects.link(item)
    result = check_saved(tmp_path / "cast.blend")
    assert [one.name for one in result.figures] == ["cast", "cast (Rework)"]


def test_a_smile_left_on_and_a_raised_arm_change_nothing(tmp_path):
    reports = []
    for posed in (False, True):
        empty_scene()
        rig, body = add_rig("Keeper"), add_box("Body")
        deform(body, rig)
        body.shape_key_add(name="Basis")
        smile = body.shape_key_add(name="Smile")
        smile.points[0].co.x -= 0.4
        smile.value = 0.3 if posed else 0.0
        if posed:
            pose(rig)
        (result,) = check_files([save(tmp_path / "keeper.blend")], Settings())
        reports.append(report_dict([result], Settings(), "")["files"][0]["figures"])
    assert reports[0] == reports[1]


def test_the_report_keeps_its_promised_words():
    report = report_dict([FileResult("a.blend", figures=(result_with((drifted([0.1]),)),))], Settings(), "Host")
    assert report["schema"] == "evenfold-report/1"
    assert {"schema", "tool", "host", "settings", "files"} <= set(report)
    (file,) = report["files"]
    assert {"path", "status", "error", "seconds", "figures"} <= set(file)
    (figure,) = file["figures"]
    assert {"name", "status", "proportion", "mirror_plane", "objects", "readiness"} <= set(figure)
    assert {
        "heads_tall", "low", "high", "head_height", "height", "full_height", "landmarks", "target",
        "within_target",
    } <= set(figure["proportion"])
    assert {"height", "point", "how"} <= set(figure["proportion"]["landmarks"]["sole"])
    assert {"point", "normal", "how"} <= set(figure["mirror_plane"])
    (item,) = figure["objects"]
    assert {"name", "kind", "vertices", "pairs", "centre", "allowed", "findings"} <= set(item)
    (finding,) = item["findings"]
    assert {"code", "count", "worst", "subject", "new", "elements", "partners"} <= set(finding)
    assert (finding["count"], finding["worst"], finding["partners"]) == (1, 0.1, [None])
    assert (file["status"], figure["status"]) == ("outside", "outside")


def test_what_is_no_number_is_null():
    result = FileResult("a.blend", figures=(result_with((drifted([float("nan"), 0.2]),)),))
    report = report_dict([result], Settings(), "Host")
    text = json.dumps(report, allow_nan=False)
    sole = json.loads(text)["files"][0]["figures"][0]["proportion"]["landmarks"]["sole"]
    assert (sole["point"][1], sole["high"]) == (None, None)


def test_the_table_tells_verdict_count_and_worst():
    text = table([FileResult("a.blend", figures=(result_with((drifted([0.004, 0.001]),)),))])
    assert "a.blend: OUTSIDE LIMITS" in text
    assert "1.50  (1.49 to 1.51), target 1.50 reached" in text
    assert "2 of 8 vertices do not match within 0.1 mm" in text
    assert "Body: 2 vertices off their mirror image, worst 4 mm, 1 hidden" in text


def test_names_cannot_steer_the_terminal():
    result = FileResult("a\x1b[2J.blend", figures=(result_with(name="Kee\nper\u202e"),))
    text = table([result])
    assert "\x1b" not in text and "\u202e" not in text
    assert "a\\x1b[2J.blend" in text and "Kee\\nper\\u202e" in text


@pytest.mark.parametrize(("make", "status"), [
    (even_file, 0), (uneven_file, 1), (truncated_file, 3), (bare_file, 3),
])
def test_exit_status_tells_the_verdict(tmp_path, make, status):
    done = call(make(tmp_path / "keeper.blend"))
    assert done.returncode == status, done.stderr
    assert done.stdout.startswith(str(tmp_path / "keeper.blend"))
    assert done.stdout.endswith("not checked.\n")


def test_not_checked_outranks_outside_and_jobs_keep_the_order(tmp_path):
    folder = tmp_path / "in"
    (folder / "deep").mkdir(parents=True)
    uneven_file(folder / "b.blend")
    even_file(folder / "deep" / "c.blend")
    truncated_file(folder / "a.blend")
    before = {path: path.read_bytes() for path in folder.rglob("*.blend")}
    files = []
    for jobs in (1, 2):
        done = call(folder, "--json", tmp_path / "out.json", "--jobs", jobs)
        assert done.returncode == 3, done.stderr
        found = json.loads((tmp_path / "out.json").read_text("utf-8"))["files"]
        files.append([{**one, "seconds": 0} for one in found])
    assert files[0] == files[1]
    assert [Path(one["path"]).name for one in files[0]] == ["a.blend", "b.blend", "c.blend"]
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_the_report_folder_is_made_and_filled(tmp_path):
    done = call(even_file(tmp_path / "keeper.blend"), "--report", tmp_path / "out" / "first")
    assert done.returncode == 0, done.stderr
    assert sorted(one.name for one in (tmp_path / "out" / "first").iterdir()) == [
        "index.html", "junit.xml", "report.csv", "report.json", "report.sarif", "report.txt"]
    assert (tmp_path / "out" / "first" / "report.txt").read_text("utf-8") == done.stdout
    page = (tmp_path / "out" / "first" / "index.html").read_text("utf-8")
    assert page.count('class="view"') == 2


@pytest.mark.parametrize("wrong", [
    [], ["x.blend", "--no-such-option"], ["x.blend", "--tolerance", "-1"],
    ["x.blend", "--tolerance", "wide"], ["x.blend", "--jobs", "0"],
    ["x.blend", "--profile", "no-such-profile.toml"], ["x.blend", "--json", "no-such-folder/r.json"],
    ["x.blend", "--json", "x.blend"], ["x.blend", "--json", "y.glb"],
])
def test_a_wrong_call_is_status_two_and_says_why(wrong, tool, capfd):
    try:
        status = tool.main(wrong)
    except SystemExit as error:
        status = error.code
    said = capfd.readouterr()
    assert status == 2
    assert said.err.strip()
    assert not said.out


def test_an_empty_folder_was_not_checked(tmp_path):
    done = call(tmp_path)
    assert done.returncode == 3
    assert "The folder holds no file" in done.stdout


@pytest.mark.parametrize("fault", [KeyError("a: b"), MemoryError("x"), np.linalg.LinAlgError("no")])
def test_the_batch_tools_know_how_a_fault_of_ours_is_told(monkeypatch, tmp_path, fault):
    monkeypatch.syspath_prepend(str(Path(__file__).parents[2] / "tools"))
    from batch.own_faults import fault_in

    def stop(*_):
        raise fault

    monkeypatch.setattr(host_batch, "_check_open", stop)
    (result,) = check_files([tmp_path / "keeper.blend"], Settings())
    assert fault_in(result.error) == type(fault).__name__
    assert fault_in("keeper.blend holds no mesh: there is nothing to check.") == fault_in(None) == ""
