"""Every file of a site's readings read, reduced, and laid into the axes of the site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spadework.errors import Fault, InputError
from spadework.positions.net_fit import PlaceFit
from spadework.positions.places import name_key
from spadework.read import Recognised, read_file
from spadework.read.crs import parse_crs
from spadework.readings import FloatArray, RodList
from spadework.readings_positions import CloudPoints, SurfaceReading, TrackPoints
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.survey_levels import SurveyPart, reduced
from spadework.survey_positions import place_parts
from spadework.survey_precision import how_sure, unlikely_sd

__all__ = ["ReadParts", "bench_of", "read_parts", "shown_name"]


@dataclass(frozen=True)
class ReadParts:
    """What was read.

    Parameters
    ----------
    parts : tuple of SurveyPart
        One for each file that holds no fault.
    faults : tuple of Fault
        Of the others.
    recognised : tuple of Recognised
        What each file was taken for.
    crs : str
        System of the axes, where a track or a cloud brings one; empty otherwise.
    net : PlaceFit, optional
        What was measured in plan between points, adjusted together.
    """

    parts: tuple[SurveyPart, ...] = ()
    faults: tuple[Fault, ...] = ()
    recognised: tuple[Recognised, ...] = ()
    crs: str = ""
    net: PlaceFit | None = None


def shown_name(file: str) -> str | None:
    """Return how a file is called in messages: as the site file calls it."""
    return None if file == "-" else file


def read_parts(site: Site, *, allow_misclosure: bool) -> ReadParts:
    """Read and reduce each file, collecting the faults of all; then place what is measured from other files.

    Parameters
    ----------
    site : Site
        The site file.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance.
    """
    read: list[tuple[ReadingsTable, Recognised]] = []
    faults: list[Fault] = []
    for table in site.readings:
        path = "-" if table.file == "-" else site.path_to(table.file)
        try:
            found = read_file(
                path,
                units=table.units or site.units,
                kind=table.kind,
                order=table.order,
                name=shown_name(table.file),
                vertical_unit=table.vertical_unit,
                spacing=table.spacing,
            )
        except InputError as error:
            faults.extend(error.faults)
            continue
        read.append((table, found))
    recognised = tuple(found for _, found in read)
    if faults:
        return ReadParts((), tuple(faults), recognised)
    crs = site.crs or _crs_of(recognised)
    parts: list[SurveyPart] = []
    levels: dict[str, float] = {}
    for table, found in read:
        try:
            part = _part(site, table, found, crs, levels, allow_misclosure=allow_misclosure)
        except InputError as error:
            faults.extend(error.faults)
            continue
        parts.append(part)
        for name, level, _ in part.named_levels:
            levels.setdefault(name_key(name), level)
    if faults:
        return ReadParts(tuple(parts), tuple(faults), recognised)
    faults += _loose_on_earth(site, parts, crs)
    net: PlaceFit | None = None
    if not faults:
        try:
            parts, net = place_parts(site, parts, allow_misclosure=allow_misclosure)
        except InputError as error:
            faults.extend(error.faults)
    own = all(part.on_earth for part in parts if part.shots is not None and part.table.fit is None)
    return ReadParts(tuple(parts), tuple(faults), recognised, crs if own and not site.crs else "", net)


def _crs_of(recognised: tuple[Recognised, ...]) -> str:
    """Return the system that a cloud or a track brings along; empty where there is none."""
    for found in recognised:
        if isinstance(found.reading, CloudPoints) and found.reading.crs:
            return found.reading.crs
    for found in recognised:
        if isinstance(found.reading, TrackPoints):
            from spadework.read.track import project_track  # noqa: PLC0415 - wanted by few runs

            return project_track(found.reading)[1]
    return ""


def _part(
    site: Site,
    table: ReadingsTable,
    found: Recognised,
    crs: str,
    levels: dict[str, float],
    *,
    allow_misclosure: bool,
) -> SurveyPart:
    """Return one file reduced as far as it can be by itself."""
    reading = found.reading
    place = next((row for row, other in enumerate(site.readings) if other is table), 0)
    if faults := unlikely_sd(table, reading, site.units, site.source("readings", place, "sd")):
        raise InputError(faults)
    part = SurveyPart(table.file, table=table, sentences=(f"{table.file} {found.sentence}.",), notices=found.notes)
    if isinstance(reading, TrackPoints):
        from spadework.read.track import project_track  # noqa: PLC0415 - wanted by few runs

        points, _, notices = project_track(reading, crs, keep_heights=table.take_heights)
        shots = Shots(
            points.point,
            points.east,
            points.north,
            points.level,
            points.note,
            points.line,
            (points.file,) * len(points),
        )
        shots = how_sure(shots, table, reading)
        return replace(part, shots=shots, notices=(*part.notices, *notices), on_earth=True)
    if isinstance(reading, CloudPoints):
        shots = how_sure(_cloud_shots(reading, crs), table, reading)
        return replace(part, shots=shots, on_earth=bool(reading.crs), many=True)
    if isinstance(reading, SurfaceReading):
        shots = Shots(
            reading.point,
            reading.east,
            reading.north,
            reading.level,
            reading.note,
            reading.line,
            (reading.file,) * len(reading),
        )
        return replace(part, shots=how_sure(shots, table, reading), triangles=reading.triangles)
    if isinstance(reading, RodList) and (table.baseline is not None or table.grid is not None):
        return replace(part, reading=reading, pending=reading)
    return reduced(site, table, found, allow_misclosure=allow_misclosure, earlier=levels)


def _cloud_shots(cloud: CloudPoints, crs: str) -> Shots:
    """Return the points of a cloud as shots, brought to the axes of the site."""
    east: FloatArray = cloud.east
    north: FloatArray = cloud.north
    start, end = (parse_crs(text) if text else None for text in (cloud.crs, crs))
    if start is not None and end is not None and not start.equals(end, ignore_axis_order=True):
        from spadework.read.transform import convert  # noqa: PLC0415 - wanted by few runs

        east, north, _ = convert(start, end, east, north)
    number = len(cloud)
    return Shots(
        tuple(f"C{row}" for row in range(1, number + 1)),
        east,
        north,
        cloud.level,
        ("",) * number,
        np.zeros(number, dtype=np.int64),
        (cloud.file,) * number,
    )


def _loose_on_earth(site: Site, parts: list[SurveyPart], crs: str) -> list[Fault]:
    """Return the faults of files that lie on the Earth beside others in axes of their own, tied by nothing."""
    if site.crs or not crs:
        return []
    local = [part for part in parts if not part.on_earth and part.gives_places]
    if not local:
        return []
    return [
        Fault(
            f"{part.file} lies on the Earth, and {local[0].file} in axes of its own",
            "files in different axes are tied by common points",
            'Give fit = "turn" to one of the two and name two points or more alike in both, or give [site] crs',
            site.source("readings", place),
        )
        for place, part in enumerate(parts)
        if part.on_earth and part.table.fit is None and any(other.table.fit is None for other in local)
    ]


def bench_of(site: Site, parts: Sequence[SurveyPart]) -> tuple[str, float] | None:
    """Return what an instrument is set up from: the datum, or the line that drops were measured from."""
    if site.datum is not None:
        return site.datum.point, site.datum.level
    lines = [part.line for part in parts if part.line is not None]
    return lines[0] if lines else None
