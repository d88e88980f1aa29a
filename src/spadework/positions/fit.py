"""One survey laid over another by their common points: shift, turn and, where asked for, scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError, Source
from spadework.readings import FloatArray

__all__ = ["PlaneFit", "fit_positions"]


@dataclass(frozen=True)
class PlaneFit:
    """How one set of axes lies in another.

    Parameters
    ----------
    turn : float
        Clockwise turn that brings the first axes onto the second. [deg]
    scale : float
        Length in the second axes of one metre in the first.
    east, north : float
        Where the middle of the common points of the first axes comes to lie. [m]
    middle : tuple of float
        That middle in the first axes. [m]
    residuals : array, shape (n, 2)
        Fitted less wanted position of each common point. [m]
    sd : float
        Standard deviation of one coordinate from the residuals; NaN where nothing is left over to tell it from. [m]
    mirrored_rms : float
        Root mean square of the residuals with the first axes mirrored: far less than `rms` where east and north were
        swapped. [m]
    """

    turn: float
    scale: float
    east: float
    north: float
    middle: tuple[float, float]
    residuals: FloatArray
    sd: float
    mirrored_rms: float

    @property
    def rms(self) -> float:
        """Root mean square distance of the common points after the fit. [m]"""
        return float(np.sqrt(np.mean(np.sum(self.residuals**2, axis=1))))

    @property
    def looks_mirrored(self) -> bool:
        """Whether the points fit far better once east and north change places."""
        return len(self.residuals) > 2 and self.mirrored_rms < 0.2 * self.rms and self.rms > 0.01

    def apply(self, east: npt.ArrayLike, north: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return positions of the first axes in the second.

        ``E = E0 + m (e cos t + n sin t)``; ``N = N0 + m (n cos t - e sin t)``, with ``e, n`` counted from the middle.
        """
        de = np.asarray(east, dtype=np.float64) - self.middle[0]
        dn = np.asarray(north, dtype=np.float64) - self.middle[1]
        sine, cosine = math.sin(math.radians(self.turn)), math.cos(math.radians(self.turn))
        return self.east + self.scale * (de * cosine + dn * sine), self.north + self.scale * (dn * cosine - de * sine)


def fit_positions(
    first: npt.ArrayLike,
    second: npt.ArrayLike,
    *,
    turn: bool = True,
    scale: bool = False,
    source: Source | None = None,
) -> PlaneFit:
    """Return the least-squares shift, turn and scale that bring the first positions onto the second.

    The sum of squares has its minimum in closed form: with both sets counted from their means, the turn is the angle of
    ``(sum of cross products, sum of dot products)``, and the scale that resultant over the first set's sum of squares.

    Parameters
    ----------
    first, second : array, shape (n, 2)
        ``east, north`` of the common points in both axes, in the same order. [m]
    turn, scale : bool
        Whether the turn and the scale are free; the shift always is.
    source : Source, optional
        What is fitted, for the error.

    Returns
    -------
    PlaneFit

    Raises
    ------
    InputError
        If the common points are too few, or all in one place.
    """
    start = np.asarray(first, dtype=np.float64).reshape(-1, 2)
    goal = np.asarray(second, dtype=np.float64).reshape(-1, 2)
    needed = 2 if turn or scale else 1
    if len(start) < needed or len(start) != len(goal):
        what = f"{len(start)} common point{'s' if len(start) != 1 else ''} to fit on"
        rule = f"a shift{' with a turn' if turn else ''} needs at least {needed}, and one more to check it"
        raise InputError(Fault(what, rule, "give points of both surveys the same name", source or Source()))
    middle, aim = start.mean(axis=0), goal.mean(axis=0)
    here, there = start - middle, goal - aim
    spread = float(np.sum(here**2))
    if needed > 1 and spread < 1e-6:
        what = "the common points all lie in one place"
        raise InputError(Fault(what, "a turn needs two that stand apart", "take others", source or Source()))
    dot = float(np.sum(here * there))
    cross = float(np.sum(here[:, 1] * there[:, 0] - here[:, 0] * there[:, 1]))
    angle = math.atan2(cross, dot) if turn else 0.0
    size = (math.hypot(cross, dot) if turn else dot) / spread if scale else 1.0
    at = (float(middle[0]), float(middle[1]))
    fit = PlaneFit(math.degrees(angle), size, float(aim[0]), float(aim[1]), at, here, math.nan, 0.0)
    residuals = np.column_stack(fit.apply(start[:, 0], start[:, 1])) - goal
    # The same closed form with the first axes mirrored, e -> -e.
    resultant = math.hypot(
        float(np.sum(here[:, 1] * there[:, 0] + here[:, 0] * there[:, 1])),
        float(np.sum(-here[:, 0] * there[:, 0] + here[:, 1] * there[:, 1])),
    )
    other = resultant / spread if scale else 1.0
    mirrored = float(np.sum(there**2)) + other**2 * spread - 2.0 * other * resultant
    left = 2 * len(start) - 2 - turn - scale
    sd = math.sqrt(float(np.sum(residuals**2)) / left) if left > 0 else math.nan
    return PlaneFit(
        fit.turn,
        size,
        fit.east,
        fit.north,
        fit.middle,
        residuals,
        sd,
        math.sqrt(max(mirrored, 0.0) / len(start)),
    )
