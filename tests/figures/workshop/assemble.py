"""From a recipe to pieces in design space, sorted into the objects they will be."""

from dataclasses import dataclass, replace

import numpy as np

from .bodies import Body, make_body
from .hair import make_hair
from .heads import Head, make_head, under_hair, with_face
from .headwear import make_ears, make_hat
from .recipe import Recipe
from .shapes import Piece
from .styles import remeshed, sculpted, skin_cage, subdivided, united
from .truth import Truth, find_truth, hidden_chin, swallowed
from .wear import make_worn

CAGED = ("cage", "skin")
UNITED = ("remesh", "sculpt", "boolean")
LEVELS = 2


class SpoiltError(Exception):
    """The recipe makes a figure whose truth does not show; the text says which."""


@dataclass(frozen=True)
class Assembly:
    """``objects`` are the pieces of each object by its key in ``naming``; ``parts`` are all
    pieces before they were united, to know what a vertex is of."""

    recipe: Recipe
    head: Head
    body: Body
    truth: Truth
    objects: dict[str, list[Piece]]
    parts: list[Piece]


def assemble(recipe: Recipe) -> Assembly:
    """Raises SpoiltError when the skull's lowest place is no chin, or neck or body hide it."""
    rng = np.random.default_rng((recipe.seed, 7))
    head = make_head(recipe, rng, recipe.heads - 1)
    body = make_body(recipe, rng)
    hair = make_hair(recipe, head, rng)
    ears, hat = make_ears(recipe, head, rng), make_hat(recipe, head, rng)
    worn = make_worn(recipe, body, head, rng)
    if recipe.style == "skin":
        body = replace(body, pieces=(_stick_body(recipe, body), *_soles(body)))
    truth = _truth(recipe, head, body, hair)
    flesh = list(body.pieces)
    parts = [head.shell, *flesh, *head.inner, *hair, *ears, *hat, *worn]
    return Assembly(recipe, head, body, truth, _sorted(recipe, head, flesh, _Loose(hair, ears, hat, worn)), parts)


def _truth(recipe: Recipe, head: Head, body: Body, hair: list[Piece]) -> Truth:
    def shown(piece: Piece) -> Piece:
        return subdivided(piece, LEVELS) if recipe.style in CAGED else piece

    flesh = [shown(piece) for piece in body.pieces]
    feet = [piece for piece in flesh if piece.label in ("foot.L", "foot.R", "body")]
    cover = None
    if recipe.hair_made == "open":
        half = len(hair[0].points) // 2
        cover = Piece("cover", hair[0].points[half:], ())
    truth = find_truth(shown(head.shell), feet, cover)
    if isinstance(truth, str):
        raise SpoiltError(truth)
    if hidden_chin(truth, flesh):
        raise SpoiltError("neck or body hide the chin")
    return truth


def _stick_body(recipe: Recipe, body: Body) -> Piece:
    joints, thick = body.joints, body.thick
    wide = abs(float(joints["leftUpperLeg"][0])) + thick * 0.3
    sizes = {"hips": wide, "spine": wide * 0.95, "chest": wide, "neck": body.neck_radius}
    links = [("hips", "spine"), ("spine", "chest"), ("chest", "neck")]
    if recipe.neck != "neckless":
        sizes["head"] = body.neck_radius * 0.9
        links.append(("neck", "head"))
    for side in ("left", "right"):
        arm = [side + name for name in ("UpperArm", "LowerArm", "Hand", "Fingers")]
        leg = [side + name for name in ("UpperLeg", "LowerLeg", "Foot", "Toes")]
        sizes |= dict.fromkeys(arm, thick * 0.75) | dict.fromkeys(leg, thick * 0.8)
        sizes[leg[2]] = sizes[leg[3]] = min(thick * 0.8, 0.09)
        for chain, start in ((arm, "chest"), (leg, "hips")):
            links += list(zip([start, *chain], chain, strict=False))
    bones = tuple(name for name in joints if name not in ("top", "crotch") and "Fingers" not in name and "End" not in name)
    like = Piece("body", np.zeros((0, 3)), (), "cloth", tuple(name for name in bones if name != "head"))
    return skin_cage({name: joints[name] for name in sizes}, sizes, links, like)


