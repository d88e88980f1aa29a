"""Tracks: longitude and latitude of a phone or a receiver, from GPX 1.1 or from a table."""

from __future__ import annotations

import math
from xml.etree.ElementTree import Element

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.angles import column_angles
from spadework.read.headed import HeadedTable
from spadework.read.projection import site_projection
from spadework.read.rod_list import made_up_names
from spadework.read.table import counted
from spadework.read.transform import convert
from spadework.read.xml_text import line_of, local_name
from spadework.readings import FloatArray, PointList
from spadework.readings_positions import TrackPoints

__all__ = ["HEIGHT_REFUSED", "project_track", "read_gpx", "read_track_table"]

HEIGHT_REFUSED = (
    "heights of phones and hand-held receivers are not good enough for a pad, which wants 20 mm: a two-frequency phone "
    "with precise corrections was found good to 0.81 m in position and 1.65 m in height (root mean square; Chen, Gao, "
    "Liu & Sun, Sensors 2019), a single-point phone to 4.57 m in position (Robustelli, Baiocchi & Pugliano, "
    "Electronics 2019, 8(1):91)"
)
FARTHEST = 10_000.0
"""Points of one yard lie within this of their middle. [m]"""


def read_gpx(root: Element, file: str) -> tuple[TrackPoints, str]:
    """Return the waypoints, route points and track points of a GPX file, and what they are in words.

    Points without a name are called after what they are and their number: ``T1`` in a track, ``R1`` in a route.

    Parameters
    ----------
    root : Element
        The element ``gpx``.
    file : str
        Name of the file.

    Raises
    ------
    InputError
        Points without a position, or none at all.
    """
    faults: list[Fault] = []
    names: list[str] = []
    notes: list[str] = []
    lines: list[int] = []
    places: list[tuple[float, float, float]] = []
    count = {"wpt": 0, "rtept": 0, "trkpt": 0}
    for element in root.iter():
        kind = local_name(element)
        if kind not in count:
            continue
        count[kind] += 1
        inside = {local_name(child): (child.text or "").strip() for child in element}
        name = inside.get("name") or {"wpt": "W", "rtept": "R", "trkpt": "T"}[kind] + str(count[kind])
        line = line_of(element)
        lat, lon = (_degrees(element.get(key), key, bound, file, line, faults) for key, bound in LIMITS)
        names.append(" ".join(name.split())[:100])
        notes.append(" ".join((inside.get("desc") or inside.get("cmt") or inside.get("sym") or "").split())[:200])
        lines.append(line)
        places.append((lon, lat, _height(inside.get("ele", ""))))
    if not names and not faults:
        what, rule = "the file has no waypoint, route point or track point", "points are wpt, rtept or trkpt"
        faults.append(Fault(what, rule, "export the waypoints with it", Source(file, line_of(root) or 1)))
    if faults:
        raise InputError(faults)
    lon, lat, height = np.array(places, dtype=np.float64).T
    track = TrackPoints(tuple(names), tuple(notes), _line_numbers(lines), file, lon, lat, height)
    words = {"wpt": "waypoint", "rtept": "route point", "trkpt": "track point"}
    said = [counted(number, words[kind]) for kind, number in count.items() if number]
    return track, ", ".join([*said, "longitude and latitude"])


LIMITS = (("lat", 90.0), ("lon", 180.0))


