"""Read a large elevation raster window by window, levels as whole steps, in the raster's own projection in metres."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from pyproj import CRS
from rasterio.errors import RasterioError
from rasterio.windows import Window

from spadework.errors import Fault, InputError
from spadework.placement.raster_frame import NO_LEVEL, STEP, IntLevels, Lattice
from spadework.read.crs import crs_text, in_metres, parse_crs
from spadework.read.projection import MOST_SCALE_ERROR, NAMED_SCALE_ERROR, scale_error
from spadework.read.raster_file import RasterHeader, opened_raster
from spadework.read.raster_levels import (
    HIGHEST_LEVEL,
    LOWEST_LEVEL,
    STAND_IN_GAP,
    nodata_held,
    out_of_range,
    stand_ins,
)
from spadework.read.transform import longitude_latitude
from spadework.read.vertical import vertical_factor
from spadework.readings import FloatArray, RasterReading

__all__ = ["RasterWindows", "raster_windows"]

CACHE = 128
"""What the reading library may keep of blocks that it has unpacked. [MB]"""


@dataclass(frozen=True)
class RasterWindows:
    """An open raster that is read window by window.

    Parameters
    ----------
    header : RasterHeader
        The file.
    lattice : Lattice
        Where its cells lie, in metres.
    crs : str
        Coordinate reference system of those positions; empty for plain metres.
    factor : float
        Length of one vertical unit. [m]
    nodata : float, optional
        A further number that stands for no value, as the cells hold it.
    note : tuple of str
        What must be said about it.
    """

    header: RasterHeader
    lattice: Lattice
    crs: str
    factor: float
    nodata: float | None = None
    note: tuple[str, ...] = ()

    def levels(self, row: int, column: int, rows: int, columns: int) -> IntLevels:
        """Return the levels of a window, rounded to whole steps; `NO_LEVEL` where the raster has no value.

        Raises
        ------
        InputError
            When the file cannot be read there, or holds numbers that cannot be levels.
        """
        level, missing = self._window(row, column, rows, columns)
        level /= STEP
        np.rint(level, out=level)
        level[missing] = NO_LEVEL
        return level.astype(np.int32)

    def reading(self, row: int, column: int, rows: int, columns: int) -> RasterReading:
        """Return a window as cell centres and levels, not rounded."""
        level, missing = self._window(row, column, rows, columns)
        level[missing] = np.nan
        down, right = np.mgrid[row : row + rows, column : column + columns]
        east, north = np.moveaxis(self.lattice.centres(down, right), -1, 0)
        return RasterReading(
            np.ascontiguousarray(east),
            np.ascontiguousarray(north),
            level,
            file=self.header.file,
            crs=self.crs,
            cell=max(self.lattice.cell),
        )

    def _window(self, row: int, column: int, rows: int, columns: int) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """Return levels, and where there is none; levels there are 0. [m]"""
        header = self.header
        try:
            masked = header.handle.read(header.band, window=Window(column, row, columns, rows), masked=True)
        except (RasterioError, MemoryError) as error:
            raise InputError(
                Fault(
                    f"its levels cannot be read in rows {row} to {row + rows}, though its header can",
                    "the file must be whole",
                    "fetch it again",
                    header.source,
                    str(error).splitlines()[0][:120] if str(error) else "",
                )
            ) from None
        raw = np.ma.getdata(masked).astype(np.float64)
        missing = np.ma.getmaskarray(masked) | ~np.isfinite(raw)
        if self.nodata is not None:
            missing = missing | (raw == self.nodata)
        raw[missing] = 0.0
        scale, offset = header.handle.scales[header.band - 1], header.handle.offsets[header.band - 1]
        level: FloatArray = (raw * scale + offset) * self.factor
        self._check(raw, level, missing)
        level[missing] = 0.0
        return level, missing

    def _check(self, raw: FloatArray, level: FloatArray, missing: npt.NDArray[np.bool_]) -> None:
        """Refuse numbers that seem to stand for no value, and levels that are none on Earth."""
        if missing.all():
            return
        known = ~missing if missing.any() else None
        low = float(level.min(where=True if known is None else known, initial=math.inf))
        high = float(level.max(where=True if known is None else known, initial=-math.inf))
        faults: list[Fault] = []
        outside = low < LOWEST_LEVEL or high > HIGHEST_LEVEL
        if outside or _lonely_zero(raw, missing):
            faults = list(stand_ins(raw, missing, self.header))
        if outside and not faults:
            faults = list(out_of_range(np.where(missing, np.nan, level), self.header, "as read"))
        if faults:
            raise InputError(faults)


@contextmanager
def raster_windows(
    path: str | Path,
    *,
    crs: str | None = None,
    vertical_unit: str | None = None,
    band: int | None = None,
    nodata: float | None = None,
) -> Iterator[RasterWindows]:
    """Open a raster in order to read it window by window.

    Parameters
    ----------
    path : str or Path
        GeoTIFF, ASCII grid or another raster of levels.
    crs : str, optional
        Coordinate reference system of a raster that names none; ``local`` for plain metres.
    vertical_unit : str, optional
        Unit of the levels, over what the file says: ``m``, ``ft``, ``us-ft``.
    band : int, optional
        Band of the levels, counted from 1; needed where there are several.
    nodata : float, optional
        A number that stands for no value, where the file does not declare it.

    Yields
    ------
    RasterWindows
        The file is closed on leaving.

    Raises
    ------
    InputError
        When it is no raster of levels, counts degrees, stretches distances, or says too little about itself.
    """
    environment = rasterio.Env(GDAL_CACHEMAX=CACHE)  # type: ignore[no-untyped-call]
    with environment, opened_raster(path, band=band) as header:
        system = _system(header, crs)
        metres = 1.0 if system is None else float(system.axis_info[0].unit_conversion_factor)
        held = None if nodata is None else nodata_held(nodata, header)
        factor, unit_note = vertical_factor(
            vertical_unit,
            band_unit=header.band_unit,
            axis_unit=header.axis_unit,
            axis_metres=header.axis_metres,
            horizontal_metres=None if system is None else metres,
            source=header.source,
        )
        rows, columns = header.shape
        a, b, c, d, e, f = (metres * number for number in header.transform)
        lattice = Lattice(rows, columns, (a, b, c, d, e, f))
        notes = [f"{columns:,} x {rows:,} cells of {lattice.cell[0]:.4g} x {lattice.cell[1]:.4g} m", unit_note]
        notes += _scale_notes(header, system)
        if metres != 1.0 and system is not None:
            notes.append(f"{system.name} counts in {system.axis_info[0].unit_name}: brought to metres")
        yield RasterWindows(
            header, lattice, "" if system is None else crs_text(in_metres(system)), factor, held, tuple(notes)
        )


def _system(header: RasterHeader, asked: str | None) -> CRS | None:
    """Return the projected system of a raster, ``None`` for plain metres; refuse one that counts degrees."""
    system = header.crs
    if system is not None and asked is not None:
        named = parse_crs(asked, header.source)
        if named is None or not named.equals(system):
            raise InputError(
                Fault(
                    f"it is in {system.name}, not in {asked}",
                    "a raster is scanned in its own projection",
                    "leave the option --crs out, or warp the raster first",
                    header.source,
                )
            )
    if system is None:
        if asked is None:
            raise InputError(
                Fault(
                    "it names no coordinate reference system, so its horizontal unit is not known",
                    "cells have a size in metres",
                    "say which with --crs, EPSG:25832 for instance, or --crs local when its axes are plain metres",
                    header.source,
                )
            )
        system = parse_crs(asked, header.source)
    if system is not None and not system.is_projected:
        raise InputError(
            Fault(
                f"{system.name} counts degrees: its cells are not as long as they are wide, nor alike all over",
                "a raster is scanned in metres or feet, cell by cell as it is",
                f"warp it to a projection first, for instance: rio warp {header.file} flat.tif --dst-crs "
                f"{_utm(header, system)} --resampling bilinear",
                header.source,
            )
        )
    return system


def _utm(header: RasterHeader, system: CRS) -> str:
    """Return the UTM zone of a raster's middle, as an EPSG code.

    Zone ``⌊(longitude + 180) / 6⌋ + 1``; codes 326zz north and 327zz south of the equator, on WGS 84.
    """
    longitude, latitude = header.centre(system)
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        return "EPSG:32633"
    zone = int((longitude + 180.0) // 6.0) % 60 + 1
    return f"EPSG:{326 if latitude >= 0 else 327}{zone:02d}"


def _scale_notes(header: RasterHeader, system: CRS | None) -> list[str]:
    """Say how far distances in the projection are from taped ones, at the worst of its corners and its middle."""
    if system is None:
        return []
    rows, columns = header.shape
    east, north = header.positions(
        np.array([0.5, 0.0, 1.0, 0.0, 1.0]) * columns, np.array([0.5, 0.0, 0.0, 1.0, 1.0]) * rows
    )
    longitude, latitude = longitude_latitude(system, east, north)
    error = max(scale_error(system, lon, lat) for lon, lat in zip(longitude.tolist(), latitude.tolist(), strict=True))
    if error > MOST_SCALE_ERROR:
        raise InputError(
            Fault(
                f"{system.name} has distances wrong here by {error:.1%}",
                "distances are true to one part in a thousand",
                f"warp it first, for instance: rio warp {header.file} flat.tif --dst-crs {_utm(header, system)} "
                "--resampling bilinear",
                header.source,
            )
        )
    if error > NAMED_SCALE_ERROR:
        return [f"distances in {system.name} differ here from taped ones by up to 1 in {1 / error:,.0f}"]
    return []


def _lonely_zero(raw: FloatArray, missing: npt.NDArray[np.bool_]) -> bool:
    """Tell whether zero is the lowest or highest value and far from all others, as where it stands for no value."""
    values = raw if not missing.any() else raw[~missing]
    if values.min() == 0.0:
        return bool((values > 0.0).any() and (values == 0.0).any() and values[values > 0.0].min() > STAND_IN_GAP)
    if values.max() == 0.0:
        return bool(values[values < 0.0].max() < -STAND_IN_GAP)
    return False
