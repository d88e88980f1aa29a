"""What must be known of a ground to say how sure a plan on it is, whether shots describe it or a raster."""

from __future__ import annotations

from typing import Protocol

from spadework.readings import FloatArray

__all__ = ["SureGround"]


class SureGround(Protocol):
    """A ground that says how high it is expected to be, and how sure that is.

    Where the doubt itself is in doubt it answers by several models, each with its weight, shape (p,).
    """

    @property
    def weight(self) -> FloatArray:
        """Weight of each model, shape (p,); they sum to one."""

    @property
    def reading_variance(self) -> float:
        """Variance of one more reading, roughness included. [m²]"""

    @property
    def instrument_sd(self) -> float:
        """Usual standard deviation of what was read: a shot's level, or a raster's. [m]"""

    def spacing(self, points: FloatArray) -> float:
        """Return how far apart what was read stands near points, shape (k, 2). [m]"""

    def mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return expected level and standard deviation at points, shape (k,) each. [m]"""

    def parts_mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the same by each model, shape (p, k) each. [m]"""

    def between(self, points: FloatArray) -> FloatArray:
        """Return the covariance of the ground at points, shape (k, k). [m²]"""

    def samples(self, points: FloatArray, count: int, *, seed: int = 0) -> FloatArray:
        """Return grounds drawn jointly at points, shape (count, k). [m]"""

    def measuring(self, points: FloatArray, weight: FloatArray) -> float:
        """Return the part of the variance of a weighted sum that errors of what was read make."""
