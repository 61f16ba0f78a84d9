"""What an engine asks of a figure besides its symmetry."""

from ..figure import Figure
from ..findings import Readiness
from .face import face_readiness
from .humanoid import humanoid_readiness
from .joints import joints_readiness
from .names import names_readiness
from .transforms import transforms_readiness
from .weights import weights_readiness

__all__ = ["readiness_of_figure"]


def readiness_of_figure(figure: Figure) -> list[Readiness]:
    """The hand-off records of a figure: bones, joints, weights, face keys, names, placing of objects."""
    weights = [entry for one in figure.surfaces for entry in weights_readiness(one)]
    return [
        *humanoid_readiness(figure),
        *joints_readiness(figure),
        *weights,
        *face_readiness(figure.surfaces),
        *names_readiness(figure),
        *transforms_readiness(figure),
    ]
