"""Points placed by their station along a baseline, or by the square of a grid that they are called after."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.levels import ReducedLevels
from spadework.positions import Baseline, GridLabel, KnownPlace, LabelGrid, StationLabel, read_label
from spadework.positions.places import name_key
from spadework.readings import LevelBook, PointList, RodList
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.survey_levels import SurveyPart
from spadework.units import FOOT, LengthUnit

__all__ = ["place_of", "rods_by_label", "shots_by_label"]

Known = Mapping[str, KnownPlace]


def place_of(place: str | Sequence[float], known: Known) -> tuple[float, float]:
    """Return where a place of the site file is: a position, or a known name."""
    if isinstance(place, str):
        found = known[name_key(place)]
        return found.east, found.north
    return float(place[0]), float(place[1])


def rods_by_label(site: Site, part: SurveyPart, rods: RodList, known: Known) -> tuple[RodList, tuple[str, ...]]:
    """Return a rod list with its points placed along its baseline or on its grid."""
    nowhere = np.full(len(rods), np.nan)
    as_shots = Shots(rods.point, rods.east, rods.north, nowhere, rods.note, rods.line, (rods.file,) * len(rods))
    placed, notices = _by_label(site, part, as_shots, known)
    return replace(rods, east=placed.east, north=placed.north), notices


def shots_by_label(site: Site, part: SurveyPart, known: Known) -> tuple[Shots | None, tuple[str, ...]]:
    """Return the shots of a list of points or a level book placed along its baseline or on its grid."""
    shots = part.shots
    if shots is None and isinstance(part.reading, LevelBook) and part.levels is not None:
        shots = _book_shots(part.levels)
    return (None, ()) if shots is None else _by_label(site, part, shots, known)


def _by_label(site: Site, part: SurveyPart, shots: Shots, known: Known) -> tuple[Shots, tuple[str, ...]]:
    """Return points placed by the columns station and offset, or by their names."""
    line, grid = _line(site, part.table, known), _grid(part.table, known)
    metres = 1.0 if (part.table.units or site.units) is LengthUnit.METRE else FOOT
    east, north = shots.east.copy(), shots.north.copy()
    written = _written_stations(part.reading)
    datum = name_key(site.datum.point) if site.datum else ""
    count = 0
    for row, name in enumerate(shots.point):
        if math.isfinite(east[row] + north[row]):
            continue
        station = written.get(int(shots.line[row]))
        label = read_label(name) if name_key(name) != datum else None
        if station is None and isinstance(label, StationLabel):
            station = label.station * metres, label.offset * metres
        if station is not None and line is not None:
            along, across = line.place(*station)
            east[row], north[row] = float(along), float(across)
        elif isinstance(label, GridLabel) and grid is not None:
            east[row], north[row] = grid.place(label)
        else:
            continue
        count += 1
    if not count:
        wanted = "stations such as 2+40 L 12" if line is not None else "names such as B-3"
        what = f"no point of {part.file} is placed by the {'baseline' if line is not None else 'grid'} of its table"
        raise InputError(
            Fault(what, f"its points have {wanted}", "take it out, or correct the names", Source(part.file))
        )
    how = "along the baseline" if line is not None else "by the squares of the grid"
    return replace(shots, east=east, north=north), (f"{count} points of {part.file} placed {how}.",)


def _book_shots(levels: ReducedLevels) -> Shots:
    """Return every levelled point of a book once, not placed yet."""
    first: dict[str, int] = {}
    for row, name in enumerate(levels.book.point):
        if math.isfinite(float(levels.level[row])):
            first.setdefault(name_key(name), row)
    rows = list(first.values())
    book = levels.book
    nowhere = np.full(len(rows), np.nan)
    return Shots(
        tuple(book.point[row] for row in rows),
        nowhere,
        nowhere.copy(),
        levels.level[rows],
        tuple(book.note[row] for row in rows),
        book.line[rows],
        (book.file,) * len(rows),
    )


def _written_stations(reading: object) -> dict[int, tuple[float, float]]:
    """Return station and offset by line, where a list has columns of them. [m]"""
    if not isinstance(reading, RodList | PointList) or reading.station is None or reading.offset is None:
        return {}
    rows = zip(reading.line.tolist(), reading.station.tolist(), reading.offset.tolist(), strict=True)
    return {line: (station, offset) for line, station, offset in rows if math.isfinite(station + offset)}


def _line(site: Site, table: ReadingsTable, known: Known) -> Baseline | None:
    """Return the baseline of a file."""
    if table.baseline is None:
        return None
    start = place_of(table.baseline.start, known)
    if (table.baseline.to is None) is (table.baseline.bearing is None):
        what = "the baseline has " + ("neither to nor bearing" if table.baseline.to is None else "to and bearing")
        raise InputError(Fault(what, "a line runs to a point, or along a bearing", "Keep one", site.source("readings")))
    if table.baseline.bearing is not None:
        return Baseline(*start, table.baseline.bearing, table.baseline.station)
    end = place_of(table.baseline.to or start, known)
    if math.dist(start, end) < 0.01:
        what = "both points of the baseline lie in one place"
        raise InputError(Fault(what, "a line runs from one point to another", "", site.source("readings")))
    return Baseline.between(start, end, table.baseline.station)


def _grid(table: ReadingsTable, known: Known) -> LabelGrid | None:
    """Return the lettered grid of a file."""
    if table.grid is None:
        return None
    return LabelGrid(*place_of(table.grid.origin, known), table.grid.bearing, *table.grid.spacing)
