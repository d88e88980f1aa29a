"""Places by distance along a named line and offset from it, and by the squares of a lettered grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.positions.grid_labels import GridLabel
from spadework.readings import FloatArray

__all__ = ["Baseline", "LabelGrid"]


@dataclass(frozen=True, slots=True)
class Baseline:
    """A straight line along which stations are counted.

    Parameters
    ----------
    east, north : float
        A point on the line. [m]
    bearing : float
        Direction in which stations grow, clockwise from site north. [deg]
    station : float
        Station of that point. [m]
    """

    east: float
    north: float
    bearing: float
    station: float = 0.0

    @classmethod
    def between(cls, start: tuple[float, float], end: tuple[float, float], station: float = 0.0) -> Baseline:
        """Return the line from ``start`` (east, north), where the station is given, towards ``end``. [m]"""
        bearing = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360.0
        return cls(start[0], start[1], bearing, station)

    def place(self, station: npt.ArrayLike, offset: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the places at some stations and offsets.

        ``E = E0 + s sin b + o cos b``; ``N = N0 + s cos b - o sin b``, with ``s`` along from the given point and ``o``
        to the right.

        Parameters
        ----------
        station, offset : array, shape (n,)
            Along the line; to its right. [m]

        Returns
        -------
        east, north : array, shape (n,)
            Site axes. [m]
        """
        along = np.asarray(station, dtype=np.float64) - self.station
        right = np.asarray(offset, dtype=np.float64)
        sine, cosine = math.sin(math.radians(self.bearing)), math.cos(math.radians(self.bearing))
        return self.east + along * sine + right * cosine, self.north + along * cosine - right * sine

    def measure(self, east: npt.ArrayLike, north: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return station and offset of some places: `place` turned round. [m]"""
        de, dn = np.asarray(east, dtype=np.float64) - self.east, np.asarray(north, dtype=np.float64) - self.north
        sine, cosine = math.sin(math.radians(self.bearing)), math.cos(math.radians(self.bearing))
        return self.station + de * sine + dn * cosine, de * cosine - dn * sine


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """A grid whose columns have letters and whose rows have numbers.

    Parameters
    ----------
    east, north : float
        Where ``A1`` lies. [m]
    bearing : float
        Direction in which row numbers grow, clockwise from site north; letters grow to the right of it. [deg]
    across, along : float
        Spacing between letters and between numbers. [m]
    """

    east: float = 0.0
    north: float = 0.0
    bearing: float = 0.0
    across: float = 1.0
    along: float = 1.0

    def place(self, label: GridLabel) -> tuple[float, float]:
        """Return where a corner of the grid lies. [m]"""
        line = Baseline(self.east, self.north, self.bearing)
        east, north = line.place(label.row * self.along, label.column * self.across)
        return float(east), float(north)
