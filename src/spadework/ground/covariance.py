"""How alike the ground is at two places: the Matérn covariance, shown in words that a person can check."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_length

__all__ = ["SMOOTHNESS", "Covariance", "correlation", "distances"]

SMOOTHNESS = (0.5, 1.5, 2.5)
"""Orders of the Matérn covariance that have a closed form: rough, once and twice differentiable ground."""


@dataclass(frozen=True, slots=True)
class Covariance:
    """Matérn covariance of the ground about its mean plane.

    With ``r = √(2ν) d / length``: ``sd² exp(-r)`` for ν = 1/2, ``sd² (1 + r) exp(-r)`` for 3/2 and
    ``sd² (1 + r + r²/3) exp(-r)`` for 5/2. Source: C. E. Rasmussen and C. K. I. Williams, *Gaussian Processes for
    Machine Learning* (MIT Press, 2006), equations 4.14 to 4.17, https://gaussianprocess.org/gpml/.

    Parameters
    ----------
    sd : float
        Standard deviation of the ground about the plane. [m]
    length : float
        Length scale: how far apart two places begin to differ. [m]
    smoothness : float
        Order ν: 0.5, 1.5 or 2.5.
    roughness : float
        Standard deviation of what a rod's foot finds that its neighbour, a hand's breadth off, does not: grass, clods.
        It is added to the noise of every shot. [m]
    """

    sd: float
    length: float
    smoothness: float = 1.5
    roughness: float = 0.001

    def __post_init__(self) -> None:
        if self.smoothness not in SMOOTHNESS:
            raise ValueError(f"smoothness {self.smoothness} is none of {', '.join(map(str, SMOOTHNESS))}")
        if not (self.sd > 0 and self.length > 0 and self.roughness >= 0):
            raise ValueError("sd and length are above 0, roughness is not below")

    def __str__(self) -> str:
        """Return the covariance in words, in metres."""
        return self.words(LengthUnit.METRE)

    def words(self, unit: LengthUnit) -> str:
        """Return the covariance in words, in the user's unit."""
        order = {0.5: "1/2", 1.5: "3/2", 2.5: "5/2"}[self.smoothness]
        sd, length = format_length(self.sd, unit), format_length(self.length, unit, step=1)
        return f"Matérn {order}: the ground leaves its mean plane by {sd} (sd), alike over {length}"

    def of(self, distance: FloatArray) -> FloatArray:
        """Return the covariance at given distances, roughness left out. [m²]"""
        value: FloatArray = self.sd**2 * correlation(distance, self.length, self.smoothness)[0]
        return value


def correlation(distance: FloatArray, length: float, smoothness: float) -> tuple[FloatArray, FloatArray]:
    """Return the Matérn correlation and its derivative by the logarithm of the length scale.

    Parameters
    ----------
    distance : array
        Plan distances. [m]
    length : float
        Length scale. [m]
    smoothness : float
        0.5, 1.5 or 2.5.

    Returns
    -------
    value, slope : array
        Shape of ``distance``.
    """
    r = distance * (math.sqrt(2 * smoothness) / length)
    fade = np.exp(-r)
    if smoothness == 0.5:
        return fade, r * fade
    if smoothness == 1.5:
        return (1 + r) * fade, r * r * fade
    return (1 + r + r * r / 3) * fade, r * r * (1 + r) / 3 * fade


def distances(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return plan distances between two sets of places, shape (n, m). [m]

    Parameters
    ----------
    one, other : array, shape (n, 2) and (m, 2)
        East and north. [m]
    """
    between: FloatArray = np.hypot(one[:, 0, None] - other[None, :, 0], one[:, 1, None] - other[None, :, 1])
    return between
