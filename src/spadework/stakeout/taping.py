"""How well tapes find a point: the angle at which they cross, and the error to expect of the point.

Each taped distance ``d`` is off by its standard deviation ``s`` along its own direction ``u``. Least squares give the
point's covariance ``C = (Σ u uᵀ / s²)⁻¹`` and its expected error ``√trace C``; for two tapes that cross at an angle
``γ`` that is ``s √2 / sin γ``.

References
----------
E. M. Mikhail and G. Gracie, Analysis and Adjustment of Survey Measurements (1981), chapters 4 and 9: propagation of
variances and least squares of indirect observations (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from spadework.readings import FloatArray

__all__ = [
    "FLATTEST_CROSSING",
    "TAPE_SD",
    "THIRD_TIE_CROSSING",
    "KnownPoint",
    "best_crossing",
    "expected_error",
    "is_poor",
    "tape_covariance",
]

TAPE_SD = (
    0.005  # of one taped distance in a yard: end held over a mark, tape pulled level [m]; common practice, no source
)
THIRD_TIE_CROSSING = 45.0  # below this a third tape is worth its while: the error of two grows past 1.4 times [deg]
FLATTEST_CROSSING = 30.0  # two arcs that cross at less than this smear the point along them [deg]; common practice


@dataclass(frozen=True)
class KnownPoint:
    """A point to tape from.

    Parameters
    ----------
    name : str
        Its name.
    east, north : float
        Its position. [m]
    covariance : array, shape (2, 2), optional
        How well it is known, for a stake that was itself taped; a fixed point has none. [m²]
    """

    name: str
    east: float
    north: float
    covariance: FloatArray | None = None

    def distance(self, place: Sequence[float] | FloatArray) -> float:
        """Return the plan distance to a place. [m]"""
        return math.hypot(float(place[0]) - self.east, float(place[1]) - self.north)


def tape_covariance(points: Sequence[KnownPoint], place: Sequence[float] | FloatArray, sd: float) -> FloatArray:
    """Return the covariance of a place that is taped from points, shape (2, 2); infinite where they do not fix it.

    Parameters
    ----------
    points : sequence of KnownPoint
        What is taped from.
    place : sequence of float
        East and north. [m]
    sd : float
        Standard deviation of one taped distance. [m]
    """
    normal: FloatArray = np.zeros((2, 2))
    for point in points:
        length = point.distance(place)
        if length < 1e-6:
            continue
        along = np.array([float(place[0]) - point.east, float(place[1]) - point.north]) / length
        variance = sd**2 + (0.0 if point.covariance is None else float(along @ point.covariance @ along))
        normal = normal + np.outer(along, along) / variance
    least, most = np.linalg.eigvalsh(normal)
    if most <= 0 or least < most * 1e-9:
        return np.diag([math.inf, math.inf])
    covariance: FloatArray = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    return covariance


def expected_error(covariance: FloatArray) -> float:
    """Return the root mean square distance of a point from where it should be, ``√trace C``. [m]"""
    return math.sqrt(float(np.trace(covariance)))


def best_crossing(points: Sequence[KnownPoint], place: Sequence[float] | FloatArray) -> float:
    """Return the angle between the two tapes that cross most squarely at a place; NaN for fewer than two. [deg]

    Parameters
    ----------
    points : sequence of KnownPoint
        What is taped from.
    place : sequence of float
        East and north. [m]
    """
    best = math.nan
    for one, other in combinations(points, 2):
        a = (one.east - float(place[0]), one.north - float(place[1]))
        b = (other.east - float(place[0]), other.north - float(place[1]))
        if math.hypot(*a) < 1e-6 or math.hypot(*b) < 1e-6:
            continue
        angle = math.degrees(math.atan2(abs(a[0] * b[1] - a[1] * b[0]), a[0] * b[0] + a[1] * b[1]))
        if math.isnan(best) or abs(angle - 90) < abs(best - 90):
            best = angle
    return best


def is_poor(crossing: float, flattest: float = FLATTEST_CROSSING) -> bool:
    """Return whether two tapes cross too flatly to fix a point between them."""
    return crossing < flattest or crossing > 180 - flattest
