"""Open an elevation raster and learn what it says about itself, without reading its levels."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import horizontal
from spadework.read.transform import longitude_latitude
from spadework.read.vertical import vertical_axis
from spadework.readings import FloatArray

__all__ = ["RasterHeader", "opened_raster"]

DRIVERS = (
    "GTiff",
    "AAIGrid",
    "GRASSASCIIGrid",
    "GSAG",
    "GSBG",
    "GS7BG",
    "XYZ",
    "HFA",
    "EHdr",
    "ENVI",
    "SAGA",
    "BT",
    "USGSDEM",
    "DTED",
    "SRTMHGT",
    "netCDF",
    "BAG",
    "AIG",
    "JP2OpenJPEG",
)
"""Formats that can hold elevations in one local file; those that fetch from elsewhere are left out."""


@dataclass(frozen=True)
class RasterHeader:
    """What a raster says about itself.

    Parameters
    ----------
    file : str
        Name of the file.
    handle : rasterio dataset
        Open while the header is in use.
    band : int
        Band of the levels, counted from 1.
    transform : tuple of six float
        ``a, b, c, d, e, f`` of east = a column + b row + c, north = d column + e row + f, in the unit of `crs`; column
        and row are counted in cells from the outer corner.
    crs : CRS or None
        Horizontal system; ``None`` where the file names none.
    band_unit, axis_unit : str
        Vertical unit by the band's tag and by the vertical axis of the system; empty where not said.
    axis_metres : float
        Length of the vertical axis' unit. [m]
    """

    file: str
    handle: Any
    band: int
    transform: tuple[float, ...]
    crs: CRS | None
    band_unit: str
    axis_unit: str
    axis_metres: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the whole raster."""
        return int(self.handle.height), int(self.handle.width)

    @property
    def source(self) -> Source:
        """The file as the place of a fault."""
        return Source(self.file)

    def positions(self, column: FloatArray, row: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return east and north, in the unit of the system, of places counted in cells from the outer corner."""
        a, b, c, d, e, f = self.transform
        return a * column + b * row + c, d * column + e * row + f

    def cells(self, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the column and row, counted from the outer corner, of positions: the inverse of `positions`."""
        a, b, c, d, e, f = self.transform
        # The origin is taken off first: coordinates of a national grid are large.
        right, up = east - c, north - f
        area = a * e - b * d
        return (e * right - b * up) / area, (a * up - d * right) / area

    def centre(self, crs: CRS | None = None) -> tuple[float, float]:
        """Return longitude and latitude of the middle of the raster; NaN where it has no place on the Earth. [deg]

        Parameters
        ----------
        crs : CRS, optional
            The system to take for a raster that names none.
        """
        own = self.crs or crs
        if own is None:
            return math.nan, math.nan
        rows, columns = self.shape
        east, north = self.positions(np.array([columns / 2]), np.array([rows / 2]))
        lon, lat = longitude_latitude(own, east, north)
        return round(float(lon[0]), 6), round(float(lat[0]), 6)


@contextmanager
def opened_raster(path: str | Path, *, band: int | None = None) -> Iterator[RasterHeader]:
    """Open a raster and check that it can hold levels.

    Parameters
    ----------
    path : str or Path
        A local file.
    band : int, optional
        Band of the levels, counted from 1; needed where there are several.

    Yields
    ------
    RasterHeader
        The file is closed on leaving.

    Raises
    ------
    InputError
        When it is no raster, has no georeference, or the band cannot be told.
    """
    file = str(path)
    source = Source(file)
    if not Path(path).is_file():
        what = "this is a folder" if Path(path).is_dir() else "there is no such file"
        raise InputError(Fault(what, "a raster is a local file", "check the name", source))
    try:
        with Path(path).open("rb") as start:
            head = start.read(16)
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror}", "", "check who may read it", source)) from None
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        # Descriptions of rasters kept elsewhere, which would be fetched on opening.
        raise InputError(_no_raster(source, "XML"))
    try:
        with warnings.catch_warnings():
            # A missing georeference is a fault below, with its remedy.
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            handle = rasterio.open(path)
    except (RasterioError, ValueError) as error:
        raise InputError(_no_raster(source, _short(error))) from None
    with handle:
        if handle.driver not in DRIVERS:
            raise InputError(_no_raster(source, handle.driver))
        try:
            header = _header(file, handle, band)
        except (RasterioError, UnicodeDecodeError) as error:
            raise InputError(_no_raster(source, _short(error))) from None
        yield header


