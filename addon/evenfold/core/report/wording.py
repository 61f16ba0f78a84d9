"""Finding codes in words, shared by panel, table and page."""

WORDS = {
    "drifted": "off their mirror image",
    "off-centre": "off the centre line",
    "unpaired": "without a partner",
    "doubled": "doubled on one side",
    "ambiguous": "with several equal partners",
    "near-miss": "that Blender's mirror tools miss",
    "edge-unmatched": "edges without a mirrored edge",
    "face-unmatched": "faces without a mirrored face",
    "diagonal-unmatched": "faces split along the other diagonal",
    "normal-drifted": "custom normals off their mirror image",
    "uv-drifted": "UV corners off their partner's",
    "seam-unmatched": "seams on one side only",
    "material-unmatched": "faces with another material than their partner",
    "weight-drifted": "with other weights than their partner",
    "group-unpaired": "group without its counterpart",
    "bone-drifted": "bones off their mirror image",
    "roll-drifted": "bones turned about their own axis",
    "bone-off-centre": "bones off the centre line",
    "bone-unpaired": "bones without a counterpart",
    "bone-parent-unmatched": "bones with another parent than their counterpart",
    "key-lopsided": "moved differently on the two halves",
    "key-pair-drifted": "moved otherwise than by the counterpart key",
    "key-unpaired": "key without its counterpart",
    "key-spill": "moved on the wrong half",
    "key-swapped": "moved by the counterpart's movement: left and right are exchanged",
    "key-same-side": "moved on the same side by both keys",
    "key-off-centre": "leave the centre line in this key",
    "key-stale": "left behind by an edited neutral shape",
    "mask-drifted": "painted otherwise than their partner",
    "chain-drifted": "bones that swing otherwise than their counterpart",
}

IN_MOTION = {
    "drifted": "Shading and silhouette differ left from right, most in motion.",
    "off-centre": "A crease or an open seam shows down the middle.",
}
"""What a kind of mismatch will look like once the figure moves."""
