"""What a site file says of where the pad may lie and how high, as the limits of a search."""

from __future__ import annotations

import math

import numpy as np

from spadework.errors import Fault, Source
from spadework.pad import Pad
from spadework.placement.limits import (
    BearingLimit,
    FacingLimit,
    FinishLimit,
    Limits,
    PositionLimit,
    ReachLimit,
)
from spadework.placement.pose_rules import side_of
from spadework.placement.shape import PadShape
from spadework.site import Site
from spadework.site_pad import PadTable
from spadework.site_where import BearingTable, FinishTable, StandsTable
from spadework.survey_pad import DrawnPad
from spadework.survey_places import Places
from spadework.survey_result import Survey

__all__ = ["limits_of"]

Span = tuple[float, float]
"""First bearing and width of a range. [deg]"""


def limits_of(site: Site, survey: Survey, drawn: DrawnPad) -> Limits:
    """Return the limits of a placement; faults of what cannot be had are left with the survey's places.

    Parameters
    ----------
    site : Site
        The site file.
    survey : Survey
        What it measured.
    drawn : DrawnPad
        Its pad.

    Raises
    ------
    InputError
        For a side that the pad does not have, and for limits that cannot be meant.
    """
    table, pad, places = site.pad_table, drawn.pad, survey.places
    assert table is not None  # noqa: S101 -- a site without a pad was refused when the pad was drawn
    bearing, facings = _faced(site, table, pad, _bearing(site, table, pad, places), places)
    limits = site.goal.limits
    return Limits(
        boundary=survey.boundary,
        setback=site.boundary.setback if site.boundary else 0.0,
        keep_outs=survey.keep_outs,
        bearing=bearing,
        position=_position(site, table, drawn, places),
        finish=_finish(site, table, survey),
        exposed_edge=limits.exposed_edge,
        cut_depth=limits.cut_depth,
        fill_depth=limits.fill_depth,
        bought=limits.bought,
        source=Source(str(site.file)),
        carted=limits.carted,
        ground_slope=limits.ground_slope,
        reaches=_reaches(site, places),
        facings=facings,
    )


def _reaches(site: Site, places: Places) -> tuple[ReachLimit, ...]:
    """Return the points that the pad must not lie too far from."""
    found = []
    for number, table in enumerate(site.reaches):
        source = site.source("reach", number, "from")
        east, north = places.find(table.start, source)
        name = table.name or (table.start if isinstance(table.start, str) else f"point {number + 1}")
        if not math.isnan(east):
            found.append(ReachLimit(name, east, north, table.distance, table.to, source))
    return tuple(found)


def _position(site: Site, table: PadTable, drawn: DrawnPad, places: Places) -> PositionLimit | None:
    """Return where the pad must stand."""
    if table.position == "drawn":
        return None if drawn.middle is None else PositionLimit(*drawn.middle)
    if isinstance(table.position, str):
        return None
    if not isinstance(table.position, StandsTable):
        return PositionLimit(*table.position)
    source = site.source("pad", "position")
    east, north = places.find(table.position.at, source)
    corner = (table.position.corner or "").upper()
    if corner and corner not in drawn.pad.marked[0]:
        rule = f"its corners are {', '.join(drawn.pad.marked[0])}"
        places.faults.append(Fault(f"the pad has no corner {corner!r}", rule, "Name one of them", source, corner))
        return None
    return None if math.isnan(east) else PositionLimit(east, north, corner)


def _bearing(site: Site, table: PadTable, pad: Pad, places: Places) -> BearingLimit:
    """Return which way the pad may lie. A round pad lies one way: all are the same."""
    given = table.bearing
    if given == "free":
        if table.position == "drawn":
            return BearingLimit(0.0)
        return BearingLimit(0.0) if pad.radius is not None and table.faces is None else BearingLimit()
    if isinstance(given, float | int):
        return BearingLimit(float(given))
    if isinstance(given, str):
        return BearingLimit()
    if not isinstance(given, BearingTable):
        spans = tuple(_span(entry) for entry in given)
        return BearingLimit() if any(width >= 360.0 for _, width in spans) else BearingLimit(ranges=spans)
    line = given.parallel_to or given.square_to
    if line is None:
        span = _span(given)
        return BearingLimit() if span[1] >= 360.0 else BearingLimit(ranges=(span,))
    start, end = (places.find(name, site.source("pad", "bearing")) for name in line)
    turn = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1]))
    turn = (turn + (90.0 if given.square_to else 0.0)) % 360.0
    if math.isnan(turn):
        return BearingLimit()
    if math.dist(start, end) < 1e-6:
        what = f"{line[0]!r} and {line[1]!r} stand at one place"
        places.faults.append(Fault(what, "a line has two", "Name another shot", site.source("pad", "bearing")))
        return BearingLimit()
    # Along a line is both ways; a pad that looks the same both ways needs one of them.
    same = PadShape.of(pad).turn <= 180.0 and not table.faces
    return BearingLimit(turn) if same else BearingLimit(ranges=((turn, 0.0), ((turn + 180.0) % 360.0, 0.0)))


