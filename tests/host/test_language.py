"""The interface in other languages: catalogues complete, sentences said whole, names left alone.

The hosts as modules are built without languages, so the language is set in our own lookup here;
what the host does with what is registered was seen in a whole Blender.
"""

import ast
import importlib.util
import re
import sys
from pathlib import Path

# isort: off
import bpy

# isort: on
import evenfold
import pytest
from evenfold.core.repair import REPAIRS
from evenfold.ui import language, left_out
from evenfold.ui.language import CONTEXT, SLOT, Speaker, catalogue, locales
from evenfold.ui.language.catalogue import parse
from host.scenes import add_box

TOOLS = Path(__file__).resolve().parent.parent.parent / "tools"


def tool(name):
    spec = importlib.util.spec_from_file_location(name, TOOLS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


sys.path.insert(0, str(TOOLS))
strings = tool("strings")
finder = strings.find_strings
SAMPLES = {"n": "12", "s": "Lamp", "": "Zzz"}


@pytest.fixture(scope="module")
def wanted():
    return strings.wanted()


@pytest.fixture(params=["ja_JP", "de_DE"])
def speaker(request):
    return Speaker(catalogue(request.param))


@pytest.fixture
def in_japanese(monkeypatch):
    monkeypatch.setattr(language, "current_locale", lambda: "ja_JP")
    view = bpy.context.preferences.view
    before = view.use_translate_interface, view.use_translate_reports
    view.use_translate_interface = view.use_translate_reports = True
    yield
    view.use_translate_interface, view.use_translate_reports = before


def rendered(text):
    return SLOT.sub(lambda found: SAMPLES[found[2] or ""], text)


def test_there_are_japanese_and_german():
    assert {"ja_JP", "de_DE"} <= set(locales())


@pytest.mark.parametrize("locale", ["ja_JP", "de_DE"])
def test_every_text_is_translated_with_the_same_slots_and_nothing_is_left_over(locale, wanted):
    assert len(wanted) > 1000
    assert list(strings.troubles(locale, wanted)) == []


def test_planted_faults_of_a_catalogue_are_told(monkeypatch, wanted):
    entries = list(wanted)
    slotted = next(one for one in entries[6:] if "{name:s}" in one)
    old = strings.read(strings.FOLDER / "de_DE.po")
    changed = {**old, entries[0]: "", slotted: "ohne Namen", entries[5]: old[entries[5]] + " ", "Gone.": "Weg."}
    monkeypatch.setattr(strings, "read", lambda _path: changed)
    told = list(strings.troubles("de_DE", wanted))
    assert sorted(line.split(": ")[1] for line in told) == [
        "left over", "not translated", "other slots", "spaces at an end or doubled",
    ]


def test_a_new_sentence_in_the_source_is_found(tmp_path, monkeypatch):
    source = '''
def look(name, count, far):
    """No text."""
    table["key words here"] = 1
    if far == "not a text":
        raise EvenfoldError(f"{name} has {count:,} lamps, {'far' if far else 'near'} off: light them.")
    layout.operator("evenfold.lamp", text="Light", icon="LIGHT")
'''
    (tmp_path / "ui").mkdir()
    path = tmp_path / "ui" / "lamps.py"
    path.write_text(source, encoding="utf-8")
    monkeypatch.setattr(finder, "ADDON", tmp_path)
    assert set(finder.entries(path)) == {
        "{name:s} has {count:n} lamps, far off: light them.",
        "{name:s} has {count:n} lamps, near off: light them.", "Light",
    }


def test_every_refusal_is_in_the_catalogue(wanted):
    """Each sentence raised anywhere the interface reaches; found here by another way than the tool's."""
    seen = 0
    skeletons = {re.sub(r"\{[^}]*\}", "*", one) for one in wanted}
    for path in finder.modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args):
                continue
            name = getattr(node.exc.func, "id", "")
            text = node.exc.args[0]
            if name.endswith("Error") and name not in finder.INTERNAL and isinstance(text, ast.Constant):
                assert text.value in wanted, (path, text.value)
                seen += 1
            elif name.endswith("Error") and name not in finder.INTERNAL and isinstance(text, ast.JoinedStr):
                plain = "".join(str(one.value) if isinstance(one, ast.Constant) else "*" for one in text.values)
                if re.search(r"[a-z]{2}", plain) and not any(isinstance(one, ast.FormattedValue) and (isinstance(one.value, ast.IfExp | ast.Subscript) or ast.unparse(one.value).isupper()) for one in text.values):
                    assert plain in skeletons, (path, plain)
                    seen += 1
    assert seen > 100


def test_no_two_texts_are_alike(wanted):
    alike = [strings.likeness(one) for one in wanted]
    assert len(alike) == len(set(alike))


def test_every_text_is_said_by_its_own_entry_and_no_other(speaker):
    wrong = []
    for template in speaker.templates:
        best = speaker.best(rendered(template.english))
        if best is None or best[0] is not template:
            wrong.append((template.english, best and best[0].english))
        elif template.whole and speaker.say(rendered(template.english)) != rendered(template.text):
            wrong.append((template.english, speaker.say(rendered(template.english))))
    assert wrong == []
    assert all(speaker.say(one) == text for one, text in speaker.words.items())


