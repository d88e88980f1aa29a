"""One survey laid over another by their common points: shift, turn and, where asked for, scale."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spadework.adjust.least_squares import LeastSquares, solve_least_squares
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
    solution : LeastSquares, optional
        The two coordinates of each common point in turn as observations of the shift, the turn and the scale: their
        redundancies, and the chi-square; the unknowns are east, north, then the turn in radians, then the scale, as
        far as they are free.
    free : tuple of str
        Which they are: ``east``, ``north``, ``turn``, ``scale``.
    """

    turn: float
    scale: float
    east: float
    north: float
    middle: tuple[float, float]
    residuals: FloatArray
    sd: float
    mirrored_rms: float
    solution: LeastSquares | None = None
    free: tuple[str, ...] = ("east", "north")

    def standard_error(self, unknown: str) -> float:
        """Return the standard error of one unknown, as the common points themselves tell it, NaN with none over.

        Parameters
        ----------
        unknown : str
            ``east`` or ``north`` (of the middle of the common points, in metres), ``turn`` (in degrees) or ``scale``.
        """
        if self.solution is None or unknown not in self.free:
            return 0.0
        error = float(self.solution.standard_error[self.free.index(unknown)])
        return math.degrees(error) if unknown == "turn" else error

    def position_sd(self, east: npt.ArrayLike, north: npt.ArrayLike) -> FloatArray:
        """Return how sure the fit puts positions of the first axes: each coordinate, root mean square of the two. [m]

        By the standard deviations that were given, widened where the common points agree worse than those promise.
        """
        de = np.asarray(east, dtype=np.float64) - self.middle[0]
        dn = np.asarray(north, dtype=np.float64) - self.middle[1]
        if self.solution is None or self.solution.covariance is None:
            return np.full(np.shape(de), math.nan)
        rows = _design(de, dn, math.radians(self.turn), self.scale, self.free)
        variance = np.einsum("ij,jk,ik->i", rows, self.solution.covariance, rows)
        each: FloatArray = np.sqrt(variance.reshape(-1, 2).mean(axis=1)) * self.solution.widening
        return each

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


def _design(de: FloatArray, dn: FloatArray, turn: float, scale: float, free: tuple[str, ...]) -> FloatArray:
    """Return the change of east and north of each position, in turn, with each free unknown, shape (2 n, u)."""
    sine, cosine = math.sin(turn), math.cos(turn)
    along, up = de * cosine + dn * sine, dn * cosine - de * sine
    columns = {
        "east": (np.ones_like(de), np.zeros_like(de)),
        "north": (np.zeros_like(de), np.ones_like(de)),
        "turn": (scale * up, -scale * along),
        "scale": (along, up),
    }
    return np.column_stack([np.column_stack(columns[name]).ravel() for name in free])


def fit_positions(
    first: npt.ArrayLike,
    second: npt.ArrayLike,
    *,
    turn: bool = True,
    scale: bool = False,
    sd: npt.ArrayLike | None = None,
    source: Source | None = None,
) -> PlaneFit:
    """Return the least-squares shift, turn and scale that bring the first positions onto the second.

    The weighted sum of squares has its minimum in closed form: with both sets counted from their weighted means, the
    turn is the angle of ``(sum of cross products, sum of dot products)``, and the scale that resultant over the first
    set's sum of squares. What each unknown is sure to follows from the normal equations there.

    Parameters
    ----------
    first, second : array, shape (n, 2)
        ``east, north`` of the common points in both axes, in the same order. [m]
    turn, scale : bool
        Whether the turn and the scale are free; the shift always is.
    sd : array, shape (n,), optional
        Standard deviation of each coordinate of a common point, both surveys together; 1 for all unless given. [m]
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
    spread_of = np.broadcast_to(np.asarray(1.0 if sd is None else sd, dtype=np.float64), len(start))
    weight = 1.0 / np.square(spread_of)
    weight = (weight / weight.sum())[:, None]
    middle, aim = np.sum(weight * start, axis=0), np.sum(weight * goal, axis=0)
    here, there = start - middle, goal - aim
    spread = float(np.sum(weight * here**2))
    if needed > 1 and spread < 1e-6 / len(start):
        what = "the common points all lie in one place"
        raise InputError(Fault(what, "a turn needs two that stand apart", "take others", source or Source()))
    dot = float(np.sum(weight * here * there))
    cross = float(np.sum(weight[:, 0] * (here[:, 1] * there[:, 0] - here[:, 0] * there[:, 1])))
    angle = math.atan2(cross, dot) if turn else 0.0
    size = (math.hypot(cross, dot) if turn else dot) / spread if scale else 1.0
    at = (float(middle[0]), float(middle[1]))
    fit = PlaneFit(math.degrees(angle), size, float(aim[0]), float(aim[1]), at, here, math.nan, 0.0)
    residuals = np.column_stack(fit.apply(start[:, 0], start[:, 1])) - goal
    # The same closed form with the first axes mirrored, e -> -e.
    resultant = math.hypot(
        float(np.sum(weight[:, 0] * (here[:, 1] * there[:, 0] + here[:, 0] * there[:, 1]))),
        float(np.sum(weight[:, 0] * (-here[:, 0] * there[:, 0] + here[:, 1] * there[:, 1]))),
    )
    other = resultant / spread if scale else 1.0
    mirrored = float(np.sum(weight * there**2)) + other**2 * spread - 2.0 * other * resultant
    left = 2 * len(start) - 2 - turn - scale
    free = ("east", "north", *(("turn",) if turn else ()), *(("scale",) if scale else ()))
    design = _design(here[:, 0], here[:, 1], angle, size, free)
    solution = solve_least_squares(design, -residuals.ravel(), np.repeat(spread_of, 2))
    return PlaneFit(
        fit.turn,
        size,
        fit.east,
        fit.north,
        fit.middle,
        residuals,
        math.sqrt(float(np.sum(residuals**2)) / left) if left > 0 else math.nan,
        math.sqrt(max(mirrored, 0.0)),
        replace(solution, residual=residuals.ravel()),
        free,
    )