def _span(table: BearingTable) -> Span:
    """Return first bearing and width of a range."""
    start, end = table.start or 0.0, table.to or 0.0
    return start % 360.0, 360.0 if abs(end - start) >= 360.0 else (end - start) % 360.0


def _faced(
    site: Site, table: PadTable, pad: Pad, bearing: BearingLimit, places: Places
) -> tuple[BearingLimit, tuple[FacingLimit, ...]]:
    """Return the bearings at which the front looks the right way, and the points that it must face."""
    side = table.front or ("A" if pad.radius is not None else "BC")
    if table.front:
        side_of(pad, side, site.source("pad", "front"))
    faces = table.faces
    if faces is None:
        return bearing, ()
    source = site.source("pad", "faces")
    out = side_of(pad, side, site.source("pad", "front") if table.front else source)
    if faces.towards is not None:
        east, north = places.find(faces.towards, source)
        name = faces.towards if isinstance(faces.towards, str) else "the point to face"
        facing = FacingLimit(name, east, north, faces.within, side, source)
        return bearing, () if math.isnan(east) else (facing,)
    ahead = (faces.bearing or 0.0) - math.degrees(math.atan2(out[3], out[2]))
    if faces.within >= 180.0:
        return bearing, ()
    wanted = ((ahead - faces.within) % 360.0, 2.0 * faces.within)
    if bearing.free:
        return BearingLimit(ranges=(wanted,)), ()
    kept = tuple(both for span in bearing.spans(360.0) for both in _both(span, wanted))
    if not kept:
        what = (
            f"no bearing that [pad] bearing allows lets side {side} look within {faces.within:g}° of {faces.bearing:g}°"
        )
        places.faults.append(Fault(what, "bearing and faces are both kept", "Widen one of them", source))
        return bearing, ()
    if len(kept) == 1 and kept[0][1] == 0.0:
        return BearingLimit(kept[0][0]), ()
    return BearingLimit(ranges=kept), ()


def _both(one: Span, other: Span) -> list[Span]:
    """Return what lies in two ranges of bearings: none, one or two ranges."""
    found = []
    for turn in (-360.0, 0.0, 360.0):
        start = max(one[0], other[0] + turn)
        end = min(one[0] + one[1], other[0] + turn + other[1])
        if end >= start:
            found.append((start % 360.0, end - start))
    return found


def _finish(site: Site, table: PadTable, survey: Survey) -> FinishLimit:
    """Return how high the pad must finish."""
    given = table.finish
    if isinstance(given, float | int):
        return FinishLimit("fixed", float(given))
    if isinstance(given, FinishTable):
        return _window(site, given, survey)
    return FinishLimit({"flush": "flush", "flush-lowest": "flush-low"}.get(given, "free"))  # type: ignore[arg-type]


def _window(site: Site, table: FinishTable, survey: Survey) -> FinishLimit:
    """Return the bounds of the finish level, about a point where one is named."""
    low, high = [], []
    if table.lowest is not None:
        low.append(table.lowest)
    if table.highest is not None:
        high.append(table.highest)
    if table.point is not None:
        level = _level_of(table.point, site, survey)
        if math.isnan(level):
            return FinishLimit()
        for exact, sign in ((table.below, -1.0), (table.above, 1.0)):
            if exact is not None:
                return FinishLimit("fixed", level + sign * exact, *_ends(low, high))
        low += [level - table.most_below] if table.most_below is not None else []
        high += [level - table.least_below] if table.least_below is not None else []
        high += [level + table.most_above] if table.most_above is not None else []
        low += [level + table.least_above] if table.least_above is not None else []
    return FinishLimit("free", None, *_ends(low, high))


def _ends(low: list[float], high: list[float]) -> tuple[float | None, float | None]:
    """Return the bounds that keep several."""
    return max(low) if low else None, min(high) if high else None


def _level_of(name: str, site: Site, survey: Survey) -> float:
    """Return the level of a point of the survey; NaN, and a fault more, where it has none. [m]"""
    wanted, levels = name.strip().casefold(), []
    if survey.bench is not None and survey.bench[0].strip().casefold() == wanted:
        levels.append(survey.bench[1])
    shots = survey.shots
    if shots is not None:
        rows = [row for row, point in enumerate(shots.point) if point.strip().casefold() == wanted]
        levels += [float(shots.level[row]) for row in rows if np.isfinite(shots.level[row])]
    if not levels:
        survey.places.faults.append(
            Fault(
                f"no point called {name!r} has a level",
                "the finish is held against the level of a shot or the bench mark",
                "Name a shot with a level, or write levels: { lowest = ..., highest = ... }",
                site.source("pad", "finish"),
                name,
            )
        )
        return math.nan
    return levels[0]
