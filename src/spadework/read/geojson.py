"""Take a GeoJSON text apart into named areas and points, in the file's own coordinates.

H. Butler et al., The GeoJSON Format, RFC 7946, 2016, https://www.rfc-editor.org/rfc/rfc7946. The ``crs`` member of the
2008 format, which it replaced, is told to the caller.
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.json_lines import line_of
from spadework.readings import FloatArray

__all__ = ["Figure", "GeoJson", "JsonPath", "OutlineWalk", "parse_geojson"]

GEOMETRIES = ("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection")
TYPES = ("FeatureCollection", "Feature", *GEOMETRIES)
NAME_KEYS = ("name", "title", "label", "id")

JsonPath = tuple[str | int, ...]


@dataclass(frozen=True)
class Figure:
    """One polygon or one point of the file.

    Parameters
    ----------
    name, role : str
        From its feature's properties; empty where there is none.
    rings : tuple of array, shape (n, 2)
        Outer ring, then holes, without repeating the first corner; for a point one ring of one row.
    source : Source
        Where it stands.
    """

    name: str
    role: str
    rings: tuple[FloatArray, ...]
    source: Source

    @property
    def is_point(self) -> bool:
        """Whether it is a single point."""
        return len(self.rings[0]) == 1


@dataclass(frozen=True)
class GeoJson:
    """What a GeoJSON file holds.

    Parameters
    ----------
    figures : tuple of Figure
        In the order of the file.
    crs : str
        Name in the legacy ``crs`` member; empty where there is none.
    note : tuple of str
        What was tidied: rings closed, corners written twice, heights left aside.
    """

    figures: tuple[Figure, ...]
    crs: str
    note: tuple[str, ...]


def parse_geojson(text: str, file: str = "") -> GeoJson:
    """Return the polygons and points of a GeoJSON text.

    Parameters
    ----------
    text : str
        The whole file.
    file : str
        Its name, for the errors.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    if not text.strip():
        raise InputError(Fault("the file is empty", "GeoJSON holds at least one polygon", source=Source(file)))
    try:
        content = json.loads(text)
    except json.JSONDecodeError as error:
        where = Source(file, error.lineno)
        raise InputError(
            Fault(
                f"{error.msg} at character {error.colno}: this is not JSON",
                "an outline is a GeoJSON file",
                "export it again as GeoJSON, or list corners in the site file",
                where,
                text.splitlines()[error.lineno - 1][:60] if error.lineno <= len(text.splitlines()) else "",
            )
        ) from None
    except RecursionError:
        raise InputError(
            Fault("brackets are nested far too deep", "GeoJSON needs ten levels", source=Source(file))
        ) from None
    walk = OutlineWalk(text, file)
    walk.enter(content, (), "", "")
    if not walk.faults and not walk.figures:
        walk.fault((), "there is no polygon in it", "an outline is a polygon", "draw it as a closed area")
    crs = walk.legacy_crs(content)
    if walk.faults:
        raise InputError(walk.faults)
    return GeoJson(tuple(walk.figures), crs, tuple(walk.notes()))


