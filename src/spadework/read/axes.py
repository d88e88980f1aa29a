"""Choose the axes of a site from what it has: the system asked for, else the raster's, else the outline's."""

from __future__ import annotations

import math
from pathlib import Path

from spadework.errors import Source
from spadework.read.crs import parse_crs
from spadework.read.outline import outline_centre
from spadework.read.projection import SiteAxes, site_axes
from spadework.read.raster_file import opened_raster

__all__ = ["choose_axes"]


def choose_axes(
    *,
    crs: str | None = None,
    raster: str | Path | None = None,
    outline: str | Path | None = None,
    outline_crs: str | None = None,
    source: Source | None = None,
) -> SiteAxes:
    """Return the axes in which raster and outline are brought together.

    Parameters
    ----------
    crs : str, optional
        System asked for in the site file. It is kept or refused, never replaced.
    raster : str or Path, optional
        Elevation raster; only its header is read.
    outline : str or Path, optional
        GeoJSON file. Where axes are made for the site, they are centred on it.
    outline_crs : str, optional
        System of the outline, over what the file says.
    source : Source, optional
        Where `crs` stands.

    Returns
    -------
    SiteAxes
        Without a system where nothing has a place on the Earth.

    Raises
    ------
    InputError
        When a file cannot be read, or the system asked for cannot serve.
    """
    wanted = parse_crs(crs, source) if crs is not None else None
    if crs is not None and wanted is None:
        return SiteAxes()
    lon, lat, own, centre = math.nan, math.nan, None, None
    if raster is not None:
        with opened_raster(raster) as header:
            own = header.crs
            lon, lat = header.centre()
    if outline is not None:
        outline_lon, outline_lat, outline_own = outline_centre(outline, crs=outline_crs)
        own = own or outline_own
        if not math.isnan(outline_lon):
            centre = outline_lon, outline_lat
            # The scale is looked at where the raster is: an outline that lies elsewhere is a fault of its own.
            lon, lat = centre if math.isnan(lon) else (lon, lat)
    if wanted is not None:
        # With nothing to show where the site lies, its scale cannot be told: the system is taken as it is.
        return SiteAxes(crs or "") if math.isnan(lon) else site_axes(wanted, lon, lat, chosen=True, source=source)
    return site_axes(own, lon, lat, centre=centre)
