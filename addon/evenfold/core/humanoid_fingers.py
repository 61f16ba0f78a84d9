"""Fingers: chains below a hand, told apart by name, else by number or by distance from the thumb."""

import numpy as np

from .figure import Bone
from .humanoid_table import FINGERS, PHALANGES, THUMB
from .humanoid_words import Name


def find_fingers(
    bones: list[Bone], names: dict[str, Name], above: dict[str, tuple[str, ...]], hand: str | None
) -> dict[str, str]:
    """Finger bones of one side by the standard's names without their side ("IndexProximal")."""
    found: dict[str, str] = {}
    for finger in ("Thumb", *FINGERS):
        mine = [bone for bone in bones if finger in names[bone.name].parts]
        chain = _chain(mine, names, above)
        if finger != "Thumb" and len(chain) > 1:
            chain = [name for name in chain if not names[name].metacarpal] or chain
        links = THUMB if finger == "Thumb" else PHALANGES
        found |= {f"{finger}{link}": name for link, name in zip(links, chain, strict=False)}
    plain = [bone for bone in bones if "Finger" in names[bone.name].parts]
    if plain and hand is not None:
        thumb = next((bone for bone in bones if bone.name == found.get("ThumbMetacarpal")), None)
        found |= {part: name for part, name in _plain(plain, names, above, thumb).items() if part not in found}
    return found


def _chain(bones: list[Bone], names: dict[str, Name], above: dict[str, tuple[str, ...]]) -> list[str]:
    """The bones from the hand outward; where several chains bear the name, the best understood one."""
    own = {bone.name for bone in bones}
    starts = [bone.name for bone in bones if not own & set(above[bone.name])]
    if not starts:
        return []
    start = min(starts, key=lambda name: (names[name].strange, names[name].numbers, name))
    chain = [start]
    for bone in sorted(bones, key=lambda one: (len(above[one.name]), names[one.name].strange, one.name)):
        if chain[-1] in above[bone.name]:
            chain.append(bone.name)
    if len(chain) == 1 and len(starts) > 1:
        return sorted(starts, key=lambda name: (names[name].numbers, name))
    return chain


def _plain(
    bones: list[Bone], names: dict[str, Name], above: dict[str, tuple[str, ...]], thumb: Bone | None
) -> dict[str, str]:
    """Chains called finger alone: five by their numbers, thumb first; beside a thumb by distance from it."""
    own = {bone.name: bone for bone in bones}
    starts = [name for name in own if not set(own) & set(above[name])]
    chains = {start: [start, *sorted((n for n in own if start in above[n]), key=lambda n: len(above[n]))] for start in starts}
    if len(starts) == 5 and thumb is None:
        order = sorted(starts, key=lambda name: (names[name].numbers[-1:], name))
        fingers: tuple[str, ...] = ("Thumb", *FINGERS)
    elif thumb is not None and len(starts) <= 4:
        order = sorted(starts, key=lambda name: float(np.linalg.norm(own[name].head - thumb.head)))
        fingers = FINGERS if len(order) != 3 else ("Index", "Middle", "Little")
    else:
        return {}
    result: dict[str, str] = {}
    for finger, start in zip(fingers, order, strict=False):
        links = THUMB if finger == "Thumb" else PHALANGES
        result |= {f"{finger}{link}": name for link, name in zip(links, chains[start], strict=False)}
    return result