@dataclass
class OutlineWalk:
    """One pass through the file, collecting figures and faults."""

    text: str
    file: str
    figures: list[Figure] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    closed: int = 0
    doubled: int = 0
    heights: int = 0

    def source(self, path: JsonPath) -> Source:
        """Return the line of a value, and the way to it as the column."""
        way = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path).lstrip(".")
        return Source(self.file, line_of(self.text, path), way or None)

    def fault(self, path: JsonPath, what: str, rule: str = "", remedy: str = "", value: str = "") -> None:
        """Keep a fault."""
        self.faults.append(Fault(what, rule, remedy, self.source(path), value))

    def notes(self) -> Iterator[str]:
        """Say what was tidied."""
        if self.closed:
            yield f"{self.closed} ring(s) did not repeat the first corner at the end: closed"
        if self.doubled:
            yield f"{self.doubled} corner(s) stood twice in a row: one of each kept"
        if self.heights:
            yield f"{self.heights} position(s) carry a height: an outline does not need it, left aside"

    def legacy_crs(self, content: Any) -> str:
        """Return the name in the ``crs`` member of the 2008 format."""
        if not isinstance(content, dict) or "crs" not in content:
            return ""
        member = content["crs"]
        properties = member.get("properties") if isinstance(member, dict) else None
        name = properties.get("name") if isinstance(properties, dict) else None
        if isinstance(name, str) and name.strip():
            return name
        self.fault(
            ("crs",),
            "the crs member names no coordinate reference system",
            'it is written {"type": "name", "properties": {"name": "EPSG:27700"}}',
            "mend it, or leave it out for longitude and latitude",
            json.dumps(member)[:60],
        )
        return ""

    def enter(self, value: Any, path: JsonPath, name: str, role: str) -> None:
        """Take one GeoJSON object apart."""
        if not isinstance(value, dict):
            self.fault(path, "a GeoJSON object in braces belongs here", value=json.dumps(value)[:60])
            return
        kind = value.get("type")
        if kind not in TYPES:
            guess = difflib.get_close_matches(str(kind), TYPES, n=1, cutoff=0.5)
            self.fault(
                (*path, "type") if "type" in value else path,
                f"type {kind!r} is not one of GeoJSON's" if "type" in value else "the member type is missing",
                f"it has {', '.join(TYPES)}",
                f"did you mean {guess[0]!r}?" if guess else "export the file again as GeoJSON",
            )
            return
        if kind == "FeatureCollection":
            self.members(value, path, "features", name, role)
        elif kind == "Feature":
            name, role = _called(value, name), _property(value, ("role",))
            if value.get("geometry") is None:
                self.fault(path, f"feature {name!r} has no geometry", "", "draw it, or leave it out")
            else:
                self.enter(value["geometry"], (*path, "geometry"), name, role)
        elif kind == "GeometryCollection":
            self.members(value, path, "geometries", name, role)
        else:
            self.geometry(kind, value.get("coordinates"), (*path, "coordinates"), name, role)

    def members(self, value: dict[str, Any], path: JsonPath, key: str, name: str, role: str) -> None:
        """Take each member of a collection apart."""
        inner = value.get(key)
        if not isinstance(inner, list) or not inner:
            self.fault(path, f"there is nothing in {key}", "a collection lists at least one", "draw the outline again")
            return
        for index, member in enumerate(inner):
            self.enter(member, (*path, key, index), name, role)

    def geometry(self, kind: str, coordinates: Any, path: JsonPath, name: str, role: str) -> None:
        """Keep the polygons and points of one geometry."""
        if kind in ("LineString", "MultiLineString"):
            self.fault(
                path[:-1],
                f"{f'{name!r} ' if name else 'this '}is a line ({kind})",
                "an outline encloses an area",
                "draw it as a polygon, or close the line into one",
            )
        elif not isinstance(coordinates, list) or not coordinates:
            self.fault(path, f"the {kind} has no coordinates", "", "draw it again", json.dumps(coordinates)[:60])
        elif kind == "Polygon":
            self.polygon(coordinates, path, name, role)
        elif kind == "MultiPolygon":
            for index, part in enumerate(coordinates):
                label = f"{name} ({index + 1} of {len(coordinates)})".strip() if len(coordinates) > 1 else name
                if isinstance(part, list) and part:
                    self.polygon(part, (*path, index), label, role)
                else:
                    self.fault((*path, index), "a polygon belongs here", value=json.dumps(part)[:60])
        else:
            places = [coordinates] if kind == "Point" else coordinates
            for index, place in enumerate(places):
                way = path if kind == "Point" else (*path, index)
                position = self.position(place, way)
                if position is not None:
                    self.figures.append(Figure(name, role, (np.array([position]),), self.source(way)))

    def polygon(self, coordinates: list[Any], path: JsonPath, name: str, role: str) -> None:
        """Keep one polygon with its holes."""
        before = len(self.faults)
        rings = [self.ring(ring, (*path, index)) for index, ring in enumerate(coordinates)]
        if len(self.faults) == before:
            self.figures.append(Figure(name, role, tuple(rings), self.source(path)))

    def ring(self, ring: Any, path: JsonPath) -> FloatArray:
        """Return the corners of one ring, without repeating any."""
        if not isinstance(ring, list):
            self.fault(path, "a ring in square brackets belongs here", value=json.dumps(ring)[:60])
            return np.empty((0, 2))
        before = len(self.faults)
        positions = [self.position(place, (*path, index)) for index, place in enumerate(ring)]
        corners = [position for position in positions if position is not None]
        if len(self.faults) > before:
            return np.empty((0, 2))
        kept = [corner for index, corner in enumerate(corners) if index == 0 or corner != corners[index - 1]]
        self.doubled += len(corners) - len(kept)
        if len(kept) > 1 and kept[0] == kept[-1]:
            kept.pop()
        else:
            self.closed += 1
        if len(kept) < 3:
            self.fault(path, f"this ring has {len(kept)} different corner(s)", "an area needs three", "draw it again")
        return np.array(kept, dtype=np.float64).reshape(-1, 2)

    def position(self, place: Any, path: JsonPath) -> tuple[float, float] | None:
        """Return one position, or keep its fault."""
        numbers = place[:2] if isinstance(place, list) else []
        if len(numbers) < 2 or any(
            isinstance(number, bool) or not isinstance(number, int | float) for number in numbers
        ):
            self.fault(
                path,
                "this is not a position",
                "a position is two numbers in square brackets, east or longitude first",
                "correct it, or export the file again",
                json.dumps(place)[:60],
            )
            return None
        try:
            east, north = float(numbers[0]), float(numbers[1])
        except OverflowError:
            east = north = math.inf
        if not (math.isfinite(east) and math.isfinite(north)):
            self.fault(
                path, "this position is not finite", "coordinates are numbers", "correct it", json.dumps(place)[:60]
            )
            return None
        self.heights += len(place) > 2
        return east, north


def _called(feature: dict[str, Any], default: str) -> str:
    """Return the name of a feature, from its properties or its id."""
    return _property(feature, NAME_KEYS) or (str(feature["id"]) if "id" in feature else default)


def _property(feature: dict[str, Any], wanted: tuple[str, ...]) -> str:
    """Return the first of the wanted properties that says something, whatever the case of its key."""
    properties = feature.get("properties")
    if not isinstance(properties, dict):
        return ""
    by_key = {key.casefold(): value for key, value in properties.items()}
    return next((str(by_key[key]).strip() for key in wanted if by_key.get(key) not in (None, "")), "")
