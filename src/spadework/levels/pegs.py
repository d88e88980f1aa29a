"""Does the line of sight run level? The test between two pegs, and the corrections that follow from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError
from spadework.readings import FloatArray

__all__ = ["FIELD_LIMIT", "PegTest", "Reciprocal", "correct_sights", "curvature", "reciprocal_rise", "refraction"]

EARTH_RADIUS = 6_372_148.8
"""20,906,000 ft, the radius that the textbook tables go by. [m]"""
REFRACTION = 0.14
"""Refraction as a share of curvature, as the textbook tables of both have it (after Wolf and Ghilani)."""
FIELD_LIMIT = 0.003 / 100.0
"""0.003 ft in 100 ft, the largest error of the line of sight that the US Geological Survey works with. [m/m]"""


def curvature(distance: npt.ArrayLike) -> FloatArray:
    """Return how far the level surface falls below a level line: ``d^2 / 2 R``. [m]"""
    drop: FloatArray = np.square(np.asarray(distance, dtype=np.float64)) / (2.0 * EARTH_RADIUS)
    return drop


def refraction(distance: npt.ArrayLike, share: float = REFRACTION) -> FloatArray:
    """Return how far the air bends the line of sight down again. [m]"""
    bent: FloatArray = share * curvature(distance)
    return bent


def correct_sights(readings: npt.ArrayLike, lengths: npt.ArrayLike, *, collimation: float = 0.0) -> FloatArray:
    """Return rod readings as a line that is level all the way would have given them.

    ``reading - collimation d - (1 - 0.14) d^2 / 2 R``: what a line that rises, and a surface that falls away, add to
    the reading is taken off. Where backsight and foresight are equally long both fall out of the difference.

    Parameters
    ----------
    readings : array, shape (n,)
        Rod readings. [m]
    lengths : array, shape (n,)
        Length of each sight; where it is NaN the reading stays. [m]
    collimation : float
        Rise of the line of sight for each metre, from `PegTest`. [m/m]
    """
    length = np.asarray(lengths, dtype=np.float64)
    excess = collimation * length + curvature(length) - refraction(length)
    corrected: FloatArray = np.asarray(readings, dtype=np.float64) - np.nan_to_num(excess)
    return corrected


@dataclass(frozen=True)
class PegTest:
    """Readings on two pegs A and B from two set-ups: one with sights alike, one with sights as unlike as can be.

    Parameters
    ----------
    first_a, first_b : float
        Rod readings on A and B from the first set-up. [m]
    second_a, second_b : float
        From the second. [m]
    first_lengths, second_lengths : tuple of float
        Lengths of the sights to A and to B. [m]
    """

    first_a: float
    first_b: float
    second_a: float
    second_b: float
    first_lengths: tuple[float, float]
    second_lengths: tuple[float, float]

    def __post_init__(self) -> None:
        if not all(length >= 0 for length in (*self.first_lengths, *self.second_lengths)):
            raise InputError(Fault("a sight of the peg test is shorter than nothing", remedy="Give lengths above zero"))
        if abs(self._imbalance) < 1.0:
            raise InputError(
                Fault(
                    "the two set-ups of the peg test see the pegs at nearly the same distances",
                    "a slant of the line shows where the sights of one set-up are far less alike than of the other",
                    "Read once from midway between the pegs and once from close to one of them",
                )
            )

    @property
    def _imbalance(self) -> float:
        """How much more the sight to B exceeds the one to A from the second set-up than from the first. [m]"""
        return (self.second_lengths[1] - self.second_lengths[0]) - (self.first_lengths[1] - self.first_lengths[0])

    @property
    def collimation(self) -> float:
        """Rise of the line of sight for each metre, the earth's curvature taken off first. [m/m]"""
        first = correct_sights((self.first_a, self.first_b), self.first_lengths)
        second = correct_sights((self.second_a, self.second_b), self.second_lengths)
        return float((second[1] - second[0]) - (first[1] - first[0])) / self._imbalance

    @property
    def fall(self) -> float:
        """Fall from A to B as a level line gives it: reading on B less reading on A. [m]"""
        read = correct_sights((self.first_a, self.first_b), self.first_lengths, collimation=self.collimation)
        return float(read[1] - read[0])

    @property
    def right_second_b(self) -> float:
        """What the second set-up would read on B with the line of sight level; what to turn the screws to. [m]"""
        length = self.second_lengths[1]
        return self.second_b - self.collimation * length

    @property
    def seconds(self) -> float:
        """The slant of the line of sight as an angle. [arc seconds]"""
        return math.degrees(math.atan(self.collimation)) * 3600.0

    def within(self, limit: float = FIELD_LIMIT) -> bool:
        """Whether the line of sight is as level as that: 0.003 in 100 unless said otherwise."""
        return abs(self.collimation) <= limit


@dataclass(frozen=True)
class Reciprocal:
    """A rise observed from both sides of a river or a gully at once.

    Parameters
    ----------
    rise : float
        Level of B less level of A, the error of the instrument and of the air fallen out. [m]
    error : float
        What one side alone would be wrong by: slant, curvature and refraction together over that width. [m]
    """

    rise: float
    error: float


def reciprocal_rise(near_a: float, far_b: float, far_a: float, near_b: float) -> Reciprocal:
    """Return the rise from A to B from readings taken close to A and then close to B.

    ``rise = ((a1 - b1) + (a2 - b2)) / 2``. From memory; the rule is the same in every textbook of levelling.

    Parameters
    ----------
    near_a, far_b : float
        Readings on A and B with the instrument close to A. [m]
    far_a, near_b : float
        Readings on A and B with the instrument close to B. [m]
    """
    from_a, from_b = near_a - far_b, far_a - near_b
    return Reciprocal((from_a + from_b) / 2.0, (from_b - from_a) / 2.0)
