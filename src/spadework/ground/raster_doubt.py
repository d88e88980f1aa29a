"""How sure a raster is: an error that all of it shares, one of each cell, and the ground within a cell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.ground.process import LEVEL_SD, GroundProcess, square_root
from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["MIDDLE_NOISE", "RasterAccuracy", "RasterDoubt", "second_misses", "within_cells"]

NOISE_SHARE = 0.6
"""Of the standard deviation of a raster's levels, the noise of a cell where only the whole is known. The lidar base
specification of the US Geological Survey allows 60 mm of noise on smooth ground within an error of 100 mm in all (table
of relative vertical accuracy, from memory)."""
MIDDLE_NOISE = 1.5
"""A cell less the mean of two neighbours has one and a half times the variance of the noise of one."""


@dataclass(frozen=True, slots=True)
class RasterAccuracy:
    """How sure the levels of a raster are said to be.

    Parameters
    ----------
    sd : float
        Standard deviation of a level, everything counted. [m]
    noise : float
        The part of it that is different in each cell. [m]
    source : str
        Where the two come from, in words.
    """

    sd: float
    noise: float
    source: str

    @classmethod
    def of(cls, sd: float, source: str, noise: float | None = None) -> RasterAccuracy:
        """Return an accuracy whose noise, where it is not known, is the usual share of the whole."""
        return cls(sd, NOISE_SHARE * sd if noise is None else min(noise, sd), source)

    @property
    def shift(self) -> float:
        """The part that the whole raster shares: ``√(sd² - noise²)``. [m]"""
        return math.sqrt(max(self.sd**2 - self.noise**2, 0.0))


@dataclass(frozen=True, eq=False)
class RasterDoubt:
    """The ground of a raster with how sure it is.

    Its error at a place is the sum of four that have nothing to do with one another: one that it shares all over
    (``shift``, or what tying it to shots leaves open: a plane with a covariance of its own, a smooth rest as a Gaussian
    process); one of each cell (``noise``), which the levels between cells share as they share the cells' levels; and
    that of the ground within a cell, which the raster does not see (``rough``).

    Parameters
    ----------
    ground : Ground
        The raster, tied where it is.
    cell : float
        Side of a cell. [m]
    noise, rough : float
        Standard deviation of a cell's level, and of the ground within a cell about its triangles. [m]
    shift : float
        Standard deviation of an error that all of it shares. [m]
    plane : array, shape (3, 3), optional
        Covariance of the terms of a tilt: at ``middle`` [m], by east and by north. [m²]
    middle : array, shape (2,), optional
        Where they count from. [m]
    rest : GroundProcess, optional
        The smooth rest that a tie found, as a process.
    said : float
        Usual standard deviation of a level, as it is printed. [m]
    source : str
        Where its accuracy comes from, in words.
    """

    ground: Ground
    cell: float
    noise: float
    rough: float
    shift: float = 0.0
    plane: FloatArray | None = None
    middle: FloatArray | None = None
    rest: GroundProcess | None = None
    said: float = math.nan
    source: str = ""

    @property
    def weight(self) -> FloatArray:
        """Weight of each model: those of the smooth rest."""
        return np.ones(1) if self.rest is None else self.rest.weight

    @property
    def reading_variance(self) -> float:
        """Variance of one shot more, taken as sure as a laser's. [m²]"""
        return LEVEL_SD**2 if self.rest is None else self.rest.reading_variance

    @property
    def instrument_sd(self) -> float:
        """Usual standard deviation of a level. [m]"""
        return self.said if math.isfinite(self.said) else math.hypot(self.shift, self.noise)

    def spacing(self, points: FloatArray) -> float:  # noqa: ARG002 -- the same wherever it is asked
        """Return the side of a cell. [m]"""
        return self.cell

    def mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return level and standard deviation at points, shape (k,) each; NaN where there is no ground. [m]"""
        means, sds = self.parts_mean_sd(points)
        mean: FloatArray = self.weight @ means
        return mean, np.sqrt(self.weight @ (sds**2 + (means - mean) ** 2))

    def parts_mean_sd(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the same by each model of the smooth rest, shape (p, k) each. [m]"""
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        _, share = self.ground.shares_at(points)
        basis = self.basis(points)
        own = self.shift**2 + self.rough**2 + self.noise**2 * (share**2).sum(axis=1)
        if basis is not None and self.plane is not None:
            own = own + np.einsum("ki,ij,kj->k", basis, self.plane, basis)
        level = self.ground.level_at(points)
        if self.rest is None:
            return level[None], np.sqrt(own)[None]
        means, sds = self.rest.parts_mean_sd(points)
        return level + means - self.weight @ means, np.sqrt(own + sds**2)

    def between(self, points: FloatArray) -> FloatArray:
        """Return the covariance of the ground at points, shape (k, k). [m²]"""
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        found = self._own(points) + self._within(points)
        return found if self.rest is None else found + self.rest.between(points)

    def samples(self, points: FloatArray, count: int, *, seed: int = 0) -> FloatArray:
        """Return grounds that the raster allows, drawn jointly at points, shape (count, k). [m]"""
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        draw = np.random.default_rng(seed)
        spread = square_root(self._own(points) + self._within(points))
        levels: FloatArray = self.ground.level_at(points) + draw.standard_normal((count, len(points))) @ spread.T
        if self.rest is not None:
            levels += self.rest.samples(points, count, seed=seed + 1) - self.rest.mean(points)
        return levels

    def measuring(self, points: FloatArray, weight: FloatArray) -> float:
        """Return the part of the variance of a weighted sum that the errors of raster and shots make."""
        points = np.atleast_2d(np.asarray(points, dtype=np.float64))
        found = float(weight @ self._own(points) @ weight)
        return found if self.rest is None else found + float(weight @ self.rest.between(points) @ weight)

    def _own(self, points: FloatArray) -> FloatArray:
        """Return the covariance of what is shared and of the cells' noise."""
        from scipy.sparse import coo_array  # noqa: PLC0415 -- only here

        triangle, share = self.ground.shares_at(points)
        corner = self.ground.triangles[np.maximum(triangle, 0)]
        rows = np.repeat(np.arange(len(points)), 3)
        used, column = np.unique(corner.ravel(), return_inverse=True)
        shares = coo_array((share.ravel(), (rows, column)), shape=(len(points), len(used))).tocsr()
        found: FloatArray = self.noise**2 * (shares @ shares.T).toarray() + self.shift**2
        basis = self.basis(points)
        return found if basis is None or self.plane is None else found + basis @ self.plane @ basis.T

    def _within(self, points: FloatArray) -> FloatArray:
        """Return the covariance of the ground within cells: the same all over one cell, none between two."""
        number = self.cell_of(points)
        same: FloatArray = self.rough**2 * (number[:, None] == number[None, :])
        return same

    def cell_of(self, points: FloatArray) -> IntArray:
        """Return a number for each point, shape (k,): the same for points of one cell, counted from zero."""
        square = np.floor((points - self.ground.origin) / self.cell).astype(np.int64)
        square -= square.min(axis=0)
        _, number = np.unique(square[:, 0] * (square[:, 1].max() + 1) + square[:, 1], return_inverse=True)
        found: IntArray = number
        return found

    def basis(self, points: FloatArray) -> FloatArray | None:
        """Return what multiplies the terms of a tilt at points, shape (k, 3); None where there is none."""
        if self.middle is None:
            return None
        return np.column_stack([np.ones(len(points)), points - self.middle])


