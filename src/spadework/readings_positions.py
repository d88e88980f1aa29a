"""Tables of readings that say where points are: strings, slopes, angles, ties, tracks, clouds and surfaces."""

from __future__ import annotations

from dataclasses import dataclass

from spadework.errors import Source
from spadework.readings_arrays import FloatArray, IntArray

__all__ = ["CloudPoints", "RadialShots", "SlopeWalk", "StringDrops", "SurfaceReading", "TapeTies", "TrackPoints"]


@dataclass(frozen=True)
class NamedRows:
    """What every table of named points has.

    Parameters
    ----------
    point : tuple of str, length n
        Point names.
    note : tuple of str, length n
        Remarks as written.
    line : array of int, shape (n,)
        Line in the file.
    file : str
        Name of the file.
    """

    point: tuple[str, ...]
    note: tuple[str, ...]
    line: IntArray
    file: str

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)

    def __len__(self) -> int:
        return len(self.point)


@dataclass(frozen=True)
class StringDrops(NamedRows):
    """Drops below strings, measured at distances along them.

    Parameters
    ----------
    string : tuple of str, length n
        Name of the string of each row.
    along : array, shape (n,)
        Distance from the start of the string. [m]
    drop : array, shape (n,)
        Ground below the string, positive downwards. [m]
    """

    string: tuple[str, ...]
    along: FloatArray
    drop: FloatArray


@dataclass(frozen=True)
class SlopeWalk(NamedRows):
    """Legs taped along the slope, each with its inclination. ``point`` is where a leg ends.

    Parameters
    ----------
    start : tuple of str, length n
        Point where each leg starts.
    distance : array, shape (n,)
        Along the slope. [m]
    slope : array, shape (n,)
        Inclination, upwards positive. [deg]
    bearing : array, shape (n,)
        Clockwise from site north; NaN where it was not taken. [deg]
    resolution : float
        Finest step to which the distances are written. [m]
    angle_resolution : float
        Finest step to which the bearings are written. [deg]
    """

    start: tuple[str, ...]
    distance: FloatArray
    slope: FloatArray
    bearing: FloatArray
    resolution: float = 0.001
    angle_resolution: float = 1.0


@dataclass(frozen=True)
class RadialShots(NamedRows):
    """Points by direction and distance from set-ups of a transit or total station.

    Parameters
    ----------
    station : tuple of str, length n
        Point that the instrument stood over.
    direction : array, shape (n,)
        Reading of the circle, clockwise. [deg]
    distance : array, shape (n,)
        From instrument to point; NaN where it comes from `interval`. [m]
    vertical : array, shape (n,)
        Inclination of the sight, upwards positive; NaN where none was read. [deg]
    interval : array, shape (n,)
        Rod between the stadia wires; NaN where the distance was measured. [m]
    rod : array, shape (n,)
        Rod reading, or height of the target over the point; NaN where there is none. [m]
    height : array, shape (n,)
        Height of the instrument over the station; NaN where it was not measured. [m]
    from_north : bool
        Whether the directions are bearings already, so that zero is site north.
    horizontal : bool
        Whether the distances are horizontal, and not along the sight.
    resolution : float
        Finest step to which the distances are written. [m]
    angle_resolution : float
        Finest step to which the directions are written. [deg]
    """

    station: tuple[str, ...]
    direction: FloatArray
    distance: FloatArray
    vertical: FloatArray
    interval: FloatArray
    rod: FloatArray
    height: FloatArray
    from_north: bool = False
    horizontal: bool = False
    resolution: float = 0.001
    angle_resolution: float = 1.0 / 3600.0


@dataclass(frozen=True)
class TapeTies(NamedRows):
    """Tape distances from known points, one to a row.

    Parameters
    ----------
    reference : tuple of str, length n
        Known point that each distance starts from.
    distance : array, shape (n,)
        Horizontal. [m]
    side : tuple of str, length n
        ``left`` or ``right`` of the line from the first reference of the point to its second, or empty.
    resolution : float
        Finest step to which the distances are written. [m]
    """

    reference: tuple[str, ...]
    distance: FloatArray
    side: tuple[str, ...]
    resolution: float = 0.001


@dataclass(frozen=True)
class TrackPoints(NamedRows):
    """Points with longitude and latitude, as a phone writes them.

    Parameters
    ----------
    longitude, latitude : array, shape (n,)
        WGS 84. [deg]
    height : array, shape (n,)
        As the device gives it, above an ellipsoid or some sea level; NaN where there is none. [m]
    """

    longitude: FloatArray
    latitude: FloatArray
    height: FloatArray


@dataclass(frozen=True)
class CloudPoints:
    """Ground points of a scan, thinned.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Means of the ground points in each cell. [m]
    spacing : float
        Side of the cells. [m]
    file : str
        Name of the file.
    crs : str
        Coordinate reference system of east and north, in metres; empty where there is none.
    note : tuple of str
        What was read, left out and lost, in sentences.
    loss : float
        Root mean square of the ground points about the thinned ones. [m]
    """

    east: FloatArray
    north: FloatArray
    level: FloatArray
    spacing: float
    file: str = ""
    crs: str = ""
    note: tuple[str, ...] = ()
    loss: float = float("nan")

    def __len__(self) -> int:
        return len(self.east)


@dataclass(frozen=True)
class SurfaceReading(NamedRows):
    """Points with levels, joined by triangles that somebody else chose.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Site axes. [m]
    triangles : array of int, shape (t, 3)
        Rows of their corners.
    """

    east: FloatArray
    north: FloatArray
    level: FloatArray
    triangles: IntArray
