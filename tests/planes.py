"""Planes through the middle of a yard, and the two ways in which poses are worked out."""

import math

import numpy as np
import pytest

from grounds import scattered
from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.readings import FloatArray

__all__ = ["LENGTH", "MIDDLE", "WAYS", "WIDTH", "at_middle", "sloping"]

WAYS = [
    pytest.param(
        True, id="compiled", marks=pytest.mark.skipif(not COMPILED, reason="numba is missing or switched off")
    ),
    pytest.param(False, id="numpy"),
]

LENGTH, WIDTH = 5.4, 3.6
MIDDLE = (15.0, 20.0)


def sloping(slope: float, bearing: float, shift: tuple[float, float] = (0.0, 0.0)) -> Ground:
    """A plane at level 20 in the middle of the yard that rises by ``slope`` in the direction of ``bearing``."""
    sine, cosine = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    return scattered(
        200, lambda east, north: 20 + slope * ((east - MIDDLE[0]) * sine + (north - MIDDLE[1]) * cosine), shift=shift
    )


def at_middle(bearing: float, shift: tuple[float, float] = (0.0, 0.0)) -> FloatArray:
    """One pose in the middle of the yard."""
    return np.array([[MIDDLE[0] + shift[0], MIDDLE[1] + shift[1], bearing]])
