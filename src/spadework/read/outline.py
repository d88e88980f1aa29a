"""Boundaries and keep-outs drawn on a map, brought from GeoJSON into site axes.

Coordinates are longitude and latitude in degrees, as RFC 7946 section 4 prescribes, unless the file's legacy ``crs``
member or the caller says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from pyproj import CRS

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import LONGITUDE_LATITUDE, crs_text, horizontal, in_metres, parse_crs
from spadework.read.geojson import Figure, GeoJson, parse_geojson
from spadework.read.projection import SiteAxes, site_axes
from spadework.read.transform import convert, longitude_latitude
from spadework.readings import FloatArray

__all__ = ["Area", "Mark", "Outline", "outline_centre", "outline_text", "read_outline"]

MOST_BYTES = 50_000_000


@dataclass(frozen=True)
class Area:
    """One polygon in site axes.

    Parameters
    ----------
    name, role : str
        From its properties; the name is ``area 2`` where it has none, the role may be empty.
    rings : tuple of array, shape (n, 2)
        Outer ring counter-clockwise, then holes clockwise; the first corner is not repeated. [m]
    source : Source
        Where it stands in the file.
    """

    name: str
    role: str
    rings: tuple[FloatArray, ...]
    source: Source


@dataclass(frozen=True)
class Mark:
    """One named point in site axes, to tape from or to keep clear of.

    Parameters
    ----------
    name, role : str
        From its properties.
    east, north : float
        Position. [m]
    source : Source
        Where it stands in the file.
    """

    name: str
    role: str
    east: float
    north: float
    source: Source


@dataclass(frozen=True)
class Outline:
    """What an outline file holds, in site axes.

    Parameters
    ----------
    areas : tuple of Area
        Its polygons, in the order of the file; a polygon of several parts gives several.
    marks : tuple of Mark
        Its points.
    file : str
        Name of the file.
    crs : str
        Coordinate reference system of the site axes; empty for axes without a place on the Earth.
    note : tuple of str
        What was tidied, and how sure the change of axes is.
    """

    areas: tuple[Area, ...]
    marks: tuple[Mark, ...]
    file: str = ""
    crs: str = ""
    note: tuple[str, ...] = ()

    def area(self, name: str | None = None) -> Area:
        """Return the area called `name`; the one with the role ``boundary``, or the only one, where no name is given.

        Raises
        ------
        InputError
            When there is none, or more than one.
        """
        if name is not None:
            found = [area for area in self.areas if area.name.casefold() == name.strip().casefold()]
        else:
            found = [area for area in self.areas if area.role.casefold() == "boundary"] or list(self.areas)
        if len(found) == 1:
            return found[0]
        wanted = f"called {name!r} " if name is not None else ""
        names = ", ".join(repr(area.name) for area in self.areas) or "none"
        raise InputError(
            Fault(
                f"{len(found) or 'no'} area(s) {wanted}in it",
                "one polygon is the boundary",
                f"say which by name, or give it the property role = boundary; there are: {names}",
                Source(self.file),
            )
        )

    @property
    def rings(self) -> tuple[FloatArray, ...]:
        """Rings of the boundary, the outer first, then its holes. [m]"""
        return self.area().rings

    @property
    def lands(self) -> list[tuple[FloatArray, ...]]:
        """Rings of each piece of land: every area with the role ``boundary``, or else the only one. [m]

        Raises
        ------
        InputError
            As for `area`.
        """
        found = [area.rings for area in self.areas if area.role.casefold() == "boundary"]
        return found or [self.area().rings]


def read_outline(path: str | Path, *, site_crs: str | None = None, crs: str | None = None) -> Outline:
    """Read polygons and points from a GeoJSON file into site axes.

    Parameters
    ----------
    path : str or Path
        File to read.
    site_crs : str, optional
        Coordinate reference system of the site axes, brought to metres where it counts feet; ``local`` or empty for a
        site without a place on the Earth. If not given, axes are made from the file: a projected system as it is, else
        a transverse Mercator on its centre.
    crs : str, optional
        Coordinate reference system of the file, over what the file says: ``EPSG:27700``; ``site`` when it is drawn in
        site axes already, in metres.

    Returns
    -------
    Outline
        Areas and points. [m]

    Raises
    ------
    InputError
        With every fault of the file: not GeoJSON, lines instead of areas, edges that cross, degrees out of range, ...
    """
    file = str(path)
    found = parse_geojson(outline_text(Path(path)), file)
    source = Source(file, column="crs")
    file_crs, notes = _file_crs(found, crs, source)
    _check_degrees(found.figures, file_crs, file)
    if site_crs is None:
        axes = site_axes(file_crs, *_centre(found.figures, file_crs))
    else:
        asked = parse_crs(site_crs, source)
        axes = SiteAxes(crs_text(in_metres(horizontal(asked), source)) if asked else "")
    end = parse_crs(axes.crs)
    if file_crs is not None and end is None:
        raise InputError(
            Fault(
                f"the outline is in {file_crs.name}, the site has axes of its own",
                "an outline can be laid over a site only when both have a place on the Earth, or neither",
                'give [site] crs, or say crs = "site" when the outline is drawn in site axes, in metres',
                Source(file),
            )
        )
    figures, more = _moved(found.figures, file_crs, end, Source(file))
    areas = [_named(figure, index, "area") for index, figure in enumerate(f for f in figures if not f.is_point)]
    marks = [_named(figure, index, "point") for index, figure in enumerate(f for f in figures if f.is_point)]
    faults = [fault for area in areas for fault in _crossings(area)]
    if faults:
        raise InputError(faults)
    return Outline(
        tuple(Area(area.name, area.role, _turned(area.rings), area.source) for area in areas),
        tuple(Mark(m.name, m.role, float(m.rings[0][0, 0]), float(m.rings[0][0, 1]), m.source) for m in marks),
        file,
        axes.crs,
        (*found.note, *notes, *axes.note, *more),
    )


def outline_centre(path: str | Path, *, crs: str | None = None) -> tuple[float, float, CRS | None]:
    """Return the middle of an outline's bounds as longitude and latitude, and the system the file is in.

    Parameters
    ----------
    path : str or Path
        GeoJSON file.
    crs : str, optional
        As for `read_outline`.

    Returns
    -------
    longitude, latitude : float
        NaN for a file in site axes. [deg]
    crs : CRS or None
        System of the file.
    """
    found = parse_geojson(outline_text(Path(path)), str(path))
    file_crs, _ = _file_crs(found, crs, Source(str(path), column="crs"))
    _check_degrees(found.figures, file_crs, str(path))
    return (*_centre(found.figures, file_crs), file_crs)


def outline_text(path: Path) -> str:
    """Return the text of a file, or say why it cannot be read."""
    source = Source(str(path))
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise InputError(
                Fault(
                    f"the file has {size / 1e6:,.0f} MB",
                    f"an outline has at most {MOST_BYTES / 1e6:.0f} MB",
                    "cut out the piece around the site",
                    source,
                )
            )
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            Fault(
                "this is not text",
                "GeoJSON is text in UTF-8",
                "export the outline as GeoJSON, not as a shape file",
                source,
            )
        ) from None
    except OSError as error:
        raise InputError(
            Fault(f"cannot be read: {error.strerror or error}", "", "check the name of the file", source)
        ) from None


def _file_crs(found: GeoJson, crs: str | None, source: Source) -> tuple[CRS | None, list[str]]:
    """Return the system in which the file's coordinates are; ``None`` for site axes."""
    if crs is not None:
        notes = [f"read in {crs}, not in {found.crs} as its crs member says"] if found.crs and found.crs != crs else []
        return parse_crs(crs, source), notes
    text = found.crs or LONGITUDE_LATITUDE
    parsed = parse_crs(text, source)
    if parsed is None:
        return None, [f"crs member {text!r}: taken as site axes in metres"]
    return parsed, [f"coordinates are in {parsed.name}, as the crs member says"] if found.crs else []


