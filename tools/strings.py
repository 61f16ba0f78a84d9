"""The texts of the interface and their catalogues: list them, renew the catalogues, check them.

    python3 tools/strings.py list           every text that can reach the artist
    python3 tools/strings.py renew [LOCALE] new texts into the catalogues, gone ones out of them
    python3 tools/strings.py check          what is missing, left over or has other slots

Run it with the Python of a test environment: the words the core makes up from tables need numpy.
A renewed catalogue keeps every translation, also where only a slot's name has changed. LOCALE, as
``fr_FR``, begins a new one.
"""

import re
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent.parent / "addon"), str(Path(__file__).resolve().parent)]

import find_strings
from evenfold.core.budget import AMOUNTS, USUAL
from evenfold.core.humanoid_table import BONES, label
from evenfold.core.marks import MEANING
from evenfold.core.report.wording import WORDS, counted
from evenfold.ui.language.catalogue import parse
from evenfold.ui.language.speaking import SLOT

FOLDER = find_strings.ADDON / "ui" / "language"
SPANS = ("shoulder width", "arm span")
PLAN = ("Span", "stays")
"""Single words in the plan's tables."""
NOUNS = ("vertex", "vertices", "edge", "edges", "face", "faces", "bone", "bones", "object", "objects")
ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t"}
HEADER = (
    ("Language", ""), ("MIME-Version", "1.0"), ("Content-Type", "text/plain; charset=UTF-8"),
    ("Content-Transfer-Encoding", "8bit"), ("X-Gap", '" "'), ("X-Comma", '", "'),
    ("X-And", '" and "'), ("X-Colon", '": "'), ("X-Stop", '"."'),
)


def wanted() -> dict[str, list[str]]:
    """Every entry with the files it comes from, in their order."""
    found: dict[str, list[str]] = {}
    for path in find_strings.modules():
        for entry in find_strings.entries(path):
            places = found.setdefault(entry, [])
            if find_strings.place_of(path) not in places:
                places.append(find_strings.place_of(path))
    for place, entry in made_up():
        found.setdefault(entry, [place])
    plain, first = set(WORDS.values()), {}
    for entry, places in found.items():
        if places != ["core/report/wording.py"] or entry not in plain:
            kept = first.setdefault(likeness(entry), (entry, places))[1]
            kept.extend(place for place in places if place not in kept)
    return dict(first.values())


def made_up() -> Iterator[tuple[str, str]]:
    """What the core puts together from tables, with the table's file."""
    for code in WORDS:
        many, one = counted(code, 2).removeprefix("2"), counted(code, 1).removeprefix("1")
        yield "core/report/wording.py", f"{{count:n}}{many}"
        if one != many:
            yield "core/report/wording.py", f"1{one}"
    for words in MEANING.values():
        yield "core/marks.py", f"{{size:n}} {words}"
    for bone in BONES:
        yield "core/humanoid_table.py", label(bone.name)
    for word in SPANS:
        yield "core/proportion/further.py", word.capitalize()
    for word in PLAN:
        yield "ui/panels/plan.py", word
    for word in AMOUNTS.values():
        yield "core/budget.py", word
    for called, _ in USUAL.values():
        yield "core/budget.py", called
    for word in NOUNS:
        yield "ui/operators/select.py", word


def skeleton(entry: str) -> str:
    """An entry without the names of its slots."""
    return SLOT.sub("{}", entry)


def likeness(entry: str) -> str:
    """What tells two entries apart when a finished sentence is looked up."""
    return SLOT.sub(lambda found: "{n}" if found[2] == "n" else "{}", entry)


def slots(entry: str) -> list[str]:
    return sorted(found[0] for found in SLOT.finditer(entry))


def carried_over(entry: str, old: dict[str, str]) -> str:
    """The translation of an entry, also from one that differs in the names of its slots."""
    if entry in old:
        return old[entry]
    for other, text in old.items():
        if text and skeleton(other) == skeleton(entry):
            names = [found[0] for found in SLOT.finditer(entry)]
            renamed = dict(zip((found[0] for found in SLOT.finditer(other)), names, strict=True))
            return SLOT.sub(lambda found, to=renamed: to.get(found[0], found[0]), text)
    return ""


def quoted(text: str) -> str:
    return '"' + "".join(ESCAPES.get(letter, letter) for letter in text) + '"'


def written(locale: str, entries: dict[str, list[str]], old: dict[str, str]) -> str:
    """The catalogue as text."""
    header = old.get("") or "".join(f"{name}: {value or locale}\n" for name, value in HEADER)
    lines = ['msgid ""', 'msgstr ""', *(quoted(line) for line in header.splitlines(keepends=True))]
    for entry, places in entries.items():
        lines += ["", f"#: {' '.join(places)}", f"msgid {quoted(entry)}", f"msgstr {quoted(carried_over(entry, old))}"]
    return "\n".join(lines) + "\n"


def read(path: Path) -> dict[str, str]:
    return parse(path.read_text(encoding="utf-8")) if path.exists() else {}


def renew(locales: list[str]) -> int:
    entries = wanted()
    for locale in locales or sorted(path.stem for path in FOLDER.glob("*.po")):
        path = FOLDER / f"{locale}.po"
        path.write_text(written(locale, entries, read(path)), encoding="utf-8")
        left = sum(not text for text in read(path).values())
        print(f"{locale}: {len(entries)} texts, {left} not translated yet")
    return 0


def troubles(locale: str, entries: dict[str, list[str]]) -> Iterator[str]:
    """What is wrong with a catalogue, a line each."""
    old = read(FOLDER / f"{locale}.po")
    for entry, places in entries.items():
        text = old.get(entry, "")
        if not text.strip():
            yield f"{locale}: not translated: {entry!r} ({places[0]})"
        elif set(slots(text)) != set(slots(entry)):
            yield f"{locale}: other slots: {entry!r} is {text!r}"
        elif re.search(r"\s$|^\s", text) or "  " in text.replace("   ", ""):
            yield f"{locale}: spaces at an end or doubled: {text!r}"
    for entry in old:
        if entry and entry not in entries:
            yield f"{locale}: left over: {entry!r}"


def check() -> int:
    entries = wanted()
    found = [line for path in sorted(FOLDER.glob("*.po")) for line in troubles(path.stem, entries)]
    print(*found, sep="\n")
    print(f"{len(entries)} texts, {len(found)} troubles")
    return 1 if found else 0


def main(words: list[str]) -> int:
    if words[:1] == ["list"]:
        for entry, places in wanted().items():
            print(f"{entry}    ({', '.join(places)})")
        return 0
    if words[:1] == ["renew"]:
        return renew(words[1:])
    if words == ["check"]:
        return check()
    print(__doc__)
    return 2


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
