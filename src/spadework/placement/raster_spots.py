"""The spots of a raster scan on the raster's triangles: worked out exactly, moved between cells, and ranked anew."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spadework.errors import GroundError
from spadework.ground import Ground, raster_ground
from spadework.pad import Pad
from spadework.placement.clearance import Clearance
from spadework.placement.goals import Goal
from spadework.placement.limits import BearingLimit, Limits
from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom, polish
from spadework.placement.raster_frame import Lattice, ReadingOf
from spadework.placement.raster_land import RasterLand
from spadework.placement.raster_search import RasterScan
from spadework.placement.raster_tables import HeightLimits
from spadework.placement.shape import PadShape
from spadework.placement.spots import Spot
from spadework.readings import FloatArray

__all__ = ["RasterSpot", "exact_spots", "noise_floor"]

ROOM = 4
"""Cells about the pad within which its spot may move. A better valley farther off has a candidate of its own."""
FINEST = 1e-3
"""Last step of the polish. [m]"""


@dataclass(frozen=True, slots=True)
class RasterSpot:
    """One spot of a raster.

    Parameters
    ----------
    row, column : int
        Cell that the scan put the pad's origin on.
    bearing : float
        As the scan had it. [deg]
    cells_value : float
        The goal over the cells under the pad: what the scan went by.
    centre_value : float
        The goal on the triangles between cell centres, there; infinite where a limit does not hold on the triangles.
    spot : Spot
        On the same triangles after the polish: exact.
    """

    row: int
    column: int
    bearing: float
    cells_value: float
    centre_value: float
    spot: Spot


def exact_spots(  # noqa: PLR0917 -- the problem as the scan takes it
    scan: RasterScan,
    lattice: Lattice,
    reading_of: ReadingOf,
    pad: Pad,
    goal: Goal,
    keep: float,
    *,
    count: int = 10,
    heights: HeightLimits | None = None,
    land: RasterLand | None = None,
    bearing_free: bool = True,
    progress: Callable[[float], None] | None = None,
) -> tuple[RasterSpot, ...]:
    """Return the best spots of a scan as they are on the raster's triangles.

    Parameters
    ----------
    scan : RasterScan
        With more candidates than spots are wanted: on the triangles their order changes.
    lattice : Lattice
        The raster.
    reading_of : callable
        Returns cell centres and levels of a window.
    pad, goal, keep, heights, land
        As for `scan_raster`.
    count : int
        Most spots.
    bearing_free : bool
        Whether the polish may turn the pad.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    tuple of RasterSpot
        Best first, apart from one another as in the scan. A candidate that breaks a limit on the triangles, though not
        in the cells, is left out.
    """
    site = _Site(lattice, reading_of, pad, goal, keep, heights or HeightLimits(), land or RasterLand(), bearing_free)
    found = []
    for number in range(len(scan.spots)):
        spot = site.spot(scan, number)
        if spot is not None:
            found.append(spot)
        if progress is not None:
            progress((number + 1) / len(scan.spots))
    found.sort(key=lambda spot: (spot.spot.value, spot.row, spot.column))
    chosen: list[RasterSpot] = []
    for spot in found:
        at = spot.spot.placement
        if len(chosen) < count and all(
            math.hypot(at.east - other.spot.placement.east, at.north - other.spot.placement.north) > scan.apart
            for other in chosen
        ):
            chosen.append(spot)
    return tuple(chosen)


def noise_floor(sd: float, area: float) -> float:
    """Return what random errors of the cells alone make of cut plus fill on level ground. [m³]

    Levels with independent normal errors of standard deviation ``s`` lie ``s √(2 / π)`` from their mean, so that over
    an area ``A`` cut plus fill are ``0.8 s A``: the mean absolute deviation of the normal distribution. Errors of
    neighbouring cells that go together make less.

    Parameters
    ----------
    sd : float
        Standard deviation of a cell's level. [m]
    area : float
        Plan area of the pad. [m²]
    """
    return math.sqrt(2.0 / math.pi) * sd * area


@dataclass(frozen=True)
class _Site:
    """What all spots share."""

    lattice: Lattice
    reading_of: ReadingOf
    pad: Pad
    goal: Goal
    keep: float
    heights: HeightLimits
    land: RasterLand
    bearing_free: bool

    def spot(self, scan: RasterScan, number: int) -> RasterSpot | None:
        """Return one candidate of the scan, worked out; ``None`` where it breaks a limit."""
        row, column = int(scan.spots.row[number]), int(scan.spots.column[number])
        bearing = float(scan.masks.bearings[scan.spots.bearing[number]])
        east, north = self.lattice.centres(np.array(row), np.array(column)).tolist()
        ground = self._ground(row, column, scan.masks.halo + ROOM)
        if ground is None:
            return None
        objective = self._objective(ground, (east, north), bearing)
        freedom = Freedom(self.pad, objective.limits, PadShape.of(self.pad).reach)
        seed = np.array([[east, north, bearing]])

        def value_of(poses: FloatArray) -> FloatArray:
            return self._values(objective, poses)

        before = float(value_of(seed)[0])
        step = max(self.lattice.cell) / 2
        poses, values, _ = polish(value_of, freedom, seed, step=step, finest=FINEST)
        if not math.isfinite(values[0]):
            return None
        spot = objective.spot(objective.evaluate(poses), 0)
        return RasterSpot(row, column, bearing, float(scan.spots.value[number]), before, spot)

    def _ground(self, row: int, column: int, reach: int) -> Ground | None:
        top, left = max(row - reach, 0), max(column - reach, 0)
        bottom = min(row + reach + 1, self.lattice.rows)
        right = min(column + reach + 1, self.lattice.columns)
        try:
            return raster_ground(self.reading_of(top, left, bottom - top, right - left))
        except GroundError:
            return None

    def _objective(self, ground: Ground, centre: tuple[float, float], bearing: float) -> Objective:
        boundary = self.land.piece_about(centre)
        reach = np.ptp(ground.outline()[0], axis=0).max()
        near = tuple(
            keep_out
            for keep_out in self.land.keep_outs
            if np.all(keep_out.outline.min(axis=0) - keep_out.clearance < np.array(centre) + reach)
            and np.all(keep_out.outline.max(axis=0) + keep_out.clearance > np.array(centre) - reach)
        )
        limits = Limits(
            boundary=boundary,
            setback=self.land.setback if boundary else 0.0,
            keep_outs=near,
            bearing=BearingLimit() if self.bearing_free else BearingLimit(bearing),
            cut_depth=_or_none(self.heights.cut_depth),
            fill_depth=_or_none(self.heights.fill_depth),
            ground_slope=_or_none(self.heights.slope),
        )
        clearance = Clearance.of(self.pad, limits, ground.outline(), ground.origin)
        return Objective(ground, self.pad, limits, self.goal, self.keep, clearance)

    def _values(self, objective: Objective, poses: FloatArray) -> FloatArray:
        """Return the values of poses; infinite also where the ground falls too far."""
        outcome = objective.evaluate(poses)
        with np.errstate(invalid="ignore"):
            too_far = outcome.ground_high - outcome.ground_low > self.heights.fall
        value: FloatArray = np.where(too_far, np.inf, outcome.value)
        return value


def _or_none(limit: float) -> float | None:
    return limit if math.isfinite(limit) else None
