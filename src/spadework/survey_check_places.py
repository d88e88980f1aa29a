"""Levels taken on the work put in their places: rods at the stakes that they are called after, book levels too."""

from __future__ import annotations

import difflib
import math
from dataclasses import replace

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.fieldcheck import Wanted
from spadework.readings import FloatArray, IntArray, PointList, RodList
from spadework.shots import Shots
from spadework.survey_levels import SurveyPart

__all__ = ["at_stakes", "placed_shots", "with_bench", "with_places"]


def with_bench(rods: RodList, row: tuple[str, float, Source] | None) -> RodList:
    """Return a rod list with a reading on the bench mark set before the others."""
    if row is None:
        return rods
    point, reading, source = row

    def first(value: float, column: FloatArray) -> FloatArray:
        return np.concatenate([[value], column])

    line: IntArray = np.concatenate([[source.line or int(rods.line[0])], rods.line]).astype(np.int64)
    return replace(
        rods,
        setup=(rods.setup[0], *rods.setup),
        point=(point, *rods.point),
        east=first(math.nan, rods.east),
        north=first(math.nan, rods.north),
        rod=first(reading, rods.rod),
        note=("", *rods.note),
        line=line,
        station=None if rods.station is None else first(math.nan, rods.station),
        offset=None if rods.offset is None else first(math.nan, rods.offset),
    )


def with_places(wanted: Wanted, rods: RodList, bench: str) -> RodList:
    """Return a rod list in which a row without a position stands where its stake does."""
    east, north = rods.east.copy(), rods.north.copy()
    placed = np.isfinite(east) & np.isfinite(north)
    if rods.station is not None and rods.offset is not None:
        placed |= np.isfinite(rods.station) & np.isfinite(rods.offset)
    setups: dict[str, set[str]] = {}
    for setup, point in zip(rods.setup, rods.point, strict=True):
        setups.setdefault(point.strip().casefold(), set()).add(setup)
    faults = []
    for row in np.flatnonzero(~placed).tolist():
        point = rods.point[row]
        at = wanted.stake(point)
        if at is not None:
            east[row], north[row] = at
        elif point.strip().casefold() != bench.casefold() and len(setups[point.strip().casefold()]) == 1:
            faults.append(_no_stake(wanted, point, rods.source(row)))
    if faults:
        raise InputError(faults)
    return replace(rods, east=east, north=north)


def at_stakes(wanted: Wanted, points: PointList) -> PointList:
    """Return points that stand where their stakes do, whatever places they came with."""
    places = [wanted.stake(point) for point in points.point]
    faults = [
        _no_stake(wanted, point, points.source(row))
        for row, (point, at) in enumerate(zip(points.point, places, strict=True))
        if at is None
    ]
    if faults:
        raise InputError(faults)
    found = np.array([at for at in places if at is not None], dtype=np.float64).reshape(-1, 2)
    return replace(points, east=found[:, 0], north=found[:, 1])


def _no_stake(wanted: Wanted, point: str, source: Source) -> Fault:
    """Return the fault of a reading that has no place."""
    names = list(wanted.stakes)
    near = difflib.get_close_matches(point.casefold(), [name.casefold() for name in names], n=1)
    remedy = f"The plan has: {', '.join(names[:16])}{', ...' if len(names) > 16 else ''}"
    if near:
        remedy = f"Did you mean {next(name for name in names if name.casefold() == near[0])!r}?"
    return Fault(
        f"no stake of the plan is called {point!r}, and the row has no position",
        "a reading stands at a stake, or has east and north",
        remedy,
        source,
    )


def placed_shots(wanted: Wanted, part: SurveyPart, name: str) -> Shots:
    """Return the levels with their positions; those of a level book stand at the stakes that they are called after."""
    if part.shots is not None:
        return part.shots
    levels = part.levels
    if levels is None:
        raise InputError(
            Fault("the file gives no levels", "a check compares levels", "Give rods or levels", Source(name))
        )
    book = levels.book
    # A point that is sighted back to carries the levels on: it may stand anywhere.
    passing = {
        point.strip().casefold()
        for point, sight in zip(book.point, book.backsight.tolist(), strict=True)
        if not math.isnan(sight)
    }
    rows, faults = [], []
    for row, point in enumerate(book.point):
        if math.isnan(levels.level[row]):
            continue
        if wanted.stake(point) is not None:
            rows.append(row)
        elif point.strip().casefold() not in passing:
            faults.append(_no_stake(wanted, point, book.source(row)))
    if faults:
        raise InputError(faults)
    places = [wanted.stake(book.point[row]) or (math.nan, math.nan) for row in rows]
    return Shots(
        point=tuple(book.point[row] for row in rows),
        east=np.array([east for east, _ in places], dtype=np.float64),
        north=np.array([north for _, north in places], dtype=np.float64),
        level=levels.level[rows],
        note=tuple(book.note[row] for row in rows),
        line=book.line[rows],
        file=(book.file,) * len(rows),
    )
