"""A finished scan of a raster with all that a sheet about it says."""

from __future__ import annotations

import math
from dataclasses import dataclass

from spadework.pad import Pad
from spadework.placement.goals import Goal
from spadework.placement.raster_frame import Lattice
from spadework.placement.raster_land import RasterLand
from spadework.placement.raster_search import RasterScan
from spadework.placement.raster_spots import RasterSpot, noise_floor
from spadework.placement.raster_tables import HeightLimits

__all__ = ["ScanReport"]


@dataclass(frozen=True)
class ScanReport:
    """What was scanned, for what, and what was found.

    Parameters
    ----------
    file : str
        Name of the raster.
    crs : str
        Coordinate reference system of the positions; empty for plain metres.
    lattice : Lattice
        Its cells.
    pad : Pad
        The pad.
    goal : Goal
        What is least.
    keep : float
        Compacted volume that one volume in the bank makes.
    heights : HeightLimits
        Limits on depth, fall and slope.
    land : RasterLand
        Where the pad may stand.
    scan : RasterScan
        Over the cells.
    spots : tuple of RasterSpot
        On the triangles, best first.
    accuracy : float, optional
        Standard deviation of a cell's level, where it is known. [m]
    notices : tuple of str
        What must be said about it, in plain sentences.
    """

    file: str
    crs: str
    lattice: Lattice
    pad: Pad
    goal: Goal
    keep: float
    heights: HeightLimits
    land: RasterLand
    scan: RasterScan
    spots: tuple[RasterSpot, ...]
    accuracy: float | None = None
    notices: tuple[str, ...] = ()

    @property
    def floor(self) -> float:
        """Cut plus fill that errors of the cells alone make on level ground; NaN where they are not known. [m³]"""
        return math.nan if self.accuracy is None else noise_floor(self.accuracy, self.pad.area)

    @property
    def candidates_per_second(self) -> float:
        """Poses that the scan disposed of in a second. [1/s]"""
        return self.scan.candidates / max(self.scan.seconds, 1e-9)