SENTENCES = {
    "Chin: 2.34 heads tall": ("Chin: 2.34頭身", "Chin: 2.34 Köpfe hoch"),
    "Head has no shape keys any more: check again.": (
        "Headにシェイプキーがなくなりました。もう一度調べてください。", "Head hat keine Formschlüssel mehr: neu prüfen."),
    "1,234 faces split along the other diagonal": (
        "逆の対角線で分割された面: 1,234", "1,234 Flächen entlang der anderen Diagonale geteilt"),
    "Mark the crown, the chin and the sole on the drawing to count its heads.": (
        "頭身を数えるには、ドローイングに頭頂、あごと足裏の印を付けてください。",
        "Scheitel, Kinn und Sohle auf der Zeichnung markieren, um ihre Köpfe zu zählen."),
    "Leg, crotch to sole": ("脚、股下から足裏", "Bein, Schritt bis Sohle"),
    "3 of 12": ("12件中3件目", "3 von 12"),
    "Makes this key move both halves alike.": (
        "このキーで左右が同じように動くようにします。", "Lässt diesen Schlüssel beide Hälften gleich bewegen."),
    "Out of date: the figure was changed since. Not measured yet. Ahoy.": (
        "古い結果です。キャラクターが変更されました。まだ測っていません。Ahoy.",
        "Veraltet: die Figur wurde seither geändert. Noch nicht gemessen. Ahoy."),
    "Something nobody wrote a translation for": ("Something nobody wrote a translation for",) * 2,
    "Head and Chin": ("Head and Chin",) * 2,
}


@pytest.mark.parametrize("english", SENTENCES)
def test_finished_sentences_are_said_and_names_stay(english):
    said = tuple(Speaker(catalogue(locale)).say(english) for locale in ("ja_JP", "de_DE"))
    assert said == SENTENCES[english]


def test_in_english_a_text_is_handed_back_and_nothing_is_read(monkeypatch):
    language.speaker.cache_clear()
    text = "Cook: 2.34 heads tall"
    for locale in ("", "en_US", "en_GB"):
        monkeypatch.setattr(language, "current_locale", lambda one=locale: one)
        assert language.tr(text) is text and language.tr_report(text) is text
    assert language.speaker.cache_info().currsize == 0
    monkeypatch.setattr(language, "current_locale", lambda: "fr_FR")
    assert language.tr(text) is text


def test_names_are_listed_as_the_language_lists_them(in_japanese, monkeypatch):
    for locale, wanted in (("en_US", "Ear.L, Tuft and Cap"), ("de_DE", "Ear.L, Tuft und Cap"), ("ja_JP", "Ear.L、TuftとCap")):
        monkeypatch.setattr(language, "current_locale", lambda one=locale: one)
        assert language.tr_names(("Ear.L", "Tuft", "Cap")) == wanted
        assert language.tr_names(("Ear.L",)) == "Ear.L"
    sentence = left_out.LeftOut("bone", "ear", ("Ear.L", "Ear.R")).sentence
    assert "Ear.LとEar.R" in language.tr(sentence)


def test_the_hosts_switch_for_the_interface_is_heeded(in_japanese):
    view = bpy.context.preferences.view
    assert language.tr("Not measured yet.") == "まだ測っていません。"
    view.use_translate_interface = False
    assert language.tr("Not measured yet.") == "Not measured yet."


def test_operators_refuse_and_report_in_the_language(in_japanese):
    evenfold.register()
    try:
        body = add_box("Chin")
        bpy.context.view_layer.objects.active = body
        with pytest.raises(RuntimeError, match="先に対称を調べてください。"):
            bpy.ops.evenfold.select_asymmetric()
        for entry in (evenfold.ui.CLASSES[0], evenfold.ui.panels.CLASSES[0]):
            assert entry.bl_translation_context == CONTEXT
        assert bpy.types.Scene.bl_rna.properties["evenfold"].fixed_type.properties["target_heads"].translation_context == CONTEXT
    finally:
        evenfold.unregister()


def test_the_file_format_is_read_as_other_programs_write_it():
    text = 'msgid ""\nmsgstr ""\n"Language: xx\\n"\n\n#, fuzzy\nmsgid "one "\n"two"\nmsgstr ""\n"eins \\"zwei\\"\\n"\n'
    assert parse(text) == {"": "Language: xx\n", "one two": 'eins "zwei"\n'}
    short = 'msgid ""\nmsgstr ""\n"Language: xx\\n"\n\nmsgid "a \\\\ b"\nmsgstr "c"\n\nmsgid "d"\nmsgstr ""\n'
    assert parse(short) == {"": "Language: xx\n", "a \\ b": "c", "d": ""}


def test_every_button_of_a_repair_and_word_of_the_plan_is_translated(speaker):
    shown = [one.title for one in REPAIRS.values()] + ["Span", "stays"]
    assert [text for text in shown if speaker.say(text) == text] == []
