"""What kind of thing a name names: worn, head, leg, face, left or right, by the words in it."""

from ...name_words import own_name, words_of

WORN = frozenset(
    ["hair", "hairs", "ear", "ears", "hat", "hats", "cap", "hood", "helmet", "helm", "horn", "horns", "antenna", "antennae", "antennas", "bun", "buns", "ponytail", "ponytails", "pigtail", "pigtails", "twintail", "twintails", "braid", "braids", "bang", "bangs", "fringe", "ribbon", "ribbons", "bow", "bows", "tail", "tails", "cape", "capes", "cloak", "cloaks", "wing", "wings", "backpack", "backpacks", "bag", "bags", "rucksack", "prop", "props", "weapon", "weapons", "sword", "swords", "staff", "wand", "shield", "axe", "spear", "gun", "rifle", "book", "spellbook", "dagger", "knife", "crown", "tiara", "halo", "headband", "hairband", "headphone", "headphones", "headset", "earring", "earrings", "ahoge", "beard", "goatee", "crest", "mane", "feather", "feathers", "veil", "hairball", "fronthair", "backhair", "sidehair", "hairpin", "topknot", "bonnet", "beret", "beanie", "visor", "goggles", "umbrella", "lantern", "plinth", "pedestal"]
)
WORN_SIGNS = ("髪", "耳", "帽", "角", "リボン", "ヘア", "ツインテ", "ポニテ", "尻尾", "しっぽ", "翼", "羽", "武器", "マント", "ひげ", "ヒゲ", "髭", "台座")
HEAD = frozenset({"head"})
HEAD_SIGNS = ("頭",)
JAW = frozenset({"jaw", "chin", "jawbone", "mandible"})
JAW_SIGNS = ("顎", "あご", "アゴ")
FACE = frozenset({"face"})
FACE_SIGNS = ("顔", "フェイス")
FACE_DETAIL = frozenset(
    ["eye", "eyes", "iris", "brow", "brows", "eyebrow", "eyebrows", "eyelash", "eyelashes", "lash", "lashes", "eyeline", "mouth", "teeth", "tooth", "tongue", "decal", "shadow", "blush", "highlight", "mask", "paint"]
)
FACE_DETAIL_SIGNS = ("目", "眼", "瞳", "眉", "まゆ", "まつ毛", "まつげ", "睫", "口", "歯", "舌", "影")
"""What is named after the face without being its skin."""
FACE_PARTS = frozenset({"lid", "eyelid", "lip", "lips", "cheek", "cheeks", "nose", "upperlip", "lowerlip"})
NECK = frozenset({"neck"})
NECK_SIGNS = ("首",)
END = frozenset({"end", "top", "nub", "tip", "eff"})
LEG = frozenset(
    ["leg", "legs", "upleg", "upperleg", "lowerleg", "foot", "feet", "toe", "toes", "toebase", "thigh", "thighs", "shin", "calf", "knee", "ankle", "boot", "boots", "shoe", "shoes"]
)
LEG_SIGNS = ("足", "脚", "ひざ", "つま先")
FOOT = frozenset({"foot", "feet", "toe", "toes", "toebase", "ankle"})
HAND = frozenset({"hand", "hands", "wrist", "palm"})
HAND_SIGNS = ("手",)
HELPER = frozenset(
    ["ik", "fk", "ctrl", "control", "target", "pole", "poletarget", "mch", "org", "end", "nub", "eff", "effector", "tip", "top", "look", "lookat", "aim", "track", "roll"]
)
FRONT_LEG = frozenset({"front", "fore", "foreleg", "forepaw"})
BACK_LEG = frozenset({"back", "hind", "rear", "hindleg"})
LEFT = frozenset({"l", "left", "左"})
RIGHT = frozenset({"r", "right", "右"})


def has_word(name: str, words: frozenset[str], signs: tuple[str, ...] = ()) -> str | None:
    """The first word of ``words``, or sign, that stands in ``name`` as a whole word."""
    found = words_of(name)
    for position, word in enumerate(found):
        if word in words:
            return word
        joined = word + found[position + 1] if position + 1 < len(found) else ""
        if joined in words:
            return joined
    return next((sign for sign in signs if sign in own_name(name)), None)


def worn_word(name: str) -> str | None:
    """The word that says ``name`` is worn or grown; "Bear" and "Chair" say nothing."""
    return has_word(name, WORN, WORN_SIGNS)


def side_of(name: str) -> int:
    """+1 for the left, -1 for the right, 0 for neither or both."""
    found = set(words_of(name)) | {sign for sign in ("左", "右") if sign in own_name(name)}
    return int(bool(found & LEFT)) - int(bool(found & RIGHT))


def is_face(name: str) -> bool:
    """True for what is named the face's skin: not its eyes, brows, mouth or paint."""
    return has_word(name, FACE, FACE_SIGNS) is not None and has_word(name, FACE_DETAIL, FACE_DETAIL_SIGNS) is None