def _line_numbers(lines: list[int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the lines as an array."""
    return np.array(lines, dtype=np.int64)


def _degrees(  # noqa: PLR0917 - where a fault stands
    text: str | None, key: str, bound: float, file: str, line: int, faults: list[Fault]
) -> float:
    """Return a coordinate of a point, NaN and a fault more where it has none. [deg]"""
    try:
        value = float(text or "")
    except ValueError:
        value = math.nan
    if math.isfinite(value) and abs(value) <= bound:
        return value
    what = f"a point has {key} = {text!r}" if text else f"a point has no {key}"
    rule = "latitudes lie within 90°, longitudes within 180°"
    faults.append(Fault(what, rule, "export the file again", Source(file, line), text or ""))
    return math.nan


def _height(text: str) -> float:
    """Return the height of a point; NaN where it has none that is a number. [m]"""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def read_track_table(table: HeadedTable) -> tuple[TrackPoints, str]:
    """Return points with latitude and longitude from a table, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns latitude and longitude; point, level and note where there are.

    Raises
    ------
    InputError
        Every row at fault.
    """
    latitude, longitude = column_angles(table, "latitude"), column_angles(table, "longitude")
    height = table.lengths("level")
    faulty = {fault.source.line for fault in table.faults}
    point = made_up_names(table)
    wrong = np.abs(latitude) > 90.0
    swapped = bool(wrong.any() and not (np.abs(longitude) > 90.0).any())
    for row, line in enumerate(table.line.tolist()):
        for meaning, values, bound in (("latitude", latitude, 90.0), ("longitude", longitude, 180.0)):
            if line in faulty or table.spoilt:
                continue
            if np.isnan(values[row]):
                what = f"{point[row]} has no {meaning}"
                table.fault(row, meaning, what, "a place is latitude and longitude", "fill it in")
            elif abs(values[row]) > bound:
                what = f"{point[row]} has {meaning} {values[row]:g}°"
                remedy = "are latitude and longitude swapped? Correct the headings" if swapped else "correct it"
                table.fault(row, meaning, what, f"a {meaning} lies within {bound:g}°", remedy)
    table.raise_faults()
    track = TrackPoints(point, table.texts("note"), table.line, table.file, longitude, latitude, height)
    return track, f"{counted(len(track), 'point')}, longitude and latitude"


def project_track(
    track: TrackPoints, crs: str = "", *, keep_heights: bool = False
) -> tuple[PointList, str, tuple[str, ...]]:
    """Return a track as a list of points in site metres.

    Parameters
    ----------
    track : TrackPoints
        Longitude and latitude, WGS 84.
    crs : str
        Coordinate reference system of the site in metres; a projection centred on the points where there is none.
    keep_heights : bool
        Take the heights all the same.

    Returns
    -------
    points : PointList
        Positions; no levels unless they were insisted on. [m]
    crs : str
        The system they are in.
    notices : tuple of str
        What was refused.

    Raises
    ------
    InputError
        When points lie farther apart than any yard.
    """
    from spadework.read.crs import crs_text, geographic, parse_crs  # noqa: PLC0415 - with pyproj behind it

    middle = _middle_longitude(track.longitude), float(np.median(track.latitude))
    wanted = parse_crs(crs) if crs else None
    system = wanted if wanted is not None else site_projection(*middle)
    east, north, notes = convert(
        geographic(site_projection(*middle)), system, track.longitude, track.latitude, source=track.source(0)
    )
    away = np.hypot(east - np.median(east), north - np.median(north))
    far = np.flatnonzero(~(away <= FARTHEST))
    if len(far):
        raise InputError(
            Fault(
                f"{track.point[row]} lies {away[row] / 1000:,.1f} km from the middle of the points",
                f"points of one yard lie within {FARTHEST / 1000:.0f} km",
                "take it out, or correct its latitude and longitude",
                track.source(row),
            )
            for row in far[:20].tolist()
        )
    has = np.isfinite(track.height)
    notices = list(notes)
    if has.any():
        kept = f"{int(has.sum())} heights of {track.file} taken although {HEIGHT_REFUSED}."
        refused = (
            f"{int(has.sum())} heights of {track.file} left out: {HEIGHT_REFUSED}. To insist: take-heights = true."
        )
        notices.append(kept if keep_heights else refused)
    level = track.height if keep_heights else np.full(len(track), np.nan)
    points = PointList(track.point, east, north, level, track.note, track.line, track.file)
    return points, crs_text(system), tuple(notices)


def _middle_longitude(longitude: FloatArray) -> float:
    """Return the middle of some longitudes, also where they lie on both sides of 180°. [deg]"""
    turn = np.deg2rad(longitude)
    around = math.degrees(math.atan2(float(np.sin(turn).mean()), float(np.cos(turn).mean())))
    offset = (longitude - around + 180.0) % 360.0 - 180.0
    return (around + float(np.median(offset)) + 180.0) % 360.0 - 180.0
