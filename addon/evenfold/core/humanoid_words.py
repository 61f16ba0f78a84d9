"""What a bone's name says: side, part of the body, number. The spellings are common practice, no source."""

import re
import unicodedata
from dataclasses import dataclass

from .in_english import spelled_out
from .name_words import words_and_numbers_of

LEFT = frozenset({"l", "left", "lft", "lt"})
RIGHT = frozenset({"r", "right", "rgt", "rt"})
NEUTRAL = frozenset(
    ["j", "bip", "biped", "def", "deform", "bone", "bones", "joint", "jnt", "jt", "armature", "rig", "skel", "skeleton", "sk", "skin", "bn", "b", "c", "m", "f", "mid", "center", "centre", "body", "human", "character", "char", "main", "adj", "base"]
)
"""Words that say nothing about which part of the body a bone is."""
HELPER = frozenset(
    ["ik", "fk", "ctrl", "ctl", "control", "controller", "target", "pole", "poletarget", "mch", "org", "end", "nub", "eff", "effector", "tip", "top", "twist", "roll", "look", "lookat", "aim", "track", "tweak", "master", "socket", "slot", "helper", "dummy", "attach", "attachment", "prop", "weapon", "drv", "driver", "cancel", "offset", "null", "jiggle", "spring", "collider", "corrective", "hint", "stretch", "vis", "widget", "wgt", "root", "origin", "cam", "camera", "wiggle", "sub", "dir", "parent"]
)
"""Words of bones that steer, twist, end or carry, and are no part of the body themselves."""
OTHER = frozenset(
    ["hair", "hairs", "bangs", "fringe", "ponytail", "braid", "ear", "ears", "tail", "wing", "wings", "skirt", "dress", "sleeve", "cloth", "cloak", "cape", "coat", "scarf", "ribbon", "bow", "hat", "cap", "hood", "helmet", "breast", "breasts", "bust", "boob", "butt", "buttock", "belly", "tongue", "teeth", "tooth", "lip", "lips", "mouth", "cheek", "nose", "brow", "eyebrow", "lid", "eyelid", "lash", "eyelash", "lashes", "brows", "pupil", "iris", "temple", "forehead", "chin", "heel", "bag", "backpack", "belt", "strap", "pad", "armor", "armour", "collarcloth", "front", "hind", "rear", "paw", "hoof", "highlight", "glasses", "earring", "horn", "antenna", "muscle", "bicep", "biceps", "tricep"]
)
"""Words of bones that belong to something else than the standard's list."""

_JAPANESE = (
    ("上半身2", " chest "), ("上半身3", " upperchest "), ("上半身", " spine "), ("下半身", " lowerbody "),
    ("全ての親", " root "), ("操作中心", " root "), ("グルーブ", " groove "), ("センター", " groove "), ("腰", " groove "),
    ("キャンセル", " cancel "), ("足首", " foot "), ("手首", " hand "), ("つま先", " toe "), ("爪先", " toe "),
    ("足先", " toe "), ("腕捩", " twist "), ("手捩", " twist "), ("捩", " twist "), ("太もも", " thigh "), ("もも", " thigh "),
    ("すね", " shin "), ("ひざ", " knee "), ("膝", " knee "), ("ひじ", " elbow "), ("肘", " elbow "),
    ("親指", " thumb "), ("人差し指", " index "), ("人差指", " index "), ("人指", " index "), ("中指", " middle "),
    ("薬指", " ring "), ("小指", " little "), ("両目", " helper "), ("ダミー", " dummy "),
    ("髪", " hair "), ("耳", " ear "), ("舌", " tongue "), ("スカート", " skirt "), ("眉", " brow "), ("まぶた", " lid "),
    ("顎", " jaw "), ("あご", " jaw "), ("胸", " chest "), ("頭", " head "), ("首", " neck "), ("目", " eye "),
    ("肩", " shoulder "), ("腕", " upperarm "), ("手", " hand "), ("足", " leg "), ("脚", " leg "), ("先", " end "),
    ("左", " left "), ("右", " right "),
)

