"""Records come back as they were; bytes that are anything else are refused and run nothing."""

import json
import pickle
from dataclasses import replace

import numpy as np
import pytest
from batch.packing import HEAD, PackError, pack, unpack
from batch.task import Answer, Limits, Task
from evenfold.core.canon import Canon
from evenfold.core.findings import FileResult, Finding
from evenfold.core.settings import Settings
from figures.reported import (
    figure_result,
    file_result,
    folder_texts,
    found,
    hostile_files,
    named,
    with_portrait,
)


def texts(results):
    return folder_texts(results, Settings(), "Host")


@pytest.fixture(scope="module")
def full():
    """A result with everything a result can hold."""
    drawn = with_portrait(figure_result(found(), named()))
    return replace(file_result(drawn, hostile_files()[0].figures[0]), settings=Settings(target_heads=1.5))


def test_every_report_of_what_came_back_is_the_same(full):
    files = [full, *hostile_files()]
    back = [unpack(FileResult, pack(one)) for one in files]
    assert texts(back) == texts(files)
    assert back[0].settings == full.settings and back[0].figures[0].portrait is not None


def test_tasks_and_answers_come_back():
    own = Canon("keeper", "Keeper", 1.5, {"crotch": 1.3}, "Measured on Keeper", "own", "own")
    task = Task("a\udc80b.blend", Settings(target_heads=1.5, layers=("uv",), canons=(own,)), True, Limits(2.5, None))
    assert unpack(Task, pack(task)) == task
    answer = Answer(FileResult("a", "no"), "Host", ("b", "c"), True)
    assert unpack(Answer, pack(answer)) == answer
    assert unpack(Answer, pack(replace(answer, depends=None))).depends is None


@pytest.mark.parametrize("dtype", ["<f8", "<f4", ">f8", "<i8", "<i4", "|b1"])
def test_numbers_keep_every_bit(dtype):
    rng = np.random.default_rng(5)
    values = rng.normal(size=7).astype(dtype)
    kind = "sizes" if values.dtype.kind == "f" else "elements"
    one = replace(found(elements=np.arange(7), sizes=np.full(7, np.nan)), **{kind: values})
    if values.dtype.kind == "b":
        with pytest.raises(PackError):
            unpack(Finding, pack(one))
        return
    back = getattr(unpack(Finding, pack(one)), kind)
    assert back.astype(values.dtype).tobytes() == values.tobytes()


def changed(data, change):
    """The bytes with their JSON part changed."""
    (length,) = HEAD.unpack_from(data)
    plain = json.loads(data[HEAD.size : HEAD.size + length])
    text = json.dumps(change(plain)).encode()
    return HEAD.pack(len(text)) + text + data[HEAD.size + length :]


@pytest.mark.parametrize("change", [
    lambda one: one[:-1], lambda one: [*one, None], lambda one: {"path": "a"}, lambda one: None,
    lambda one: [7, *one[1:]], lambda one: [one[0], 7, *one[2:]], lambda one: [*one[:2], "soon", *one[3:]],
    lambda one: [*one[:2], True, *one[3:]], lambda one: [*one[:3], 5, *one[4:]], lambda one: [*one[:3], [None], *one[4:]],
    lambda one: [*one[:2], -1.0, *one[3:]], lambda one: [*one[:2], float("nan"), *one[3:]],
])
def test_fields_of_another_kind_are_refused(full, change):
    data = pack(full)
    assert unpack(FileResult, changed(data, lambda one: one)) is not None
    with pytest.raises(PackError):
        unpack(FileResult, changed(data, change))


@pytest.mark.parametrize("array", [
    ["<f8", [2], 4], ["<f8", [1 << 39], 0], ["<f8", [-1], 0], ["|O8", [2], 0], ["<c16", [1], 0], ["<i8", [2], 0],
    ["<f8", [2.0], 0], ["<f8", [1] * 40, 0], ["<f8", [True], 0], ["<f8", 2, 0], [["<f8"], [2], 0], ["<f8", [2], 10**9],
])
def test_arrays_that_are_none_are_refused(array):
    data = pack(found())
    place = json.loads(data[HEAD.size : HEAD.size + HEAD.unpack_from(data)[0]]).index(["<f8", [2], 32])
    with pytest.raises(PackError):
        unpack(Finding, changed(data, lambda one: [*one[:place], array, *one[place + 1 :]]))


def test_parts_that_do_not_fit_together_are_refused(full):
    figure = full.figures[0]
    portrait, finding = figure.portrait, found()
    for wrong in (
        replace(finding, partners=np.zeros(1, np.int64)), replace(finding, sizes=np.zeros((2, 1))),
        replace(finding, names=("a",)), replace(finding, elements=np.zeros((2, 2), np.int64)),
        replace(portrait, front=(np.zeros((3, 3)),)), replace(portrait, side=(np.full((3, 2), np.inf),)),
        replace(figure, portrait=replace(portrait, landmarks={"nowhere": np.zeros(3)})),
        replace(figure, portrait=replace(portrait, spots=())), replace(figure.plane, normal=np.zeros(2)),
    ):
        with pytest.raises(PackError):
            unpack(type(wrong), pack(wrong))


def test_damage_gives_a_record_or_a_refusal_and_nothing_else(full):
    rng = np.random.default_rng(11)
    data = pack(full)
    whole = refused = 0
    for _ in range(400):
        hurt = bytearray(data)
        for _ in range(rng.choice((1, 1, 3, 30))):
            hurt[rng.integers(min(len(hurt), 3000))] = rng.integers(256)
        hurt = bytes(hurt[: rng.integers(len(hurt))]) if rng.random() < 0.3 else bytes(hurt)
        try:
            texts([unpack(FileResult, hurt)])
            whole += 1
        except PackError:
            refused += 1
    assert whole > 20 and refused > 100


def test_a_pickle_runs_nothing(tmp_path):
    class Trap:
        def __reduce__(self):
            return (open, (str(tmp_path / "was-here"), "w"))

    with pytest.raises(PackError):
        unpack(FileResult, pickle.dumps(Trap()))
    assert not list(tmp_path.iterdir())
