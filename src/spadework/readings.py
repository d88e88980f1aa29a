"""The tables that were written in the field, frozen as they were read.

Lengths are metres already, text is as written, and every row keeps the line it came from, so that an error found
much later can still name it. ``NaN`` stands for a cell left empty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from spadework.errors import Source
from spadework.readings_arrays import FloatArray, IntArray
from spadework.readings_positions import (
    CloudPoints,
    RadialShots,
    SlopeWalk,
    StringDrops,
    SurfaceReading,
    TapeTies,
    TrackPoints,
)

__all__ = [
    "DropGrid",
    "FloatArray",
    "IntArray",
    "LevelBook",
    "LevelNetLines",
    "PointList",
    "RasterReading",
    "Reading",
    "RodList",
]


@dataclass(frozen=True)
class LevelBook:
    """A level book: readings in the order in which they were taken.

    Parameters
    ----------
    point : tuple of str, length n
        Point names; a row with neither name nor reading is not kept.
    backsight, intermediate, foresight : array, shape (n,)
        Rod readings. [m] A turning point carries its foresight and the next backsight in one row.
    known : array, shape (n,)
        Level given in the book for a bench mark. [m]
    distance : array, shape (n,)
        Distance along the run, where the book has it. [m]
    note : tuple of str, length n
        Remarks as written.
    line : array of int, shape (n,)
        Line in the file.
    file : str
        Name of the file.
    printed : array, shape (n,), optional
        Reduced levels that the book itself prints (worked by hand), to be compared. [m]
    printed_rise, printed_fall : array, shape (n,), optional
        Rises and falls that the book itself prints. [m]
    printed_hi : array, shape (n,), optional
        Heights of instrument that the book itself prints. [m]
    reading_resolution : float, optional
        Finest step to which the book is written, from its decimals or fractions. [m]
    backsight_length, sight_length : array, shape (n,), optional
        How far the rod stood for the backsight, and for the intermediate sight or foresight, of each row. [m]
    by_wires : bool
        Whether those lengths come from stadia wires, at 100 for each unit of rod.
    backsight_correction, sight_correction : array, shape (n,), optional
        What was taken off the readings for a line of sight that is not level. [m]
    """

    point: tuple[str, ...]
    backsight: FloatArray
    intermediate: FloatArray
    foresight: FloatArray
    known: FloatArray
    distance: FloatArray
    note: tuple[str, ...]
    line: IntArray
    file: str = ""
    printed: FloatArray | None = None
    printed_rise: FloatArray | None = None
    printed_fall: FloatArray | None = None
    printed_hi: FloatArray | None = None
    reading_resolution: float = 0.001
    backsight_length: FloatArray | None = None
    sight_length: FloatArray | None = None
    by_wires: bool = False
    backsight_correction: FloatArray | None = None
    sight_correction: FloatArray | None = None

    def as_written(self) -> LevelBook:
        """Return the book with what was taken off its readings put back."""
        if self.backsight_correction is None or self.sight_correction is None:
            return self
        return replace(
            self,
            backsight=self.backsight + self.backsight_correction,
            intermediate=self.intermediate + self.sight_correction,
            foresight=self.foresight + self.sight_correction,
            backsight_correction=None,
            sight_correction=None,
        )

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)

    def __len__(self) -> int:
        return len(self.point)


@dataclass(frozen=True)
class LevelNetLines:
    """Levelled lines between points, reduced already: what each rises.

    Parameters
    ----------
    start, end : tuple of str, length n
        Names of the points that each line joins.
    rise : array, shape (n,)
        Level of the end less level of the start, as observed. [m]
    setups : array, shape (n,), optional
        Set-ups of each line.
    distance : array, shape (n,), optional
        Length of each line. [m]
    sd : array, shape (n,), optional
        Standard deviation of each rise. [m]
    note : tuple of str, length n
        Remarks as written.
    line : array of int, shape (n,)
        Line in the file.
    file : str
        Name of the file.
    reading_resolution : float, optional
        Finest step to which the rises are written. [m]
    """

    start: tuple[str, ...]
    end: tuple[str, ...]
    rise: FloatArray
    setups: FloatArray | None
    distance: FloatArray | None
    sd: FloatArray | None
    note: tuple[str, ...]
    line: IntArray
    file: str = ""
    reading_resolution: float = 0.001

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)

    def __len__(self) -> int:
        return len(self.start)


@dataclass(frozen=True)
class RodList:
    """Shots from one or more set-ups of a level or laser, each with a position and a rod reading.

    Parameters
    ----------
    setup : tuple of str, length n
        Name of the set-up of each row, in the order in which they were taken.
    point : tuple of str, length n
        Point names.
    east, north : array, shape (n,)
        Position in site axes, NaN where the row has none (a bench mark off the plan). [m]
    rod : array, shape (n,)
        Rod reading. [m]
    note : tuple of str, length n
        Remarks as written.
    line : array of int, shape (n,)
        Line in the file.
    file : str
        Name of the file.
    reading_resolution : float, optional
        Finest step to which the rods are written. [m]
    station, offset : array, shape (n,), optional
        Distance along a baseline and to its right, where the list has these in place of east and north. [m]
    """

    setup: tuple[str, ...]
    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    rod: FloatArray
    note: tuple[str, ...]
    line: IntArray
    file: str = ""
    reading_resolution: float = 0.001
    station: FloatArray | None = None
    offset: FloatArray | None = None

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)

    def __len__(self) -> int:
        return len(self.point)


@dataclass(frozen=True)
class DropGrid:
    """Drops below a level line, measured over a taped grid.

    Parameters
    ----------
    across : array, shape (c,)
        Distance of each column to the right of the grid's corner. [m]
    along : array, shape (r,)
        Distance of each row from the grid's corner. [m]
    drop : array, shape (r, c)
        Ground below the line, positive downwards; NaN where nothing was measured. [m]
    line : array of int, shape (r,)
        Line in the file of each row.
    file : str
        Name of the file.
    reading_resolution : float, optional
        Finest step to which the drops are written. [m]
    """

    across: FloatArray
    along: FloatArray
    drop: FloatArray
    line: IntArray
    file: str = ""
    reading_resolution: float = 0.001

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)


@dataclass(frozen=True)
class PointList:
    """A list of points with positions and levels that somebody else made.

    Parameters
    ----------
    point : tuple of str, length n
        Point names; made up as ``P1, P2, ...`` where the list has none.
    east, north, level : array, shape (n,)
        Position and level in site axes; a level may be NaN (a point that only marks a place). [m]
    note : tuple of str, length n
        Descriptions as written.
    line : array of int, shape (n,)
        Line in the file.
    file : str
        Name of the file.
    station, offset : array, shape (n,), optional
        Distance along a baseline and to its right, where the list has these in place of east and north. [m]
    """

    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    level: FloatArray
    note: tuple[str, ...]
    line: IntArray
    file: str = ""
    station: FloatArray | None = None
    offset: FloatArray | None = None

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, int(self.line[row]), column)

    def __len__(self) -> int:
        return len(self.point)


@dataclass(frozen=True)
class RasterReading:
    """A window of an elevation raster, brought to metres.

    Parameters
    ----------
    east, north : array, shape (rows, cols)
        Positions of the cell centres in site axes; any regular, turned or bent lattice. [m]
    level : array, shape (rows, cols)
        Level of each cell centre; NaN where the raster has no value. [m]
    file : str
        Name of the file.
    crs : str, optional
        Coordinate reference system of ``east`` and ``north``, as ``EPSG:27700`` or well-known text.
    cell : float
        Cell size, the longer side. [m]
    note : tuple of str
        What was done to it: scale and offset, vertical unit, projection, window.
    """

    east: FloatArray
    north: FloatArray
    level: FloatArray
    file: str = ""
    crs: str = ""
    cell: float = float("nan")
    note: tuple[str, ...] = ()


Reading = (
    LevelBook
    | LevelNetLines
    | RodList
    | DropGrid
    | PointList
    | RasterReading
    | StringDrops
    | SlopeWalk
    | RadialShots
    | TapeTies
    | TrackPoints
    | CloudPoints
    | SurfaceReading
)