def _check_degrees(figures: Iterable[Figure], crs: CRS | None, file: str) -> None:
    """Refuse longitudes and latitudes that are none."""
    if crs is None or not horizontal(crs).is_geographic:
        return
    faults = []
    for figure in figures:
        corners = np.concatenate(figure.rings)
        bad = corners[(np.abs(corners[:, 0]) > 180.0) | (np.abs(corners[:, 1]) > 90.0)]
        if not len(bad):
            continue
        lon, lat = bad[0]
        swapped = np.all(np.abs(corners[:, 0]) <= 90.0) and np.all(np.abs(corners[:, 1]) <= 180.0)
        remedy = (
            "latitude and longitude seem to have changed places: swap them"
            if swapped
            else "these look like metres: say in which coordinate reference system, as crs"
        )
        faults.append(
            Fault(
                f"{lon:g}, {lat:g} is no longitude and latitude ({len(bad)} corner(s) like it)",
                "GeoJSON positions are degrees, longitude (-180 to 180) first, then latitude (-90 to 90)",
                remedy,
                Source(file, figure.source.line, figure.source.column),
            )
        )
    if faults:
        raise InputError(faults)


def _centre(figures: Iterable[Figure], crs: CRS | None) -> tuple[float, float]:
    """Return the middle of the bounds in degrees, to the sixth decimal so that its name is short."""
    if crs is None:
        return float("nan"), float("nan")
    corners = np.concatenate([ring for figure in figures for ring in figure.rings])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    lon, lat = longitude_latitude(crs, middle[:1], middle[1:])
    return round(float(lon[0]), 6), round(float(lat[0]), 6)


