"""Read a window of an elevation raster, in any projection, as cell centres in site axes.

Nothing is resampled: each cell keeps its own level, and its centre is carried over exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from pyproj import CRS
from rasterio.windows import Window

from spadework.errors import Fault, InputError
from spadework.placement.land import land_shape
from spadework.read.crs import parse_crs
from spadework.read.projection import NAMED_SCALE_ERROR, SiteAxes, site_axes
from spadework.read.raster_file import RasterHeader, opened_raster
from spadework.read.raster_levels import window_levels
from spadework.read.transform import convert
from spadework.readings import FloatArray, RasterReading

__all__ = ["raster_axes", "read_raster"]

MARGIN = 2
"""Cells kept around the boundary, so that ground reaches past it."""
EARTH_RADIUS = 6_371_009.0
"""Mean radius of the ellipsoid GRS 80, (2a + b) / 3. H. Moritz, Geodetic Reference System 1980, 1980. [m]"""


def read_raster(
    path: str | Path,
    *,
    window: tuple[float, float, float, float] | None = None,
    outline: Sequence[FloatArray] | None = None,
    vertical_unit: str | None = None,
    site_crs: str | None = None,
    band: int | None = None,
    nodata: float | None = None,
    max_cells: int = 4_000_000,
) -> RasterReading:
    """Read the part of an elevation raster that lies around a boundary.

    Parameters
    ----------
    path : str or Path
        GeoTIFF, ASCII grid or another raster of levels.
    window : tuple of float, optional
        ``east_low, north_low, east_high, north_high`` of the part wanted, in site axes. [m]
    outline : sequence of array, shape (n, 2), optional
        Rings of the boundary in site axes, instead of a window. [m]
    vertical_unit : str, optional
        Unit of the levels, over what the file says: ``m``, ``ft``, ``us-ft``.
    site_crs : str, optional
        Coordinate reference system of the site axes, brought to metres where it counts feet; ``local`` when raster and
        site share plain metres. If not given, the axes of `raster_axes`.
    band : int, optional
        Band of the levels, counted from 1; needed where there are several.
    nodata : float, optional
        A number that stands for no value, where the file does not declare it.
    max_cells : int
        Most cells to read.

    Returns
    -------
    RasterReading
        Cell centres in site axes and their levels, NaN where the raster has no value. [m]

    Raises
    ------
    InputError
        When the file is no raster of levels, lies elsewhere than the boundary, is too large, or says too little about
        itself to be read without guessing.
    """
    with opened_raster(path, band=band) as header:
        axes = _axes(header, site_crs)
        end = parse_crs(axes.crs)
        start = _own_system(header, parse_crs(site_crs or ""), placed=end is not None)
        wanted = _wanted(window, outline)
        part, notes = _window(header, wanted, start, end)
        _check_size(header, part, max_cells, whole=wanted is None)
        level, level_notes = window_levels(header, part, vertical_unit=vertical_unit, nodata=nodata)
        row, column = np.mgrid[0 : int(part.height), 0 : int(part.width)]
        east, north = header.positions(column + (part.col_off + 0.5), row + (part.row_off + 0.5))
        moves: tuple[str, ...] = ()
        if header.crs is None and start is not None:
            moves = (f"it names no coordinate reference system: taken in {start.name}, that of the site",)
        if start is not None and end is not None:
            east, north, more = convert(start, end, east, north, source=header.source)
            moves = (*moves, *more)
        if outline is not None:
            notes = (*notes, *_inside(header, outline, east, north, level))
    return RasterReading(
        east=east,
        north=north,
        level=level,
        file=str(path),
        crs=axes.crs,
        cell=_cell(east, north),
        note=(*axes.note, *moves, *notes, *level_notes, *_height_note(level)),
    )


def raster_axes(path: str | Path, *, band: int | None = None) -> SiteAxes:
    """Return the site axes that suit a raster: its own projection in metres, or one made for its middle.

    Parameters
    ----------
    path : str or Path
        Raster; only its header is read.
    band : int, optional
        As for `read_raster`.
    """
    with opened_raster(path, band=band) as header:
        return _axes(header, None)


def _axes(header: RasterHeader, site_crs: str | None) -> SiteAxes:
    """Return the site axes asked for, or those that suit the raster."""
    if site_crs is not None:
        chosen = parse_crs(site_crs)
        if chosen is None:
            return SiteAxes()
        return site_axes(chosen, *header.centre(chosen), chosen=True)
    if header.crs is None:
        raise InputError(
            Fault(
                "it names no coordinate reference system, so its horizontal unit is not known",
                "cells have a size in metres",
                'give [site] crs, EPSG:25832 for instance; or crs = "local" when its axes are plain metres',
                header.source,
            )
        )
    return site_axes(header.crs, *header.centre())


def _own_system(header: RasterHeader, chosen: CRS | None, *, placed: bool) -> CRS | None:
    """Return the system of the raster's cells; the one chosen for the site where the raster names none."""
    if header.crs is not None and not placed:
        raise InputError(
            Fault(
                f"it is in {header.crs.name}, the site has axes of its own",
                "a raster can be laid under a site only when both have a place on the Earth, or neither",
                "give [site] crs",
                header.source,
            )
        )
    if header.crs is None:
        rows, columns = header.shape
        east, north = header.positions(np.array([0.0, columns, 0.0, columns]), np.array([0.0, 0.0, rows, rows]))
        if max(map(abs, header.transform[:2])) < 0.05 and np.abs(east).max() <= 360 and np.abs(north).max() <= 90:
            raise InputError(
                Fault(
                    f"it names no coordinate reference system; cells of {abs(header.transform[0]):g} look like degrees",
                    "site axes are metres",
                    "assign its system in a GIS (EPSG:4326 for plain longitude and latitude)",
                    header.source,
                )
            )
        return chosen
    return header.crs


