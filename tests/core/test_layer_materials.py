"""Materials of face pairs; counterparts by name answer each other. Invented figures."""

import numpy as np
import pytest
from figures.layered import MATERIALS, layered
from figures.layered_parts import LEFT, RIGHT, face_twins, findings, part


def painted(made, faces, slot):
    slots = made.layers.face_material.copy()
    slots[faces] = slot
    return made.changed(face_material=slots)


def of_body(made, side):
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])
    skin = made.layers.face_material == MATERIALS.index("Skin")
    return np.flatnonzero((made.face_piece == 0) & skin & (x * side > 0))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("seed", range(8))
def test_faces_with_another_material_than_their_partner_come_back(seed, side):
    made = layered(seed)
    faces = np.random.default_rng(seed).choice(of_body(made, side), 6, replace=False)
    (found,) = findings(painted(made, faces, MATERIALS.index("Coat")).surface)
    twins = np.array(face_twins(made))
    left = np.sort(faces if side > 0 else twins[faces])
    assert (found.code, found.kind) == ("material-unmatched", "face")
    assert found.elements.tolist() == left.tolist()
    assert found.partners.tolist() == twins[left].tolist()
    assert found.subject == ("Coat / Skin" if side > 0 else "Skin / Coat")
    assert set(found.vertices) == {v for face in left for v in made.faces[face]}


def test_one_finding_for_each_pair_of_materials():
    made = layered(3)
    faces = of_body(made, 1)[:9]
    mixed = painted(painted(made, faces[:5], 1), faces[5:], 2)
    assert {one.subject: one.count for one in findings(mixed.surface)} == {"Coat / Skin": 5, "Eye.L / Skin": 4}


def test_left_and_right_materials_answer_each_other_and_equal_names_do():
    made = layered(4)
    assert findings(made.surface) == []
    named = made.changed(materials=("Skin", "Skin", "Iris", "Iris"))
    assert findings(painted(named, of_body(named, 1)[:9], 1).surface) == []
    (found,) = findings(made.changed(materials=("Skin", "Coat", "Eye.L", "Iris")).surface)
    assert (found.subject, found.count) == ("Eye.L / Iris", int((made.face_piece == 1).sum()))


def test_slots_without_a_material_and_numbers_beyond_the_slots():
    made = layered(5)
    (found,) = findings(painted(made.changed(materials=("", "Coat", "Eye.L", "Eye.R")), of_body(made, 1)[:2], 1).surface)
    assert found.subject == "Coat / none"
    (last,) = findings(painted(made.changed(materials=MATERIALS[:3]), of_body(made, 1)[:1], 1).surface)
    assert last.subject == "Coat / Skin"
    assert findings(painted(made.changed(materials=("Skin",)), of_body(made, 1)[:2], 7).surface) == []


@pytest.mark.parametrize("split", [False, True])
def test_two_objects_with_slots_of_their_own(split):
    made = layered(6)
    left, right = part(made, LEFT, "Glove.L", split), part(made, RIGHT, "Glove.R", split)
    assert findings(left, right) == []
    hit = painted(made, np.flatnonzero(made.face_piece == 2)[:3], MATERIALS.index("Skin"))
    (found,) = findings(left, part(hit, RIGHT, "Glove.R", split))
    assert (found.subject, found.count, found.partner_object) == ("Eye.L / Skin", 3, "Glove.R")