def _header(file: str, handle: Any, band: int | None) -> RasterHeader:
    """Return what an open file says about itself."""
    source = Source(file)
    transform = _transform(handle, source)
    crs, whole = _system(handle, source)
    chosen = _band(handle, band, source)
    axis_unit, axis_metres = vertical_axis(whole)
    band_unit = (handle.units[chosen - 1] or "").strip()
    return RasterHeader(file, handle, chosen, transform, crs, band_unit, axis_unit, axis_metres)


def _transform(handle: Any, source: Source) -> tuple[float, ...]:
    """Return the affine map of the raster, or say why it has none."""
    transform = tuple(map(float, handle.transform[:6]))
    if transform == (1.0, 0.0, 0.0, 0.0, 1.0, 0.0):
        points, _ = handle.gcps
        what = f"it is placed by {len(points)} control points only" if points else "it says nothing about where it lies"
        raise InputError(
            Fault(
                what,
                "a raster needs a georeference: origin and cell size",
                "warp it to a regular grid in a GIS first"
                if points
                else "fetch it again as a GeoTIFF with its georeference, or put its world file beside it",
                source,
            )
        )
    a, b, _, d, e, _ = transform
    if not all(map(math.isfinite, transform)) or abs(a * e - b * d) <= 1e-12 * (a * a + b * b + d * d + e * e):
        raise InputError(
            Fault(
                f"its georeference {transform} gives cells no area",
                "two sides of a cell have a length and differ in direction",
                "fetch the raster again",
                source,
            )
        )
    return transform


def _system(handle: Any, source: Source) -> tuple[CRS | None, CRS | None]:
    """Return the horizontal system and the whole one, ``None`` where the file names none."""
    if not handle.crs:
        return None, None
    try:
        whole = CRS.from_wkt(handle.crs.to_wkt(version="WKT2_2019"))
    except (CRSError, RasterioError) as error:
        raise InputError(
            Fault(
                "its coordinate reference system cannot be understood",
                "it is given by authority and number, or as well-known text",
                "assign the right one in a GIS, EPSG:25832 for instance",
                source,
                _short(error),
            )
        ) from None
    flat = horizontal(whole)
    if not (flat.is_projected or flat.is_geographic):
        # A drawing's own axes have no place on the Earth.
        return None, whole
    return flat, whole


def _band(handle: Any, band: int | None, source: Source) -> int:
    """Return the band of the levels, or ask which."""
    bands = [
        index
        for index, interpretation in zip(handle.indexes, handle.colorinterp, strict=True)
        if interpretation != ColorInterp.alpha
    ]
    described = ", ".join(f"{i} ({handle.descriptions[i - 1] or handle.dtypes[i - 1]})" for i in bands[:8])
    described += ", ..." if len(bands) > 8 else ""
    if band is not None:
        if band not in bands:
            raise InputError(Fault(f"there is no band {band}", "", f"choose one of: {described}", source))
        chosen = band
    elif len(bands) != 1:
        raise InputError(
            Fault(
                f"it has {len(bands)} bands: {described}",
                "levels come in one band",
                "say which holds the levels, as band; three or four bands of small whole numbers are a picture",
                source,
            )
        )
    else:
        chosen = bands[0]
    kind = handle.dtypes[chosen - 1]
    if handle.colorinterp[chosen - 1] == ColorInterp.palette or kind.startswith("complex"):
        raise InputError(
            Fault(
                f"band {chosen} holds {'complex numbers' if kind.startswith('complex') else 'map colours'}, not levels",
                "an elevation raster has one number per cell, its level",
                "fetch the elevation model itself, not its picture",
                source,
            )
        )
    return chosen


def _no_raster(source: Source, value: str) -> Fault:
    """Return the fault of a file in a format that is not read."""
    return Fault(
        "this is not an elevation raster that can be read",
        "GeoTIFF, ASCII grid and a dozen other formats can",
        "check that the file is whole, or convert it to GeoTIFF",
        source,
        value,
    )


def _short(error: Exception) -> str:
    """Return the first line of a library's message."""
    return str(error).splitlines()[0][:120] if str(error) else type(error).__name__
