"""A scan or a lidar tile to ground points: filtered, thinned in a stream, and what was lost by it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError, Source
from spadework.positions.ground_filter import GroundFilter, ground_surface
from spadework.read.cloud_axes import settled_axes
from spadework.read.cloud_files import CloudFile, open_cloud
from spadework.readings import FloatArray
from spadework.readings_positions import CloudPoints
from spadework.units import LengthUnit

__all__ = ["MOST_KEPT", "read_cloud"]

MOST_KEPT = 50_000
"""Cells over the whole cloud, unless the user sets their side."""
MOST_CELLS = 4_000_000
"""Cells of any grid: eight bytes each for some six grids, 200 MB."""
LEAST_SPACING = 0.25
"""Cells are no smaller by themselves: ground is not known better than that between blades of grass. [m]"""
FARTHEST = 20_000.0
SAMPLE = 200_000


@dataclass(frozen=True)
class Extent:
    """What a first reading of a cloud tells.

    Parameters
    ----------
    low, high : array, shape (3,)
        Corners of the box around all points. [m]
    count, ground : int
        Points, and those of the ground class.
    """

    low: FloatArray
    high: FloatArray
    count: int
    ground: int


def read_cloud(
    path: str | Path,
    *,
    spacing: float | None = None,
    vertical_unit: str | None = None,
    units: LengthUnit | None = None,
    name: str | None = None,
    use_classes: bool = True,
    rules: GroundFilter | None = None,
) -> CloudPoints:
    """Return the ground points of a cloud, one to a cell: the mean of those that fell into it.

    The file is read two or three times in pieces, so memory stays bounded however many points it has. Points of the
    ground class are ground where the file has any; else those within 15 cm of the surface that `ground_surface` makes
    of the lowest points. What thinning loses is told by about 200,000 of the ground points, spread over the file:
    their distance in level from the triangles between the means.

    Parameters
    ----------
    path : str or Path
        LAS, LAZ, PLY, or text with three numbers to a line.
    spacing : float, optional
        Side of the cells; chosen so that there are 50,000 at most unless given. [m]
    vertical_unit : str, optional
        Unit of the levels, where the file does not say.
    units : LengthUnit, optional
        Unit of a file without a coordinate reference system; metres unless given.
    name : str, optional
        Name to be said in messages.
    use_classes : bool
        Whether to trust the ground class of the file.
    rules : GroundFilter, optional
        What ground is like, for a file without classes.

    Raises
    ------
    InputError
        The file is damaged or no cloud, or reaches farther than any site.
    """
    label = name or str(path)
    source = open_cloud(Path(path), label)
    scale, notes = settled_units(source, vertical_unit, units, label)
    extent = measured(source, scale, label)
    box = extent.high[:2] - extent.low[:2]
    area = float(max(box[0], 0.01) * max(box[1], 0.01))
    by_class = use_classes and extent.ground >= 3
    side = spacing or max(LEAST_SPACING, math.sqrt(area / MOST_KEPT))
    if area / side**2 > MOST_CELLS:
        side = math.sqrt(area / MOST_CELLS)
        notes.append(f"cells widened to {side:.3g} m: {MOST_CELLS:,} are the most")
    filtered = None if by_class else filter_cloud(source, scale, extent, rules or GroundFilter())
    east, north, level, kept, sample = thinned(source, scale, extent, side, filtered)
    if len(level) < 3:
        what = f"only {len(level)} cells of the cloud hold ground points"
        raise InputError(Fault(what, "a ground needs three", "scan a wider piece, or make spacing less", Source(label)))
    rms, worst = lost(east - extent.low[0], north - extent.low[1], level, sample - extent.low * [1.0, 1.0, 0.0])
    how = "of the ground class" if by_class else "found to be ground by a progressive morphological filter"
    notes.append(f"{extent.count:,} points, {kept:,} of them {how}")
    notes.append(
        f"thinned to {len(level):,} means in cells of {side:.3g} m; the points lie {rms * 1000:.0f} mm about them "
        f"(root mean square), 99 of 100 within {worst * 1000:.0f} mm"
    )
    east, north, crs, more = settled_axes(source.crs, east, north, Source(label))
    return CloudPoints(east, north, level, side, label, crs, (*source.notes, *notes, *more), rms)


def settled_units(
    source: CloudFile, vertical_unit: str | None, units: LengthUnit | None, label: str
) -> tuple[FloatArray, list[str]]:
    """Return the factors that bring east, north and level to metres, and how they were found."""
    from spadework.read.cloud_axes import unit_factors  # noqa: PLC0415 - with pyproj behind it

    horizontal, vertical, notes = unit_factors(source.crs, vertical_unit, units, Source(label))
    return np.array([horizontal, horizontal, vertical]), notes


def measured(source: CloudFile, scale: FloatArray, label: str) -> Extent:
    """Read a cloud once, for its extent."""
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    count = ground = 0
    for piece in source.pieces():
        if len(piece.place):
            low, high = np.minimum(low, piece.place.min(axis=0)), np.maximum(high, piece.place.max(axis=0))
        count += len(piece.place)
        ground += 0 if piece.ground is None else int(piece.ground.sum())
    if not count:
        raise InputError(Fault("the cloud holds no point that is a number", "", "export it again", Source(label)))
    reach = float(np.max((high - low)[:2] * scale[:2]))
    if not reach <= FARTHEST:
        what = f"the cloud reaches over {reach / 1000:,.0f} km"
        rule = f"a site is smaller than {FARTHEST / 1000:.0f} km"
        remedy = "cut it to the site; a stray point may lie far away, or the unit may be wrong"
        raise InputError(Fault(what, rule, remedy, Source(label)))
    return Extent(low * scale, high * scale, count, ground)


def grid_of(extent: Extent, side: float) -> tuple[int, int]:
    """Return rows and columns of a grid over a cloud."""
    columns, rows = (int(reach / side) + 1 for reach in (extent.high - extent.low)[:2].tolist())
    return rows, columns


def cells_of(place: FloatArray, extent: Extent, side: float, shape: tuple[int, int]) -> npt.NDArray[np.int64]:
    """Return the number of the cell of each point."""
    column = np.minimum(((place[:, 0] - extent.low[0]) / side).astype(np.int64), shape[1] - 1)
    row = np.minimum(((place[:, 1] - extent.low[1]) / side).astype(np.int64), shape[0] - 1)
    cells: npt.NDArray[np.int64] = row * shape[1] + column
    return cells


@dataclass(frozen=True)
class FilteredGround:
    """The ground as a grid of levels, to tell points by."""

    surface: FloatArray
    side: float
    near: float

    def is_ground(self, place: FloatArray, extent: Extent) -> npt.NDArray[np.bool_]:
        """Return which points lie near the surface, bilinear between the middles of its cells."""
        rows, columns = self.surface.shape
        x = np.clip((place[:, 0] - extent.low[0]) / self.side - 0.5, 0.0, columns - 1.0)
        y = np.clip((place[:, 1] - extent.low[1]) / self.side - 0.5, 0.0, rows - 1.0)
        left, below = (
            np.minimum(x.astype(np.int64), max(columns - 2, 0)),
            np.minimum(y.astype(np.int64), max(rows - 2, 0)),
        )
        right, above = np.minimum(left + 1, columns - 1), np.minimum(below + 1, rows - 1)
        u, v = x - left, y - below
        level = (1 - v) * ((1 - u) * self.surface[below, left] + u * self.surface[below, right]) + v * (
            (1 - u) * self.surface[above, left] + u * self.surface[above, right]
        )
        found: npt.NDArray[np.bool_] = np.abs(place[:, 2] - level) <= self.near
        return found


def filter_cloud(source: CloudFile, scale: FloatArray, extent: Extent, rules: GroundFilter) -> FilteredGround:
    """Read a cloud once for the lowest point of each cell, and filter the ground out of it.

    Cells are twice as wide as the points stand apart, so that nearly every one holds a point.
    """
    box = extent.high[:2] - extent.low[:2]
    area = float(max(box[0], 0.01) * max(box[1], 0.01))
    side = max(2.0 * math.sqrt(area / extent.count), 0.2)
    side = max(side, math.sqrt(area / MOST_CELLS))
    shape = grid_of(extent, side)
    lowest = np.full(shape[0] * shape[1], np.inf)
    for piece in source.pieces():
        place = piece.place * scale
        np.minimum.at(lowest, cells_of(place, extent, side, shape), place[:, 2])
    grid = np.where(np.isfinite(lowest), lowest, np.nan).reshape(shape)
    return FilteredGround(ground_surface(grid, side, rules), side, rules.near)


def thinned(
    source: CloudFile, scale: FloatArray, extent: Extent, side: float, filtered: FilteredGround | None
) -> tuple[FloatArray, FloatArray, FloatArray, int, FloatArray]:
    """Read a cloud once for the means of its ground points in cells, and keep an even sample of them."""
    shape = grid_of(extent, side)
    sums = np.zeros((3, shape[0] * shape[1]))
    count = np.zeros(shape[0] * shape[1])
    expected = extent.count if filtered is not None else extent.ground
    step = max(1, expected // SAMPLE)
    sample: list[FloatArray] = []
    kept = 0
    for piece in source.pieces():
        place = piece.place * scale
        ground: Any = piece.ground if filtered is None else filtered.is_ground(place, extent)
        place = place[ground]
        if not len(place):
            continue
        cell = cells_of(place, extent, side, shape)
        count += np.bincount(cell, minlength=len(count))
        for axis in range(3):
            sums[axis] += np.bincount(cell, weights=place[:, axis] - extent.low[axis], minlength=len(count))
        # A copy: a view would keep the whole piece in memory.
        sample.append(place[(-kept) % step :: step].copy())
        kept += len(place)
    full = np.flatnonzero(count)
    east, north, level = (sums[axis, full] / count[full] + extent.low[axis] for axis in range(3))
    return east, north, level, kept, np.concatenate(sample) if sample else np.empty((0, 3))


def lost(east: FloatArray, north: FloatArray, level: FloatArray, sample: FloatArray) -> tuple[float, float]:
    """Return how far ground points lie from the triangles between the means: root mean square, and 99th in 100. [m]"""
    from scipy.spatial import Delaunay, QhullError  # noqa: PLC0415 - wanted by few runs

    from spadework.ground import Ground  # noqa: PLC0415 - the same

    try:
        corners = Delaunay(np.column_stack([east, north])).simplices.astype(np.int32)
    except QhullError:  # all in a row
        return math.nan, math.nan
    mesh = Ground(np.zeros(2), east, north, level, corners, "means")
    off = sample[:, 2] - mesh.level_at(sample[:, :2])
    off = off[np.isfinite(off)]
    if not len(off):
        return math.nan, math.nan
    return float(np.sqrt(np.mean(off**2))), float(np.quantile(np.abs(off), 0.99))
