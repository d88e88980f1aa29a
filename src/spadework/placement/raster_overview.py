"""A picture's worth of a raster: what no pose in each part of it costs less than."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_tile import Tile
from spadework.readings import FloatArray

__all__ = ["Overview"]

MOST = 600
"""Parts along the longer side, at most."""


@dataclass(frozen=True, eq=False)
class Overview:
    """What poses with their origin in each part of the raster cost at least.

    Parameters
    ----------
    cells : int
        Rows and columns of a part.
    squares : int
        Rows and columns of squares in a part.
    least : array, shape (m, n)
        Bound; NaN where no pose is allowed, or where the bound was not worked out. [m³]
    """

    cells: int
    squares: int
    least: FloatArray

    @classmethod
    def over(cls, lattice: Lattice, side: int) -> Overview:
        """Return an empty overview whose parts are whole squares."""
        squares = max(1, math.ceil(max(lattice.rows, lattice.columns) / (MOST * side)))
        cells = squares * side
        shape = (math.ceil(lattice.rows / cells), math.ceil(lattice.columns / cells))
        return cls(cells, squares, np.full(shape, np.nan))

    def take_in(self, tile: Tile, floor: FloatArray) -> None:
        """Put in what a tile says of its squares."""
        side = self.cells // self.squares
        row, column = (np.nonzero(np.isfinite(floor))[axis] for axis in (0, 1))
        place = ((row + tile.row // side) // self.squares, (column + tile.column // side) // self.squares)
        values = floor[row, column]
        least = np.where(np.isnan(self.least), np.inf, self.least)
        np.minimum.at(least, place, values)
        self.least[:] = np.where(np.isinf(least), np.nan, least)
