"""The covariance that the shots themselves ask for, by restricted maximum likelihood, and how far it is in doubt."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.linalg.lapack import dpotrf, dpotri

from spadework.ground.covariance import SMOOTHNESS, Covariance, correlation, distances
from spadework.readings import FloatArray, IntArray

__all__ = ["MOST_FITTED", "FittedCovariance", "fit_covariance", "one_thread", "restricted_likelihood", "trend"]

MOST_FITTED = 500
"""The likelihood is that of so many shots at most, evenly chosen: its cost grows with the cube of their number."""

FEWEST_FOR_THREADS = 1000
SMALLEST_SD = 1e-4
LOWEST = 1e10
WIDEST = 2.0
"""Largest standard deviation of the logarithm of a parameter that the spread of covariances is drawn over."""
STARTS = 6
STEP = 0.1
LEAST_WEIGHT = 0.01
"""A covariance that is less likely than this is not asked: it costs a factorisation and changes nothing."""


@dataclass(frozen=True)
class FittedCovariance:
    """The likeliest covariance, and others that the shots allow as well.

    Parameters
    ----------
    best : Covariance
        Where the restricted likelihood is greatest.
    likely : tuple of Covariance
        Covariances around it that stand for its doubt.
    weight : array, shape (k,)
        Weight of each; their sum is 1.
    log_likelihood : float
        Restricted log likelihood of the best, constant terms left out.
    """

    best: Covariance
    likely: tuple[Covariance, ...]
    weight: FloatArray
    log_likelihood: float


@contextmanager
def one_thread(count: int) -> Iterator[None]:
    """Keep linear algebra on one thread for fewer than a thousand shots, where threads cost more than they bring.

    Parameters
    ----------
    count : int
        Number of shots.
    """
    if count >= FEWEST_FOR_THREADS:
        yield
        return
    from threadpoolctl import threadpool_limits  # noqa: PLC0415 -- looks at every library that is loaded

    with threadpool_limits(limits=1, user_api="blas"):  # type: ignore[no-untyped-call]
        yield


def trend(places: FloatArray, middle: FloatArray, scale: float) -> FloatArray:
    """Return the functions of the linear trend at places: one, east and north from a middle, shape (n, 3).

    Parameters
    ----------
    places : array, shape (n, 2)
        East and north. [m]
    middle : array, shape (2,)
        Where east and north count from. [m]
    scale : float
        Length that they are divided by, so that the three are of one size. [m]
    """
    columns: FloatArray = np.column_stack([np.ones(len(places)), (places - middle) / scale])
    return columns


def restricted_likelihood(  # noqa: PLR0917 -- the symbols of the formula
    log_sd: float,
    log_length: float,
    smoothness: float,
    between: FloatArray,
    basis: FloatArray,
    level: FloatArray,
    noise: FloatArray,
) -> tuple[float, FloatArray]:
    """Return minus the restricted log likelihood and its gradient by the logarithms of sd and length.

    ``½ (log|C| + log|H'C⁻¹H| + z'Pz)`` with ``P = C⁻¹ - C⁻¹H(H'C⁻¹H)⁻¹H'C⁻¹``; its derivative is
    ``½ (tr(P ∂C) - z'P ∂C P z)``. Source: Rasmussen and Williams, *Gaussian Processes for Machine Learning* (2006),
    section 2.7 and equation 5.9, for a trend with a flat prior.

    Parameters
    ----------
    log_sd, log_length : float
        Natural logarithms of the covariance's sd and length. [m]
    smoothness : float
        0.5, 1.5 or 2.5.
    between : array, shape (n, n)
        Distances. [m]
    basis : array, shape (n, 3)
        ``H``, from `trend`.
    level : array, shape (n,)
        ``z``. [m]
    noise : array, shape (n,)
        Variance of each level. [m²]

    Returns
    -------
    value : float
        Constant terms left out.
    gradient : array, shape (2,)
    """
    alike, slope = correlation(between, math.exp(log_length), smoothness)
    variance = math.exp(2 * log_sd)
    matrix = variance * alike
    matrix[np.diag_indices_from(matrix)] += noise
    lower, failed = dpotrf(matrix, lower=1)
    if failed:
        return LOWEST, np.zeros(2)
    white_basis = solve_triangular(lower, basis, lower=True)
    white_level = solve_triangular(lower, level, lower=True)
    square = white_basis.T @ white_basis
    rest = white_level - white_basis @ np.linalg.solve(square, white_basis.T @ white_level)
    value = np.log(np.diag(lower)).sum() + 0.5 * np.linalg.slogdet(square)[1] + 0.5 * rest @ rest
    inverse, _ = dpotri(lower, lower=1)
    inverse = np.tril(inverse) + np.tril(inverse, -1).T
    drawn = inverse @ basis
    projector = inverse - drawn @ np.linalg.solve(square, drawn.T)
    weight = projector @ level
    free = len(level) - basis.shape[1]
    by_sd = free - np.diag(projector) @ noise - (weight @ level - weight @ (noise * weight))
    by_length = 0.5 * variance * (np.vdot(projector, slope) - weight @ slope @ weight)
    return float(value), np.array([by_sd, by_length])


def fit_covariance(
    places: FloatArray,
    level: FloatArray,
    noise: FloatArray,
    *,
    smoothness: float | None = None,
    roughness: float = 0.001,
) -> FittedCovariance:
    """Return the covariance that makes the shots likeliest, and the spread of those that do nearly as well.

    The length scale is held between a third of the usual distance to the nearest shot and the size of the site. How
    smooth the ground is, is in doubt as well: each order is fitted, and counts by how likely it makes the shots over
    all its heights and lengths, by the approximation of Laplace (Rasmussen and Williams 2006, section 5.2).

    Parameters
    ----------
    places : array, shape (n, 2)
        East and north of the shots. [m]
    level : array, shape (n,)
        Levels. [m]
    noise : array, shape (n,)
        Variance of each level, the roughness left out. [m²]
    smoothness : float, optional
        Order of the Matérn covariance where it is known; each of `SMOOTHNESS` otherwise.
    roughness : float
        Floor of the noise, as a standard deviation. [m]

    Returns
    -------
    FittedCovariance
    """
    orders = SMOOTHNESS if smoothness is None else (smoothness,)
    rows = _evenly(places, MOST_FITTED)
    likelihood = _Likelihood.of(places[rows], level[rows], noise[rows] + roughness**2)
    fits = [_fit_order(likelihood, order) for order in orders]
    top = min(fits, key=lambda fit: fit.least)

    def covariance(at: FloatArray, order: float) -> Covariance:
        return Covariance(math.exp(at[0]), math.exp(at[1]), order, roughness)

    likely, weights = [], []
    for fit in fits:
        evidence = math.exp(top.least - fit.least) * fit.width
        likely += [covariance(at, fit.order) for at in fit.points]
        weights += list(evidence * fit.weight)
    weight = np.array(weights) / sum(weights)
    counts = weight >= LEAST_WEIGHT
    return FittedCovariance(
        covariance(top.at, top.order),
        tuple(one for one, keep in zip(likely, counts, strict=True) if keep),
        weight[counts] / weight[counts].sum(),
        -top.least,
    )


@dataclass(frozen=True, eq=False)
class _Likelihood:
    """The restricted likelihood of some shots, as a function of the logarithms of sd and length."""

    between: FloatArray
    basis: FloatArray
    level: FloatArray
    noise: FloatArray
    nearest: float
    size: float

    @classmethod
    def of(cls, places: FloatArray, level: FloatArray, noise: FloatArray) -> _Likelihood:
        between = distances(places, places)
        size = float(between.max())
        nearest = float(np.median((between + np.diag(np.full(len(level), np.inf))).min(axis=1)))
        basis = trend(places, places.mean(axis=0), size / 2)
        # Levels about their plane: the likelihood is the same, and sums of squares keep their digits.
        level = level - basis @ np.linalg.lstsq(basis, level, rcond=None)[0]
        return cls(between, basis, level, noise, nearest, size)

    def cost(self, at: FloatArray, order: float) -> tuple[float, FloatArray]:
        return restricted_likelihood(
            float(at[0]), float(at[1]), order, self.between, self.basis, self.level, self.noise
        )

    @property
    def spread(self) -> float:
        return max(float(self.level.std()), 10 * SMALLEST_SD)

    @property
    def bounds(self) -> FloatArray:
        limits = [[SMALLEST_SD, 10 * self.spread], [self.nearest / 3, max(self.size, self.nearest)]]
        logarithms: FloatArray = np.log(limits)
        return logarithms


@dataclass(frozen=True, eq=False)
class _Fit:
    """The likeliest covariance of one order, points about it, and the width of the likelihood's top."""

    order: float
    at: FloatArray
    least: float
    points: list[FloatArray]
    weight: FloatArray
    width: float


def _fit_order(likelihood: _Likelihood, order: float) -> _Fit:
    """Return where the likelihood of one order is greatest, and how wide its top is."""
    from scipy.optimize import minimize  # noqa: PLC0415 -- 0.2 s of import that reading a level book does not need

    def cost(at: FloatArray) -> tuple[float, FloatArray]:
        return likelihood.cost(at, order)

    nearest, size, bounds = likelihood.nearest, likelihood.size, likelihood.bounds
    lengths = np.linspace(math.log(nearest), math.log(size / 2) if size > 2 * nearest else math.log(nearest), STARTS)
    starts = [np.array([math.log(likelihood.spread), length]) for length in lengths]
    start = min(starts, key=lambda at: cost(at)[0])
    found = minimize(cost, start, jac=True, method="L-BFGS-B", bounds=bounds.tolist())
    points, weight, width = _around(cost, found.x, float(found.fun), bounds)
    return _Fit(order, found.x, float(found.fun), points, weight, width)


def _evenly(places: FloatArray, most: int) -> IntArray:
    """Return rows of at most so many places, drawn with a fixed seed so that close pairs stay among them."""
    if len(places) <= most:
        return np.arange(len(places))
    return np.sort(np.random.default_rng(20_261_125).choice(len(places), most, replace=False))


def _around(
    cost: Callable[[FloatArray], tuple[float, FloatArray]], best: FloatArray, least: float, bounds: FloatArray
) -> tuple[list[FloatArray], FloatArray, float]:
    """Return four points about the best with the spread of the likelihood, how likely each is, and that spread.

    They are those of the third-degree cubature rule for a normal density with the curvature of the likelihood at its
    top, each weighted by the likelihood itself over that density.
    """
    curvature = np.array(
        [(cost(best + step)[1] - cost(best - step)[1]) / (2 * STEP) for step in STEP * np.eye(len(best))]
    )
    values, axes = np.linalg.eigh((curvature + curvature.T) / 2)
    values = np.maximum(values, WIDEST**-2)
    reach = axes / np.sqrt(values)
    radius = math.sqrt(len(best))
    points, weights = [], []
    for direction in (*np.eye(len(best)), *-np.eye(len(best))):
        at = np.clip(best + radius * reach @ direction, bounds[:, 0], bounds[:, 1])
        points.append(at)
        weights.append(math.exp(min(least - cost(at)[0] + radius**2 / 2, 1.5)))
    total = np.array(weights)
    return points, total / total.sum(), float(1.0 / np.sqrt(values.prod()))