def within_cells(level: FloatArray, noise: float = 0.0) -> float:
    """Return how far the ground within a cell leaves the straight line between cells, as a standard deviation. [m]

    A level is compared with the mean of those a cell to either side, and of those two cells to either side. From one
    to the other the misses fall by some ratio, and so they fall once more from a cell to half of it. They are taken by
    their median, so that a house or a bank does not count for the lawn; noise is taken off.

    Parameters
    ----------
    level : array, shape (rows, cols)
        Levels of the cells; NaN where there is none. [m]
    noise : float
        Standard deviation of a cell's level. [m]
    """
    one, two = _misses(level, 1), _misses(level, 2)
    if not (one > 0 and two > 0):
        return 0.0
    found = one * min(one / two, 1.0)
    return math.sqrt(max(found**2 - MIDDLE_NOISE * noise**2, 0.0))


def second_misses(places: FloatArray, level: FloatArray, cell: float) -> float:
    """Return the usual miss of a cell by the mean of two neighbours on opposite sides; NaN where none has two. [m]

    Parameters
    ----------
    places : array, shape (k, 2)
        Cells of a lattice, which may be turned, in any order. [m]
    level : array, shape (k,)
        [m]
    cell : float
        Distance between neighbours. [m]
    """
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- only here

    tree, misses = cKDTree(places), []
    found = tree.query(places, k=min(5, len(places)))
    away, near = np.asarray(found[0]), np.asarray(found[1])
    beside = np.where(away[:, 1:] < 1.2 * cell, near[:, 1:], -1)
    for one in range(beside.shape[1]):
        for other in range(one):
            both = np.flatnonzero((beside[:, one] >= 0) & (beside[:, other] >= 0))
            a, b = beside[both, one], beside[both, other]
            opposite = np.hypot(*(places[a] + places[b] - 2 * places[both]).T) < 0.2 * cell
            misses.append((level[both] - (level[a] + level[b]) / 2)[opposite])
    every = np.abs(np.concatenate(misses)) if misses else np.zeros(0)
    return float(np.median(every)) / 0.6745 if len(every) else math.nan


def _misses(level: FloatArray, step: int) -> float:
    """Return the usual miss of a level by the mean of its neighbours so many cells off. [m]"""
    parts = []
    for axis in (0, 1):
        turned = np.moveaxis(level, axis, 0)
        if len(turned) > 2 * step:
            parts.append((turned[step:-step] - (turned[: -2 * step] + turned[2 * step :]) / 2).ravel())
    every = np.concatenate(parts) if parts else np.zeros(0)
    known = np.abs(every[np.isfinite(every)])
    return float(np.median(known)) / 0.6745 if len(known) else math.nan
