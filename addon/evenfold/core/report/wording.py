"""Finding codes in words, shared by panel, table and page."""

WORDS = {
    "drifted": "vertices off their mirror image",
    "off-centre": "vertices off the centre line",
    "unpaired": "vertices without a partner",
    "doubled": "vertices doubled on one side",
    "ambiguous": "vertices with several equal partners",
    "near-miss": "vertices that Blender's mirror tools miss",
    "mirror-gap": "vertices that the Mirror modifier leaves open down the middle",
    "mirror-beside": "vertices that the Mirror modifier joins beside the figure's middle",
    "mirror-merge": "vertices that the Mirror modifier flattens into the middle",
    "mirror-wall": "faces left as a wall inside by the Mirror modifier",
    "edge-unmatched": "edges without a mirrored edge",
    "face-unmatched": "faces without a mirrored face",
    "diagonal-unmatched": "faces split along the other diagonal",
    "normal-drifted": "custom normals off their mirror image",
    "uv-drifted": "UV corners off their partner's",
    "seam-unmatched": "seams on one side only",
    "material-unmatched": "faces with another material than their partner",
    "weight-drifted": "vertices with other weights than their partner",
    "group-unpaired": "groups without their counterpart",
    "bone-drifted": "bones off their mirror image",
    "roll-drifted": "bones turned about their own axis",
    "bone-off-centre": "bones off the centre line",
    "bone-unpaired": "bones without a counterpart",
    "bone-parent-unmatched": "bones with another parent than their counterpart",
    "bone-deform-unmatched": "bones that deform while their counterpart does not",
    "key-lopsided": "vertices moved differently on the two halves",
    "key-pair-drifted": "vertices moved otherwise than by the counterpart key",
    "key-unpaired": "keys without their counterpart",
    "key-spill": "vertices moved on the wrong half",
    "key-swapped": "vertices moved by the counterpart's movement: left and right are exchanged",
    "key-same-side": "vertices moved on the same side by both keys",
    "key-off-centre": "vertices leave the centre line in this key",
    "key-stale": "vertices left behind by an edited neutral shape",
    "mask-drifted": "vertices painted otherwise than their partner",
    "chain-drifted": "bones that swing otherwise than their counterpart",
}

IN_MOTION = {
    "drifted": "Shading and silhouette differ left from right, most in motion.",
    "off-centre": "A crease or an open seam shows down the middle.",
    "unpaired": "What is worn or sculpted on one side only swings and shades on that side only.",
    "doubled": "Shading breaks here, and the surface may tear open when it bends.",
    "ambiguous": "Nothing yet: mirroring in Blender may pull the wrong one of these vertices.",
    "near-miss": "Nothing to see; but mirrored sculpting leaves these vertices behind as spikes.",
    "mirror-gap": "The figure tears open down the middle, at the latest when it moves.",
    "mirror-beside": "One half is wider than the other, and the seam wanders off the middle.",
    "mirror-merge": "Both halves stick together here, and small shapes are pressed flat.",
    "mirror-wall": "A hidden wall creases the middle, and smoothing pulls the surface in along it.",
    "edge-unmatched": "The halves bend along other lines, so folds look unlike.",
    "face-unmatched": "The halves bend and shade unlike although their points match.",
    "diagonal-unmatched": "Creases run the other way on one half once it bends.",
    "normal-drifted": "One half is lit differently, and a line of light shows down the middle.",
    "uv-drifted": "The texture slides on one half: lines, lashes and outlines do not meet.",
    "seam-unmatched": "The next unwrap cuts the halves differently, so textures no longer match.",
    "material-unmatched": "One half shows another surface, and toon shading and outlines differ.",
    "weight-drifted": "One side stretches, lags or pinches where the other does not.",
    "group-unpaired": "One side follows its bone, the other stays behind.",
    "bone-drifted": "The same pose bends one side at another place than the other.",
    "roll-drifted": "Mirrored and retargeted motion turns one of the two the wrong way.",
    "bone-off-centre": "Turning the head or the trunk swings it to one side.",
    "bone-unpaired": "Mirrored poses and retargeted motion have nothing to move on one side.",
    "bone-parent-unmatched": "One side is carried along, the other is not.",
    "bone-deform-unmatched": "One side's skin follows the bone, the other's stays still.",
    "key-lopsided": "The face pulls to one side in an expression that should be even.",
    "key-pair-drifted": "A wink or a smile looks stronger on one side.",
    "key-unpaired": "The tracker moves one side of the face only.",
    "key-spill": "A wink twitches the other half of the face.",
    "key-swapped": "The performer smiles left and the avatar smiles right.",
    "key-same-side": "Both sides drive one half, twice as far; the other half stays still.",
    "key-off-centre": "The middle of the face tears or creases when this key plays.",
    "key-stale": "Every expression pulls this spot back to where it used to be.",
    "mask-drifted": "Outlines or effects are thicker on one half.",
    "chain-drifted": "One ear, tail or lock of hair swings stiffer than the other.",
}
"""What a kind of mismatch will look like once the figure moves."""

_PLURALS = ("faces", "edges", "bones", "seams", "groups", "keys", "custom normals", "UV corners")


def counted(code: str, count: int) -> str:
    """How many, and what is the matter with them: "1 face split along the other diagonal"."""
    words = WORDS.get(code, code.replace("-", " "))
    if count == 1:
        plural = next((one for one in _PLURALS if words.startswith(f"{one} ")), None)
        words = words if plural is None else plural[:-1] + words[len(plural) :]
        words = words.replace("vertices ", "vertex ").replace("their ", "its ").replace(" leave ", " leaves ")
        words = words.replace(" that deform ", " that deforms ").replace(" that swing ", " that swings ")
    return f"{count:,} {words}"