def _moved(
    figures: Iterable[Figure], start: CRS | None, end: CRS | None, source: Source
) -> tuple[list[Figure], tuple[str, ...]]:
    """Bring figures into site axes."""
    figures = list(figures)
    if start is None or end is None:
        return figures, ()
    rings = [ring for figure in figures for ring in figure.rings]
    corners = np.concatenate(rings)
    east, north, notes = convert(start, end, corners[:, 0], corners[:, 1], source=source)
    moved = np.column_stack([east, north])
    if not np.isfinite(moved).all():
        raise InputError(
            Fault(
                f"the outline lies where {end.name} has no coordinates",
                "a projection serves its own part of the Earth",
                "check the outline's coordinates and [site] crs",
                source,
            )
        )
    pieces = iter(np.split(moved, np.cumsum([len(ring) for ring in rings])[:-1]))
    return [Figure(f.name, f.role, tuple(next(pieces) for _ in f.rings), f.source) for f in figures], notes


def _named(figure: Figure, index: int, kind: str) -> Figure:
    """Return the figure with a name, made up where the file has none."""
    return figure if figure.name else Figure(f"{kind} {index + 1}", figure.role, figure.rings, figure.source)


def _crossings(area: Figure) -> list[Fault]:
    """Return the fault of an area whose edges cross or whose hole lies outside."""
    polygon = shapely.Polygon(area.rings[0], area.rings[1:])
    reason = shapely.is_valid_reason(polygon)
    if reason == "Valid Geometry" and polygon.area > 0.0:
        return []
    return [
        Fault(
            f"{area.name!r} is not a proper area: {reason} (east north in metres)",
            "edges do not cross or touch, and holes lie inside",
            "draw it again with its corners in order around the area",
            area.source,
        )
    ]


def _turned(rings: tuple[FloatArray, ...]) -> tuple[FloatArray, ...]:
    """Return rings with the outer one counter-clockwise and holes clockwise (RFC 7946, section 3.1.6)."""
    return tuple(
        ring if shapely.LinearRing(ring).is_ccw == (index == 0) else ring[::-1].copy()
        for index, ring in enumerate(rings)
    )
