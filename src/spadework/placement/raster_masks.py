"""Which cells lie under the pad at each bearing, as runs along rows, and which lie under it at several bearings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from spadework.pad import Pad, Placement
from spadework.placement.limits import BoolArray
from spadework.placement.raster_frame import Lattice
from spadework.readings import FloatArray, IntArray

__all__ = ["PadMasks", "Runs", "pad_masks", "runs_of"]

HAIR = 1e-9
"""A cell centre so near to the pad's edge lies on it. [m]"""


@dataclass(frozen=True)
class Runs:
    """Cells as runs along rows, counted from the cell under the pad's origin.

    Parameters
    ----------
    row, first, past : array of int, shape (r,)
        Row of each run, its first column and the column past its last.
    """

    row: IntArray
    first: IntArray
    past: IntArray

    @property
    def count(self) -> int:
        """How many cells there are."""
        return int((self.past - self.first).sum())

    def cells(self) -> tuple[IntArray, IntArray]:
        """Return row and column of each cell, row by row."""
        length = self.past - self.first
        start = np.repeat(np.cumsum(length) - length, length)
        column = np.repeat(self.first, length) + np.arange(length.sum()) - start
        return np.repeat(self.row, length), column


@dataclass(frozen=True)
class PadMasks:
    """The cells of a pad with its origin on a cell centre.

    Parameters
    ----------
    bearings : array, shape (k,)
        Clockwise from site north. [deg]
    under : tuple of Runs, length k
        Cells whose centre lies under the pad or on its edge.
    touched : tuple of Runs, length k
        Cells of which the pad covers a part.
    corners : tuple of Runs, length k
        Cells at the corners of every square between four centres that the pad reaches into: all need a level.
    groups : tuple of (Runs, array of int)
        Cells that lie under the pad at all of several bearings, and those bearings' numbers. The first is for all
        bearings; the others share them out. Empty where so few cells are common that nothing is gained.
    halo : int
        Rows and columns that a pad may reach beyond its middle.
    area : float
        Plan area of the pad. [m²]
    """

    bearings: FloatArray
    under: tuple[Runs, ...]
    touched: tuple[Runs, ...]
    corners: tuple[Runs, ...]
    groups: tuple[tuple[Runs, IntArray], ...]
    halo: int
    area: float

    @property
    def fewest(self) -> int:
        """Least number of cells under the pad."""
        return min(runs.count for runs in self.under)

    @property
    def most(self) -> int:
        """Greatest number of cells under the pad."""
        return max(runs.count for runs in self.under)


def pad_masks(pad: Pad, lattice: Lattice, bearings: Sequence[float] | FloatArray, *, group: int = 6) -> PadMasks:
    """Return the cells of a pad at each bearing.

    Parameters
    ----------
    pad : Pad
        Any simple polygon.
    lattice : Lattice
        The raster's cells.
    bearings : sequence of float, length k
        Clockwise from site north. [deg]
    group : int
        How many neighbouring bearings share a common core.
    """
    turned = np.asarray(bearings, dtype=np.float64)
    polygon = shapely.Polygon(pad.outline)
    reach = float(np.hypot(*pad.outline.T).max())
    # Rows and columns whose centres, or whose cells, can be reached: the height of a cell over each of its sides.
    across, along = lattice.cell
    halo = 2 + math.ceil(reach * max(across, along) / lattice.cell_area)
    step = np.arange(-halo, halo + 1)
    row, column = (grid.astype(np.float64) for grid in np.meshgrid(step, step, indexing="ij"))
    under, touched, corners = [], [], []
    for bearing in turned.tolist():
        frame = Placement(0.0, 0.0, bearing, 0.0)
        under.append(_under(polygon, frame.to_pad(lattice.offsets(row, column))))
        touched.append(_touching(polygon, frame, lattice, row, column, -0.5))
        squares = _touching(polygon, frame, lattice, row, column, 0.0)
        wide = np.pad(squares, ((1, 0), (1, 0)))
        corners.append((wide[1:, 1:] | wide[:-1, 1:] | wide[1:, :-1] | wide[:-1, :-1])[: len(step), : len(step)])
    used = max(int(np.abs(np.argwhere(mask) - halo).max(initial=0)) for mask in (*under, *corners, *touched))
    return PadMasks(
        bearings=turned,
        under=tuple(runs_of(mask, halo) for mask in under),
        touched=tuple(runs_of(mask, halo) for mask in touched),
        corners=tuple(runs_of(mask, halo) for mask in corners),
        groups=_groups(turned, under, halo, group),
        halo=used,
        area=pad.area,
    )


def runs_of(mask: BoolArray, middle: int) -> Runs:
    """Return the runs of a mask, rows and columns counted from its middle."""
    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(edges == 1)
    _, past = np.nonzero(edges == -1)
    return Runs(row.astype(np.int64) - middle, first.astype(np.int64) - middle, past.astype(np.int64) - middle)


def _under(polygon: shapely.Polygon, points: FloatArray) -> BoolArray:
    """Tell which points lie in a polygon or on its edge."""
    wider = polygon.buffer(HAIR, join_style="mitre")
    found: BoolArray = np.asarray(shapely.intersects_xy(wider, points[..., 0], points[..., 1]), dtype=np.bool_)
    return found


def _touching(  # noqa: PLR0917 -- the pad, its pose and the cells
    polygon: shapely.Polygon, frame: Placement, lattice: Lattice, row: FloatArray, column: FloatArray, start: float
) -> BoolArray:
    """Tell which squares of a cell's size, beginning so many cells before each centre, the pad covers a part of."""
    around = [
        frame.to_pad(lattice.offsets(row + start + down, column + start + right))
        for down, right in ((0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0))
    ]
    squares = shapely.polygons(np.stack(around, axis=-2))
    inner = polygon.buffer(-HAIR, join_style="mitre")
    touched: BoolArray = np.asarray(shapely.intersects(squares, inner), dtype=np.bool_)
    return touched


def _groups(bearings: FloatArray, under: list[BoolArray], halo: int, size: int) -> tuple[tuple[Runs, IntArray], ...]:
    """Return what is common to all bearings and to groups of neighbours, where that is at least a few cells."""
    order = np.argsort(bearings, kind="stable")
    parts = [order] if len(order) <= size else [order, *np.array_split(order, math.ceil(len(order) / size))]
    groups = []
    for part in parts:
        common = np.logical_and.reduce([under[number] for number in part])
        groups.append((runs_of(common, halo), np.asarray(part, dtype=np.int64)))
    return tuple(groups)
