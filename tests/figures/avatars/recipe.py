"""What an invented figure is made of, drawn from a seed. Lengths in heads, angles in degrees."""

from dataclasses import dataclass, fields

import numpy as np

NAMED = ("object", "material", "bones")
HIDDEN = ("unnamed object", "unnamed bones", "within")


@dataclass(frozen=True)
class HeadShape:
    """``wide``, ``front``, ``back``: half sizes; ``level`` the widest height; ``dome`` roundness.

    ``jaw`` is the chin level's share of the width, ``chin`` of the front; ``slope`` how steeply
    the underside rises from the chin to the neck, ``nape`` how much higher the back ends.
    """

    form: str
    wide: float
    front: float
    back: float
    level: float
    dome: float
    square: float
    jaw: float
    chin: float
    corner: float
    slope: float
    nape: float
    flat: float
    nose: float
    muzzle: float
    cheeks: float
    eye: float


@dataclass(frozen=True)
class Recipe:
    """One figure. ``worn`` is (kind, mode, size) for each thing worn or grown."""

    kind: str
    heads: float
    head: HeadShape
    neck: float
    neck_radius: float
    overlap: float
    joint: str
    objects: str
    pose: float
    feet: str
    leg_bones: bool
    worn: tuple[tuple[str, str, float], ...]
    skull_hidden: bool
    rig: str
    smooth: float
    head_limit: float
    neck_bone: bool
    head_bone_off: float
    extra_bones: bool
    around: int
    split: bool
    plate: str
    floating: float
    turn: float
    scale: float
    offset: tuple[float, float, float]
    metres_per_unit: float
    surfaces: bool

    def features(self) -> tuple[str, ...]:
        """The classes of feature by which errors are grouped."""
        limb = "raised" if self.pose > 20 else "T" if self.pose > -20 else "A" if self.pose > -65 else "down"
        found = [
            "heads " + ("1.5-2.5" if self.heads < 2.5 else "2.5-4" if self.heads < 4 else "4-8"),
            f"head {self.head.form}", "neckless" if not self.neck else "long neck" if self.neck > 0.25 else "short neck",
            f"joint {self.joint}", f"objects {self.objects}", f"arms {limb}", f"feet {self.feet}",
            f"rig {self.rig}", "points " + ("few" if self.around < 12 else "some" if self.around < 32 else "many"),
        ]
        found += [f"{kind}, {'named' if mode in NAMED else mode}" for kind, mode, _ in self.worn]
        flags = {
            "no worn things": not self.worn, "skull hidden": self.skull_hidden, "weights rigid": self.kind == "rigged" and not self.smooth,
            "no neck bone": self.kind == "rigged" and not self.neck_bone, "no leg bones": self.kind == "rigged" and not self.leg_bones,
            f"plate {self.plate}": bool(self.plate), "floating": self.floating > 0, "split triangles": self.split,
            "muzzle": self.head.muzzle > 0, "no nose": not self.head.nose and not self.head.muzzle,
            "receding underside": self.head.form != "ball" and self.head.slope < 0,
        }
        return tuple(found + [name for name, true in flags.items() if true])

    def short(self) -> str:
        """One line with all that was drawn."""
        def say(value):
            if isinstance(value, float):
                return f"{value:.3g}"
            return "+".join(f"{k}({m} {s:.2f})" for k, m, s in value) if isinstance(value, tuple) and value and isinstance(value[0], tuple) else str(value)
        head = " ".join(f"{entry.name}={say(getattr(self.head, entry.name))}" for entry in fields(self.head))
        rest = " ".join(f"{entry.name}={say(getattr(self, entry.name))}" for entry in fields(self) if entry.name not in ("head", "offset"))
        return f"{rest} | head: {head}"


def _head(rng, neckless):
    form = str(rng.choice(["round", "egg", "chibi", "boxy"] + (["ball"] if neckless else [])))
    wide = {"round": (0.4, 0.5), "egg": (0.34, 0.42), "chibi": (0.48, 0.62), "boxy": (0.4, 0.55), "ball": (0.42, 0.55)}[form]
    dome = {"boxy": (2.6, 3.6), "ball": (2.6, 3.5)}.get(form, (1.9, 2.4))
    muzzle = rng.uniform(0.05, 0.2) if rng.random() < 0.15 else 0.0
    return HeadShape(
        form, rng.uniform(*wide), rng.uniform(0.38, 0.5), rng.uniform(0.38, 0.55), rng.uniform(0.35, 0.55),
        rng.uniform(*dome), rng.uniform(0.6, 0.8) if form == "boxy" else rng.uniform(0.85, 1.0),
        rng.uniform(0.25, 0.5) if form == "egg" else rng.uniform(0.35, 0.75), rng.uniform(0.65, 1.06), rng.uniform(0.01, 0.05),
        rng.uniform(0, 14) if neckless else rng.uniform(-6, 28), rng.uniform(0, 0.08) if neckless else rng.uniform(0.06, 0.28),
        rng.uniform(0, 0.6), 0.0 if muzzle or rng.random() < 0.3 else rng.uniform(0.02, 0.1), muzzle,
        rng.uniform(0.02, 0.07) if form == "chibi" or rng.random() < 0.2 else 0.0, rng.uniform(0.33, 0.52),
    )


