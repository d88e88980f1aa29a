"""The ground as a Gaussian process: how high it is expected anywhere, and how sure that is.

A mean plane of unknown slope, a Matérn covariance that the shots themselves ask for, and each shot's own standard
deviation. The doubt about the covariance is carried along: every answer is that of a few covariances, each with its
weight, which keeps intervals honest where there are few shots.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from spadework.errors import GroundError
from spadework.ground.covariance import Covariance
from spadework.ground.kriging import Kriging, Total
from spadework.ground.process_fit import MOST_FITTED, fit_covariance, one_thread
from spadework.ground.surface import Ground
from spadework.readings import FloatArray
from spadework.shots import Shots

__all__ = ["FEWEST_SHOTS", "LEVEL_SD", "GroundProcess", "LeftOut", "fit_process", "ground_shots"]

FEWEST_SHOTS = 8
"""With fewer shots a plane and a covariance cannot be told apart."""
LEVEL_SD = 0.003
"""What a level is taken to be sure to where nothing is known of its instrument: a laser and a rod. [m]"""
LEAST_SHARE = 0.1
"""Of a covariance that is so much less likely than the likeliest, places for more shots do not depend."""
NEAREST_SHOTS = 12
FINEST_SD = 1e-4
"""No reading is surer than this. [m]"""


class LeftOut(NamedTuple):
    """Each shot against what all the others say of its place, shape (n,) each.

    ``error`` is the level read less the level predicted, ``sd`` its standard deviation [m]; ``standardised`` is their
    ratio, beyond 3 once in 400 for a shot that is right.
    """

    error: FloatArray
    sd: FloatArray
    standardised: FloatArray


@dataclass(frozen=True, eq=False)
class GroundProcess:
    """The ground that shots describe, with how sure it is everywhere.

    Parameters
    ----------
    origin : array, shape (2,)
        Site east and north that places count from inside. [m]
    best : Kriging
        The ground for the likeliest covariance.
    parts : tuple of Kriging
        The ground for each of the covariances that stand for its doubt.
    weight : array, shape (p,)
        Weight of each.
    names : tuple of str, length n
        Names of the shots.
    shot_left_out : LeftOut, optional
        Each shot against the others, where more than shots is known: what lines say of the ground comes from the shots
        themselves, and would speak for them.
    """

    origin: FloatArray
    best: Kriging
    parts: tuple[Kriging, ...]
    weight: FloatArray
    names: tuple[str, ...] = ()
    shot_left_out: LeftOut | None = None

    def __len__(self) -> int:
        return len(self.best)

    @property
    def shot_count(self) -> int:
        """How many of the observations are shots: the first ones."""
        return len(self.best) if self.shot_left_out is None else len(self.shot_left_out.error)

    def __str__(self) -> str:
        """Return the covariance in words."""
        return str(self.covariance)

    @property
    def covariance(self) -> Covariance:
        """The likeliest covariance."""
        return self.best.covariance

    def mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the expected level of the ground and its standard deviation.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]

        Returns
        -------
        mean, sd : array, shape (k,)
            Anywhere, also outside the shots: there the sd grows. [m]
        """
        means, sds = self.parts_mean_sd(points)
        mean: FloatArray = self.weight @ means
        return mean, np.sqrt(self.weight @ (sds**2 + (means - mean) ** 2))

    def parts_mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return expected level and standard deviation by each of the covariances, shape (p, k) each. [m]

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        """
        places = self._local(points)
        with one_thread(len(self)):
            found = [part.mean_variance(places) for part in self.parts]
        return np.array([mean for mean, _ in found]), np.sqrt(np.array([variance for _, variance in found]))

    def mean(self, points: FloatArray) -> FloatArray:
        """Return the expected level of the ground at points in site axes, shape (k,). [m]"""
        places = self._local(points)
        with one_thread(len(self)):
            mean: FloatArray = self.weight @ np.array([part.mean(places) for part in self.parts])
        return mean

    def total(self, points: FloatArray, weight: FloatArray) -> Total:
        """Return a weighted sum of ground levels and its variance, that of the readings apart from that of the ground.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        weight : array, shape (k,)
            Weight of each, such as plan area. [m²]
        """
        places = self._local(points)
        with one_thread(len(self)):
            found = np.array([part.total(places, weight) for part in self.parts])
        value, variance, measuring, between = self.weight @ found
        doubt = float(self.weight @ (found[:, 0] - value) ** 2)
        return Total(float(value), float(variance) + doubt, float(measuring), float(between) + doubt)

    def measuring(self, points: FloatArray, weight: FloatArray) -> float:
        """Return the part of the variance of a weighted sum that the errors of the readings make.

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        weight : array, shape (k,)
            Weight of each, such as plan area. [m²]
        """
        places = self._local(points)
        with one_thread(len(self)):
            parts = [part.shares(places, weight) ** 2 @ part.noise for part in self.parts]
        return float(self.weight @ np.array(parts))

    def between(self, points: FloatArray) -> FloatArray:
        """Return the covariance of the ground at points, shape (k, k): that of each covariance by its weight. [m²]

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        """
        places = self._local(points)
        counts = self.weight >= LEAST_SHARE * self.weight.max()
        found = np.zeros((len(places), len(places)))
        with one_thread(len(self)):
            for part, weight in zip(self.parts, self.weight, strict=True):
                if weight >= LEAST_SHARE * self.weight.max():
                    found += weight / self.weight[counts].sum() * part.between(places, places)
        return found

    def models(self, points: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
        """Return level [m] and covariance [m²] at points by each of the covariances, shape (k,) and (k, k)."""
        places = self._local(points)
        with one_thread(len(self)):
            return [(part.mean(places), part.between(places, places)) for part in self.parts]

    @property
    def instrument_sd(self) -> float:
        """Usual standard deviation of a reading. [m]"""
        return math.sqrt(float(np.median(self.best.noise)))

    def spacing(self, points: FloatArray) -> float:
        """Return the median distance of the shots nearest to some points to their own nearest neighbours. [m]

        Parameters
        ----------
        points : array, shape (k, 2)
            Points of a pad. [m]
        """
        from scipy.spatial import cKDTree  # noqa: PLC0415 -- only here

        places = self.best.places[: self.shot_count]
        middle = points.mean(axis=0) - self.origin
        near = np.argsort(np.hypot(*(places - middle).T), kind="stable")[:NEAREST_SHOTS]
        return float(np.median(np.asarray(cKDTree(places).query(places[near], k=2)[0])[:, 1]))

    @property
    def reading_variance(self) -> float:
        """Variance of one more reading like those that were taken, roughness included. [m²]"""
        return float(np.median(self.best.noise)) + self.covariance.roughness**2

    def samples(self, points: FloatArray, count: int, *, seed: int = 0) -> FloatArray:
        """Return grounds that the shots allow, drawn jointly at points, shape (count, k). [m]

        Parameters
        ----------
        points : array, shape (k, 2)
            Site east and north. [m]
        count : int
            How many.
        seed : int
            The same seed draws the same grounds.
        """
        places = self._local(points)
        draw = np.random.default_rng(seed)
        turn = np.sort((np.arange(count) + 0.5) / count)
        which = np.searchsorted(np.cumsum(self.weight)[:-1], turn, side="right")
        normal = draw.standard_normal((count, len(places)))
        levels = np.empty((count, len(places)))
        with one_thread(len(self)):
            for number, part in enumerate(self.parts):
                rows = which == number
                if rows.any():
                    spread = square_root(part.between(places, places))
                    levels[rows] = part.mean(places) + normal[rows] @ spread.T
        return levels

    def leave_one_out(self) -> LeftOut:
        """Return each shot's error against what all the other shots say of its place."""
        if self.shot_left_out is not None:
            return self.shot_left_out
        with one_thread(len(self)):
            found = [part.left_out for part in self.parts]
        errors, variances = np.array([one for one, _ in found]), np.array([other for _, other in found])
        error: FloatArray = self.weight @ errors
        sd = np.sqrt(self.weight @ (variances + (errors - error) ** 2))
        return LeftOut(error, sd, error / sd)

    def with_more(self, shots: Shots) -> GroundProcess:
        """Return the ground that knows more levels as well, for the same covariances.

        Parameters
        ----------
        shots : Shots
            What lines say of the ground, from `spadework.ground.line_shots`.
        """
        places = np.vstack([self.best.places, self._local(np.column_stack([shots.east, shots.north]))])

        def more(part: Kriging) -> Kriging:
            level, noise = (
                np.concatenate([part.level, shots.level]),
                np.concatenate([part.noise, reading_variance(shots)]),
            )
            return Kriging(places, level, noise, part.covariance)

        parts = tuple(more(part) for part in self.parts)
        return GroundProcess(self.origin, more(self.best), parts, self.weight, self.names, self.leave_one_out())

    def _local(self, points: FloatArray) -> FloatArray:
        local: FloatArray = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.origin
        return local


