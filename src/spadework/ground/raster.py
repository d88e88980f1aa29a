"""A raster as triangles: two for each cell between four cell centres."""

from __future__ import annotations

import numpy as np

from spadework.errors import GroundError
from spadework.ground.index import TriangleArray
from spadework.ground.surface import Ground, local_origin
from spadework.readings import FloatArray, RasterReading

__all__ = ["raster_ground"]


def raster_ground(raster: RasterReading) -> Ground:
    """Return the ground of a raster.

    Each square between four neighbouring cell centres is halved along the diagonal whose ends differ less in level.
    A square with a corner that has no value gives no triangle: nothing is filled in.

    Parameters
    ----------
    raster : RasterReading
        Any regular, turned or bent lattice of at least 2 by 2 cells.

    Returns
    -------
    Ground

    Raises
    ------
    GroundError
        If no four neighbouring cells have a value, or the lattice folds over itself.
    """
    name = raster.file or "the raster"
    rows, columns = raster.level.shape
    if rows < 2 or columns < 2:
        raise GroundError(f"{name} has {rows} by {columns} cells; ground needs at least 2 by 2. Take a larger window.")
    level = np.asarray(raster.level, dtype=np.float64).ravel()
    known = np.isfinite(level).reshape(rows, columns)
    whole = known[:-1, :-1] & known[:-1, 1:] & known[1:, :-1] & known[1:, 1:]
    if not whole.any():
        raise GroundError(
            f"{name}: {int(known.sum())} of {level.size} cells have a value, and nowhere do four neighbours have "
            "one, so there is no ground. Take another window, or check the no-data value."
        )
    first = (np.arange(rows - 1, dtype=np.int32)[:, None] * columns + np.arange(columns - 1, dtype=np.int32))[whole]
    triangles = _halved(first, columns, level)
    east, north = np.asarray(raster.east, np.float64).ravel(), np.asarray(raster.north, np.float64).ravel()
    if len(first) < (rows - 1) * (columns - 1):
        used = np.zeros(level.size, dtype=bool)
        used[triangles.ravel()] = True
        number = np.cumsum(used, dtype=np.int32) - np.int32(1)
        triangles = number[triangles]
        east, north, level = east[used], north[used], level[used]
    origin = local_origin(east, north)
    east, north = east - origin[0], north - origin[1]
    triangles = _counter_clockwise(name, east, north, triangles)
    missing = int(known.size - known.sum())
    gaps = (f"{missing} of {known.size} cells have no value: no ground there.",) if missing else ()
    return Ground(origin, east, north, level, triangles, "raster", (), (*raster.note, *gaps))


def _halved(first: TriangleArray, columns: int, level: FloatArray) -> TriangleArray:
    """Return two triangles for each square, given by the corner of its first row and column."""
    right, below, across = first + np.int32(1), first + np.int32(columns), first + np.int32(columns + 1)
    main = np.abs(level[first] - level[across]) <= np.abs(level[right] - level[below])
    triangles = np.empty((2 * len(first), 3), dtype=np.int32)
    triangles[0::2, 0], triangles[0::2, 1], triangles[0::2, 2] = first, right, np.where(main, across, below)
    triangles[1::2, 0], triangles[1::2, 1], triangles[1::2, 2] = np.where(main, first, right), across, below
    return triangles


def _counter_clockwise(name: str, east: FloatArray, north: FloatArray, triangles: TriangleArray) -> TriangleArray:
    """Return the triangles counter-clockwise from above; all turn the same way unless the lattice folds."""
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    if (double > 0).all():
        return triangles
    if (double < 0).all():
        turned: TriangleArray = np.ascontiguousarray(triangles[:, [0, 2, 1]])
        return turned
    raise GroundError(
        f"{name}: the lattice of cell centres folds over itself ({int((double <= 0).sum())} of {len(double)} triangles "
        "are turned over). Check the transform of the raster."
    )
