"""Reports in pieces: the same texts, from results that are never all in memory at once."""

import json
import weakref
from dataclasses import asdict, replace

import pytest
from evenfold.core.report.against import compare_with
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.plain import dumped
from evenfold.core.report.written import folder_parts, json_text
from evenfold.core.settings import Settings
from figures.reported import figure_result, file_result, folder_texts, found, hostile_files


class Lazy:
    """Results that are made each time they are asked for; it counts how many live at once."""

    def __init__(self, make, count):
        self.make, self.count = make, count
        self.living = self.most = 0

    def __len__(self):
        return self.count

    def __contains__(self, one):
        raise AssertionError("nobody looks for a result by itself")

    def __iter__(self):
        for number in range(self.count):
            made = self.make(number)
            self.living += 1
            self.most = max(self.most, self.living)
            weakref.finalize(made, self._gone)
            yield made

    def _gone(self):
        self.living -= 1


def test_no_form_keeps_the_results():
    def make(number):
        return file_result(figure_result(found(elements=[number, number + 1])), path=f"{number}.blend")

    lazy = Lazy(make, 60)
    parts = folder_parts(lazy, Settings(), "Host")
    assert {name: "".join(one) for name, one in parts.items()} == folder_texts([*lazy], Settings(), "Host")
    lazy = Lazy(make, 60)
    against = compare_with(lazy, report_dict([make(1), make(2)], Settings(), "Host"), "old.json")
    for one in folder_parts(lazy, Settings(), "Host", against).values():
        for _ in one:
            pass
    assert lazy.most <= 4


@pytest.mark.parametrize("entries", [[], [{"a": [1, {"b": "x\n"}]}], [1, [], {}]])
def test_pieces_of_json_are_the_text_that_json_gives(entries):
    for document, place in (
        ({"a": 1, "list": entries, "z": {}}, ("list",)), ({"runs": [{"tool": [], "results": entries}]}, ("runs", 0, "results")),
    ):
        wanted = json.dumps(document, indent=1) + "\n"
        assert "".join(dumped(document, place, iter(entries))) == wanted


def test_a_files_own_settings_count_for_it_and_are_told():
    own = Settings(target_heads=3.0, keep="height")
    files = [replace(one, settings=own if number == 1 else None) for number, one in enumerate(hostile_files()[:3])]
    told = json.loads(json_text(files, Settings(), "Host"))["files"]
    assert [one.get("settings") for one in told] == [None, json.loads(json.dumps(asdict(own))), None]
    mixed, alone = folder_texts(files, Settings(), "Host"), folder_texts(files[1:2], own, "Host")
    plain = json.loads(json_text([replace(files[1], settings=None)], own, "Host"))["files"][0]
    assert {**told[1], "settings": 0} == {**plain, "settings": 0}
    assert alone["report.txt"].rsplit("\n", 2)[0] in mixed["report.txt"]
