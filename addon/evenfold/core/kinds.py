"""The kinds of files that can be opened, by how their names end."""

SUFFIXES = (
    ".blend", ".glb", ".gltf", ".vrm", ".fbx", ".obj", ".usd", ".usda", ".usdc", ".usdz",
)
PROFILE_NAME = "evenfold.toml"
"""A profile of this name holds for its folder and all below it."""