def _mode(rng, kind):
    choices = ["object", "material", "within", "unnamed object"]
    if kind == "rigged":
        choices += ["bones", "bones", "unnamed bones"]
    return str(rng.choice(choices))


def _worn(rng, kind, around):
    worn = []
    if rng.random() < 0.65:
        mode = _mode(rng, kind)
        on_head = mode.endswith("bones") and rng.random() < 0.3
        worn.append(("hair cap", "within" if on_head else mode, rng.uniform(0.02, 0.1)))
        for name, chance in (("fringe", 0.5), ("spikes", 0.2), ("bun", 0.12), ("ponytail", 0.18), ("long hair", 0.25), ("side locks", 0.15), ("twin tails", 0.1)):
            if rng.random() < chance:
                worn.append((name, mode, rng.uniform(0.0, 1.0)))
    for name, chance in (
        ("ears up", 0.2), ("ears floppy", 0.1), ("ears human", 0.3), ("horns", 0.1), ("hat brim", 0.1), ("hat tall", 0.06), ("cap close", 0.06),
        ("coronet", 0.05), ("feeler", 0.05), ("collar", 0.15), ("backpack", 0.1), ("cape", 0.12), ("tail", 0.12), ("dress", 0.15),
        ("headphones", 0.06), ("ribbon", 0.06), ("halo", 0.04), ("glasses", 0.08), ("beard", 0.05), ("shirt", 0.3),
    ):
        taken = {entry[0] for entry in worn}
        clash = (name.startswith("hat") and "hat brim" in taken) or (name == "cap close" and taken & {"hat brim", "hat tall"})
        if rng.random() < chance and not clash:
            mode = _mode(rng, kind)
            worn.append((name, mode.replace("bones", "object").replace("unnamed ", "") if name == "shirt" else mode, rng.uniform(0.0, 1.0)))
    for name in ("ears drawn out", "quiff drawn out"):
        if around >= 20 and rng.random() < 0.1 and not {entry[0] for entry in worn} & {"hair cap", "cap close"}:
            worn.append((name, "within", rng.uniform(0.0, 1.0)))
    return tuple(worn)


def draw(seed: int, kind: str) -> Recipe:
    """The recipe of one seed; ``kind`` is rigged or shape."""
    rng = np.random.default_rng([seed, 17 if kind == "rigged" else 23])
    heads = rng.uniform(1.5, 3.0) if rng.random() < 0.55 else rng.uniform(3.0, 8.0)
    neckless = bool(rng.random() < (0.75 if heads < 2.2 else 0.35 if heads < 3 else 0.02))
    head = _head(rng, neckless)
    around = int(rng.choice([8, 10, 12, 16, 20, 24, 32, 48, 72], p=[0.08, 0.1, 0.15, 0.2, 0.15, 0.15, 0.1, 0.05, 0.02]))
    worn = _worn(rng, kind, around)
    capped = {entry[0]: entry[1] for entry in worn}
    hidden = capped.get("hair cap") in ("object", "bones") and bool(rng.random() < 0.25)
    joint = str(rng.choice(["bridged", "overlapping"] if neckless else ["bridged", "bridged", "neck on head", "neck on body"]))
    rigged = kind == "rigged"
    scaled = rng.random() < 0.4
    pose = float(rng.choice([-80, -50, -35, 0, 0, 60], p=[0.3, 0.2, 0.15, 0.15, 0.1, 0.1]))
    pose = 0.0 if pose > 20 and heads < 4 else pose
    return Recipe(
        kind, heads, head, 0.0 if neckless else rng.uniform(0.05, 0.2) if heads < 4 or rng.random() < 0.4 else rng.uniform(0.2, 0.4),
        rng.uniform(0.12, 0.17) if head.form == "ball" else rng.uniform(0.12, 0.2) if heads < 4 else rng.uniform(0.16, 0.24),
        rng.uniform(0.02, 0.1), joint, "one" if joint == "bridged" else str(rng.choice(["one", "head apart", "all apart"])),
        pose + rng.uniform(-5, 5),
        str(rng.choice(["bare", "shoe", "boot", "heel", "lifted", "pointed"], p=[0.25, 0.3, 0.2, 0.1, 0.08, 0.07])),
        not (bool(rng.random() < (0.5 if "dress" in capped else 0.04))), worn, hidden,
        str(rng.choice(["plain", "low", "joint", "prefixed", "japanese", "chain", "numbered"], p=[0.25, 0.2, 0.15, 0.12, 0.12, 0.1, 0.06])) if rigged else "none",
        0.0 if rng.random() < 0.3 else rng.uniform(0.15, 0.6), rng.uniform(3.7, 4.7), bool(rng.random() < (0.5 if neckless else 0.9)),
        rng.uniform(-0.04, 0.12), bool(rng.random() < 0.5), around,
        bool(rng.random() < 0.08 and around < 40), str(rng.choice(["Base", "Plinth", "unnamed"])) if rng.random() < 0.1 else "",
        rng.uniform(0.05, 0.5) if rng.random() < 0.12 else 0.0, 0.0 if rng.random() < 0.5 else rng.uniform(-np.pi, np.pi),
        float(10 ** rng.uniform(-2, 2)) if scaled else 1.0,
        tuple(rng.uniform(-5, 5, 3)) if rng.random() < 0.5 else (0.0, 0.0, 0.0),
        0.01 if rng.random() < 0.15 else 1.0, bool(rng.random() < 0.15),
    )