Scores = dict[str, float]
_SHOULDER: Scores = {"Shoulder": 1.0}
_PARTS: dict[str, Scores] = {
    "hips": {"hips": 1.0}, "hip": {"hips": 0.9, "UpperLeg": 0.7}, "pelvis": {"hips": 1.0}, "lowerbody": {"hips": 0.6},
    "groove": {"hips": 0.5}, "waist": {"hips": 0.3, "spine": 0.8},
    "spine": {"spine": 1.0}, "abdomen": {"spine": 0.9}, "tummy": {"spine": 0.9}, "stomach": {"spine": 0.9},
    "torso": {"spine": 0.8}, "back": {"spine": 0.6}, "trunk": {"spine": 0.7},
    "chest": {"chest": 1.0}, "ribs": {"chest": 0.8}, "ribcage": {"chest": 0.8}, "thorax": {"chest": 0.8},
    "upperchest": {"upperChest": 1.0}, "neck": {"neck": 1.0}, "head": {"head": 1.0}, "skull": {"head": 0.7},
    "jaw": {"jaw": 1.0}, "eye": {"Eye": 1.0}, "eyes": {"Eye": 0.5}, "eyeball": {"Eye": 0.9},
    "shoulder": {"Shoulder": 1.0, "UpperArm": 0.55}, "clavicle": _SHOULDER, "collar": _SHOULDER, "collarbone": _SHOULDER,
    "scapula": {"Shoulder": 0.7}, "clav": _SHOULDER,
    "upperarm": {"UpperArm": 1.0}, "uparm": {"UpperArm": 1.0}, "armupper": {"UpperArm": 1.0}, "armup": {"UpperArm": 1.0}, "humerus": {"UpperArm": 0.8},
    "arm": {"UpperArm": 0.6, "LowerArm": 0.4, "Hand": 0.1},
    "forearm": {"LowerArm": 1.0}, "lowerarm": {"LowerArm": 1.0}, "armlower": {"LowerArm": 1.0}, "lowarm": {"LowerArm": 1.0},
    "elbow": {"LowerArm": 0.9}, "hand": {"Hand": 1.0}, "wrist": {"Hand": 0.7}, "palm": {"Hand": 0.5}, "fist": {"Hand": 0.5},
    "upperleg": {"UpperLeg": 1.0}, "upleg": {"UpperLeg": 1.0}, "legupper": {"UpperLeg": 1.0}, "legup": {"UpperLeg": 1.0}, "thigh": {"UpperLeg": 1.0}, "femur": {"UpperLeg": 0.8},
    "leg": {"UpperLeg": 0.6, "LowerLeg": 0.6, "Foot": 0.1},
    "lowerleg": {"LowerLeg": 1.0}, "leglower": {"LowerLeg": 1.0}, "lowleg": {"LowerLeg": 1.0}, "shin": {"LowerLeg": 1.0}, "calf": {"LowerLeg": 1.0},
    "knee": {"LowerLeg": 0.9}, "foot": {"Foot": 1.0}, "feet": {"Foot": 0.8}, "ankle": {"Foot": 0.8},
    "toe": {"Toes": 0.9}, "toes": {"Toes": 1.0}, "toebase": {"Toes": 1.0}, "ball": {"Toes": 0.8},
    "thumb": {"Thumb": 1.0}, "index": {"Index": 1.0}, "pointer": {"Index": 0.8}, "middle": {"Middle": 1.0}, "ring": {"Ring": 1.0},
    "little": {"Little": 1.0}, "pinky": {"Little": 1.0}, "pinkie": {"Little": 1.0}, "finger": {"Finger": 1.0}, "fingers": {"Finger": 0.5},
}
_RULING = (("Thumb", "Index", "Middle", "Ring", "Little"), ("Finger",), ("Toes",), ("Eye", "jaw"))
"""Of several parts in one name the first of these is meant: the hand's thumb is a thumb."""
_FINGER_WORDS = frozenset({"hand", "finger", "metacarpal", "proximal", "intermediate", "distal", "meta", "carpal", "prox", "inter", "dist"})


