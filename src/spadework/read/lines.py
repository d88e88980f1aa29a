"""Lines along which the ground bends, brought from a file into site axes: GeoJSON, or a list of points in order."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import LONGITUDE_LATITUDE, parse_crs
from spadework.read.geojson import JsonPath, OutlineWalk
from spadework.read.outline import outline_text
from spadework.read.transform import convert
from spadework.readings import FloatArray, PointList
from spadework.units import LengthUnit

__all__ = ["GivenLine", "read_lines"]


@dataclass(frozen=True, eq=False)
class GivenLine:
    """One line of a file, in site axes.

    Parameters
    ----------
    name : str
        From its properties; empty where it has none.
    east, north : array, shape (n,)
        Its places in order. [m]
    level : array, shape (n,)
        Its levels; NaN where the file gives none. [m]
    source : Source
        Where it stands.
    """

    name: str
    east: FloatArray
    north: FloatArray
    level: FloatArray
    source: Source


def read_lines(path: Path, *, name: str, site_crs: str = "", units: LengthUnit | None = None) -> tuple[GivenLine, ...]:
    """Read lines from a file.

    Parameters
    ----------
    path : Path
        GeoJSON with lines, whose third numbers are levels in metres; or a list of points, whose order is that of the
        line.
    name : str
        How the file is called in messages.
    site_crs : str
        Coordinate reference system of the site axes; ``local`` or empty for a site without a place on the Earth.
    units : LengthUnit, optional
        Of a list of points.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    if path.suffix.casefold() in {".geojson", ".json"}:
        return _from_geojson(outline_text(path), name, site_crs)
    from spadework.read import read_file  # noqa: PLC0415 - reads this module's neighbours

    found = read_file(path, units=units, kind="points", name=name)
    points = found.reading
    if not isinstance(points, PointList):
        raise InputError(Fault("this is no list of points", "a line is a list of points in order", "", Source(name)))
    source = points.source(0) if len(points.point) else Source(name)
    return (GivenLine(path.stem, points.east, points.north, points.level, source),)


@dataclass
class _LineWalk(OutlineWalk):
    """One pass through a GeoJSON file, collecting its lines."""

    lines: list[tuple[str, list[list[float]], Source]] = field(default_factory=list)

    def geometry(self, kind: str, coordinates: Any, path: JsonPath, name: str, role: str) -> None:  # noqa: ARG002 -- a line has none
        """Keep the lines of one geometry; an area's rings are lines that close."""
        parts = {"LineString": [coordinates], "MultiLineString": coordinates, "Polygon": coordinates}.get(kind)
        if parts is None or not isinstance(parts, list):
            rule = "a breakline is a LineString"
            self.fault(path[:-1], f"{f'{name!r} ' if name else 'this '}is a {kind}", rule, "draw it as a line")
            return
        for number, part in enumerate(parts):
            way = path if kind == "LineString" else (*path, number)
            if not isinstance(part, list) or len(part) < 2:
                self.fault(way, "this line has fewer than two places", "", "draw it again", json.dumps(part)[:60])
                continue
            places = [self.position(place, (*way, index)) for index, place in enumerate(part)]
            heights = [_height(place) for place in part]
            if None not in places:
                rows = [[*place, height] for place, height in zip(places, heights, strict=True) if place is not None]
                self.lines.append((name, rows, self.source(way)))


def _height(place: Any) -> float:
    """Return the third number of a position, NaN where it has none. [m]"""
    third = place[2] if isinstance(place, list) and len(place) > 2 else None
    return float(third) if isinstance(third, int | float) and not isinstance(third, bool) else float("nan")


def _from_geojson(text: str, name: str, site_crs: str) -> tuple[GivenLine, ...]:
    """Return the lines of a GeoJSON text in site axes."""
    source = Source(name)
    try:
        content = json.loads(text)
    except json.JSONDecodeError as error:
        raise InputError(
            Fault(
                f"{error.msg} at character {error.colno}: this is not JSON",
                "lines stand in a GeoJSON file or a list of points",
                "export it again as GeoJSON",
                Source(name, error.lineno),
            )
        ) from None
    walk = _LineWalk(text, name)
    walk.enter(content, (), "", "")
    if not walk.faults and not walk.lines:
        walk.fault((), "there is no line in it", "a breakline is a LineString", "draw it as a line")
    crs = walk.legacy_crs(content)
    if walk.faults:
        raise InputError(walk.faults)
    start, end = parse_crs(crs or LONGITUDE_LATITUDE, source), parse_crs(site_crs) if site_crs else None
    if start is not None and end is None:
        raise InputError(
            Fault(
                f"the lines are in {start.name}, the site has axes of its own",
                "lines can be laid over a site only when both have a place on the Earth, or neither",
                'give [site] crs, or the file the crs member "site" where its lines are in site axes, in metres',
                source,
            )
        )
    lines = []
    for title, rows, where in walk.lines:
        table = np.array(rows, dtype=np.float64)
        east, north = table[:, 0], table[:, 1]
        if start is not None and end is not None:
            east, north, _ = convert(start, end, east, north, source=source)
        lines.append(GivenLine(title, east, north, table[:, 2], where))
    return tuple(lines)
