"""What is named the face, and what its lower end says of the chin."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.proportion.face.chin_fit import FaceOutline
from evenfold.core.proportion.parts.body import gather
from evenfold.core.proportion.parts.words import is_face
from evenfold.core.settings import Settings
from figures.people import Person, keeper

PERSON = Person(height=1.8, head=0.3, neck=0.1, build="separate")
METHOD = "lower end of what is named the face"


@pytest.mark.parametrize("name", ["Face", "face_skin", "BodyFace", "CookFace.001", "mat-face", "顔", "顔_肌", "フェイス", "フェイス01"])
def test_the_face_is_known_by_its_name(name):
    assert is_face(name)


@pytest.mark.parametrize("name", [
    "FaceEye", "face_eyelash", "FaceBrow.001", "Face Mouth", "face_teeth", "Face-Paint", "FaceDecal", "FaceShadow", "Mask_Face",
    "顔_目", "顔の眉", "顔影", "フェイス_口", "Skin", "Surface", "Faceless", "Interface", "Head", "肌", "目",
])
def test_what_is_drawn_on_a_face_and_other_words_are_not_its_skin(name):
    assert not is_face(name)


def named(figure, chosen, materials=("Skin", "Face")):
    """The head's triangles all of whose corners ``chosen`` says yes to have the second material."""
    def painted(part):
        rows = chosen(part.points)[part.triangles].all(axis=1)
        return replace(part, materials=materials, triangle_material=rows.astype(np.int64))

    return replace(figure, parts=tuple(painted(part) if part.name == "Head" else part for part in figure.parts))


def front(low, high=1.66):
    return lambda at: (at[:, 2] > low - 1e-6) & (at[:, 2] < high) & (at[:, 1] < 1e-6)


@pytest.mark.parametrize("material", ["Face", "顔"])
def test_the_triangles_of_a_face_material_are_the_face(material):
    figure = named(keeper(PERSON), front(1.5), ("Skin", material))
    body = gather(figure)
    assert body.face.any()
    assert front(1.5)(body.points[body.face]).all()
    assert not gather(named(keeper(PERSON), front(1.5), ("Skin", "FaceEye"))).face.any()


@pytest.mark.parametrize(("name", "materials"), [("Face", ()), ("顔", ("Skin",)), ("Cook_Face", ("Skin", "Lips"))])
def test_an_object_named_the_face_is_all_face(name, materials):
    figure = keeper(PERSON)
    parts = tuple(replace(part, name=name, materials=materials) if part.name == "Head" else part for part in figure.parts)
    body = gather(replace(figure, parts=parts))
    (own,) = [part for part in figure.parts if part.name == "Head"]
    assert body.face.sum() == len(own.points)
    assert np.isin(np.round(body.points[body.face], 9), np.round(own.points, 9)).all()


def test_one_material_for_the_whole_figure_tells_no_face():
    figure = keeper(PERSON)
    parts = tuple(replace(part, materials=("Face",), triangle_material=np.zeros(len(part.triangles), np.int64)) for part in figure.parts)
    assert not gather(replace(figure, parts=parts)).face.any()


def told(figure):
    found = measure(figure, Settings())
    return found, {reading.method: reading for reading in found.landmarks["chin"].readings}


@pytest.mark.parametrize("low", [1.5, 1.4])
def test_the_lower_end_of_the_face_is_read_and_leads_nowhere(low):
    """The face's skin ends at the chin, or goes on down the neck."""
    plain, _ = told(keeper(PERSON))
    found, readings = told(named(keeper(PERSON), front(low)))
    assert readings[METHOD].height == pytest.approx(low, abs=1e-6)
    assert found.heads_tall == plain.heads_tall == pytest.approx(6.0, rel=0.005)
    assert found.landmarks["chin"].evidence != METHOD
    assert found.low <= plain.low <= plain.high <= found.high


@pytest.mark.parametrize(("low", "is_wider"), [(1.5, False), (1.4, True), (1.53, False), (1.6, True)])
def test_a_face_that_ends_elsewhere_than_the_chin_widens_the_range_to_its_side(low, is_wider):
    plain, _ = told(keeper(PERSON))
    found, readings = told(named(keeper(PERSON), front(low, 1.76)))
    one, other = plain.landmarks["chin"], found.landmarks["chin"]
    assert METHOD in readings
    assert other.low < one.low if is_wider and low < 1.5 else other.low == one.low
    assert other.high > one.high if is_wider and low > 1.5 else other.high == one.high


@pytest.mark.parametrize("chosen", [
    lambda at: front(1.5)(at) & (np.abs(at[:, 0]) < 0.03),
    front(1.5, 1.55),
    lambda at: front(1.5)(at) & (at[:, 2] > 9),
], ids=["a strip", "a band", "nothing"])
def test_a_strip_or_a_band_that_is_named_so_says_nothing(chosen):
    found, readings = told(named(keeper(PERSON), chosen))
    plain, _ = told(keeper(PERSON))
    assert METHOD not in readings
    assert (found.low, found.heads_tall, found.high) == (plain.low, plain.heads_tall, plain.high)


@pytest.mark.parametrize("low", [1.4, 1.47, 1.53])
def test_the_face_does_not_lead_where_only_weights_tell_the_chin(low, monkeypatch):
    monkeypatch.setattr(FaceOutline, "chin_over", lambda *asked: None)
    plain, before = told(keeper(PERSON))
    found, readings = told(named(keeper(PERSON), front(low)))
    assert set(readings) - set(before) == {METHOD}
    assert found.landmarks["chin"].evidence == plain.landmarks["chin"].evidence
    assert found.heads_tall == plain.heads_tall
