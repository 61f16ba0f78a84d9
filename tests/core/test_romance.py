"""Spanish and French names of objects, materials and groups. Spellings: common practice, no source."""

from dataclasses import replace

import pytest
from evenfold.core.name_words import words_of
from evenfold.core.proportion import measure
from evenfold.core.proportion.parts.words import has_word, is_face, worn_word
from evenfold.core.settings import Settings
from evenfold.core.sides import counterpart
from figures.altered import carried, with_parts
from figures.people import Person, _ball, keeper


@pytest.mark.parametrize(("name", "said"), [
    ("Cabeza", ("head",)), ("TÊTE_01", ("head",)), ("Pestañas.L", ("eyelashes", "l")), ("Oreille.R", ("ear", "r")), ("MâchoireBasse", ("jaw", "basse")),
    ("œil_gauche", ("eye", "gauche")), ("Crinière", ("mane",)),
])
def test_words_are_put_into_english_with_and_without_accents(name, said):
    assert words_of(name) == said


@pytest.mark.parametrize("name", ["Pelo", "Barba", "Orejas", "Sombrero.001", "Cuernos", "Cola", "Cheveux", "Barbe", "Oreilles", "Chapeau", "Corne_L", "Épée", "Socle", "ひげ", "台座"])
def test_what_is_worn_or_grown_is_known(name):
    assert worn_word(name)


@pytest.mark.parametrize("name", ["Cuerpo", "Corps", "Piel", "Peau", "Colada", "Barbara", "Pelota", "Capa", "Cara", "Main", "がく"])
def test_other_words_are_not(name):
    """A layer and a cape, a name and a face are spelled alike."""
    assert worn_word(name) is None and not is_face(name)


def test_japanese_letters_are_left_alone():
    assert has_word("ひげ", frozenset(), ("ひげ",)) == "ひげ" and words_of("がく") == ("がく",)


def test_no_sides_are_made_of_them():
    """Which half they name is not read: what is paired by a mistake would be worse."""
    assert counterpart("Brazo_izquierda") is None


def test_a_beard_called_so_is_no_chin():
    figure = keeper(Person(height=1.5, head=0.5, neck=0.06, build="separate", rigged=False))
    points, faces = _ball((0.0, -0.2, 0.98), (0.07, 0.07, 0.14))
    found = measure(with_parts(figure, carried("Barba", (points, faces), None)), Settings())
    assert found.heads_tall == pytest.approx(3.0, rel=0.02)
    assert any("'Barba'" in one for one in found.guesses)
    plain = measure(replace(figure, parts=(*figure.parts, carried("Mesh.004", (points, faces), None))), Settings())
    assert plain.guesses != found.guesses
