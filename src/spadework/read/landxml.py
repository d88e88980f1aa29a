"""LandXML: points and triangulated surfaces of the open exchange format."""

from __future__ import annotations

import math
from collections.abc import Iterator
from xml.etree.ElementTree import Element

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.table import counted
from spadework.read.xml_text import line_of, local_name
from spadework.readings import PointList
from spadework.readings_positions import SurfaceReading

__all__ = ["read_landxml"]

LINEAR_UNITS = {
    "meter": 1.0,
    "metre": 1.0,
    "millimeter": 0.001,
    "centimeter": 0.01,
    "kilometer": 1000.0,
    "foot": 0.3048,
    "ussurveyfoot": 1200.0 / 3937.0,
    "inch": 0.0254,
}
"""Length of the attribute linearUnit. [m]"""


def read_landxml(root: Element, file: str) -> tuple[PointList | SurfaceReading, str, tuple[str, ...]]:
    """Return the surface of a file where it has one with levels, else its points; and what they are in words.

    Positions stand as "northing easting elevation". Faces name three points by their ids; a face with the attribute
    ``i="1"`` is invisible and left out. Where there are several surfaces the first that is triangulated is taken.

    Parameters
    ----------
    root : Element
        The element ``LandXML``.
    file : str
        Name of the file.

    Raises
    ------
    InputError
        Neither points nor surfaces, points without a position, faces without their points.
    """
    faults: list[Fault] = []
    metres, said = _unit(root, file, faults)
    surfaces = [element for element in root.iter() if local_name(element) == "Surface"]
    notes: list[str] = []
    for surface in surfaces:
        found = _surface(surface, file, metres, faults)
        if found is None:
            continue
        if faults:
            break
        name = surface.get("name") or "without a name"
        others = [other.get("name") or "without a name" for other in surfaces if other is not surface]
        if others:
            notes.append(f"the surface {name!r} is taken; left out: {', '.join(map(repr, others[:8]))}")
        words = f"surface {name!r}, {counted(len(found), 'point')}, {counted(len(found.triangles), 'triangle')}, {said}"
        return found, words, tuple(notes)
    points = [element for element in root.iter() if local_name(element) == "CgPoint" and (element.text or "").strip()]
    if not points and not faults:
        what, rule = "the file has neither points nor a triangulated surface", "points are CgPoint, surfaces have faces"
        faults.append(Fault(what, rule, "export points or a surface with it", Source(file, line_of(root) or 1)))
    rows = [_position(element, file, metres, faults) for element in points]
    if faults:
        raise InputError(faults)
    north, east, level = np.array(rows, dtype=np.float64).T
    reading = PointList(
        tuple(element.get("name") or element.get("id") or f"P{number}" for number, element in enumerate(points, 1)),
        east,
        north,
        level,
        tuple(element.get("code") or element.get("desc") or "" for element in points),
        np.array([line_of(element) for element in points], dtype=np.int64),
        file,
    )
    return reading, f"{counted(len(points), 'point')}, {said}", tuple(notes)


def _unit(root: Element, file: str, faults: list[Fault]) -> tuple[float, str]:
    """Return the length of the linear unit and its name. [m]"""
    for element in root.iter():
        word = element.get("linearUnit")
        if word is None:
            continue
        if word.strip().casefold() in LINEAR_UNITS:
            return LINEAR_UNITS[word.strip().casefold()], word.strip()
        known = ", ".join(LINEAR_UNITS)
        faults.append(Fault(f"the linear unit {word!r} is not known", f"it is one of {known}", "", _at(element, file)))
        return 1.0, ""
    what = "the file says no linear unit"
    rule = "LandXML has an element Units with linearUnit in it"
    faults.append(
        Fault(what, rule, 'add <Units><Metric linearUnit="meter"/></Units>', Source(file, line_of(root) or 1))
    )
    return 1.0, ""


def _at(element: Element, file: str) -> Source:
    """Return where an element stands."""
    return Source(file, line_of(element))


def _position(element: Element, file: str, metres: float, faults: list[Fault]) -> tuple[float, float, float]:
    """Return northing, easting and level of a point; NaN and a fault more where it has none. [m]"""
    try:
        numbers = [float(part) * metres for part in (element.text or "").split()]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 3) or not all(math.isfinite(number) for number in numbers):
        text = " ".join((element.text or "").split())[:60]
        what = f"the point {element.get('name') or element.get('id') or ''} has the position {text!r}"
        rule = "a position is northing, easting and elevation, with blanks between"
        faults.append(Fault(what, rule, "export the file again", _at(element, file), text))
        return math.nan, math.nan, math.nan
    return numbers[0], numbers[1], numbers[2] if len(numbers) == 3 else math.nan


def _children(surface: Element, name: str) -> Iterator[Element]:
    """Yield the elements of a name inside a surface."""
    return (element for element in surface.iter() if local_name(element) == name)


def _surface(surface: Element, file: str, metres: float, faults: list[Fault]) -> SurfaceReading | None:
    """Return a triangulated surface, None where it has no faces."""
    points = list(_children(surface, "P"))
    faces = [face for face in _children(surface, "F") if face.get("i") != "1"]
    if not points or not faces:
        return None
    rows = [_position(element, file, metres, faults) for element in points]
    row_of: dict[str, int] = {}
    for number, element in enumerate(points):
        key = element.get("id") or str(number + 1)
        if key in row_of:
            faults.append(Fault(f"two points have the id {key!r}", "ids are unique", "", _at(element, file), key))
        row_of[key] = number
    corners: list[tuple[int, int, int]] = []
    for face in faces:
        ids = (face.text or "").split()
        found = [row_of[name] for name in ids if name in row_of]
        if len(ids) != 3 or len(found) != 3 or len(set(found)) != 3:
            what = f"the face {' '.join(ids)[:60]!r} does not name three points of the surface"
            faults.append(Fault(what, "a face is three ids", "export the surface again", _at(face, file)))
            continue
        corners.append((found[0], found[1], found[2]))
    north, east, level = np.array(rows, dtype=np.float64).T
    if not faults and np.isnan(level).any():
        row = int(np.flatnonzero(np.isnan(level))[0])
        what = f"the point {points[row].get('id')} of the surface has no elevation"
        faults.append(Fault(what, "a surface has levels", "export it again", _at(points[row], file)))
    used = sorted({corner for face in corners for corner in face})
    place_of = {row: place for place, row in enumerate(used)}
    return SurfaceReading(
        tuple(points[row].get("id") or str(row + 1) for row in used),
        ("",) * len(used),
        np.array([line_of(points[row]) for row in used], dtype=np.int64),
        file,
        east[used],
        north[used],
        level[used],
        np.array([[place_of[corner] for corner in face] for face in corners], dtype=np.int64).reshape(-1, 3),
    )
