"""The count of figures judged by eye: what is told of the errors, and that a bad table is refused. All invented."""

import subprocess
import sys
from pathlib import Path

import judge_counts
import pytest
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.clay.to_host import put, save

TOOL = Path(judge_counts.__file__)


def entry(name, heads=None, low=None, high=None):
    return {"path": f"/quay/{name}", "figures": [{"proportion": {"heads_tall": heads, "low": low, "high": high}}]}


def test_errors_ranges_and_refusals_are_told_the_furthest_off_first():
    truth = {"near.glb": (2.0, 0.1), "far.glb": (4.0, 0.2), "shy.glb": (3.0, 0.1), "chair.glb": (None, 0.0), "pier.glb": (None, 0.0)}
    report = {"files": [entry("near.glb", 2.02, 1.9, 2.1), entry("far.glb", 6.0, 5.5, 6.5), entry("shy.glb"), entry("chair.glb"), entry("pier.glb", 5.0, 4.9, 5.1), entry("other.glb", 1.0, 1.0, 1.0)]}
    told = judge_counts.lines_of(judge_counts.judged(truth, report))
    assert told[0].startswith("far.glb") and "+50.0% OUTSIDE" in told[0]
    assert any(line.startswith("near.glb") and "+1.0% inside" in line for line in told)
    assert any(line.startswith("shy.glb") and line.endswith("refused") for line in told)
    assert "3 figures, 2 counted: 1 within 3%, 1 within 10%, 1 beyond 25%, half of them within 25.5%; 1 ranges" in told[-2]
    assert told[-1] == "2 without an honest count, 1 of them refused"
    assert not any("other.glb" in line for line in told)


@pytest.mark.parametrize(("low", "high", "inside"), [(2.15, 2.3, True), (2.2, 2.3, False), (1.0, 1.84, False), (1.0, 1.9, True)])
def test_a_range_is_inside_when_it_reaches_what_the_eye_allows(low, high, inside):
    assert judge_counts.Judged("a.glb", 2.0, 0.15, 2.1, low, high).is_inside == inside


def test_a_table_without_the_columns_is_refused(tmp_path):
    (tmp_path / "truth.tsv").write_text("file,heads\na,2\n")
    with pytest.raises(SystemExit, match="file, heads and pm"):
        judge_counts.read_truth(tmp_path / "truth.tsv")


def test_a_folder_of_files_is_judged(tmp_path):
    made = sculpt(Recipe(2.4, "short", "jaw", "painted", arms="a", vertices=3000, seed=31))
    put(made.figure)
    save(tmp_path / "mate.blend")
    (tmp_path / "truth.tsv").write_text(f"file\theads\tpm\nmate.blend\t{made.heads}\t0.02\n", encoding="utf-8")
    done = subprocess.run([sys.executable, str(TOOL), str(tmp_path)], capture_output=True, text=True, timeout=120, check=True)
    assert done.stdout.startswith("mate.blend") and "1 figures, 1 counted: 1 within 3%" in done.stdout
