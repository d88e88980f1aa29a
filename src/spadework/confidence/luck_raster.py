"""A raster as luck asks for it: what its cells say together of the ground, not each for itself.

`RasterDoubt` adds every cell's error to the levels as they are drawn, which is right for a place that nobody chose.
Levels that were chosen because they are even have errors that happen to even them out, or ground that is even: which of
the two, the neighbours say. So the cells are taken as readings of a Gaussian process, as shots are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from spadework.ground.kriging import Kriging
from spadework.ground.process import GroundProcess
from spadework.ground.process_fit import fit_covariance, one_thread
from spadework.ground.raster_doubt import MIDDLE_NOISE, RasterDoubt, second_misses
from spadework.ground.raster_simulate import simulate_raster
from spadework.ground.simulate import Lattice, draw_at, simulate
from spadework.readings import FloatArray

__all__ = ["RasterGrounds", "raster_grounds"]

MOST_CELLS = 1500
"""Cells that are taken together at most; of more, squares of them are averaged."""
BLOCK, SPREAD = 12, 110
"""Cells on a side of the square, and cells all over, from which the covariance is found."""
FEWEST = 16
FINEST = 0.002
"""Least noise of a cell, so that its covariance has an inverse. [m]"""


@dataclass(frozen=True, eq=False)
class RasterGrounds:
    """Grounds that a raster allows.

    Parameters
    ----------
    cells : GroundProcess
        The ground by its cells and their noise.
    shared : RasterDoubt
        What the raster's cells have in common in their errors, and a tie leaves open: no noise, nothing within cells.
    unseen : float
        Standard deviation of the noise that is said of a cell and does not show between neighbours. [m]
    """

    cells: GroundProcess
    shared: RasterDoubt
    unseen: float = 0.0

    @property
    def weight(self) -> FloatArray:
        """Weight of each model, shape (p,)."""
        return self.cells.weight

    def models(self, points: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
        """Return level [m] and covariance [m²] at points by each model, shape (k,) and (k, k)."""
        also = self.shared.between(points)
        return [(mean, between + also) for mean, between in self.cells.models(points)]

    def drawn_at(self, points: FloatArray, count: int, *, seed: int = 0) -> FloatArray:
        """Return grounds drawn jointly at points, shape (count, k). [m]"""
        own = self.shared.samples(points, count, seed=seed + 1) - self.shared.ground.level_at(points)
        # At the very rim a point may lie a hair beyond the raster: what is shared there is shared nearby too.
        known = np.isfinite(own[0])
        if not known.all():
            away = np.hypot(*(points[:, None] - points[None, known]).transpose(2, 0, 1))
            own = own[:, np.flatnonzero(known)[away.argmin(axis=1)]]
        found: FloatArray = draw_at(self.cells, points, count, seed=seed) + own
        return found

    def drawn_on(self, lattice: Lattice, count: int, *, seed: int = 0) -> FloatArray:
        """Return grounds drawn on a grid that covers the cells, shape (count, rows · columns). [m]"""
        found: FloatArray = simulate(self.cells, lattice, count, seed=seed)
        found += simulate_raster(self.shared, lattice, count, seed=seed + 1, changes=True)
        return found


def raster_grounds(doubt: RasterDoubt, low: FloatArray, high: FloatArray) -> RasterGrounds | None:
    """Return the grounds that a raster allows between two corners; ``None`` where it has hardly a cell there.

    Its noise is taken to be no more than its cells differ from the middle of their neighbours by: if more of it were
    different in each cell, they would differ by more. What is left of it they share, as far as can be said.

    Parameters
    ----------
    doubt : RasterDoubt
        The raster with how sure it is.
    low, high : array, shape (2,)
        South-west and north-east corner. [m]
    """
    ground = doubt.ground
    used = np.unique(ground.triangles)
    places = np.column_stack([ground.east, ground.north])[used] + ground.origin
    inside = ((places >= low) & (places <= high)).all(axis=1)
    places, level = places[inside], ground.level[used[inside]]
    if len(places) < FEWEST:
        return None
    side = max(1, math.ceil(math.sqrt(len(places) / MOST_CELLS)))
    seen = second_misses(places, level, doubt.cell)
    noise = min(doubt.noise, seen / math.sqrt(MIDDLE_NOISE)) if math.isfinite(seen) else doubt.noise
    more = math.sqrt(max(doubt.noise**2 - noise**2, 0.0))
    shared = replace(doubt, noise=0.0, rough=0.0, shift=math.hypot(doubt.shift, more))
    origin = np.round(places.mean(axis=0))
    places, level, variance = _averaged(places - origin, level, max(noise, FINEST) ** 2, side * doubt.cell)
    rows = _for_covariance(places, side * doubt.cell)
    with one_thread(len(rows)):
        covariance = fit_covariance(places[rows], level[rows], variance[rows]).best
    cells = Kriging(places, level, variance, covariance)
    return RasterGrounds(GroundProcess(origin, cells, (cells,), np.ones(1)), shared, more)


def _averaged(
    places: FloatArray, level: FloatArray, variance: float, side: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the mean place and level of the cells in each square of a side, and the variance of the noise of that."""
    square = np.floor((places - places.min(axis=0)) / side + 1e-6).astype(np.int64)
    _, number, count = np.unique(
        square[:, 0] * (square[:, 1].max() + 1) + square[:, 1], return_inverse=True, return_counts=True
    )
    middle = np.column_stack([np.bincount(number, weights=axis) for axis in places.T]) / count[:, None]
    return middle, np.bincount(number, weights=level) / count, variance / count


def _for_covariance(places: FloatArray, side: float) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the cells that the covariance is found from: those about the middle, and some all over."""
    from_middle = np.abs(places - np.median(places, axis=0)).max(axis=1)
    near = np.flatnonzero(from_middle <= BLOCK / 2 * side)
    far = np.linspace(0, len(places) - 1, min(SPREAD, len(places))).astype(np.int64)
    found: np.ndarray[tuple[int], np.dtype[np.int64]] = np.unique(np.concatenate([near, far]))
    return found