def square_root(covariance: FloatArray) -> FloatArray:
    """Return a matrix whose product with its transpose is the covariance, also where that is singular, shape (k, k)."""
    values, vectors = np.linalg.eigh(covariance)
    root: FloatArray = vectors * np.sqrt(np.maximum(values, 0.0))
    return root


def fit_process(shots: Shots, *, smoothness: float | None = None, roughness: float = 0.001) -> GroundProcess:
    """Fit the ground to shots.

    Parameters
    ----------
    shots : Shots
        One for each place, with level and position. A level whose sd is not known is taken as sure to `LEVEL_SD`. The
        doubt of a position counts as doubt of level, by the slope of the mean plane.
    smoothness : float, optional
        Order of the Matérn covariance, 0.5, 1.5 or 2.5; where not given, all three count by how likely they are.
    roughness : float
        Least standard deviation of any shot about the smooth ground, whatever its instrument. [m]

    Returns
    -------
    GroundProcess

    Raises
    ------
    GroundError
        If there are fewer shots than `FEWEST_SHOTS`, or one has no position or level.
    """
    if len(shots) < FEWEST_SHOTS:
        raise GroundError(
            f"There are {len(shots)} shots, and how sure the ground is can be told from {FEWEST_SHOTS} or more. "
            "Take more shots around the place where the pad may go."
        )
    if not np.isfinite(shots.east + shots.north + shots.level).all():
        raise GroundError("A shot without a position or a level describes no ground: leave it out.")
    origin = np.array([round(float(shots.east.mean())), round(float(shots.north.mean()))], dtype=np.float64)
    places = np.column_stack([shots.east, shots.north]) - origin
    noise = reading_variance(shots)
    with one_thread(min(len(shots), MOST_FITTED)):
        fitted = fit_covariance(places, shots.level, noise, smoothness=smoothness, roughness=roughness)
    best = Kriging(places, shots.level, noise, fitted.best)
    if len(shots) > MOST_FITTED:
        # So many shots leave no doubt about the covariance that is worth four factorisations.
        return GroundProcess(origin, best, (best,), np.ones(1), shots.point)
    parts = tuple(Kriging(places, shots.level, noise, covariance) for covariance in fitted.likely)
    return GroundProcess(origin, best, parts, fitted.weight, shots.point)


