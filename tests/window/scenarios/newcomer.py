"""The first look at an unknown figure, the preferences, other languages, and a report from the panel."""

from machine import Tally, Window
from sidebar import THIRDS, away, open_tab, press

NAME = "newcomer"
SAVE = r"evenfold\.save_report\(form='PAGE'"
LANGUAGES = ("ja_JP", "de_DE")
EDIT, PREFERENCES = (77, 11), (131, 283)
"""Where Blender's Edit menu and, in it, Preferences… are, in pixels from the upper left."""
SECTIONS = ("OVERLAY", "DEFAULTS", "KEYS")


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("use_theme", name="dark")
    first_look(window, tally)
    other_languages(window, tally)
    report(window, tally)
    preferences(window, tally)


def first_look(window: Window, tally: Tally) -> None:
    away(window)
    guessed = window.wait(lambda s: s["guessed"] == ["Keeper", "head", 1], 20)
    tally.note(f"the figure is guessed before anything is pressed ({window.seen()['guessed']})", guessed)
    window.picture("newcomer-1-first-look")
    window.ask("use_theme", name="light")
    window.picture("newcomer-2-first-look-light")
    window.ask("use_theme", name="dark")


def other_languages(window: Window, tally: Tally) -> None:
    english = window.ask("speak", language="en_US")
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("the figure is checked", window.wait(lambda s: s["checked"], 20))
    for language in LANGUAGES:
        told = window.ask("speak", language=language)
        other = [text for text in english if told[text] != english[text]]
        tally.note(f"{language}: the panel speaks another language ({told})", len(other) >= 3)
        away(window)
        window.picture(f"newcomer-3-{language}")
        press(window, r"evenfold\.measure\b")
        tally.note(f"{language}: a click on Measure measures", window.wait(lambda s: s["measured"], 20))
    window.ask("speak", language="en_US")


def report(window: Window, tally: Tally) -> None:
    press(window, SAVE, THIRDS[:1])
    opened = window.wait(lambda s: "FILE_BROWSER" in s["areas"], 10)
    tally.note("a click on Save Page asks for a file", opened)
    window.take_anyway("newcomer-4-file")
    window.key("Return")
    written = window.wait(lambda s: s["written"].endswith("Keeper-report.html"), 20)
    tally.note(f"Return writes the page ({window.seen()['written']})", written)
    tally.note("it is a page", window.seen()["text"].startswith("<!DOCTYPE html>"))
    away(window)
    window.picture("newcomer-5-report")


def preferences(window: Window, tally: Tally) -> None:
    """Every section of the add-on's own page, in Blender's own window for it."""
    window.click(*EDIT)
    window.click(*PREFERENCES)
    tally.note("Blender's preferences open", window.wait(lambda s: s["preferences"], 10))
    for theme in ("light", "dark"):
        window.ask("use_theme", name=theme)
        for section in SECTIONS:
            window.ask("show_section", name=section)
            window.picture_at_rest(f"newcomer-preferences-{section.lower()}-{theme}")
    window.ask("close_preferences")
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("Blender still checks after the preferences were looked at", bool(window.seen()["checked"]))