def _soles(body: Body) -> list[Piece]:
    return [piece for piece in body.pieces if piece.label.startswith("foot")]


@dataclass(frozen=True)
class _Loose:
    """The pieces that were not there when the bodies were made."""

    hair: list[Piece]
    ears: list[Piece]
    hat: list[Piece]
    worn: list[Piece]


def _sorted(recipe: Recipe, head: Head, flesh: list[Piece], loose: _Loose) -> dict[str, list[Piece]]:
    apart, many = recipe.grouping != "one", recipe.grouping == "many"
    skull_pieces, flesh_pieces = _skins(recipe, head, flesh, loose)
    objects: dict[str, list[Piece]] = {"body": list(flesh_pieces)}
    head_key = "head" if apart else "body"

    def put(key: str, piece: Piece) -> None:
        objects.setdefault(key, []).append(piece)

    for piece in skull_pieces:
        put("face" if piece.label == "face" and recipe.face == "object" else head_key, piece)
    for piece in head.inner:
        put(head_key if not many else "eyes" if piece.label == "eye" else "mouth", piece)
    if recipe.ears_made != "joined":
        for piece in loose.ears:
            put("ears", piece)
    if recipe.hair_made != "fused":
        for piece in loose.hair:
            front = piece.label == "hair_front" and recipe.seed % 2 == 0
            put(head_key if recipe.hair_made == "joined" else "hair_front" if front else "hair", piece)
    for piece in [*loose.hat, *loose.worn]:
        own = piece.label in ("prop", "plate") or (apart and recipe.seed % 5 != 0)
        put(piece.label if own else "body", piece)
    if recipe.materials == "one":
        objects = {key: [replace(one, material="skin") for one in pieces] for key, pieces in objects.items()}
    return {key: pieces for key, pieces in objects.items() if pieces}


def _skins(
    recipe: Recipe, head: Head, flesh: list[Piece], loose: _Loose
) -> tuple[list[Piece], list[Piece]]:
    """The skin of the head with what is grown onto it, and that of the body; united where it is."""
    grown = list(loose.ears) if recipe.ears_made == "joined" else []
    if recipe.hair_made == "fused":
        grown += loose.hair
    if recipe.grouping == "headneck":
        grown += [piece for piece in flesh if piece.label == "neck"]
        flesh = [piece for piece in flesh if piece.label != "neck"]
    if recipe.style in UNITED:
        skull = [head.shell, *grown]
        if recipe.grouping == "one":
            return _face_of(recipe, head, _one_skin(recipe, [*skull, *flesh])), []
        return _face_of(recipe, head, _one_skin(recipe, skull)), [_one_skin(recipe, flesh)]
    shells = with_face(head, recipe)
    if recipe.hair_made == "open":
        shells = [one.only(~under_hair(one.middles - head.offset - (0, 0, 0.06))) for one in shells]
    return [*shells, *grown], flesh


def _one_skin(recipe: Recipe, pieces: list[Piece]) -> Piece:
    if recipe.style == "boolean":
        made = united(pieces)
        if swallowed(pieces, made):
            raise SpoiltError("uniting lost a piece")
        return made
    voxel = 0.022 * max(1.0, recipe.heads / 3.5)
    made = remeshed(pieces, voxel)
    return sculpted(made, 0.008, recipe.seed) if recipe.style == "sculpt" else made


def _face_of(recipe: Recipe, head: Head, skin: Piece) -> list[Piece]:
    if recipe.face == "plain":
        return [skin]
    local = skin.middles - head.offset
    face = (local[:, 1] < -0.12) & (local[:, 2] < 0.72) & (local[:, 2] > 0.0) & (np.abs(local[:, 0]) < head.skull.width / 2)
    return [replace(skin.only(face), label="face", material="face"), replace(skin.only(~face))]

