"""Coordinate reference systems, and axes in metres in which a tape and the plan agree.

Everything with a place on the Earth is brought into *site axes*: east and north in metres. They are the axes of a
national grid where its scale is near enough to one, else a transverse Mercator of our own, centred on the site, which
keeps angles everywhere and distances close to its centre: its scale is ``1 + (east / R)² / 2``.
"""

from __future__ import annotations

import difflib
import math
import warnings
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from pyproj import CRS, Proj
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import AreaOfInterest, TransformerGroup

from spadework.errors import Fault, InputError, Source
from spadework.readings import FloatArray

__all__ = [
    "LONGITUDE_LATITUDE",
    "SiteAxes",
    "convert",
    "crs_text",
    "longitude_latitude",
    "parse_crs",
    "scale_error",
    "site_axes",
    "site_projection",
]

LONGITUDE_LATITUDE = "OGC:CRS84"
"""WGS 84 longitude and latitude in degrees, in this order: what RFC 7946 section 4 prescribes."""

MOST_SCALE_ERROR = 1 / 1000
"""Beyond this a grid is not used as site axes: the side of a 10 m pad would be wrong by more than 1 cm."""
NAMED_SCALE_ERROR = 1 / 5000
"""Beyond this the scale is mentioned."""
NAMED_ACCURACY = 0.05
"""A change of reference system that is less sure than this is mentioned. [m]"""

WORDS_FOR_LOCAL = ("local", "none", "site")


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


def parse_crs(text: str, source: Source | None = None) -> CRS | None:
    """Return the coordinate reference system that a text names, or ``None`` for ``local``.

    Parameters
    ----------
    text : str
        ``EPSG:27700``, another authority's code, well-known text, a PROJ string; ``local`` for plain metres.
    source : Source, optional
        Where the text stands, for the error.

    Raises
    ------
    InputError
        When it names nothing.
    """
    word = text.strip()
    if not word or word.casefold() in WORDS_FOR_LOCAL:
        return None
    try:
        return CRS.from_user_input(word)
    except CRSError:
        guess = difflib.get_close_matches(word.casefold(), WORDS_FOR_LOCAL, n=1)
        remedy = f"Did you mean {guess[0]!r}? " if guess else ""
        raise InputError(
            Fault(
                f"{word!r} names no coordinate reference system",
                "it is written as authority and number, EPSG:27700 for instance, or as well-known text",
                f"{remedy}look the number up in the raster's own description, or write local for plain metres",
                source or Source(),
                text,
            )
        ) from None


def crs_text(crs: CRS) -> str:
    """Return the shortest text that names a coordinate reference system exactly."""
    authority = crs.to_authority(min_confidence=100)
    if authority and CRS.from_authority(*authority).equals(crs):
        return ":".join(authority)
    return crs.to_wkt()


def horizontal(crs: CRS) -> CRS:
    """Return the part of a coordinate reference system that speaks of east and north only."""
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    if crs.is_bound and crs.source_crs is not None:
        return horizontal(crs.source_crs)
    return crs.to_2d() if len(crs.axis_info) > 2 else crs


def site_projection(lon: float, lat: float, *, base: CRS | None = None) -> CRS:
    """Return a transverse Mercator in metres, centred on a site, of scale one at its centre.

    With R the radius of the Earth, its scale ``e`` metres east of the centre is ``1 + e² / (2 R²)``, whatever the
    distance north: 1.2e-6 at 10 km, 1 mm in 100 m at 28 km. (J. P. Snyder, Map Projections - A Working Manual,
    U.S. Geological Survey Professional Paper 1395, 1987, equations 8-11 and 4-22 to 4-24.)

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
    geodetic = _geographic(base) if base is not None else CRS.from_epsg(4326)
    return ProjectedCRS(conversion=conversion, geodetic_crs=geodetic, name=name)


def site_axes(
    crs: CRS | None, lon: float, lat: float, *, chosen: bool = False, source: Source | None = None
) -> SiteAxes:
    """Return the axes for a site whose raster or outline comes in a given coordinate reference system.

    Parameters
    ----------
    crs : CRS or None
        System of the raster, or the one chosen by the user; ``None`` for plain metres.
    lon, lat : float
        Centre of the site, in the system's own longitude and latitude. [deg]
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
            raise InputError(_unsuitable(flat, "counts degrees, not metres", source))
        local = site_projection(lon, lat, base=flat)
        return SiteAxes(crs_text(local), (f"{flat.name} counts degrees: brought to metres ({local.name})",))
    error = scale_error(flat, lon, lat)
    if error > MOST_SCALE_ERROR:
        says = f"has distances wrong here by {error:.1%}"
        if chosen:
            raise InputError(_unsuitable(flat, says, source))
        local = site_projection(lon, lat, base=flat)
        return SiteAxes(crs_text(local), (f"{flat.name} {says}: brought to true metres ({local.name})",))
    notes = []
    metric = _metric(flat)
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
    degrees = _geographic(flat)
    from_east, from_north, _ = convert(degrees, flat, from_lon, from_lat)
    to_east, to_north, _ = convert(degrees, flat, to_lon, to_lat)
    unit = flat.axis_info[0].unit_conversion_factor
    worst = float(np.max(np.abs(np.hypot(to_east - from_east, to_north - from_north) * unit / length - 1.0)))
    return worst if math.isfinite(worst) else math.inf


