"""Each file of readings reduced to shots and levels, and the files of a site joined by the names of points."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from spadework.errors import Fault, InputError
from spadework.levels import (
    ReducedLevels,
    Run,
    Tolerance,
    reduce_drop_grid,
    reduce_level_book,
    reduce_rod_list,
    tolerance_rule,
)
from spadework.levels.drops import LEVEL_LINE
from spadework.levels.fit import fit_sentence
from spadework.levels.net_book import ReducedNet, net_sentence, reduce_level_net
from spadework.levels.rod_range import ROD_LENGTH
from spadework.levels.wording import Wording
from spadework.read import Recognised
from spadework.readings import DropGrid, LevelBook, LevelNetLines, PointList, RodList
from spadework.readings_positions import RadialShots, SlopeWalk, StringDrops, TapeTies
from spadework.shots import Shots, join_shots
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.survey_part import SurveyPart
from spadework.survey_places import SAME_PLACE
from spadework.survey_precision import how_sure, reading_precision
from spadework.survey_sights import book_with_sights, reach_notices, sight_rules
from spadework.units import LengthUnit, format_length

__all__ = ["SurveyPart", "joined_shots", "levelled", "named_shots", "reduced"]


def reduced(
    site: Site,
    table: ReadingsTable,
    recognised: Recognised,
    *,
    allow_misclosure: bool,
    earlier: Mapping[str, float] | None = None,
) -> SurveyPart:
    """Reduce one file of readings.

    Parameters
    ----------
    site : Site
        For the datum and the rules of levelling.
    table : ReadingsTable
        What the site file says of it.
    recognised : Recognised
        Its readings.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance, as the site file may also say.
    earlier : mapping of str to float, optional
        Levels from earlier files by name, for a file that does not hold the datum. [m]

    Raises
    ------
    InputError
        If its readings do not hang together.
    MisclosureError
        If a run is out by more than its tolerance.
    """
    reading = recognised.reading
    part = SurveyPart(
        table.file,
        sentences=(f"{table.file} {recognised.sentence}.",),
        notices=(*recognised.notes, *reach_notices(reading, table.instrument)),
        table=table,
        reading=reading,
    )
    if isinstance(reading, DropGrid):
        part = _drop_grid(site, table, reading, part)
    elif isinstance(reading, PointList):
        part = replace(part, shots=_points(site, reading))
    elif isinstance(reading, LevelNetLines):
        return netted(site, table, reading, part, earlier or {}, allow_misclosure=allow_misclosure)
    elif isinstance(reading, RodList | LevelBook):
        part = levelled(site, table, reading, part, earlier or {}, allow_misclosure=allow_misclosure)
    elif isinstance(reading, StringDrops | SlopeWalk | RadialShots | TapeTies):
        return replace(part, pending=reading)
    else:  # a raster is read by the survey, which knows the boundary
        raise TypeError(type(reading).__name__)
    return part if part.shots is None else replace(part, shots=how_sure(part.shots, table, reading))


def joined_shots(parts: Sequence[SurveyPart], unit: LengthUnit = LengthUnit.METRE) -> tuple[Shots, list[str]]:
    """Join the shots of several files; a point listed without a level takes it from a level book that has its name.

    Parameters
    ----------
    parts : sequence of SurveyPart
        At least one.
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    shots : Shots
        All of them, in the order of the files.
    notices : list of str
        Which points stay without a level.

    Raises
    ------
    InputError
        If no file says where any point is, or a level that goes by name has two places to go to.
    """
    placed = [part.shots for part in parts if part.shots is not None]
    if not placed:
        book = parts[0].file
        raise InputError(
            Fault(
                f"{book} gives levels but no positions",
                "a ground needs to know where each level was taken",
                "Add a second [[readings]] with a list of the points: point, east, north",
            )
        )
    shots = join_shots(placed)
    known: dict[str, tuple[float, float]] = {}
    for part in reversed(parts):
        known |= {name.strip().casefold(): (level, sd) for name, level, sd in reversed(part.named_levels)}
        if part.levels is not None:
            known |= {name: (value, 0.0) for name, value in part.levels.known.items()}
    missing = np.flatnonzero(~np.isfinite(shots.level))
    level = shots.level.copy()
    level_sd = np.full(len(shots), np.nan) if shots.level_sd is None else shots.level_sd.copy()
    for row in missing.tolist():
        level[row], level_sd[row] = known.get(shots.point[row].strip().casefold(), (np.nan, np.nan))
    if faults := list(_two_places(shots, [row for row in missing.tolist() if np.isfinite(level[row])], unit)):
        raise InputError(faults)
    without = [shots.point[row] for row in missing.tolist() if not np.isfinite(level[row])]
    notices = []
    if without:
        some = ", ".join(without[:8]) + (f" and {len(without) - 8} more" if len(without) > 8 else "")
        notices.append(f"Without a level, so they only mark a place: {some}.")
    return replace(shots, level=level, level_sd=level_sd if np.isfinite(level_sd).any() else shots.level_sd), notices


def _two_places(shots: Shots, rows: Sequence[int], unit: LengthUnit) -> Iterator[Fault]:
    """Yield a fault for each row that takes its level by a name which stands at another place as well."""
    first: dict[str, int] = {}
    for row in rows:
        other = first.setdefault(shots.point[row].strip().casefold(), row)
        apart = math.hypot(shots.east[row] - shots.east[other], shots.north[row] - shots.north[other])
        if apart > SAME_PLACE:
            yield Fault(
                f"{shots.point[row]} is listed a second time, {format_length(apart, unit)} from where "
                f"{shots.source(other)} has it",
                "a level that is joined by the name of its point belongs to one place",
                "Give the two points names of their own, in the level book too, or take one out",
                shots.source(row),
            )


def named_shots(parts: Sequence[SurveyPart], shots: Shots) -> Shots | None:
    """Return the shots that somebody took and named, without the points of clouds; None where there are no others."""
    rows: list[int] = []
    start = 0
    for part in parts:
        count = 0 if part.shots is None else len(part.shots)
        rows += [] if part.many else range(start, start + count)
        start += count
    return shots if len(rows) == len(shots) else shots.take(rows) if rows else None


def _drop_grid(site: Site, table: ReadingsTable, grid: DropGrid, part: SurveyPart) -> SurveyPart:
    """Return the shots of a drop grid."""
    if table.line_level is None:
        raise InputError(
            Fault(
                f"{table.file} gives drops below a line, and the line has no level",
                "levels are the line's level less the drops",
                'Say what the line is called, such as line-level = "100 ft": any round number will do',
                site.source("readings"),
            )
        )
    shots = reduce_drop_grid(
        grid, line_level=table.line_level, origin=table.origin or (0.0, 0.0), bearing=table.bearing or 0.0
    )
    level = format_length(table.line_level, site.units)
    return replace(
        part,
        shots=shots,
        line=(LEVEL_LINE, table.line_level),
        sentences=(*part.sentences, f"Level = {level} (the line) less the drop; the grid's first corner is A1."),
    )


def _points(site: Site, points: PointList) -> Shots:
    """Return a list of points as shots; the datum must agree with a point that it names."""
    if site.datum is not None:
        wanted = site.datum.point.strip().casefold()
        for row, name in enumerate(points.point):
            level = float(points.level[row])
            if name.strip().casefold() == wanted and abs(level - site.datum.level) > 0.0005:
                raise InputError(
                    Fault(
                        f"{name} has level {format_length(level, site.units)} here, and "
                        f"{format_length(site.datum.level, site.units)} as datum of the site file",
                        "a list of points comes with its own datum",
                        "Take the datum out of the site file, or give it the level of the list",
                        points.source(row, "level"),
                    )
                )
    return Shots(
        point=points.point,
        east=points.east,
        north=points.north,
        level=points.level,
        note=points.note,
        line=points.line,
        file=(points.file,) * len(points),
    )


def _known_here(
    site: Site, points: tuple[str, ...], part: SurveyPart, earlier: Mapping[str, float]
) -> tuple[dict[str, float], SurveyPart]:
    """Return the levels that a file counts from: the site's, or where it names none of them those of earlier files."""
    known = site.known_levels
    if not {name.strip().casefold() for name in known} & {name.strip().casefold() for name in points}:
        common = {name: earlier[name.strip().casefold()] for name in points if name.strip().casefold() in earlier}
        if common:
            known = {name: level for name, level in common.items() if level == level}  # noqa: PLR0124 - not NaN
            names = ", ".join(list(known)[:8])
            part = replace(part, sentences=(*part.sentences, f"Levels taken over from earlier files at {names}."))
    return known, part