def _wanted(
    window: tuple[float, float, float, float] | None, outline: Sequence[FloatArray] | None
) -> FloatArray | None:
    """Return points all along the edge of the part that is wanted."""
    if outline is not None:
        rings = [np.asarray(ring, dtype=np.float64) for ring in outline]
    elif window is not None:
        east_low, north_low, east_high, north_high = window
        if not (east_low < east_high and north_low < north_high):
            raise InputError(
                Fault(f"the window {window} is empty", "it is written east, north, east, north, the lower ones first")
            )
        rings = [
            np.array([[east_low, north_low], [east_high, north_low], [east_high, north_high], [east_low, north_high]])
        ]
    else:
        return None
    share = np.linspace(0.0, 1.0, 16, endpoint=False)[None, :, None]
    points = [
        (ring[:, None, :] + share * (np.roll(ring, -1, axis=0) - ring)[:, None, :]).reshape(-1, 2) for ring in rings
    ]
    return np.vstack(points)


def _window(
    header: RasterHeader, wanted: FloatArray | None, start: CRS | None, end: CRS | None
) -> tuple[Window, tuple[str, ...]]:
    """Return the cells around the wanted part."""
    rows, columns = header.shape
    if wanted is None:
        return Window(0, 0, columns, rows), ()
    east, north = wanted.T
    if start is not None and end is not None:
        east, north, _ = convert(end, start, east, north, source=header.source)
    column, row = header.cells(east, north)
    if not (np.isfinite(column).all() and np.isfinite(row).all()):
        raise InputError(_elsewhere(header, wanted, start, end))
    low = np.floor([column.min(), row.min()]).astype(np.int64) - MARGIN
    high = np.ceil([column.max(), row.max()]).astype(np.int64) + MARGIN
    most = np.array([columns, rows])
    from_cell, to_cell = np.clip(low, 0, most), np.clip(high, 0, most)
    if column.max() <= 0 or row.max() <= 0 or column.min() >= columns or row.min() >= rows:
        raise InputError(_elsewhere(header, wanted, start, end))
    notes = [f"read {to_cell[0] - from_cell[0]} x {to_cell[1] - from_cell[1]} of {columns} x {rows} cells"]
    if column.min() < 0 or row.min() < 0 or column.max() > columns or row.max() > rows:
        notes.append("the boundary reaches beyond the raster: there is no ground there")
    return Window(*map(int, from_cell), *map(int, to_cell - from_cell)), tuple(notes)