def longitude_latitude(crs: CRS, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude, in the system's own datum, of positions in it. [deg]

    Parameters
    ----------
    crs : CRS
        Any projected or geographic system.
    east, north : array, shape (n,)
        Positions in the system's own unit, east (or longitude) first.
    """
    flat = horizontal(crs)
    lon, lat, _ = convert(flat, _geographic(flat), east, north)
    return lon, lat


def convert(
    start: CRS, end: CRS, east: FloatArray, north: FloatArray, *, source: Source | None = None
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Bring positions from one coordinate reference system to another.

    Parameters
    ----------
    start, end : CRS
        From and to.
    east, north : array, any shape
        Positions, east (or longitude) always first, in the unit of `start`.
    source : Source, optional
        Whose positions they are, for the error.

    Returns
    -------
    east, north : array, same shape
        Positions in the unit of `end`; infinite where the projection has no value.
    note : tuple of str
        How sure the change is, where it is less sure than 5 cm.

    Raises
    ------
    InputError
        When no way between the two is known: a ballpark may be a hundred metres off.
    """
    start, end = horizontal(start), horizontal(end)
    if start.equals(end, ignore_axis_order=True):
        return east, north, ()
    operations = _operations(start.to_wkt(), end.to_wkt(), _area(start, east, north))
    if not operations.transformers:
        raise InputError(
            Fault(
                f"no way from {start.name} to {end.name} is known",
                "positions taken over unchanged could be a hundred metres off",
                "bring the file to the other's coordinate reference system with a tool that has the national grids",
                source or Source(),
            )
        )
    transformer = operations.transformers[0]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        moved_east, moved_north = transformer.transform(east, north)
    notes = []
    accuracy = transformer.accuracy
    if not 0 <= accuracy <= NAMED_ACCURACY:
        sure = f"to about {accuracy:g} m" if accuracy > 0 else "to an accuracy that is not stated"
        better = "" if operations.best_available else "; a better one needs a national grid file that is not installed"
        notes.append(f"the step from {start.name} to {end.name} is known {sure}{better}")
    return np.asarray(moved_east, dtype=np.float64), np.asarray(moved_north, dtype=np.float64), tuple(notes)


@lru_cache(maxsize=32)
def _operations(start: str, end: str, area: AreaOfInterest | None) -> TransformerGroup:
    """Return the ways from one system to another, the surest first, ballparks left out."""
    with warnings.catch_warnings():
        # A missing national grid is told in the notes, with the accuracy of what is used in its place.
        warnings.simplefilter("ignore")
        return TransformerGroup(start, end, always_xy=True, allow_ballpark=False, area_of_interest=area)


def _area(crs: CRS, east: FloatArray, north: FloatArray) -> AreaOfInterest | None:
    """Return the bounds of positions in degrees, rounded outwards so that neighbours share an answer."""
    usable = np.isfinite(east) & np.isfinite(north)
    if not usable.any():
        return None
    e, n = np.asarray(east)[usable], np.asarray(north)[usable]
    corners_east = np.array([e.min(), e.max(), e.min(), e.max()])
    corners_north = np.array([n.min(), n.min(), n.max(), n.max()])
    if crs.is_projected:
        corners_east, corners_north = Proj(crs)(
            corners_east * crs.axis_info[0].unit_conversion_factor,
            corners_north * crs.axis_info[0].unit_conversion_factor,
            inverse=True,
        )
    west, east_most = math.floor(10 * np.min(corners_east)) / 10, math.ceil(10 * np.max(corners_east)) / 10
    south, north_most = math.floor(10 * np.min(corners_north)) / 10, math.ceil(10 * np.max(corners_north)) / 10
    try:
        return AreaOfInterest(west, max(south, -90.0), east_most, min(north_most, 90.0))
    except (ProjError, ValueError):
        return None


def _geographic(crs: CRS) -> CRS:
    """Return the longitude and latitude that a system is built on."""
    base = horizontal(crs).geodetic_crs
    if base is None:
        raise InputError(
            Fault(
                f"{crs.name} has no place on the Earth",
                "longitude and latitude need a system with a datum",
                "give the system in which the file really is, as crs",
            )
        )
    return base.to_2d() if len(base.axis_info) > 2 else base


def _metric(crs: CRS) -> CRS:
    """Return the same projection with its axes in metres; the very same object when they are already."""
    if all(axis.unit_conversion_factor == 1.0 for axis in crs.axis_info):
        return crs
    description = crs.to_json_dict()
    description.pop("id", None)
    description["name"] = f"{crs.name}, in metres"
    for axis in description["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    return CRS.from_json_dict(description)


def _unsuitable(crs: CRS, says: str, source: Source | None) -> Fault:
    """Return the fault of a system that cannot serve as site axes."""
    return Fault(
        f"{crs.name} {says}",
        "site axes are metres, true to one part in a thousand",
        "choose the national grid or the UTM zone of the place, or leave crs out for axes made for this site",
        source or Source(column="crs"),
        crs.name,
    )
