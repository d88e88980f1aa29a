"""Grounds that a raster allows, drawn whole on a grid."""

from __future__ import annotations

import numpy as np

from spadework.ground.process import GroundProcess, square_root
from spadework.ground.raster_doubt import RasterDoubt
from spadework.ground.simulate import Lattice, simulate
from spadework.readings import FloatArray, IntArray

__all__ = ["simulate_raster"]

MOST_POINTS, PER_LENGTH = 16_000, 4
"""Points of the grid for a smooth rest at most, and within its length scale at least."""


def simulate_raster(
    doubt: RasterDoubt, lattice: Lattice, count: int, *, seed: int = 0, changes: bool = False
) -> FloatArray:
    """Return grounds that a raster allows on a grid, shape (count, rows · columns). [m]

    Every error that the raster may have is drawn by itself and added to its levels: what all of it shares, the noise of
    each cell, the ground within each cell, and the smooth rest of a tie. Beyond the raster the grid has the level of
    the nearest cell.

    Parameters
    ----------
    doubt : RasterDoubt
        The raster with how sure it is.
    lattice : Lattice
        The grid.
    count : int
        How many.
    seed : int
        The same seed draws the same grounds.
    changes : bool
        Return by how much they differ from the raster's levels.
    """
    draw, points = np.random.default_rng(seed), lattice.points
    corner, share = _corners(doubt, points)
    used, place = np.unique(corner, return_inverse=True)
    place = place.reshape(corner.shape)
    levels = doubt.shift * draw.standard_normal((count, 1)) + np.zeros((1, len(points)))
    if not changes:
        levels += (share * doubt.ground.level[corner]).sum(axis=1)
    if doubt.noise > 0:
        noise = doubt.noise * draw.standard_normal((count, len(used)))
        for k in range(corner.shape[1]):
            levels += share[:, k] * noise[:, place[:, k]]
    if doubt.rough > 0:
        cell = doubt.cell_of(points)
        levels += doubt.rough * draw.standard_normal((count, int(cell.max()) + 1))[:, cell]
    basis = doubt.basis(points)
    if basis is not None and doubt.plane is not None:
        levels += draw.standard_normal((count, 3)) @ square_root(doubt.plane).T @ basis.T
    if doubt.rest is not None:
        levels += _rest(doubt.rest, lattice, count, seed + 1)
    return levels


def _corners(doubt: RasterDoubt, points: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the cells that the level at each point comes from, and the share of each, shape (k, 3)."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- only here

    ground = doubt.ground
    triangle, share = ground.shares_at(points)
    corner = ground.triangles[np.maximum(triangle, 0)].astype(np.int64)
    beyond = triangle < 0
    if beyond.any():
        used = np.unique(ground.triangles)
        cells = np.column_stack([ground.east, ground.north])[used]
        corner[beyond] = used[cKDTree(cells).query(points[beyond] - ground.origin)[1]][:, None]
        share[beyond] = 1.0, 0.0, 0.0
    return corner, share


def _rest(rest: GroundProcess, lattice: Lattice, count: int, seed: int) -> FloatArray:
    """Return what the rest of a tie leaves open, shape (count, rows · columns). [m]

    Drawn on a grid of its own: one that covers its shots too, and no finer than it asks for.
    """
    every = np.vstack([lattice.points, rest.best.places + rest.origin])
    low, high = every.min(axis=0), every.max(axis=0)
    step = max(lattice.step, rest.covariance.length / PER_LENGTH, float(np.sqrt(np.prod(high - low) / MOST_POINTS)))
    own = Lattice.over((*low.tolist(), *high.tolist()), step)
    found = simulate(rest, own, count, seed=seed) - rest.mean(own.points)
    near, share = own.between(lattice.points)
    laid: FloatArray = np.einsum("mkf,kf->mk", found[:, near], share)
    return laid
