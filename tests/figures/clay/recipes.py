"""Seeded recipes: which kind of figure, how proportioned, with what on it. All invented."""

from dataclasses import dataclass, field

import numpy as np

NECKS = ("neckless", "short", "long")
RIGS = ("auto", "painted", "unweighted", "none")


@dataclass(frozen=True)
class Recipe:
    """Lengths in head heights. ``traits`` are the feature classes it counts under."""

    heads: float
    neck: str = "short"
    face: str = "jaw"
    rig: str = "painted"
    naming: str = "plain"
    arms: str = "a"
    hair: str = ""
    ears: str = ""
    hat: str = ""
    wear: tuple = ()
    below: str = ""
    lifted: bool = False
    heels: bool = False
    turn: float = 0.0
    scale: float = 1.0
    place: tuple = (0.0, 0.0, 0.0)
    up: str = "z"
    vertices: int = 5000
    seed: int = 0
    named: bool = True
    traits: frozenset = field(default_factory=frozenset)


def _maybe(rng, share, options):
    return str(rng.choice(options)) if rng.random() < share else ""


def recipe(seed):
    """One random recipe; the same seed gives the same."""
    rng = np.random.default_rng((2107, seed))
    small = rng.random() < 0.45
    heads = float(rng.uniform(1.5, 2.6) if small else np.exp(rng.uniform(np.log(1.8), np.log(8))))
    neck = "neckless" if heads < 2.2 and rng.random() < 0.7 else str(rng.choice(["short", "long"], p=[0.75, 0.25]))
    if heads < 4 and neck == "long" and rng.random() < 0.6:
        neck = "short"
    face = str(rng.choice(["ball", "jaw", "muzzle"], p=[0.4, 0.4, 0.2])) if neck == "neckless" else str(
        rng.choice(["jaw", "muzzle", "cheeks"], p=[0.5, 0.2, 0.3])
    )
    rig = str(rng.choice(RIGS, p=[0.3, 0.3, 0.12, 0.28]))
    hair = _maybe(rng, 0.5, ["fused", "object", "oddly", "material", "bones"])
    made = Recipe(
        heads, neck, face, rig, str(rng.choice(["plain", "dotted", "prefixed", "joint", "numbered", "signs", "anonymous"])),
        str(rng.choice(["t", "a", "down", "raised"])), hair, _maybe(rng, 0.45, ["human", "cat", "rabbit", "floppy", "horns"]),
        "" if hair == "fused" else _maybe(rng, 0.2, ["Hat", "Object.003", "Sphere.001", "fused"]),
        tuple(one for one in ("scarf", "dress", "boots", "cape") if rng.random() < 0.18),
        _maybe(rng, 0.25, ["tail", "cape", "plinth", "block"]), bool(rng.random() < 0.12), bool(rng.random() < 0.12),
        float(rng.choice([0, rng.uniform(0, 2 * np.pi)])), float(np.exp(rng.uniform(-2, 1))),
        tuple(rng.choice([0.0, 30.0]) * rng.normal(size=3)), str(rng.choice(["z", "z", "y"])),
        int(rng.integers(2000, 15000)), seed, bool(rng.random() < 0.7),
    )
    return made if made.rig != "none" or made.hair != "bones" else recipe(seed + 100003)


def traits_of(one):
    """The feature classes of a recipe, for telling where measuring goes wrong."""
    found = {one.neck, one.face, f"arms {one.arms}", f"rig {one.rig}"}
    if one.rig in ("auto", "painted"):
        found.add(f"names {one.naming}")
    found |= {f"hair {one.hair}"} if one.hair else {"no hair"}
    found |= {f"ears {one.ears}"} if one.ears else set()
    found |= {f"hat {'fused' if one.hat == 'fused' else 'named' if one.hat == 'Hat' else 'oddly'}"} if one.hat else set()
    found |= set(one.wear) | ({f"below {one.below}"} if one.below else set())
    found |= {"lifted foot"} if one.lifted else set()
    found |= {"heels"} if one.heels else set()
    found |= {"+Y up"} if one.up == "y" else set()
    found |= {"turned"} if one.turn else set()
    found.add("1.5-2.5 heads" if one.heads < 2.5 else "2.5-4.5 heads" if one.heads < 4.5 else "4.5-8 heads")
    return frozenset(found)


def read_as_rigged(one):
    """Rigged with weights on a head bone that can be told by its name."""
    return one.rig in ("auto", "painted") and one.naming != "anonymous"
