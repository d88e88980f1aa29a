"""One tile of a raster scan: its levels brought into kernels, and the best pose of each square of positions."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import numpy.typing as npt

from spadework.placement import raster_kernel, raster_passes
from spadework.placement.raster_frame import NO_LEVEL, STEP, IntLevels, Lattice, WindowOf
from spadework.placement.raster_land import BarredCells
from spadework.placement.raster_numpy import scan_tile_plainly
from spadework.placement.raster_tables import ScanTables
from spadework.placement.raster_value import CHUNK
from spadework.readings import FloatArray, IntArray

__all__ = ["SquareBests", "Tile", "TileScan", "TileScanner", "Wanted", "read_window"]

STRIP = 64
"""Rows of positions between two looks at what is wanted."""
TALLIES = 8
WORTH = 0.7
"""A bound that leaves more than this share of what it looks at is not worth its time."""
COARSE, COARSE_TURN = 8, 6
"""Every so many rows, columns and bearings are worked out first, to know early what a good value is."""


@dataclass(frozen=True, slots=True)
class Tile:
    """A part of the raster: its first row and column, and how many of each."""

    row: int
    column: int
    rows: int
    columns: int


@dataclass(frozen=True)
class SquareBests:
    """The best pose of each of several squares of positions.

    Parameters
    ----------
    value : array, shape (k,)
        The goal. [m³]
    row, column : array of int, shape (k,)
        Cell under the pad's origin.
    bearing : array of int, shape (k,)
        Number of the bearing.
    level : array, shape (k,)
        Best level of the stripped ground's cut and fill. [m]
    """

    value: FloatArray
    row: IntArray
    column: IntArray
    bearing: IntArray
    level: FloatArray

    @classmethod
    def none(cls) -> SquareBests:
        """Return no squares."""
        whole = np.zeros(0, dtype=np.int64)
        return cls(np.zeros(0), whole, whole, whole, np.zeros(0))

    def __len__(self) -> int:
        return len(self.value)

    def with_others(self, others: SquareBests) -> SquareBests:
        """Return both, those of this one first."""
        return SquareBests(
            *(
                np.concatenate([getattr(self, name), getattr(others, name)])
                for name in ("value", "row", "column", "bearing", "level")
            )
        )

    def chosen(self, rows: IntArray | npt.NDArray[np.bool_]) -> SquareBests:
        """Return some of them."""
        return SquareBests(self.value[rows], self.row[rows], self.column[rows], self.bearing[rows], self.level[rows])


@dataclass
class TileScan:
    """What a tile gave.

    Parameters
    ----------
    bests : SquareBests
        Squares whose best is no more than what was wanted.
    floor : array, shape (m, n)
        What no pose of each square costs less than, NaN where no pose is allowed or the bound was not worked out. [m³]
    tally : array of int, shape (8,)
        As in `raster_kernel.scan_strip`.
    positions : int
        Positions looked at.
    value, bearing : array, shape (rows, columns), optional
        The best value of each position, infinite where no pose is allowed [m³], and the number of its bearing.
    """

    bests: SquareBests
    floor: FloatArray
    tally: IntArray
    positions: int
    value: FloatArray | None = None
    bearing: IntArray | None = None


def read_window(window_of: WindowOf, lattice: Lattice, tile: Tile, halo: int) -> IntLevels:
    """Return a tile with its halo; no levels beyond the raster."""
    top, left = max(tile.row - halo, 0), max(tile.column - halo, 0)
    bottom = min(tile.row + tile.rows + halo, lattice.rows)
    right = min(tile.column + tile.columns + halo, lattice.columns)
    whole = np.full((tile.rows + 2 * halo, tile.columns + 2 * halo), NO_LEVEL, dtype=np.int32)
    down, across = top - tile.row + halo, left - tile.column + halo
    whole[down : down + bottom - top, across : across + right - left] = window_of(top, left, bottom - top, right - left)
    return whole


class Wanted(Protocol):
    """What value is still wanted: what costs more cannot be among the spots that are asked for."""

    def of(self, tile: Tile, values: Sequence[FloatArray], side: int) -> float:
        """Return it, given values found in the squares of a tile so far. [m³]"""
        ...


@dataclass(frozen=True)
class TileScanner:
    """What all tiles of a scan share.

    Parameters
    ----------
    lattice : Lattice
        The raster.
    window_of : WindowOf
        Its levels; called by one thread at a time.
    barred : BarredCells or None
        What is kept out.
    tables : ScanTables
        Masks, goal and limits.
    halo : int
        As in `PadMasks`.
    side : int
        Rows and columns of a square; tiles begin at whole squares.
    most_cells : int
        Most cells under the pad.
    use_compiled : bool
        Whether to use the kernels.
    mapped : bool
        Whether the value of every position is wanted.
    """

    lattice: Lattice
    window_of: WindowOf
    barred: BarredCells | None
    tables: ScanTables
    halo: int
    side: int
    most_cells: int
    use_compiled: bool
    mapped: bool = False
    reading: threading.Lock = field(default_factory=threading.Lock)

    def read(self, tile: Tile) -> tuple[IntLevels, npt.NDArray[np.uint8] | None]:
        """Return a tile's levels with their halo, and the cells of it that are barred."""
        barred = None
        if self.barred is not None:
            halo = self.halo
            found = self.barred.window(
                tile.row - halo, tile.column - halo, tile.rows + 2 * halo, tile.columns + 2 * halo
            )
            barred = None if found is None else found.view(np.uint8)
        if barred is not None and barred.all():
            size = (tile.rows + 2 * self.halo, tile.columns + 2 * self.halo)
            return np.full(size, NO_LEVEL, dtype=np.int32), barred
        with self.reading:
            return read_window(self.window_of, self.lattice, tile, self.halo), barred

    def scan(self, tile: Tile, most: Wanted) -> TileScan:
        """Return the best poses of a tile's squares.

        Parameters
        ----------
        tile : Tile
            The tile.
        most : Wanted
            Says what value is wanted, given what has been found in this tile.
        """
        raw, barred = self.read(tile)
        known = raw != NO_LEVEL
        squares = (-(-tile.rows // self.side), -(-tile.columns // self.side))
        if not known.any():
            size = (tile.rows, tile.columns)
            return TileScan(
                SquareBests.none(),
                np.full(squares, np.nan),
                np.zeros(TALLIES, np.int64),
                tile.rows * tile.columns,
                np.full(size, np.inf) if self.mapped else None,
                np.full(size, -1) if self.mapped else None,
            )
        base = int(raw[known].min())
        rise = int(raw[known].max()) - base
        lost = ~known if not known.all() else None
        found = _Found(squares)
        if self.mapped:
            found.value = np.full((tile.rows, tile.columns), np.inf)
            found.value_bearing = np.full((tile.rows, tile.columns), -1, dtype=np.int64)
        if self.use_compiled:
            self._scan_compiled(tile, raw, base, rise, lost is not None, barred, most, found)
        else:
            self._scan_plainly(tile, raw, base, lost, barred, most, found)
        return found.result(tile, base, tile.rows * tile.columns)

    def _scan_compiled(  # noqa: PLR0917 -- the levels in their parts
        self,
        tile: Tile,
        raw: IntLevels,
        base: int,
        rise: int,
        has_lost: bool,
        barred: npt.NDArray[np.uint8] | None,
        most: Wanted,
        found: _Found,
    ) -> None:
        tables, halo, side = self.tables, self.halo, self.side
        # Sums over the cells under a pad fit 32 bits on all but cliffs.
        wide = np.int32 if rise * max(self.most_cells, 1) < 2**31 else np.int64
        sums = (raw.shape[0], raw.shape[1] + 1)
        running = np.empty(sums, wide)
        boxes = np.empty((tables.sizes, raw.shape[0], raw.shape[1] + CHUNK), wide)
        lost = np.empty(sums if has_lost else (0, 0), np.int32)
        kept_out = np.empty(sums if barred is not None else (0, 0), np.int32)
        raster_passes.prepare(  # type: ignore[no-untyped-call]
            raw,
            np.zeros((0, 0), np.uint8) if barred is None else barred,
            np.int32(base),
            boxes,
            running,
            lost,
            kept_out,
        )
        width = raster_passes.BLOCK
        work, count = np.empty((3, width), wide), np.empty((4, width), np.int32)
        bound, alive = np.empty((4, width)), np.empty((3, width), np.uint8)
        room = np.empty((2, self.most_cells + CHUNK), wide)
        coarse = np.full(found.squares, np.inf)

        use_core = int(tables.cores.cell_start[1]) > 2
        use_groups = True
        wanted = most.of(tile, (coarse,), side)
        for number, start in enumerate(range(0, tile.rows, STRIP)):
            past = min(start + STRIP, tile.rows)
            window = np.array([start, past, tile.columns], dtype=np.int64)
            raster_kernel.coarse_strip(
                boxes, lost, kept_out, tables.under, tables.touched, tables.corners, tables.cost, tables.limits,
                window, halo, side, COARSE, COARSE_TURN, wanted, room, coarse,
            )  # fmt: skip
            wanted = most.of(tile, (coarse, found.best), side)
            if number % 8 == 0:
                use_groups = True
            tally = np.zeros(TALLIES, dtype=np.int64)
            raster_kernel.scan_strip(
                boxes, running, lost, kept_out, tables.under, tables.cores, tables.touched, tables.corners,
                tables.member_start, tables.member, tables.cost, tables.limits,
                window, halo, side, wanted, use_core, use_groups, work, count, bound, alive, room,
                found.best, found.row, found.column, found.bearing, found.level, found.floor, tally,
            )  # fmt: skip
            use_groups = use_groups and not _mostly_left(tally[2], tally[3])
            found.tally += tally
            if found.value is not None:
                raster_kernel.map_strip(
                    boxes, running, lost, kept_out, tables.cells, tables.touched, tables.corners, tables.cost,
                    tables.limits, window, halo, work, count, bound, room, found.value, found.value_bearing,
                )  # fmt: skip

    def _scan_plainly(  # noqa: PLR0917 -- as above
        self,
        tile: Tile,
        raw: IntLevels,
        base: int,
        lost: npt.NDArray[np.bool_] | None,
        barred: npt.NDArray[np.uint8] | None,
        most: Wanted,
        found: _Found,
    ) -> None:
        level = np.where(raw == NO_LEVEL, 0, raw - base).astype(np.int32)
        out = None if barred is None else barred.view(np.bool_)
        value, at, bearing = scan_tile_plainly(level, lost, out, self.tables, (tile.rows, tile.columns), self.halo)
        for a in range(found.squares[0]):
            for b in range(found.squares[1]):
                part = value[a * self.side : (a + 1) * self.side, b * self.side : (b + 1) * self.side]
                p, q = np.unravel_index(int(np.argmin(part)), part.shape)
                row, column = a * self.side + int(p), b * self.side + int(q)
                if np.isfinite(part[p, q]):
                    found.best[a, b], found.level[a, b] = part[p, q], at[row, column]
                    found.row[a, b], found.column[a, b] = row, column
                    found.bearing[a, b] = bearing[row, column]
        if found.value is not None:
            found.value, found.value_bearing = value, np.where(np.isfinite(value), bearing, -1)
        found.floor[:] = found.best
        found.tally[4:] = value.size * len(self.tables.under.scale)
        wanted = most.of(tile, (found.best,), self.side)
        found.best[found.best > wanted] = np.inf


class _Found:
    """What a tile's scan fills in: squares in rows and columns of the tile, levels in steps above its lowest."""

    def __init__(self, squares: tuple[int, int]) -> None:
        self.squares = squares
        self.best, self.level = np.full(squares, np.inf), np.zeros(squares)
        self.row, self.column, self.bearing = (np.full(squares, -1, dtype=np.int64) for _ in range(3))
        self.floor = np.full(squares, np.inf)
        self.tally = np.zeros(TALLIES, dtype=np.int64)
        self.value: FloatArray | None = None
        self.value_bearing: IntArray | None = None

    def result(self, tile: Tile, base: int, positions: int) -> TileScan:
        """Return it in rows and columns of the raster, and metres."""
        good = np.isfinite(self.best)
        bests = SquareBests(
            self.best[good],
            self.row[good] + tile.row,
            self.column[good] + tile.column,
            self.bearing[good],
            (self.level[good] + base) * STEP,
        )
        floor = np.where(np.isfinite(self.floor), self.floor, np.nan)
        return TileScan(bests, floor, self.tally, positions, self.value, self.value_bearing)


def _mostly_left(looked: int, left: int) -> bool:
    return bool(looked > 0 and left > WORTH * looked)
