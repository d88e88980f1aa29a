"""From what was measured, typed or pasted to tables of readings: recognise the kind, check every row, drop none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from spadework.errors import Fault, InputError, Source
from spadework.read.arrange import arrange
from spadework.read.drop_grid import read_drop_grid
from spadework.read.exchange import read_exchange
from spadework.read.headed import HeadedTable
from spadework.read.level_book import read_level_book
from spadework.read.level_net import read_level_net
from spadework.read.points import read_points
from spadework.read.radial import read_radial
from spadework.read.recognise import (
    KINDS,
    Ordered,
    choose_kind,
    find_grid_row,
    find_headings,
    read_order,
    without_headings,
)
from spadework.read.recognised import ColumnMeaning, Recognised
from spadework.read.rod_list import read_rod_list
from spadework.read.slope_walk import read_slope_walk
from spadework.read.string_line import read_string_line
from spadework.read.table import RawTable, raw_table
from spadework.read.text import STANDARD_INPUT, TIFF_MARKS, SourceText, lines_of_text, open_text
from spadework.read.ties import read_ties
from spadework.readings import Reading
from spadework.units import LengthUnit

__all__ = ["ALL_KINDS", "ColumnMeaning", "Recognised", "read_file", "read_text"]

ALL_KINDS = (*KINDS, "landxml", "cloud", "raster")
CLOUD_ENDINGS = frozenset((".las", ".laz", ".ply", ".xyz"))
RASTER_ENDINGS = frozenset((".tif", ".tiff", ".asc", ".grd", ".img", ".vrt", ".dem", ".hgt", ".bil", ".flt"))
NOT_READ = {
    ".geojson": ("an outline in GeoJSON", "give it as the file of the boundary, not as readings"),
    ".json": ("JSON", "give a table; an outline in GeoJSON belongs to the boundary"),
    ".kml": ("a KML file", "give a table of points, or the outline as GeoJSON"),
    ".shp": ("a shapefile", "give the outline as GeoJSON, or the points as a table"),
    ".dxf": ("a drawing", "give the points as a table"),
}


def read_file(
    path: str | Path,
    *,
    units: LengthUnit | None = None,
    kind: str | None = None,
    order: str | None = None,
    name: str | None = None,
    window: tuple[float, float, float, float] | None = None,
    vertical_unit: str | None = None,
    site_crs: str | None = None,
    spacing: float | None = None,
) -> Recognised:
    """Read a file of readings, whatever its kind.

    Parameters
    ----------
    path : str or Path
        The file; ``-`` for standard input.
    units : LengthUnit, optional
        Unit of plain numbers where the file does not say.
    kind : str, optional
        One of ``ALL_KINDS``, to overrule what would be recognised.
    order : str, optional
        Columns of a table without headings, as ``P,N,E,Z,D``: P point, E east, N north, Z level, D note, R rod,
        S set-up, B backsight, I intermediate, F foresight, K known level, - not used.
    name : str, optional
        Name to be said in messages.
    window : tuple of four floats, optional
        Of a raster: least east and north, greatest east and north. [m]
    vertical_unit, site_crs : str, optional
        Of a raster or a cloud: unit of its levels. Of a raster: the coordinate reference system of the site.
    spacing : float, optional
        Of a cloud: side of the cells to which it is thinned. [m]

    Returns
    -------
    Recognised
        The readings, in metres, and the sentence that says what they were read as.

    Raises
    ------
    InputError
        The file cannot be read or is not understood: every fault at once, each with its line.
    """
    check_kind(kind)
    label = name or (STANDARD_INPUT if str(path) == "-" else str(path))
    if kind == "raster" or (kind is None and looks_like_raster(Path(path))):
        return raster_recognised(path, kind, window, vertical_unit, site_crs)
    if kind == "cloud" or (kind is None and looks_like_cloud(Path(path))):
        return cloud_recognised(path, kind, spacing, vertical_unit, units, name)
    ending = Path(path).suffix.casefold()
    if kind is None and ending in NOT_READ and Path(path).is_file():
        what, remedy = NOT_READ[ending]
        rule = f"the kinds of readings are {', '.join(ALL_KINDS)}"
        raise InputError(Fault(f"this is {what}, not a table of readings", rule, remedy, Source(label)))
    return read_source(open_text(path, name=name), units=units, kind=kind, order=order)


def read_text(
    text: str,
    *,
    units: LengthUnit | None = None,
    kind: str | None = None,
    order: str | None = None,
    name: str = STANDARD_INPUT,
) -> Recognised:
    """Read pasted text.

    Parameters
    ----------
    text : str
        The rows.
    units, kind, order, name
        As for `read_file`.

    Returns
    -------
    Recognised
        The readings, in metres.

    Raises
    ------
    InputError
        The text is not understood: every fault at once, each with its line.
    """
    check_kind(kind)
    if kind in ("raster", "cloud"):
        raise InputError(Fault(f"a {kind} cannot be pasted", "", "give the name of its file", Source(name)))
    return read_source(lines_of_text(text, name), units=units, kind=kind, order=order)


def check_kind(kind: str | None) -> None:
    """Raise where a kind is asked for that there is not."""
    if kind is not None and kind not in ALL_KINDS:
        rule = f"the kinds of readings are {', '.join(ALL_KINDS)}"
        raise InputError(Fault(f"the kind {kind!r} is not known", rule, "correct it, or leave it out", value=kind))


def read_source(source: SourceText, *, units: LengthUnit | None, kind: str | None, order: str | None) -> Recognised:
    """Return the readings in some lines of text."""
    if (exchange := read_exchange(source, kind)) is not None:
        return exchange
    table = raw_table(source)
    if kind == "drop-grid":
        return read_drop_grid(table, units, "kind given")
    if order is not None:
        return ordered(table, read_order(order), kind, units)
    headings = find_headings(table)
    grid_row = None if kind else find_grid_row(table)
    if grid_row is not None and (headings is None or headings.row < grid_row):
        reason = f"line {table.line[grid_row]} has distances in all cells but the first, and distances stand below it"
        if headings is None or len(headings.meanings) < 2:
            return read_drop_grid(table, units, reason)
    if headings is None:
        raise InputError(without_headings(table, kind))
    found, reason = choose_kind(table, headings, kind)
    columns, meanings = arrange(table, headings, found, units)
    reading, summary = READERS[found](columns)
    reason = f"{reason}; separated by {table.separator.name}"
    return Recognised(reading, found, f"read as {found}: {summary}", reason, meanings, tuple(columns.notes))


def ordered(table: RawTable, order: Ordered, kind: str | None, units: LengthUnit | None) -> Recognised:
    """Return the readings of a table whose columns come in an order that was given."""
    meanings = frozenset(order.meanings)
    if kind is None:
        sights = meanings & {"backsight", "intermediate", "foresight"}
        kind = "level-book" if sights else "rod-list" if "rod" in meanings else "points"
    if headings := find_headings(table):
        what = f"the table has headings and the order {order.text} is given besides"
        remedy = "leave the order out, or remove the row of headings"
        raise InputError(Fault(what, "an order is for tables without headings", remedy, table.source(headings.row)))
    columns, explained = arrange(table, order, kind, units)
    reading, summary = READERS[kind](columns)
    return Recognised(
        reading, kind, f"read as {kind}: {summary}", f"order {order.text} given", explained, tuple(columns.notes)
    )


def looks_like_raster(path: Path) -> bool:
    """Say whether a file is an elevation raster, by its ending or its first bytes."""
    if path.suffix.casefold() in RASTER_ENDINGS:
        return True
    try:
        with path.open("rb") as stream:
            head = stream.read(64)
    except (OSError, ValueError):
        return False
    return head.startswith(TIFF_MARKS) or head.lstrip().lower().startswith(b"ncols ")


def raster_recognised(
    path: str | Path,
    kind: str | None,
    window: tuple[float, float, float, float] | None,
    vertical_unit: str | None,
    site_crs: str | None,
) -> Recognised:
    """Return a raster; the reader is loaded only now, because its library is slow to load."""
    from spadework.read.raster import read_raster  # noqa: PLC0415 - rasterio takes long to import

    raster = read_raster(path, window=window, vertical_unit=vertical_unit, site_crs=site_crs)
    rows, columns = raster.level.shape
    parts = [f"{rows} × {columns} cells of {raster.cell:.3g} m", raster.crs]
    reason = "kind given" if kind else "its ending or its first bytes are those of a raster"
    return Recognised(
        raster, "raster", f"read as raster: {', '.join(filter(None, parts))}", reason, (), tuple(raster.note)
    )


def read_track(table: HeadedTable) -> tuple[Reading, str]:
    """Return a table of latitudes and longitudes; the reader is loaded only now, because pyproj is slow to load."""
    from spadework.read.track import read_track_table  # noqa: PLC0415 - pyproj takes long to import

    return read_track_table(table)


def looks_like_cloud(path: Path) -> bool:
    """Say whether a file is a point cloud, by its ending or its first bytes."""
    if path.suffix.casefold() in CLOUD_ENDINGS:
        return True
    try:
        with path.open("rb") as stream:
            return stream.read(4) in (b"LASF", b"ply\n", b"ply\r")
    except (OSError, ValueError):
        return False


def cloud_recognised(  # noqa: PLR0917 - the options of a file
    path: str | Path,
    kind: str | None,
    spacing: float | None,
    vertical_unit: str | None,
    units: LengthUnit | None,
    name: str | None,
) -> Recognised:
    """Return a point cloud; the reader is loaded only now, because its library is slow to load."""
    from spadework.read.cloud import read_cloud  # noqa: PLC0415 - laspy and pyproj take long to import

    cloud = read_cloud(path, spacing=spacing, vertical_unit=vertical_unit, units=units, name=name)
    reason = "kind given" if kind else "its ending or its first bytes are those of a point cloud"
    words = f"{len(cloud):,} ground points, one to a cell of {cloud.spacing:.3g} m"
    return Recognised(cloud, "cloud", f"read as cloud: {words}", reason, (), cloud.note)


READERS: dict[str, Callable[[HeadedTable], tuple[Reading, str]]] = {
    "level-book": read_level_book,
    "level-net": read_level_net,
    "rod-list": read_rod_list,
    "points": read_points,
    "string-line": read_string_line,
    "slope-walk": read_slope_walk,
    "radial": read_radial,
    "ties": read_ties,
    "track": read_track,
}