def _elsewhere(header: RasterHeader, wanted: FloatArray, start: CRS | None, end: CRS | None) -> Fault:
    """Return the fault of a boundary that lies outside the raster, with both extents."""
    rows, columns = header.shape
    side = np.linspace(0.0, 1.0, 9)
    edge_column = columns * np.concatenate([side, np.ones(9), side[::-1], np.zeros(9)])
    edge_row = rows * np.concatenate([np.zeros(9), side, np.ones(9), side[::-1]])
    east, north = header.positions(edge_column, edge_row)
    if start is not None and end is not None:
        east, north, _ = convert(start, end, east, north, source=header.source)
    here, there = _extent(*wanted.T), _extent(east, north)
    return Fault(
        f"the boundary lies outside the raster: it goes from {here}, the raster from {there}",
        "both are compared in site axes, in metres",
        "check the coordinate reference system of each, and that the outline has longitude first; or take another tile",
        header.source,
    )


def _extent(east: FloatArray, north: FloatArray) -> str:
    """Return the bounds of points in words."""
    return f"east {east.min():.1f} to {east.max():.1f}, north {north.min():.1f} to {north.max():.1f}"


def _check_size(header: RasterHeader, part: Window, max_cells: int, *, whole: bool) -> None:
    """Refuse windows that are too large or too small to be a ground."""
    cells = int(part.width) * int(part.height)
    if cells > max_cells:
        where = "the whole raster has" if whole else "the boundary covers"
        raise InputError(
            Fault(
                f"{where} {int(part.width):,} x {int(part.height):,} = {cells:,} cells",
                f"at most {max_cells:,} are read at once",
                ("give a boundary around the site" if whole else "draw a smaller boundary, or resample the raster")
                + "; spadework scan searches rasters of any size, and finds where to draw it",
                header.source,
            )
        )
    if min(part.width, part.height) < 2:
        raise InputError(
            Fault(
                f"only {int(part.width)} x {int(part.height)} cells lie here",
                "a ground needs at least 2 x 2",
                "take a finer raster, or check the boundary",
                header.source,
            )
        )


def _inside(
    header: RasterHeader, outline: Sequence[FloatArray], east: FloatArray, north: FloatArray, level: FloatArray
) -> tuple[str, ...]:
    """Say how many cells inside the boundary have no value; refuse when none has."""
    polygon = land_shape(outline)
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, east, north)
    count, missing = int(inside.sum()), int((inside & np.isnan(level)).sum())
    if count and missing == count:
        raise InputError(
            Fault(
                f"none of the {count:,} cells inside the boundary has a value",
                "ground is where the raster has values",
                "check the boundary, or take the neighbouring tile",
                header.source,
            )
        )
    return (f"{missing:,} of {count:,} cells inside the boundary have no value",) if missing else ()


def _cell(east: FloatArray, north: FloatArray) -> float:
    """Return the longer side of the cell in the middle. [m]"""
    row, column = max(east.shape[0] // 2, 1), max(east.shape[1] // 2, 1)
    here = east[row, column], north[row, column]
    return max(
        math.dist(here, (east[row, column - 1], north[row, column - 1])),
        math.dist(here, (east[row - 1, column], north[row - 1, column])),
    )


def _height_note(level: FloatArray) -> tuple[str, ...]:
    """Say how much longer a tape is than the plan where the site lies high: by level over the radius of the Earth."""
    longer = float(np.nanmedian(level)) / EARTH_RADIUS
    if abs(longer) <= NAMED_SCALE_ERROR:
        return ()
    return (f"so high up, taped distances are 1 in {1 / longer:,.0f} longer than on the plan, which is at sea level",)
