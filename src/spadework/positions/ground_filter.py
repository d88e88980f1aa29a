"""Which of many scanned points are ground: a progressive morphological filter on the lowest points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray

BoolArray = npt.NDArray[np.bool_]

__all__ = ["GroundFilter", "ground_surface"]


@dataclass(frozen=True, slots=True)
class GroundFilter:
    """What the filter takes ground to be like.

    Parameters
    ----------
    steepest : float
        Slope of the steepest ground against the mean of the site, rise over run.
    first_height : float
        Things lower than this over the ground next to them stay ground. [m]
    most_height : float
        Nothing that stands higher than this over the opened surface is ground, however wide. [m]
    widest : float
        The widest thing on the ground: a house. [m]
    near : float
        Points within this of the filtered surface are ground. [m]
    """

    steepest: float = 0.3
    first_height: float = 0.15
    most_height: float = 2.5
    widest: float = 24.0
    near: float = 0.15


def ground_surface(lowest: FloatArray, cell: float, rules: GroundFilter | None = None) -> FloatArray:
    """Return the level of the ground in each cell of a grid of lowest points.

    The plane that the lower half of the points lies on is taken off first, so that even slopes play no part. Windows
    grow by doubling. In each round the surface is opened (lowest, then highest of a window); what stands over the
    opened surface by more than ``first_height + steepest * (w_k - w_(k-1)) * cell / 2`` is not ground. Cells that are
    not ground, or hold no point, take the level of the nearest ground cells by linear interpolation over the rows and
    columns.

    Parameters
    ----------
    lowest : array, shape (rows, cols)
        Lowest point of each cell; NaN in a cell without any. [m]
    cell : float
        Side of the cells. [m]
    rules : GroundFilter, optional
        What ground is like.

    Returns
    -------
    array, shape (rows, cols)
        Ground. [m] (K. Zhang et al., A progressive morphological filter for removing nonground measurements from
        airborne LIDAR data, IEEE Transactions on Geoscience and Remote Sensing 41(4), 2003, 872-882.)
    """
    from scipy import ndimage  # noqa: PLC0415 - wanted by few runs

    rules = rules or GroundFilter()
    empty = ~np.isfinite(lowest)
    if empty.all():
        return np.full(lowest.shape, np.nan)
    trend = _lower_plane(lowest)
    surface = _from_nearest(lowest - trend, empty)
    # A single point far under everything (a false return) would pull whole windows down.
    floor = ndimage.median_filter(surface, size=3, mode="nearest")
    pit = surface < floor - max(rules.first_height, 2.0 * rules.steepest * cell)
    surface = np.where(pit, floor, surface)
    first = surface.copy()
    raised = np.zeros(surface.shape, dtype=bool)
    before, width = 1, 3
    most = max(3, min(int(rules.widest / cell) | 1, 2 * min(surface.shape) + 1))
    while width <= most:
        opened = ndimage.grey_opening(surface, size=(width, width), mode="nearest")
        allowed = min(rules.first_height + rules.steepest * (width - before) / 2.0 * cell, rules.most_height)
        raised |= surface - opened > allowed
        surface = opened
        before, width = width, 2 * width - 1
        if before < most < width:
            width = most
    # Cells next to raised ones hold the feet of bushes and walls: let them be told by their neighbours.
    return trend + _interpolated(first, raised | empty)


def _lower_plane(lowest: FloatArray) -> FloatArray:
    """Return the plane of the lower half of some levels, found by fitting again to what lies under the last plane."""
    row, column = np.nonzero(np.isfinite(lowest))
    level = lowest[row, column]
    design = np.column_stack([np.ones(len(row)), column - column.mean(), row - row.mean()])
    kept = np.ones(len(row), dtype=bool)
    plane = np.array([float(np.median(level)), 0.0, 0.0])
    for _ in range(8):
        if np.linalg.matrix_rank(design[kept]) < 3:
            break
        plane, *_ = np.linalg.lstsq(design[kept], level[kept], rcond=None)
        off = level - design @ plane
        kept = off <= np.median(off) + 1e-9
    rows, columns = np.indices(lowest.shape)
    found: FloatArray = plane[0] + plane[1] * (columns - column.mean()) + plane[2] * (rows - row.mean())
    return found


def _from_nearest(values: FloatArray, missing: BoolArray) -> FloatArray:
    """Return a grid whose missing cells have the value of the nearest cell that has one."""
    from scipy import ndimage  # noqa: PLC0415 - wanted by few runs

    if not np.any(missing):
        return values.copy()
    index = ndimage.distance_transform_edt(missing, return_distances=False, return_indices=True)
    filled: FloatArray = values[tuple(index)]
    return filled


def _interpolated(values: FloatArray, missing: BoolArray) -> FloatArray:
    """Return a grid whose missing cells lie on the ground around them: nearest values, smoothed until they are even."""
    from scipy import ndimage  # noqa: PLC0415 - wanted by few runs

    gaps = np.asarray(missing, dtype=bool)
    if not gaps.any() or gaps.all():
        return values.copy()
    filled = _from_nearest(values, gaps)
    reach = int(np.ceil(ndimage.distance_transform_edt(gaps).max()))
    # Means over windows that shrink from the widest gap to one cell, ground cells held fast: coarse to fine.
    while reach >= 1:
        for _ in range(4):
            smooth = ndimage.uniform_filter(filled, size=2 * reach + 1, mode="nearest")
            filled = np.where(gaps, smooth, values)
        reach //= 2
    return filled
