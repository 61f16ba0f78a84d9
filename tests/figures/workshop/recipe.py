"""A recipe says how one figure is built; ``draw`` makes one up from a seed."""

from dataclasses import dataclass

import numpy as np

NEGATIVES = ("bust", "head", "dog", "chair", "pair")


@dataclass(frozen=True)
class Recipe:
    """``kind`` is "figure" or one of NEGATIVES. The words are those the builders look for."""

    seed: int
    kind: str = "figure"
    heads: float = 2.5
    style: str = "shells"
    head: str = "egg"
    grouping: str = "one"
    materials: str = "many"
    neck: str = "thin"
    pose: str = "a"
    foot: str = "shoe"
    stance: str = "ground"
    hair: str = "none"
    hair_made: str = "apart"
    ears: str = "none"
    ears_made: str = "joined"
    hat: str = "none"
    extras: tuple[str, ...] = ()
    face: str = "plain"
    naming: str = "tidy"
    rig: str = "none"
    weights: str = "none"
    bones: str = "standard"
    head_bone: str = "top"
    helpers: tuple[str, ...] = ()
    posed: bool = False
    action: bool = False
    facing: float = 0.0
    placing: str = "applied"
    unit: str = "m"
    size: float = 0.4
    mirror: bool = False
    live: bool = False

    @property
    def rigged(self) -> bool:
        return self.rig != "none"

    @property
    def traits(self) -> tuple[tuple[str, str], ...]:
        """(trait, value) of what the tables are split by."""
        heads = "<2" if self.heads < 2 else "2-3.5" if self.heads < 3.5 else "3.5-5" if self.heads < 5 else "5+"
        return (
            ("heads", heads), ("style", self.style), ("head", self.head), ("grouping", self.grouping),
            ("neck", self.neck), ("pose", self.pose), ("stance", self.stance), ("foot", self.foot),
            ("hair", self.hair), ("hair made", self.hair_made), ("ears", self.ears), ("hat", self.hat),
            *(("extra", one) for one in self.extras), ("face", self.face), ("naming", self.naming), ("materials", self.materials),
            ("weights", self.weights), ("head bone", self.head_bone if self.rigged else "no rig"),
            ("placing", self.placing), ("mirror", "half stored" if self.mirror else "whole"),
        )


def draw_negative(seed: int) -> Recipe:
    """Something that no heads are counted on."""
    rng = np.random.default_rng((seed, 1))
    rig = "full" if rng.random() < 0.5 else "none"
    return Recipe(seed, NEGATIVES[seed % len(NEGATIVES)], rig=rig, weights="painted", size=float(rng.uniform(0.1, 0.6)))


def draw(seed: int) -> Recipe:
    """The recipe of a seed; the same in every Blender."""
    rng = np.random.default_rng(seed)

    def pick(**shares: float) -> str:
        names = list(shares)
        weights = np.array(list(shares.values()), float)
        return names[int(rng.choice(len(names), p=weights / weights.sum()))]

    def chance(share: float) -> bool:
        return bool(rng.random() < share)

    if chance(0.1):
        return draw_negative(seed)
    heads = float(rng.uniform(1.5, 3.5) if chance(0.68) else rng.uniform(3.5, 8.0))
    style = pick(shells=0.2, cage=0.2, skin=0.1, remesh=0.15, boolean=0.1, sculpt=0.1, lowpoly=0.15)
    head = pick(ball=0.18, box=0.1, egg=0.22, anime=0.24, muzzle=0.14, mouth=0.12)
    neck = pick(thin=0.45, thick=0.2, neckless=0.35) if heads < 3 else pick(thin=0.6, thick=0.4)
    hair = pick(none=0.2, cap=0.17, strands=0.17, long=0.12, bun=0.08, ponytail=0.08, twintails=0.09, spikes=0.09)
    unified = style in ("remesh", "sculpt", "boolean")
    hair_made = "none" if hair == "none" else (
        "fused" if style in ("remesh", "sculpt") and chance(0.28) else "open" if not unified and chance(0.25) else
        "joined" if chance(0.25) else "apart"
    )
    ears = pick(none=0.45, human=0.2, cat=0.13, rabbit=0.08, floppy=0.07, horns=0.07)
    hat = pick(none=0.66, cap=0.06, witch=0.05, helmet=0.06, hood=0.05, headphones=0.06, glasses=0.06)
    wanted = {
        "scarf": 0.1, "collar": 0.1, "hood": 0.07, "beard": 0.07, "tail": 0.12, "cape": 0.1, "skirt": 0.15,
        "held": 0.12, "beside": 0.06, "plate": 0.06,
    }
    extras = tuple(name for name, share in wanted.items() if chance(share))
    pose = pick(t=0.3, a=0.35, down=0.2, raised=0.15)
    stance = pick(ground=0.84, lifted=0.08, floating=0.08)
    mirror = style in ("cage", "lowpoly") and pose != "raised" and stance != "lifted" and chance(0.45)
    rig = "full" if chance(0.6) else "none"
    helpers = tuple(
        name for name, share in
        {"jaw": 0.35, "eyes": 0.4, "twist": 0.3, "ik": 0.3, "end": 0.35, "chains": 0.6}.items()
        if chance(share)
    )
    return Recipe(
        seed, "figure", heads, style, head,
        pick(one=0.35, head=0.25, headneck=0.15, many=0.25),
        "one" if chance(0.2) else "many",
        neck, pose, pick(shoe=0.4, stump=0.1, boot=0.25, heel=0.1, bare=0.15), stance,
        hair, hair_made, ears, "joined" if chance(0.6) else "apart", hat, extras,
        pick(plain=0.45, material=0.4, object=0.15),
        pick(tidy=0.4, studio=0.2, japanese=0.2, default=0.2),
        rig, pick(auto=0.4, painted=0.35, rigid=0.15, parented=0.1) if rig == "full" else "none",
        pick(standard=0.3, prefix=0.15, dotted=0.2, lower=0.1, spaced=0.15, japanese=0.1),
        pick(top=0.74, chin=0.13, nape=0.13), helpers, chance(0.25), chance(0.2),
        {"front": 0.0, "back": np.pi, "left": np.pi / 2, "right": -np.pi / 2, "any": float(rng.uniform(0, 6.28))}[
            pick(front=0.65, back=0.1, left=0.05, right=0.05, any=0.15)
        ],
        pick(applied=0.4, object=0.25, lying=0.15, empties=0.2),
        pick(m=0.7, cm=0.15, scaled=0.15), float(rng.uniform(0.15, 0.6)), mirror,
        style in ("cage", "skin") and chance(0.6),
    )