def reading_variance(shots: Shots) -> FloatArray:
    """Return the variance of each level: the instrument's, and the slope times the doubt of the position. [m²]"""
    count = len(shots)
    level_sd = np.full(count, np.nan) if shots.level_sd is None else shots.level_sd
    variance = np.maximum(np.where(np.isfinite(level_sd), level_sd, LEVEL_SD), FINEST_SD) ** 2
    if shots.position_sd is not None:
        columns = np.column_stack([np.ones(count), shots.east - shots.east.mean(), shots.north - shots.north.mean()])
        plane = np.linalg.lstsq(columns, shots.level - shots.level.mean(), rcond=None)[0]
        variance = variance + np.where(np.isfinite(shots.position_sd), shots.position_sd, 0.0) ** 2 * (
            plane[1] ** 2 + plane[2] ** 2
        )
    total: FloatArray = variance
    return total


def ground_shots(ground: Ground, shots: Shots) -> Shots:
    """Return the shots that a triangulation was made of, in the order of its corners, with its levels.

    A place that was shot twice is one corner, with the mean level and the name, line and doubt of its first shot. The
    corners that lines and outlines drew are none.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    shots : Shots
        Among which they are.
    """
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- only here

    standing = np.flatnonzero(np.isfinite(shots.east + shots.north + shots.level))
    places = np.column_stack([shots.east[standing], shots.north[standing]]) - ground.origin
    first = slice(ground.shot_count)
    rows = standing[cKDTree(places).query(np.column_stack([ground.east, ground.north])[first])[1]]
    return replace(shots.take(rows), level=ground.level[first])
