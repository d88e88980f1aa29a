"""Axes in metres in which a tape and the plan agree, for a site with a place on the Earth.

Everything with a place on the Earth is brought into *site axes*: east and north in metres. They are the axes of a
national grid where its scale is near enough to one, else a transverse Mercator of our own, centred on the site, which
keeps angles everywhere and distances close to its centre: its scale is ``1 + (east / R)² / 2``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from pyproj import CRS
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import crs_text, geographic, horizontal, in_metres, unsuitable_axes
from spadework.read.transform import convert

__all__ = ["SiteAxes", "scale_error", "site_axes", "site_projection"]

MOST_SCALE_ERROR = 1 / 1000
"""Beyond this a grid is not used as site axes: the side of a 10 m pad would be wrong by more than 1 cm."""
NAMED_SCALE_ERROR = 1 / 5000
"""Beyond this the scale is mentioned."""


@dataclass(frozen=True)
class SiteAxes:
    """The axes in which a site is worked out.

    Parameters
    ----------
    crs : str
        Their coordinate reference system, always in metres, as ``EPSG:27700`` or well-known text;
        empty where the site has no place on the Earth.
    note : tuple of str
        What must be said about them, in plain sentences.
    """

    crs: str = ""
    note: tuple[str, ...] = field(default=())


def site_projection(lon: float, lat: float, *, base: CRS | None = None) -> CRS:
    """Return a transverse Mercator in metres, centred on a site, of scale one at its centre.

    With R the radius of the Earth, its scale ``e`` metres east of the centre is ``1 + e² / (2 R²)``, whatever the
    distance north: 1.2e-6 at 10 km, 1 mm in 100 m at 28 km. (J. P. Snyder, Map Projections - A Working Manual,
    U.S. Geological Survey Professional Paper 1395, 1987, chapter 8, Transverse Mercator; its series to the square.)

    Parameters
    ----------
    lon, lat : float
        Centre of the site. [deg]
    base : CRS, optional
        Geographic system that longitude and latitude refer to, WGS 84 if not given.

    Returns
    -------
    pyproj.CRS
        East and north in metres from the centre; distances are those on the ellipsoid.

    Raises
    ------
    InputError
        When the centre is no place on the Earth, or closer than a degree to a pole.
    """
    if not (-180.0 <= lon <= 360.0 and -89.0 <= lat <= 89.0):
        raise InputError(
            Fault(
                f"no site can lie at longitude {lon:g}, latitude {lat:g}",
                "longitudes go from -180 to 180, latitudes here from -89 to 89",
                "check the coordinates, and that longitude comes first",
            )
        )
    conversion = TransverseMercatorConversion(
        latitude_natural_origin=lat,
        longitude_natural_origin=lon,
        false_easting=0.0,
        false_northing=0.0,
        scale_factor_natural_origin=1.0,
    )
    name = f"Site axes, transverse Mercator at {abs(lat):.6f} {'NS'[lat < 0]}, {abs(lon):.6f} {'EW'[lon < 0]}"
    geodetic = geographic(base) if base is not None else CRS.from_epsg(4326)
    return ProjectedCRS(conversion=conversion, geodetic_crs=geodetic, name=name)


def site_axes(
    crs: CRS | None,
    lon: float,
    lat: float,
    *,
    chosen: bool = False,
    centre: tuple[float, float] | None = None,
    source: Source | None = None,
) -> SiteAxes:
    """Return the axes for a site whose raster or outline comes in a given coordinate reference system.

    Parameters
    ----------
    crs : CRS or None
        System of the raster, or the one chosen by the user; ``None`` for plain metres.
    lon, lat : float
        Where the scale is looked at, in the system's own longitude and latitude. [deg]
    centre : (float, float), optional
        Longitude and latitude on which axes are made where the system cannot serve; the same place if not given. [deg]
    chosen : bool
        Whether the user asked for this system: then it is never replaced, an unsuitable one is refused.
    source : Source, optional
        Where the user asked for it.

    Raises
    ------
    InputError
        When the system was chosen, and counts degrees or stretches distances by more than one part in a thousand.
    """
    if crs is None:
        return SiteAxes()
    flat = horizontal(crs)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise InputError(
            Fault(
                f"the site lies where {flat.name} has no longitude and latitude",
                "a projection serves its own part of the Earth",
                "check its coordinates and the coordinate reference system",
                source or Source(),
            )
        )
    if not flat.is_projected:
        if chosen:
            raise InputError(unsuitable_axes(flat, "counts degrees, not metres", source))
        local = site_projection(*(centre or (lon, lat)), base=flat)
        return SiteAxes(crs_text(local), (f"{flat.name} counts degrees: brought to metres ({local.name})",))
    error = scale_error(flat, lon, lat)
    if error > MOST_SCALE_ERROR:
        says = f"has distances wrong here by {error:.1%}"
        if chosen:
            raise InputError(unsuitable_axes(flat, says, source))
        local = site_projection(*(centre or (lon, lat)), base=flat)
        return SiteAxes(crs_text(local), (f"{flat.name} {says}: brought to true metres ({local.name})",))
    notes = []
    metric = in_metres(flat)
    if metric is not flat:
        unit = flat.axis_info[0]
        notes.append(
            f"{flat.name} counts in {unit.unit_name} ({unit.unit_conversion_factor:.10g} m): brought to metres"
        )
    if error > NAMED_SCALE_ERROR:
        notes.append(
            f"distances in {flat.name} differ here from taped ones by 1 in {1 / error:,.0f} "
            f"({error * 10_000:.1f} mm in 10 m), areas by twice as much"
        )
    return SiteAxes(crs_text(metric), tuple(notes))


def scale_error(crs: CRS, lon: float, lat: float) -> float:
    """Return how far a projection's scale is from one at a place, in the worst direction.

    Lines of 100 m on the ellipsoid, in eight directions through the place, are measured in the projection. The
    projection's own factors are not used: those of the web's Mercator are blind to the ellipsoid.

    Parameters
    ----------
    crs : CRS
        A projected system.
    lon, lat : float
        Place, in the system's own longitude and latitude. [deg]

    Returns
    -------
    float
        ``max |k - 1|``; infinity where the projection has no value.
    """
    flat = horizontal(crs)
    azimuth = np.arange(0.0, 180.0, 22.5)
    geod = flat.get_geod()
    if geod is None:
        return math.inf
    length = 100.0
    from_lon, from_lat, _ = geod.fwd(np.full(8, lon), np.full(8, lat), azimuth + 180.0, np.full(8, length / 2))
    to_lon, to_lat, _ = geod.fwd(np.full(8, lon), np.full(8, lat), azimuth, np.full(8, length / 2))
    degrees = geographic(flat)
    from_east, from_north, _ = convert(degrees, flat, from_lon, from_lat)
    to_east, to_north, _ = convert(degrees, flat, to_lon, to_lat)
    unit = flat.axis_info[0].unit_conversion_factor
    worst = float(np.max(np.abs(np.hypot(to_east - from_east, to_north - from_north) * unit / length - 1.0)))
    return worst if math.isfinite(worst) else math.inf
