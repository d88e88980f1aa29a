"""Every position and bearing of a raster: the least costly pose, and the best ones that lie apart.

The raster is cut into tiles that are read one after another, worked on by two threads, and forgotten. What is searched
is the cost over the cells under the pad, each counting for as much of the pad: all cell centres times all bearings,
with none left out but those that a bound rules out.

The spots are defined without regard to tiles: the best pose of every square of positions is a candidate; of the
candidates the best is the first spot, and each further spot is the best that lies apart from all before it.
"""

from __future__ import annotations

import math
import os
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.pad import Pad
from spadework.placement.goals import Goal
from spadework.placement.raster_frame import Lattice, WindowOf
from spadework.placement.raster_goal import level_cost
from spadework.placement.raster_land import BarredCells, RasterLand, land_cells
from spadework.placement.raster_masks import PadMasks, pad_masks
from spadework.placement.raster_overview import Overview
from spadework.placement.raster_tables import HeightLimits, scan_tables
from spadework.placement.raster_tile import TALLIES, SquareBests, Tile, TileScan, TileScanner
from spadework.placement.shape import PadShape
from spadework.readings import FloatArray, IntArray

__all__ = ["MapTo", "RasterScan", "scan_raster", "whole_tile"]

TILE = 1024
"""Rows and columns of a tile, about."""
IN_FLIGHT = 4
"""Tiles begun before the first of them is taken in: the same however many threads there are, so that ties are too."""
MOST_WORKERS = 8
LOWEST = 60
"""So many of the lowest values for each spot are looked through first."""

MapTo = Callable[[int, int, FloatArray, FloatArray], None]


@dataclass(frozen=True)
class RasterScan:
    """What a scan of a raster found.

    Parameters
    ----------
    spots : SquareBests
        The best poses that lie apart, best first.
    masks : PadMasks
        Cells under the pad at each bearing.
    apart : float
        Least distance between two spots. [m]
    positions, candidates : int
        Positions looked at; those times bearings.
    worked_out : int
        Candidates whose exact value was worked out; bounds ruled out the others.
    numbers_read : int
        Levels, and sums of levels, that bounds and exact values read: how much work it was, whatever the machine.
    overview : Overview
        What no pose costs less than, over the raster.
    seconds : float
        Time taken. [s]
    """

    spots: SquareBests
    masks: PadMasks
    apart: float
    positions: int
    candidates: int
    worked_out: int
    numbers_read: int
    overview: Overview
    seconds: float


