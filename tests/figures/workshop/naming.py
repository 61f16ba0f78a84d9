"""Spellings of objects, materials and bones as artists write them."""

OBJECTS = {
    "tidy": {
        "body": "Body", "head": "Head", "face": "Face", "hair": "Hair", "hair_front": "Hair_front", "ears": "Ears",
        "hat": "Hat", "eyes": "Eyes", "mouth": "Teeth", "worn": "Clothes", "cape": "Cape", "tail": "Tail",
        "prop": "Sword", "plate": "Base", "beard": "Beard", "scarf": "Scarf",
    },
    "studio": {
        "body": "chr_body_geo", "head": "chr_head_geo", "face": "chr_face_geo", "hair": "chr_hair_geo",
        "hair_front": "chr_hair_bangs_geo", "ears": "chr_ears_geo", "hat": "chr_hat_geo", "eyes": "chr_eyes_geo",
        "mouth": "chr_mouth_geo", "worn": "chr_outfit_geo", "cape": "chr_cape_geo", "tail": "chr_tail_geo",
        "prop": "prop_staff_geo", "plate": "set_stand_geo", "beard": "chr_beard_geo", "scarf": "chr_scarf_geo",
    },
    "japanese": {
        "body": "体", "head": "頭", "face": "顔", "hair": "髪", "hair_front": "前髪", "ears": "耳", "hat": "帽子",
        "eyes": "目", "mouth": "歯", "worn": "服", "cape": "マント", "tail": "尻尾", "prop": "剣", "plate": "台座",
        "beard": "ひげ", "scarf": "マフラー",
    },
}
MATERIALS = {
    "tidy": {"skin": "Skin", "face": "Face", "hair": "Hair", "cloth": "Cloth", "eye": "Eye", "mouth": "Mouth",
             "metal": "Metal", "ear": "Skin"},
    "studio": {"skin": "M_skin", "face": "Skin_face", "hair": "M_hair", "cloth": "M_outfit", "eye": "M_eye",
               "mouth": "M_mouth", "metal": "M_metal", "ear": "M_fur"},
    "japanese": {"skin": "肌", "face": "顔", "hair": "髪", "cloth": "服", "eye": "目", "mouth": "口",
                 "metal": "金属", "ear": "肌"},
    "default": {},
}
KINDS = ("Sphere", "Cube", "Object", "Cylinder")
JAPANESE_BONES = {
    "hips": "腰", "spine": "上半身", "chest": "上半身2", "neck": "首", "head": "頭", "jaw": "あご", "Eye": "目",
    "Shoulder": "肩", "UpperArm": "腕", "LowerArm": "ひじ", "Hand": "手首", "UpperLeg": "足", "LowerLeg": "ひざ",
    "Foot": "足首", "Toes": "つま先",
}
COMMON = {
    "hips": "Hips", "spine": "Spine", "chest": "Chest", "neck": "Neck", "head": "Head", "jaw": "Jaw", "Eye": "Eye",
    "Shoulder": "Shoulder", "UpperArm": "Arm", "LowerArm": "ForeArm", "Hand": "Hand", "UpperLeg": "UpLeg",
    "LowerLeg": "Leg", "Foot": "Foot", "Toes": "ToeBase",
}


def object_name(scheme: str, key: str, number: int) -> str:
    """The name of an object: what it is, or nothing but a number where nobody named anything."""
    if scheme == "default":
        return f"{KINDS[number % len(KINDS)]}.{number * 7 % 40 + 1:03d}"
    return OBJECTS[scheme].get(key, key)


def material_name(scheme: str, key: str) -> str:
    return MATERIALS[scheme].get(key, "Material" if key == "skin" else f"Material.{sum(map(ord, key)) % 9 + 1:03d}")


def bone_name(scheme: str, name: str) -> str:
    """``name`` is the open avatar standard's, or of a chain such as "hair.L.1"; in another spelling."""
    side = "L" if name.startswith("left") else "R" if name.startswith("right") else ""
    core = name[4:] if side == "L" else name[5:] if side == "R" else name
    if scheme == "standard":
        return name
    if scheme == "prefix":
        return {"L": "Left", "R": "Right", "": ""}[side] + COMMON.get(core, core)
    if scheme == "spaced":
        return "ns:" + {"L": "Left", "R": "Right", "": ""}[side] + COMMON.get(core, core)
    if scheme == "japanese":
        return {"L": "左", "R": "右", "": ""}[side] + JAPANESE_BONES.get(core, core)
    plain = "".join("_" + c.lower() if c.isupper() else c for c in core).strip("_")
    if scheme == "dotted":
        return plain + ("." + side if side else "")
    return plain + ("_" + side.lower() if side else "")
