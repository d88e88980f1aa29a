"""What a tape measures and what it should: length, temperature, pull, sag and slope."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray

__all__ = ["STEEL_EXPANSION", "STEEL_MODULUS", "Tape", "horizontal_from_rise", "sag_correction", "slope_correction"]

STEEL_EXPANSION = 6.5e-6 * 1.8
"""Lengthening of steel for each degree Celsius: 6.5e-6 for each degree Fahrenheit. [1/°C]

U.S. Navy, Engineering Aid Basic, pages 12-14 and 12-15.
"""
STEEL_MODULUS = 29e6 * 6894.757293168362
"""Stiffness of steel, 29 million pounds per square inch. [Pa] (Lecture "Taping corrections", slideplayer 13085605.)"""


def slope_correction(distance: npt.ArrayLike, rise: npt.ArrayLike) -> FloatArray:
    """Return what a taped slope exceeds its horizontal by: ``h²/2s + h⁴/8s³``, enough for slopes of yards. [m]"""
    along, up = np.asarray(distance, dtype=np.float64), np.asarray(rise, dtype=np.float64)
    return up**2 / (2.0 * along) + up**4 / (8.0 * along**3)


def horizontal_from_rise(distance: npt.ArrayLike, rise: npt.ArrayLike) -> FloatArray:
    """Return the horizontal part of a taped slope that rises by so much, exactly; NaN where it rises by more. [m]"""
    along, up = np.asarray(distance, dtype=np.float64), np.asarray(rise, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.sqrt(along**2 - up**2), dtype=np.float64)


def sag_correction(distance: npt.ArrayLike, span: float, weight: float, pull: float) -> FloatArray:
    """Return how much a hanging tape reads too long: ``w² L³ / 24 P²`` for each span. [m]

    Parameters
    ----------
    distance : array, any shape
        Measured: so many whole spans and what is left over. [m]
    span : float
        Distance between supports. [m]
    weight : float
        Of the tape, ``w``. [N/m]
    pull : float
        On the tape, ``P``. [N]
    """
    length = np.abs(np.asarray(distance, dtype=np.float64))
    whole = np.floor(length / span + 1e-9)
    rest = np.maximum(length - whole * span, 0.0)
    return np.asarray(weight**2 * (whole * span**3 + rest**3) / (24.0 * pull**2), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Tape:
    """A tape and how it was held.

    Parameters
    ----------
    nominal, actual : float
        Length by its marks, and in truth when compared. [m]
    temperature, standard_temperature : float
        Of the tape in the field, and at which it is right. [°C]
    expansion : float
        Lengthening with temperature. [1/°C]
    pull, standard_pull : float
        On the tape in the field, and at which it is right; zero: not said. [N]
    area : float
        Cross-section; zero: the stretch is not counted. [m²]
    modulus : float
        Stiffness. [Pa]
    weight : float
        Zero: lying on the ground all along, without sag. [N/m]
    span : float
        Distance between supports; the nominal length unless given. [m]
    """

    nominal: float = 30.0
    actual: float = 30.0
    temperature: float = 20.0
    standard_temperature: float = 20.0
    expansion: float = STEEL_EXPANSION
    pull: float = 0.0
    standard_pull: float = 0.0
    area: float = 0.0
    modulus: float = STEEL_MODULUS
    weight: float = 0.0
    span: float = 0.0

    def corrections(self, measured: npt.ArrayLike) -> dict[str, FloatArray]:
        """Return what is to be added to measured distances, by cause. [m]

        ``length``: ``(l' - l)/l``; ``temperature``: ``a (T - T0)``; ``pull``: ``(P - P0)/AE``, each times the
        measured distance; ``sag``: ``-w² L³/24P²`` for each span. (Lecture "Taping corrections", slideplayer 13085605;
        U.S. Navy, Engineering Aid Basic, page 12-14.)
        """
        distance = np.asarray(measured, dtype=np.float64)
        found = {"length": distance * ((self.actual - self.nominal) / self.nominal)}
        found["temperature"] = distance * (self.expansion * (self.temperature - self.standard_temperature))
        stretch = (self.pull - self.standard_pull) / (self.area * self.modulus) if self.area and self.pull else 0.0
        found["pull"] = distance * stretch
        hangs = bool(self.weight and self.pull)
        found["sag"] = (
            -sag_correction(distance, self.span or self.nominal, self.weight, self.pull) if hangs else distance * 0.0
        )
        return found

    def corrected(self, measured: npt.ArrayLike) -> FloatArray:
        """Return distances as a right tape would have given them; slopes stay slopes. [m]"""
        distance = np.asarray(measured, dtype=np.float64)
        return np.asarray(distance + sum(self.corrections(distance).values()), dtype=np.float64)

    @property
    def causes(self) -> tuple[str, ...]:
        """What of it differs from a right tape, in words."""
        shown = {name: float(value) for name, value in self.corrections(self.nominal).items()}
        return tuple(f"{name} {value * 1000:+.1f} mm" for name, value in shown.items() if abs(value) >= 5e-5)
