"""German words in the names of bones and objects, and how they and the Romance ones are put into the English the rest of the core reads.

Spellings: common practice, no source.
"""

import re
import unicodedata
from collections.abc import Iterable

from .romance import ENGLISH as ROMANCE

_ENGLISH = {
    "links": "left", "linke": "left", "linker": "left", "linkes": "left",
    "rechts": "right", "rechte": "right", "rechter": "right", "rechtes": "right",
    "kopf": "head", "schaedel": "skull", "gesicht": "face", "hals": "neck", "nacken": "neck",
    "kiefer": "jaw", "unterkiefer": "jaw", "kinn": "chin", "stirn": "forehead", "schlaefe": "temple",
    "auge": "eye", "augen": "eyes", "augapfel": "eyeball", "pupille": "pupil", "braue": "brow", "brauen": "brows",
    "augenbraue": "eyebrow", "augenbrauen": "eyebrows", "wimper": "lash", "wimpern": "lashes",
    "lid": "lid", "augenlid": "eyelid", "augenlider": "eyelid", "mund": "mouth", "zahn": "tooth", "zaehne": "teeth",
    "zunge": "tongue", "lippe": "lip", "lippen": "lips", "nase": "nose", "wange": "cheek", "wangen": "cheeks", "backe": "cheek",
    "ohr": "ear", "ohren": "ears", "haar": "hair", "haare": "hair", "zopf": "braid", "zoepfe": "braid",
    "pferdeschwanz": "ponytail", "dutt": "bun", "geweih": "horns", "hoerner": "horns", "fuehler": "antennae",
    "hut": "hat", "muetze": "cap", "kappe": "cap", "kapuze": "hood", "brille": "glasses", "haarband": "headband",
    "stirnband": "headband", "kopfhoerer": "headphones", "schleife": "bow", "schleifen": "bows", "ohrring": "earring",
    "ohrringe": "earrings", "schnurrbart": "goatee", "vollbart": "beard", "maehne": "mane",
    "huefte": "hips", "hueften": "hips", "becken": "pelvis", "wirbelsaeule": "spine", "ruecken": "spine", "rumpf": "torso",
    "bauch": "abdomen", "taille": "waist", "brust": "chest", "brustkorb": "ribcage",
    "schulter": "shoulder", "schluesselbein": "clavicle", "oberarm": "upperarm", "unterarm": "forearm",
    "ellbogen": "elbow", "ellenbogen": "elbow", "haende": "hands", "handgelenk": "wrist", "handflaeche": "palm",
    "daumen": "thumb", "zeigefinger": "index", "mittelfinger": "middle", "ringfinger": "ring", "kleinfinger": "little",
    "bein": "leg", "beine": "legs", "oberschenkel": "thigh", "unterschenkel": "shin", "wade": "calf", "knie": "knee",
    "fuss": "foot", "fuesse": "feet", "knoechel": "ankle", "ferse": "heel", "zehe": "toe", "zehen": "toes",
    "fussspitze": "toes", "schuh": "shoe", "schuhe": "shoes", "stiefel": "boots", "pfote": "paw", "pfoten": "paw",
    "schwanz": "tail", "schweif": "tail", "fluegel": "wings", "umhang": "cape", "kleid": "dress", "aermel": "sleeve",
    "guertel": "belt", "schal": "scarf", "tasche": "bag", "schwert": "sword", "schild": "shield", "sockel": "plinth",
    "podest": "pedestal", "wurzel": "root", "ende": "end", "spitze": "tip", "ziel": "target", "steuerung": "control",
}
_OTHERS = {**_ENGLISH, **ROMANCE}
_SPELLED = {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"}
_UMLAUT = re.compile("[äöüßÄÖÜ]")
_PLAIN = str.maketrans({one: unicodedata.normalize("NFD", one)[0] for one in "áàâãéèêëíìîïóòôõúùûñçÁÀÂÃÉÈÊËÍÌÎÏÓÒÔÕÚÙÛÑÇ"} | {"œ": "oe", "Œ": "Oe"})


def spelled_out(name: str) -> str:
    """A name with umlauts and sharp s as two letters each, and without accents, as they are often written anyway."""
    return name if name.isascii() else _UMLAUT.sub(_two_letters, unicodedata.normalize("NFC", name)).translate(_PLAIN)


def _two_letters(found: re.Match[str]) -> str:
    """Both in capitals in a word of capitals."""
    letters, around = _SPELLED[found.group()], found.string[max(found.start() - 1, 0) : found.end() + 1]
    return letters.upper() if found.group().isupper() and len(around) > 1 and around.isupper() else letters


def in_english(words: Iterable[str]) -> list[str]:
    """Words in lower case with the German, Spanish and French ones put into English; two that make one ("ober", "arm") become it."""
    found: list[str] = []
    for word in words:
        joined = _OTHERS.get(found[-1] + word) if found else None
        if joined is not None:
            found[-1] = joined
        else:
            found.append(word)
    return [_OTHERS.get(word, word) for word in found]
