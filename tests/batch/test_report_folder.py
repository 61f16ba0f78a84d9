"""The report's folder from real runs over real files: what is written, what is new, exit statuses."""

import hashlib
import importlib.util
import json
import re
import resource
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import bpy
import pytest
from host.scenes import add_box, cache_in, empty_scene

TOOL = Path(__file__).parents[2] / "tools" / "batch_check.py"
FILES = ["index.html", "junit.xml", "report.csv", "report.json", "report.sarif", "report.txt"]
SHORT = 3000


def call(*arguments, most_bytes=None):
    """One call; with ``most_bytes`` no file may grow longer, as on a full disk."""
    def limit():
        if most_bytes is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))

    command = [sys.executable, str(TOOL), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False, preexec_fn=limit)


def save(path, name, off=()):
    """A box of which the vertices ``off`` stand 0.1 too far out."""
    empty_scene()
    mesh = add_box(name).data
    for number in off:
        mesh.vertices[number].co.x *= 1.1
    bpy.ops.wm.save_as_mainfile(filepath=str(path), check_existing=False)
    return path


@pytest.fixture(scope="module", autouse=True)
def _own_cache(tmp_path_factory):
    with cache_in(tmp_path_factory.mktemp("cache")):
        yield


@pytest.fixture(scope="module")
def staff(tmp_path_factory, _own_cache):
    """Three files: an even one, one with a vertex off, and one cut short; checked once."""
    folder = tmp_path_factory.mktemp("staff")
    save(folder / "keeper.blend", "Keeper <b>")
    save(folder / "apprentice.blend", "Apprentice", off=(0,))
    cut = save(folder / "cut.blend", "Cut")
    cut.write_bytes(cut.read_bytes()[:200])
    before = prints(folder)
    done = call(folder, "--report", folder.parent / "out" / "deep")
    return folder, folder.parent / "out" / "deep", done, before


def prints(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def verdicts(path):
    return {Path(one["path"]).stem: one["status"] for one in json.loads(path.read_text("utf-8"))["files"]}


def test_every_form_is_there_and_says_the_same(staff):
    folder, out, done, before = staff
    assert done.returncode == 3, done.stderr
    assert sorted(path.name for path in out.iterdir()) == FILES
    assert prints(folder) == before
    assert verdicts(out / "report.json") == {"apprentice": "outside", "cut": "unreadable", "keeper": "within"}
    assert (out / "report.txt").read_text("utf-8") == done.stdout
    root = ET.fromstring((out / "junit.xml").read_text("utf-8"))  # noqa: S314 - our own file
    assert (root.get("failures"), root.get("errors")) == ("1", "1")
    (run,) = json.loads((out / "report.sarif").read_text("utf-8"))["runs"]
    real = [one for one in run["results"] if one["level"] == "error"]
    assert [one["locations"][0]["logicalLocations"][0]["name"] for one in real] == ["Apprentice"]
    assert run["invocations"][0]["executionSuccessful"] is False
    assert (out / "report.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    page = (out / "index.html").read_text("utf-8")
    assert "Keeper &lt;b&gt;" in page and "Keeper <b>" not in page
    assert page.count('class="view"') == 4 and page.count('class="thumb"') == 2


def test_without_pictures_everything_else_is_the_same(staff, tmp_path):
    folder, out, *_ = staff
    assert call(folder, "--report", tmp_path / "plain", "--no-pictures").returncode == 3
    page = (tmp_path / "plain" / "index.html").read_text("utf-8")
    assert 'class="view"' not in page and 'class="thumb"' not in page
    assert "Apprentice" in page and "off its mirror image" in page
    assert verdicts(tmp_path / "plain" / "report.json") == verdicts(out / "report.json")


def test_more_processes_give_the_same_page(staff, tmp_path):
    folder, out, *_ = staff
    assert call(folder, "--report", tmp_path / "out", "--jobs", 2).returncode == 3
    cut = re.compile(r"<section><h2>Not checked.*?</section>", re.DOTALL)
    pages = [cut.sub("", (one / "index.html").read_text("utf-8")) for one in (out, tmp_path / "out")]
    assert pages[0] == pages[1]


def test_only_what_is_new_fails_when_asked(tmp_path):
    apprentice = save(tmp_path / "apprentice.blend", "Apprentice", off=(0,))
    old, new = tmp_path / "old.json", tmp_path / "new.json"
    assert call(apprentice, "--json", old).returncode == 1
    same = call(apprentice, "--against", old, "--fail-on", "new")
    assert same.returncode == 0, same.stderr
    assert f"Since {old}: 0 new, 0 fixed" in same.stdout
    assert call(apprentice, "--against", old).returncode == 1
    save(apprentice, "Apprentice", off=(0, 1))
    worse = call(apprentice, "--against", old, "--fail-on", "new", "--json", new, "--report", tmp_path / "out")
    assert worse.returncode == 1
    told = json.loads(new.read_text("utf-8"))["comparison"]
    assert told["new"] > 0 and told["unchanged"] > 0 and told["against"] == str(old)
    assert "Since an earlier report" in (tmp_path / "out" / "index.html").read_text("utf-8")
    save(apprentice, "Apprentice")
    better = call(apprentice, "--against", old, "--fail-on", "new")
    assert better.returncode == 0 and "0 new" in better.stdout and "0 fixed" not in better.stdout
    apprentice.write_bytes(b"")
    assert call(apprentice, "--against", old, "--fail-on", "new").returncode == 3


def test_on_a_full_disk_nothing_is_left_half_written(staff, tmp_path):
    folder, *_ = staff
    (tmp_path / "report.json").write_text("{}")
    done = call(folder / "keeper.blend", "--report", tmp_path, most_bytes=SHORT)
    assert done.returncode == 2
    assert "could not be written" in done.stderr and not done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["report.json"]
    assert (tmp_path / "report.json").read_text() == "{}"


def tool():
    """The tool's own module, to ask it without another process."""
    spec = importlib.util.spec_from_file_location("batch_check", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_wrong_calls_say_why_and_write_nothing(staff, tmp_path, capfd):
    main = tool().main
    keeper = staff[0] / "keeper.blend"
    old = tmp_path / "report.json"
    old.write_text('{"schema": "evenfold-report/1", "files": [7]}')
    before = old.read_bytes()
    for wrong, words in (
        (("--fail-on", "new"), "--against"), (("--against", tmp_path / "none.json"), "cannot be read"),
        (("--against", keeper), "not valid JSON"), (("--against", old), "damaged"), (("--fail-on", "old"), "invalid choice"),
        (("--against", old, "--json", old), "would be overwritten"), (("--against", old, "--report", tmp_path), "would be overwritten"),
        (("--report", keeper), "not a folder"),
    ):
        capfd.readouterr()
        status = main([str(one) for one in (keeper, *wrong)])
        said = capfd.readouterr()
        assert (status, said.out) == (2, ""), wrong
        assert words in said.err, wrong
    assert [path.name for path in tmp_path.iterdir()] == ["report.json"] and old.read_bytes() == before