@dataclass(frozen=True)
class Name:
    """``side`` +1 left, -1 right, 0 none; ``parts`` scores by part; ``strange`` words not understood."""

    side: int
    parts: Scores
    numbers: tuple[int, ...]
    strange: int
    metacarpal: bool = False


_NOTHING = Name(0, {}, (), 0)


def pieces(name: str) -> list[str]:
    """The words and numbers of a name in lower case, namespaces left off, Japanese and German in English."""
    text = spelled_out(unicodedata.normalize("NFKC", name))
    text = re.split(r"[:|]", text)[-1]
    for sign, word in _JAPANESE:
        text = text.replace(sign, word)
    found: list[str] = []
    for word in words_and_numbers_of(text):
        found += _unglued(word)
    return found


def _unglued(word: str) -> list[str]:
    """Lower-case names run side and part together: "leftarm", "upperarml"."""
    if word in _PARTS or word in HELPER or word in OTHER:
        return [word]
    for side in ("left", "right"):
        for rest in (word.removeprefix(side), word.removesuffix(side)):
            if rest != word and rest in _PARTS:
                return [side, rest]
    if word[:1] in "lr" and word[1:] in _PARTS:
        return [word[0], word[1:]]
    if word[-1:] in "lr" and word[:-1] in _PARTS:
        return [word[-1], word[:-1]]
    return [word]


def _joined(words: list[str]) -> list[str]:
    """Words with "upper" "arm" and the like put together."""
    found: list[str] = []
    for word in words:
        if found and found[-1] + word in _PARTS:
            found[-1] += word
        else:
            found.append(word)
    return found


def read_name(name: str, common: frozenset[str] = frozenset()) -> Name:
    """What a name says of the standard's bones; no parts when it is a helper or another thing.

    ``common`` are words that most names of the armature share.
    """
    found = pieces(name)
    side = int(any(word in LEFT for word in found)) - int(any(word in RIGHT for word in found))
    numbers = tuple(int(word) for word in found if word.isdigit())
    words = _joined([word for word in found if not word.isdigit() and word not in LEFT | RIGHT])
    if set(words) & ((HELPER - common) | OTHER):
        return _NOTHING
    if "back" in words and any(word in _PARTS and word != "back" for word in words):
        return _NOTHING
    named = [word for word in words if word in _PARTS]
    strange = [word for word in words if word not in _PARTS and word not in NEUTRAL | common | _FINGER_WORDS]
    if not named:
        return Name(side, {"Finger": 0.5}, numbers, len(strange)) if "f" in words and numbers else _NOTHING
    meant = _meant(named)
    extra = len([word for word in named if word != meant and not (_is_finger(meant) and word in _FINGER_WORDS)])
    metacarpal = bool({"metacarpal", "meta", "carpal", "palm"} & set(words))
    return Name(side, _PARTS[meant], numbers, len(strange) + extra, metacarpal)


def _is_finger(word: str) -> bool:
    return bool(set(_PARTS[word]) & {*_RULING[0], "Finger"})


def _meant(named: list[str]) -> str:
    for kinds in _RULING:
        for word in named:
            if set(_PARTS[word]) & set(kinds):
                return word
    return named[-1]


def common_words(names: list[str]) -> frozenset[str]:
    """Words in more than half of the names (a figure's name, a tool's mark), which tell nothing apart."""
    if len(names) < 6:
        return frozenset()
    counts: dict[str, int] = {}
    for name in names:
        for word in set(pieces(name)):
            counts[word] = counts.get(word, 0) + 1
    return frozenset(word for word, count in counts.items() if count > len(names) / 2 and word not in _PARTS)
