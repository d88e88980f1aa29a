"""Buckets of a uniform grid that say which triangles may lie in a rectangle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray

__all__ = ["BucketIndex", "TriangleArray", "build_index"]

TriangleArray = npt.NDArray[np.int32]

# Triangles per bucket. Fewer make the list longer (a triangle stands in every bucket that its bounding box touches),
# more make every query read more triangles that lie outside.
TRIANGLES_PER_BUCKET = 8


@dataclass(frozen=True)
class BucketIndex:
    """For each square bucket, the triangles whose bounding box touches it.

    A triangle stands in several buckets. A query over a range of buckets counts it once by taking it only in the first
    bucket, lowest column and lowest row, that the range and the triangle's own range of buckets share: in a bucket
    where either the triangle's own columns begin or those of the query, and the same for rows.

    Parameters
    ----------
    east, north : float
        South-west corner of the first bucket, local coordinates. [m]
    per_metre : float
        Buckets per metre. [1/m]
    columns, rows : int
        Number of buckets eastwards and northwards.
    start : array of int64, shape (columns rows + 1,)
        Where the list of each bucket begins; bucket ``row columns + column``.
    entry : array of int32
        The lists, one after another: four times the number of the triangle, plus 1 where the triangle's own columns
        begin with this bucket, plus 2 where its rows do.
    """

    east: float
    north: float
    per_metre: float
    columns: int
    rows: int
    start: npt.NDArray[np.int64]
    entry: TriangleArray

    def column(self, east: FloatArray) -> npt.NDArray[np.int64]:
        """Return the bucket column of each local east, held within the grid."""
        return np.clip(np.floor((east - self.east) * self.per_metre), 0, self.columns - 1).astype(np.int64)

    def listed(self, buckets: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Return the entries of buckets, and which bucket each comes from, as a place in ``buckets``."""
        owner, place = expand(self.start[buckets + 1] - self.start[buckets])
        return self.entry[self.start[buckets][owner] + place].astype(np.int64), owner

    def row(self, north: FloatArray) -> npt.NDArray[np.int64]:
        """Return the bucket row of each local north, held within the grid."""
        return np.clip(np.floor((north - self.north) * self.per_metre), 0, self.rows - 1).astype(np.int64)


def expand(counts: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return for ``counts`` = 2, 3 the owners 0, 0, 1, 1, 1 and the places within each owner 0, 1, 0, 1, 2."""
    owner = np.repeat(np.arange(len(counts)), counts)
    first = np.cumsum(counts) - counts
    return owner, np.arange(len(owner)) - first[owner]


def build_index(east: FloatArray, north: FloatArray, triangles: TriangleArray) -> BucketIndex:
    """Sort the triangles into buckets.

    Parameters
    ----------
    east, north : array, shape (n,)
        Local coordinates of the corners. [m]
    triangles : array of int32, shape (t, 3)
        Corners of each triangle.

    Returns
    -------
    BucketIndex
        With about one bucket for eight triangles.
    """
    from scipy.sparse import coo_array  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need

    low_east, low_north = float(east.min()), float(north.min())
    wide, high = float(east.max()) - low_east, float(north.max()) - low_north
    side = math.sqrt(wide * high * TRIANGLES_PER_BUCKET / len(triangles))
    # A yard far longer than it is wide must not end in buckets without number along its length.
    side = max(side, max(wide, high) * 1e-4)
    columns, rows = int(wide / side) + 1, int(high / side) + 1
    empty = BucketIndex(
        low_east, low_north, 1.0 / side, columns, rows, np.zeros(1, np.int64), np.zeros(0, dtype=np.int32)
    )
    corners = [triangles[:, i] for i in range(3)]
    first_column = empty.column(np.minimum.reduce([east[corner] for corner in corners])).astype(np.int32)
    last_column = empty.column(np.maximum.reduce([east[corner] for corner in corners])).astype(np.int32)
    first_row = empty.row(np.minimum.reduce([north[corner] for corner in corners])).astype(np.int32)
    last_row = empty.row(np.maximum.reduce([north[corner] for corner in corners])).astype(np.int32)
    wide_by = last_column - first_column + 1
    counts = wide_by * (last_row - first_row + 1)
    # A raster has tens of millions of entries: 32-bit numbers throughout keep them within a few hundred megabytes.
    owner = np.repeat(np.arange(len(triangles), dtype=np.int32), counts)
    first = (np.cumsum(counts, dtype=np.int64) - counts).astype(np.int32)
    place = np.arange(len(owner), dtype=np.int32) - first[owner]
    row, column = np.divmod(place, wide_by[owner])
    del place
    begins = ((column == 0) + 2 * (row == 0)).astype(np.int8)
    bucket = (first_row[owner] + row) * np.int32(columns) + first_column[owner] + column
    del row, column
    lists = coo_array((begins, (bucket, owner)), shape=(columns * rows, len(triangles))).tocsr()
    start = lists.indptr.astype(np.int64)
    entry = (lists.indices * 4 + lists.data).astype(np.int32)
    start.setflags(write=False)
    entry.setflags(write=False)
    return BucketIndex(low_east, low_north, 1.0 / side, columns, rows, start, entry)