def _tolerance(site: Site) -> Tolerance:
    """Return the rule for misclosures."""
    words = site.levels.tolerance
    return tolerance_rule(words, source=site.source("levels", "tolerance")) if words else tolerance_rule()


def netted(
    site: Site,
    table: ReadingsTable,
    reading: LevelNetLines,
    part: SurveyPart,
    earlier: Mapping[str, float],
    *,
    allow_misclosure: bool,
) -> SurveyPart:
    """Return levelled lines, adjusted as a net from the site's bench marks, or from those of earlier files."""
    known, part = _known_here(site, (*reading.start, *reading.end), part, earlier)
    net = reduce_level_net(
        reading,
        known,
        tolerance=_tolerance(site),
        weights=site.levels.weights,
        precision=reading_precision(table, site.levels, site.bench_sd),
        allow_misclosure=allow_misclosure or site.levels.allow_misclosure,
        unit=site.units,
    )
    return replace(
        part,
        level_net=net,
        sentences=(*part.sentences, *_loop_sentences(site, net), net_sentence(net)),
        notices=(*part.notices, *net.notices, *net.suspects),
        overrides=tuple(
            f"{_misclosed(site, run)}: more than {net.tolerance.name} allows "
            f"({format_length(run.allowed, site.units)}). Taken all the same, because allow-misclosure was set."
            for run in (net.failing if net.overridden else ())
        ),
    )


