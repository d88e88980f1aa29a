"""Where on a raster a pad may stand: boundaries with their setback, less keep-outs with their clearance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.placement.limits import BoolArray, KeepOut
from spadework.placement.raster_frame import Lattice
from spadework.readings import FloatArray

__all__ = ["BarredCells", "RasterLand", "land_cells"]


@dataclass(frozen=True)
class RasterLand:
    """Land on which a pad may stand.

    Parameters
    ----------
    boundaries : sequence of sequence of array, shape (n, 2)
        For each piece of land its outer ring, then its holes; without any, the whole raster. [m]
    setback : float
        Least distance from the pad to every ring. [m]
    keep_outs : sequence of KeepOut
        What the pad keeps clear of.
    """

    boundaries: tuple[tuple[FloatArray, ...], ...] = ()
    setback: float = 0.0
    keep_outs: tuple[KeepOut, ...] = ()

    @property
    def is_limited(self) -> bool:
        """Whether there is any limit at all."""
        return bool(self.boundaries or self.keep_outs)

    def region(self, room: float = 0.0) -> BaseGeometry | None:
        """Return the ground that a pad may cover, smaller all round by ``room`` [m]; nothing without a boundary."""
        if not self.boundaries:
            return None
        pieces = [shapely.Polygon(rings[0], rings[1:]).buffer(-(self.setback + room)) for rings in self.boundaries]
        return shapely.union_all(pieces)

    def kept_out(self, room: float = 0.0) -> BaseGeometry | None:
        """Return what a pad must not cover, larger all round by ``room``; nothing where there is no keep-out. [m]"""
        shapes = [_shape(keep_out).buffer(keep_out.clearance + room, quad_segs=32) for keep_out in self.keep_outs]
        return shapely.union_all(shapes) if shapes else None

    def piece_about(self, point: tuple[float, float]) -> tuple[FloatArray, ...]:
        """Return the rings of the piece of land that a point lies in; none where there is no boundary. [m]"""
        for rings in self.boundaries:
            if shapely.Polygon(rings[0], rings[1:]).covers(shapely.Point(point)):
                return tuple(rings)
        return ()


class BarredCells:
    """Which cells of a raster a pad may not cover any part of, window by window.

    A cell is barred unless the circle about it lies wholly on the allowed land: a little more than the cells that touch
    what is kept out, never less.
    """

    def __init__(self, land: RasterLand, lattice: Lattice) -> None:
        offsets = lattice.offsets(np.array([0.5, 0.5]), np.array([0.5, -0.5]))
        radius = float(np.hypot(*offsets.T).max())
        self._lattice = lattice
        self._region, self._out = land.region(radius), land.kept_out(radius * 1.005)
        for shape in (self._region, self._out):
            if shape is not None:
                shapely.prepare(shape)

    def window(self, row: int, column: int, rows: int, columns: int) -> BoolArray | None:
        """Return which cells of a window are barred; ``None`` where none is."""
        corners = self._lattice.offsets(
            np.array([row, row, row + rows, row + rows], dtype=np.float64),
            np.array([column, column + columns, column + columns, column], dtype=np.float64),
        ) + np.array([self._lattice.transform[2], self._lattice.transform[5]])
        box = shapely.Polygon(corners)
        inside = self._region is None or self._region.contains(box)
        if inside and (self._out is None or not self._out.intersects(box)):
            return None
        if self._region is not None and not self._region.intersects(box):
            return np.ones((rows, columns), dtype=np.bool_)
        down, right = np.mgrid[row : row + rows, column : column + columns]
        east, north = np.moveaxis(self._lattice.centres(down, right), -1, 0)
        barred = np.zeros((rows, columns), dtype=np.bool_)
        if not inside:
            barred |= ~shapely.contains_xy(self._region, east, north)
        if self._out is not None:
            barred |= shapely.contains_xy(self._out, east, north)
        return barred if barred.any() else None


def _shape(keep_out: KeepOut) -> BaseGeometry:
    """Return a keep-out as a geometry."""
    if keep_out.is_circle:
        return shapely.Point(keep_out.outline[0])
    return shapely.LineString(keep_out.outline) if keep_out.open else shapely.Polygon(keep_out.outline, keep_out.holes)


def land_cells(sequence: Sequence[tuple[FloatArray, ...]], lattice: Lattice) -> tuple[int, int, int, int]:
    """Return the window ``row, column, rows, columns`` of the raster that holds some rings, cut to the raster."""
    corners = np.vstack([rings[0] for rings in sequence])
    low = np.floor(lattice.cells(corners).min(axis=0)).astype(int) - 1
    high = np.ceil(lattice.cells(corners).max(axis=0)).astype(int) + 1
    row, column = (int(v) for v in np.clip(low, 0, [lattice.rows, lattice.columns]))
    past_row, past_column = (int(v) for v in np.clip(high, 0, [lattice.rows, lattice.columns]))
    return row, column, max(past_row - row, 0), max(past_column - column, 0)
