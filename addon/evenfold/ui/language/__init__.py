"""The user interface in the language the host is set to; codes and written reports stay English.

Labels, tooltips and menu items are registered with the host, which looks them up itself. What is
put together at run time comes as finished English sentences and goes through ``tr``.
"""

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import bpy

from .catalogue import Catalogue, read_catalogue
from .speaking import SLOT, Speaker

FOLDER = Path(__file__).parent
CONTEXT = "Evenfold"
"""The host's context for our classes and properties, so that its own words do not stand in."""
_CONTEXTS = (CONTEXT, "*")


def locales() -> tuple[str, ...]:
    """The languages there are catalogues for, as the host names them."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.po")))


@cache
def catalogue(locale: str) -> Catalogue:
    """The catalogue of one language. Raises OSError where there is none."""
    return read_catalogue(FOLDER / f"{locale}.po")


@cache
def speaker(locale: str) -> Speaker | None:
    """Who says texts in that language, read when first asked for; None without a catalogue."""
    language = locale.partition("_")[0]
    near = [one for one in locales() if one.partition("_")[0] == language]
    return Speaker(catalogue(locale if locale in near else near[0])) if near else None


def current_locale() -> str:
    """The language the host is set to, as ``ja_JP``; empty where the host was built without any."""
    return bpy.app.translations.locale


def tr(text: str) -> str:
    """A finished English text in the language of the interface."""
    return _said(text, "use_translate_interface")


def tr_names(names: Sequence[str]) -> str:
    """Names of the artist's as a list in the language of the interface."""
    spoken = _speaker("use_translate_interface")
    words = Catalogue({}) if spoken is None else spoken.catalogue
    return words.last.join([*[words.comma.join(names[:-1])] * bool(names[:-1]), *names[-1:]])


def tr_report(text: str) -> str:
    """A report in the language of reports."""
    return _said(text, "use_translate_reports")


def _said(text: str, switch: str) -> str:
    found = _speaker(switch) if text else None
    return text if found is None else found.say(text)


def _speaker(switch: str) -> Speaker | None:
    """Who says texts now; None where they stay English."""
    locale = current_locale()
    if not locale or locale.startswith("en") or not getattr(bpy.context.preferences.view, switch, True):
        return None
    return speaker(locale)


def mark(entry: Any) -> None:
    """Put a class, and the properties it defines, into our own context; before it is registered."""
    entry.bl_translation_context = CONTEXT
    for base in entry.__mro__:
        for deferred in vars(base).get("__annotations__", {}).values():
            if hasattr(deferred, "keywords"):
                deferred.keywords.setdefault("translation_context", CONTEXT)


def register() -> None:
    """Give the host every text without slots, for it to look up labels and tooltips."""
    bpy.app.translations.register(__package__, {
        locale: {
            (context, english): text
            for english, text in catalogue(locale).messages.items() if not SLOT.search(english)
            for context in _CONTEXTS
        }
        for locale in locales()
    })


def unregister() -> None:
    bpy.app.translations.unregister(__package__)
    catalogue.cache_clear()
    speaker.cache_clear()
