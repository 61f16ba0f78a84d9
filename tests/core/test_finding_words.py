"""What a finding says it is about."""

import numpy as np
import pytest
from evenfold.core.findings import Finding


def finding(count=1, kind="bone", subject=None, names=(), partners=()):
    numbers = np.arange(count)
    return Finding("bone-drifted", numbers, numbers, np.zeros(count), subject, kind=kind, names=names, partner_names=partners)


@pytest.mark.parametrize(("made", "said"), [
    (finding(names=("Hand.L",), partners=("Hand.R",)), "Hand.L / Hand.R"),
    (finding(names=("Spine",), partners=(None,)), "Spine"),
    (finding(names=("Spine",), partners=("Spine",)), "Spine"),
    (finding(names=("Ear2.L",), partners=("Ear2.R",), subject="stiffness"), "stiffness: Ear2.L / Ear2.R"),
    (finding(4, names=("A.L", "B.L", "C.L", "D.L"), partners=("A.R", "B.R", "C.R", "D.R")), "A.L / A.R, B.L / B.R, C.L / C.R +1"),
    (finding(kind="vertex", subject="Ear.L / Ear.R"), "Ear.L / Ear.R"),
    (finding(kind="vertex"), ""),
])
def test_bones_are_named_with_their_counterparts(made, said):
    assert made.whose == said
