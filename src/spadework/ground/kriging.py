"""The ground between shots for one covariance: its mean, how sure, and which shots say so (universal kriging)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.linalg import solve_triangular
from scipy.linalg.lapack import dpotrf, dpotri

from spadework.errors import GroundError
from spadework.ground.covariance import Covariance, distances
from spadework.ground.process_fit import trend
from spadework.readings import FloatArray

__all__ = ["Kriging", "Total"]

PLACES_AT_A_TIME = 4000


class Total(NamedTuple):
    """A weighted sum of ground levels: what it is, how sure, and how much of that is the instrument's doing.

    ``variance = measuring + between``: the errors of the readings, and those of the ground between the shots.
    """

    value: float
    variance: float
    measuring: float
    between: float


@dataclass(frozen=True, eq=False)
class Kriging:
    """Levels with a linear trend of unknown coefficients and a known covariance.

    Source: Rasmussen and Williams, *Gaussian Processes for Machine Learning* (2006), section 2.7, equations 2.41 and
    2.42, with a flat prior on the coefficients of the trend.

    Parameters
    ----------
    places : array, shape (n, 2)
        East and north of the shots, from an origin near by. [m]
    level : array, shape (n,)
        Levels. [m]
    noise : array, shape (n,)
        Variance of each reading, the roughness left out. [m²]
    covariance : Covariance
    """

    places: FloatArray
    level: FloatArray
    noise: FloatArray
    covariance: Covariance

    def __len__(self) -> int:
        return len(self.level)

    @cached_property
    def _middle(self) -> FloatArray:
        middle: FloatArray = self.places.mean(axis=0)
        return middle

    @cached_property
    def _scale(self) -> float:
        return float(np.ptp(self.places, axis=0).max()) / 2

    @cached_property
    def _datum(self) -> float:
        return float(self.level.mean())

    @cached_property
    def _lower(self) -> FloatArray:
        """Cholesky factor of the covariance of the readings."""
        matrix = self.covariance.of(distances(self.places, self.places))
        matrix[np.diag_indices_from(matrix)] += self.noise + self.covariance.roughness**2
        lower, failed = dpotrf(matrix, lower=1, overwrite_a=1)
        if failed:
            raise GroundError(
                "The shots are too near one another for the doubt that is given to them: no smooth ground passes "
                "through them. Give each instrument its sd, or take out shots of the same place."
            )
        factor: FloatArray = lower
        return factor

    def _white(self, columns: FloatArray) -> FloatArray:
        white: FloatArray = solve_triangular(self._lower, columns, lower=True, check_finite=False)
        return white

    @cached_property
    def _basis(self) -> FloatArray:
        return self._white(self._trend(self.places))

    @cached_property
    def _square(self) -> FloatArray:
        square: FloatArray = self._basis.T @ self._basis
        return square

    @cached_property
    def _rest(self) -> tuple[FloatArray, FloatArray]:
        """Coefficients of the trend, and whitened levels less the trend."""
        white = self._white(self.level - self._datum)
        coefficients = np.asarray(np.linalg.solve(self._square, self._basis.T @ white), dtype=np.float64)
        return coefficients, white - self._basis @ coefficients

    def _trend(self, places: FloatArray) -> FloatArray:
        return trend(places, self._middle, self._scale)

    def _cross(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return whitened covariances of shots and places, (n, k), and what the trend adds, (3, k)."""
        white = self._white(self.covariance.of(distances(self.places, places)))
        return white, self._trend(places).T - self._basis.T @ white

    def mean(self, places: FloatArray) -> FloatArray:
        """Return the expected level at places, shape (k,). [m]"""
        coefficients, rest = self._rest
        weight = solve_triangular(self._lower, rest, lower=True, trans=1, check_finite=False)
        parts = [
            self._trend(some) @ coefficients + weight @ self.covariance.of(distances(self.places, some))
            for some in np.split(places, range(PLACES_AT_A_TIME, len(places), PLACES_AT_A_TIME))
        ]
        mean: FloatArray = np.concatenate(parts) + self._datum
        return mean

    def means_of(self, levels: FloatArray, places: FloatArray) -> FloatArray:
        """Return what other levels at the same shots would say of places, shape (m, k). [m]

        Parameters
        ----------
        levels : array, shape (m, n)
            Rows of levels in the place of those read. [m]
        places : array, shape (k, 2)
            East and north. [m]
        """
        datum = levels.mean(axis=1, keepdims=True)
        white = self._white((levels - datum).T)
        coefficients = np.linalg.solve(self._square, self._basis.T @ white)
        rest = white - self._basis @ coefficients
        weight = solve_triangular(self._lower, rest, lower=True, trans=1, check_finite=False).T
        found = np.empty((len(levels), len(places)))
        for first in range(0, len(places), PLACES_AT_A_TIME):
            some = slice(first, first + PLACES_AT_A_TIME)
            between = self.covariance.of(distances(self.places, places[some]))
            found[:, some] = coefficients.T @ self._trend(places[some]).T + weight @ between + datum
        return found

    def mean_variance(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return expected level and its variance at places, each of shape (k,). [m], [m²]"""
        coefficients, rest = self._rest
        means, variances = [], []
        for some in np.split(places, range(PLACES_AT_A_TIME, len(places), PLACES_AT_A_TIME)):
            white, added = self._cross(some)
            means.append(self._trend(some) @ coefficients + white.T @ rest + self._datum)
            known = np.einsum("ij,ij->j", white, white)
            drift = np.einsum("ij,ij->j", added, np.linalg.solve(self._square, added))
            variances.append(np.maximum(self.covariance.sd**2 - known + drift, 0.0))
        return np.concatenate(means), np.concatenate(variances)

    def between(self, one: FloatArray, other: FloatArray) -> FloatArray:
        """Return the covariance of the ground at two sets of places, given the shots, shape (k, m). [m²]"""
        white_one, added_one = self._cross(one)
        white_other, added_other = (white_one, added_one) if other is one else self._cross(other)
        known = self.covariance.of(distances(one, other)) - white_one.T @ white_other
        value: FloatArray = known + added_one.T @ np.linalg.solve(self._square, added_other)
        return value

    def total(self, places: FloatArray, weight: FloatArray) -> Total:
        """Return a weighted sum of levels, such as a volume, its variance, and that variance in two parts.

        The expected sum is a weighted sum of the shots, ``λ'z``. Its error is that of the ground between the shots and
        ``λ'ε`` of the readings' own errors, which have nothing to do with one another: their variances add up.

        Parameters
        ----------
        places : array, shape (k, 2)
            East and north. [m]
        weight : array, shape (k,)
            Weight of each, such as plan area. [m²]
        """
        share = self.shares(places, weight)
        value = float(share @ (self.level - self._datum)) + float(weight.sum()) * self._datum
        variance = float(weight @ self.between(places, places) @ weight)
        measuring = float(share**2 @ self.noise)
        return Total(value, max(variance, measuring), measuring, max(variance - measuring, 0.0))

    def shares(self, places: FloatArray, weight: FloatArray) -> FloatArray:
        """Return by how much a weighted sum of expected levels moves with each shot's level, shape (n,).

        Parameters
        ----------
        places : array, shape (k, 2)
            East and north. [m]
        weight : array, shape (k,)
            Weight of each.
        """
        white = self._white(self.covariance.of(distances(self.places, places)) @ weight)
        added = self._trend(places).T @ weight - self._basis.T @ white
        seen = white + self._basis @ np.linalg.solve(self._square, added)
        share: FloatArray = solve_triangular(self._lower, seen, lower=True, trans=1, check_finite=False)
        return share

    @cached_property
    def left_out(self) -> tuple[FloatArray, FloatArray]:
        """Error and variance of each shot's level predicted from all the others, trend fitted anew. [m], [m²]

        With ``P`` the projector of `restricted_likelihood`: error ``(Pz)_i / P_ii``, variance ``1 / P_ii``.
        Source: O. Dubrule, "Cross validation of kriging in a unique neighborhood", *Mathematical Geology* 15 (1983).
        """
        inverse, _ = dpotri(self._lower, lower=1)
        diagonal = np.diag(inverse).copy()
        drawn = solve_triangular(self._lower, self._basis, lower=True, trans=1, check_finite=False)
        diagonal -= np.einsum("ij,ij->i", drawn, np.linalg.solve(self._square, drawn.T).T)
        weight = solve_triangular(self._lower, self._rest[1], lower=True, trans=1, check_finite=False)
        error: FloatArray = weight / diagonal
        return error, 1.0 / diagonal