def _loop_sentences(site: Site, net: ReducedNet) -> list[str]:
    """Return how the loops of a net close: how many there are, and the widest of them."""
    if not net.runs:
        return []
    widest = max(net.runs, key=lambda run: abs(run.misclosure) / max(run.allowed, 1e-9))
    count = len(net.runs)
    text = f"{_misclosed(site, widest)}; {net.tolerance.name} allows {format_length(widest.allowed, site.units)}"
    return [f"{text}; adjusted by least squares." if count == 1 else f"Of {count} loops and runs the widest: {text}."]


def levelled(
    site: Site,
    table: ReadingsTable,
    reading: RodList | LevelBook,
    part: SurveyPart,
    earlier: Mapping[str, float],
    *,
    allow_misclosure: bool,
) -> SurveyPart:
    """Return a rod list or a level book, reduced from the site's datum, or from bench marks of earlier files."""
    known, part = _known_here(site, (*reading.point,), part, earlier)
    rules = site.levels
    tolerance = _tolerance(site)
    allowed = allow_misclosure or rules.allow_misclosure
    rod_length = table.rod_length or ROD_LENGTH
    precision = reading_precision(table, rules, site.bench_sd)
    shots: Shots | None = None
    place = next((row for row, other in enumerate(site.readings) if other is table), 0)
    if isinstance(reading, RodList):
        if table.peg_test is not None or table.curvature:
            what = f"{table.file} is a rod-list, and peg-test or curvature is given for it"
            rule = "only a level book has lengths of sights to correct for"
            raise InputError(Fault(what, rule, "Take it out", site.source("readings", place)))
        shots, levels = reduce_rod_list(
            reading,
            known,
            tolerance=tolerance,
            adjust=rules.adjust,
            allow_misclosure=allowed,
            rod_length=rod_length,
            unit=site.units,
            precision=precision,
        )
    else:
        words = Wording.of_book(reading.reading_resolution, site.units)
        reading, said, notices = book_with_sights(
            reading,
            sight_rules(site, table, words),
            words,
            stadia=table.stadia,
            source=site.source("readings", place),
        )
        part = replace(part, sentences=(*part.sentences, *said), notices=(*part.notices, *notices))
        levels = reduce_level_book(
            reading,
            known,
            tolerance=tolerance,
            adjust=rules.adjust,
            allow_misclosure=allowed,
            rod_length=rod_length,
            unit=site.units,
            precision=precision,
        )
    return replace(
        part,
        shots=shots,
        levels=levels,
        sentences=(*part.sentences, *_closing_sentences(site, levels, tolerance)),
        notices=(*part.notices, *levels.notices, *levels.suspects),
        overrides=tuple(
            f"{_misclosed(site, run)}: more than {tolerance.name} allows "
            f"({format_length(run.allowed, site.units)}). Taken all the same, because allow-misclosure was set."
            for run in (levels.failing if levels.overridden else ())
        ),
    )


def _misclosed(site: Site, run: Run) -> str:
    """Return how a run came out, in words."""
    signed = format_length(run.misclosure, site.units, sign=True)
    return f"Levels from {run.start} to {run.end} close {signed} over {run.setups} set-ups"


def _closing_sentences(site: Site, levels: ReducedLevels, tolerance: Tolerance) -> list[str]:
    """Return how the levels were reduced and how they closed."""
    how = {
        "set-ups": "shared equally over the set-ups",
        "distance": "shared by distance",
        "least-squares": "adjusted by least squares",
        "none": "not shared out",
    }[levels.adjust]
    sentences = ["Levels reduced by height of instrument and by rise and fall; both agree."]
    sentences += [
        f"{_misclosed(site, run)}; {tolerance.name} allows {format_length(run.allowed, site.units)}; {how}."
        for run in levels.runs
        if run.kind == "closed" and run.within
    ]
    fit = levels.fit
    if fit is not None and levels.adjust == "least-squares":
        sentences.append(fit_sentence(fit))
    if not levels.closed:
        sentences.append("A run of levels closes on nothing known, so nothing checks it.")
    return sentences