def scan_raster(
    window_of: WindowOf,
    lattice: Lattice,
    pad: Pad,
    goal: Goal,
    keep: float,
    *,
    bearings: Sequence[float] | FloatArray | int = 36,
    heights: HeightLimits | None = None,
    land: RasterLand | None = None,
    count: int = 10,
    apart: float | None = None,
    tile: int = TILE,
    workers: int | None = None,
    use_compiled: bool | None = None,
    map_to: MapTo | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> RasterScan:
    """Search all positions and bearings of a raster for the poses of a pad with the least cost.

    The level is free and best for each pose. The cost of a pose with its origin on a cell centre is that of the cells
    whose centres lie under the pad, each standing for an equal share of the pad's area: `goal` of their cut and fill.
    It is exact for all poses that can be among the spots.

    Parameters
    ----------
    window_of : callable
        Returns levels of a window of the raster in whole `raster_frame.STEP`.
    lattice : Lattice
        Where its cells lie.
    pad : Pad
        Any simple outline, with vertical sides.
    goal : Goal
        What should be least.
    keep : float
        Compacted volume that one volume in the bank makes.
    bearings : int or sequence of float
        How many, evenly over the turn that repeats the pad, or which. [deg]
    heights : HeightLimits, optional
        Limits on depth, fall and slope.
    land : RasterLand, optional
        Where the pad may stand; cells that touch what is kept out are never covered.
    count : int
        Most spots.
    apart : float, optional
        Least distance between two spots' origins; the pad's diagonal if not given. [m]
    tile : int
        Rows and columns worked on at once, about. The result does not depend on it.
    workers : int, optional
        Threads; as many as there are cores if not given.
    use_compiled : bool, optional
        Whether to use the compiled kernels; by default if there are any.
    map_to : callable, optional
        Called for each tile, in order, with its first row and column, the best value of each of its positions (infinite
        where no pose is allowed [m³]) and the bearing that gives it (NaN there [deg]). The value is exact for that
        bearing, which is the better of the two of least bound.
    progress : callable, optional
        Called with the share done, 0 to 1, and the best value so far. [m³]

    Returns
    -------
    RasterScan
        With no spots where no pose keeps the limits.
    """
    began = time.perf_counter()
    shape = PadShape.of(pad)
    turned = shape.turn * np.arange(bearings) / bearings if isinstance(bearings, int) else np.asarray(bearings, float)
    masks = pad_masks(pad, lattice, turned)
    distance = shape.diagonal if apart is None else apart
    side, size = whole_tile(lattice, pad, apart, tile)
    limited = land is not None and land.is_limited
    scanner = TileScanner(
        lattice=lattice,
        window_of=window_of,
        barred=BarredCells(land, lattice) if land is not None and limited else None,
        tables=scan_tables(masks, lattice, level_cost(goal, keep), heights or HeightLimits()),
        halo=masks.halo,
        side=side,
        most_cells=masks.most,
        use_compiled=COMPILED if use_compiled is None else use_compiled,
        mapped=map_to is not None,
    )
    area = land_cells(land.boundaries, lattice) if land is not None and land.boundaries else None
    tiles = list(_tiles(lattice, size, area))
    kept = _Kept(lattice, count, distance, side)
    overview = Overview.over(lattice, side)
    tally, positions, done = np.zeros(TALLIES, dtype=np.int64), 0, 0
    for part, result in _in_order(scanner, tiles, kept, workers or _cores()):
        kept.take_in(result.bests)
        overview.take_in(part, result.floor)
        if map_to is not None and result.value is not None and result.bearing is not None:
            at = np.append(turned, np.nan)[result.bearing]
            map_to(part.row, part.column, result.value, at)
        tally += result.tally
        positions += result.positions
        done += part.rows * part.columns
        if progress is not None:
            progress(done / sum(t.rows * t.columns for t in tiles), kept.best)
    return RasterScan(
        spots=kept.spots(),
        masks=masks,
        apart=distance,
        positions=positions,
        candidates=positions * len(turned),
        worked_out=int(tally[6]),
        numbers_read=int(tally[7]),
        overview=overview,
        seconds=time.perf_counter() - began,
    )


def _in_order(scanner: TileScanner, tiles: list[Tile], kept: _Kept, workers: int) -> Iterator[tuple[Tile, TileScan]]:
    """Yield each tile's result in their order; a tile begins when all but the last few before it are taken in."""
    with ThreadPoolExecutor(max(1, min(workers, MOST_WORKERS))) as pool:
        running: deque[tuple[Tile, Future[TileScan]]] = deque()
        for tile in tiles:
            if len(running) == IN_FLIGHT:
                first, future = running.popleft()
                yield first, future.result()
            running.append((tile, pool.submit(scanner.scan, tile, kept.so_far())))
        for first, future in running:
            yield first, future.result()


def whole_tile(lattice: Lattice, pad: Pad, apart: float | None, tile: int) -> tuple[int, int]:
    """Return rows and columns of a square of positions and of a tile, whole squares and a multiple of 16.

    Parameters
    ----------
    lattice, pad, apart, tile
        As for `scan_raster`.
    """
    distance = PadShape.of(pad).diagonal if apart is None else apart
    side = min(max(1, int(distance / (2.0 * max(lattice.cell)))), max(tile, 1))
    step = math.lcm(side, 16)
    return side, max(1, round(tile / step)) * step


def _tiles(lattice: Lattice, size: int, area: tuple[int, int, int, int] | None) -> Iterator[Tile]:
    """Yield the tiles that an area reaches into, all of them if none is given."""
    row, column, rows, columns = area or (0, 0, lattice.rows, lattice.columns)
    for top in range(row // size * size, row + rows, size):
        for left in range(column // size * size, column + columns, size):
            yield Tile(top, left, min(size, lattice.rows - top), min(size, lattice.columns - left))


class _Kept:
    """The best poses of squares found so far, less those that can no longer be spots."""

    def __init__(self, lattice: Lattice, count: int, apart: float, side: int) -> None:
        self.lattice, self.count, self.apart = lattice, count, apart
        # A spot keeps others off within `apart`; the best pose of a square may move within it. Among poses farther
        # from one another than twice that, each spot keeps off one at most.
        self.far = 2.0 * (apart + side * math.hypot(*lattice.cell))
        self.bests = SquareBests.none()
        self.most = math.inf

    @property
    def best(self) -> float:
        """Least value so far. [m³]"""
        return float(self.bests.value.min(initial=math.inf))

    def take_in(self, bests: SquareBests) -> None:
        """Add what a tile found."""
        self.bests = self.bests.with_others(bests)
        self.most = min(self.most, self.wanted(self.bests.value, self.bests.row, self.bests.column))
        self.bests = self.bests.chosen(self.bests.value <= self.most)

    def wanted(self, value: FloatArray, row: IntArray, column: IntArray) -> float:
        """Return what the last spot costs at most, given that poses of these values exist at these cells."""
        if len(value) < self.count:
            return math.inf
        # The lowest values nearly always suffice, and what they give is what all would.
        for some in (LOWEST * self.count, len(value)):
            lowest = np.argpartition(value, some - 1)[:some] if some < len(value) else np.arange(len(value))
            order = lowest[np.argsort(value[lowest], kind="stable")]
            chosen = self._apart_from_each_other(order, row, column, self.far)
            if len(chosen) == self.count:
                return float(value[chosen[-1]])
        return math.inf

    def so_far(self) -> _SoFar:
        """Return what a tile that begins now may know."""
        return _SoFar(self, self.most, self.bests)

    def spots(self) -> SquareBests:
        """Return the best that lie apart."""
        order = np.lexsort((self.bests.bearing, self.bests.column, self.bests.row, self.bests.value))
        return self.bests.chosen(
            np.array(self._apart_from_each_other(order, self.bests.row, self.bests.column, self.apart), dtype=np.int64)
        )

    def _apart_from_each_other(self, order: IntArray, row: IntArray, column: IntArray, distance: float) -> list[int]:
        place = self.lattice.offsets(row[order].astype(np.float64), column[order].astype(np.float64))
        chosen: list[int] = []
        while len(order) and len(chosen) < self.count:
            chosen.append(int(order[0]))
            far = np.hypot(*(place - place[0]).T) > distance
            order, place = order[far], place[far]
        return chosen


@dataclass(frozen=True)
class _SoFar:
    """What is wanted of a tile: by what had been found when it began, and by what it finds itself."""

    kept: _Kept
    most: float
    bests: SquareBests

    def of(self, tile: Tile, values: Sequence[FloatArray], side: int) -> float:
        """Return what the last spot costs at most. [m³]"""
        best = np.minimum.reduce(list(values))
        square = np.argwhere(np.isfinite(best) & (best <= self.most))
        here = best[square[:, 0], square[:, 1]]
        # The middle of a square stands for the pose in it: `far` has room for that.
        middle = square * side + side // 2 + np.array([tile.row, tile.column])
        most = self.kept.wanted(
            np.concatenate([self.bests.value, here]),
            np.concatenate([self.bests.row, middle[:, 0]]),
            np.concatenate([self.bests.column, middle[:, 1]]),
        )
        return min(self.most, most)


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
