"""Where the cells of a raster lie, and how levels become whole numbers."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray, RasterReading

__all__ = ["NO_LEVEL", "STEP", "IntLevels", "Lattice", "ReadingOf", "WindowOf"]

IntLevels = npt.NDArray[np.int32]

STEP = 1e-4
"""Levels are counted in steps of this. [m]"""
NO_LEVEL = -(2**31)
"""Stands in a window for a cell without a level."""

WindowOf = Callable[[int, int, int, int], IntLevels]
"""Returns the levels of a window, given its first row and column and how many of each, in whole `STEP`."""
ReadingOf = Callable[[int, int, int, int], RasterReading]
"""Returns the same window as cell centres and unrounded levels. [m]"""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A regular raster in site axes, turned or not.

    Parameters
    ----------
    rows, columns : int
        Cells.
    transform : tuple of six float
        ``a, b, c, d, e, f`` of east = a column + b row + c, north = d column + e row + f, with column and row counted
        in cells from the outer corner, as in a world file. [m]
    """

    rows: int
    columns: int
    transform: tuple[float, float, float, float, float, float]

    @property
    def cell(self) -> tuple[float, float]:
        """Length of a step along a row, and of a step from row to row. [m]"""
        a, b, _, d, e, _ = self.transform
        return math.hypot(a, d), math.hypot(b, e)

    @property
    def cell_area(self) -> float:
        """Plan area of a cell. [m²]"""
        a, b, _, d, e, _ = self.transform
        return abs(a * e - b * d)

    def offsets(self, row: FloatArray, column: FloatArray) -> FloatArray:
        """Return how far a shift by rows and columns moves, ``east, north`` in the last axis. [m]"""
        a, b, _, d, e, _ = self.transform
        return np.stack([a * column + b * row, d * column + e * row], axis=-1)

    def centres(self, row: FloatArray, column: FloatArray) -> FloatArray:
        """Return the centres of cells, ``east, north`` in the last axis. [m]"""
        _, _, c, _, _, f = self.transform
        centres: FloatArray = self.offsets(np.asarray(row) + 0.5, np.asarray(column) + 0.5) + np.array([c, f])
        return centres

    def cells(self, points: FloatArray) -> FloatArray:
        """Return row and column, in cells from the outer corner, of points ``east, north``: the first has 0.5."""
        a, b, c, d, e, f = self.transform
        right, up = points[..., 0] - c, points[..., 1] - f
        area = a * e - b * d
        return np.stack([(a * up - d * right) / area, (e * right - b * up) / area], axis=-1)
