"""All files of a report: whole or not at all."""

import pytest
from evenfold.core.report.written import write_all
from evenfold.core.settings import Settings
from figures.reported import folder_texts, hostile_files


def test_every_form_can_be_written_whatever_the_names_hold(tmp_path):
    texts = folder_texts(hostile_files(), Settings(), "Host")
    write_all({tmp_path / name: text for name, text in texts.items()})
    assert {one.name for one in tmp_path.iterdir()} == set(texts)
    for name, text in texts.items():
        assert (tmp_path / name).read_bytes().decode("utf-8") == text
        assert text.endswith("\n") and "\x00" not in text


def test_what_cannot_be_written_leaves_what_was_there(tmp_path):
    (tmp_path / "a.txt").write_text("before")
    with pytest.raises(OSError, match="none"):
        write_all({tmp_path / "a.txt": "after", tmp_path / "none" / "b.txt": "after"})
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]
    assert (tmp_path / "a.txt").read_text() == "before"


def test_a_folder_in_a_files_place_leaves_no_scraps(tmp_path):
    (tmp_path / "b.txt").mkdir()
    with pytest.raises(OSError, match=r"b\.txt"):
        write_all({tmp_path / "a.txt": "after", tmp_path / "b.txt": "after"})
    assert sorted(one.name for one in tmp_path.iterdir()) == ["a.txt", "b.txt"]
    assert (tmp_path / "a.txt").read_text() == "after"
