"""Files whose points are measured from points of other files: placed one after another, by names."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.levels.fit import instrument_precision
from spadework.positions import (
    Baseline,
    KnownPlace,
    StringLine,
    Tape,
    known_places,
    reduce_radial,
    reduce_slope_walk,
    reduce_string_lines,
    reduce_ties,
)
from spadework.positions.net_fit import PlaceFit
from spadework.positions.places import name_key
from spadework.positions.slope_walk import TOO_MUCH
from spadework.readings import Reading, RodList
from spadework.readings_positions import RadialShots, SlopeWalk, StringDrops, TapeTies
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.survey_fit import fit_levels, fit_part
from spadework.survey_labels import place_of, rods_by_label, shots_by_label
from spadework.survey_levels import SurveyPart, levelled
from spadework.survey_nets import adjusted_parts, sights_of, walk_levels, with_net
from spadework.survey_precision import how_sure
from spadework.units import parse_length

__all__ = ["place_parts"]

Known = Mapping[str, KnownPlace]
BETWEEN = (TapeTies, SlopeWalk, RadialShots)


def place_parts(
    site: Site, parts: Sequence[SurveyPart], *, allow_misclosure: bool = False
) -> tuple[list[SurveyPart], PlaceFit | None]:
    """Place every file that waits for points of another, in whatever order they can be placed.

    Files that measure between points (ties, sights, walks) come first where several could be placed, and all of them
    so far are adjusted as one net each time, so that what hangs on their points hangs on adjusted places.

    Parameters
    ----------
    site : Site
        The site file.
    parts : sequence of SurveyPart
        Reduced as far as each can be by itself.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance.

    Raises
    ------
    InputError
        When a file counts from points that nothing places: all such files at once.
    """
    placed = list(parts)
    waiting = [row for row, part in enumerate(placed) if _waits(part)]
    while waiting:
        known = _known(site, [part for row, part in enumerate(placed) if row not in waiting])
        whole = [row for row in waiting if not _missing(placed[row], _with_own(site, placed[row], known))]
        ready = next((row for row in whole if isinstance(placed[row].pending, BETWEEN)), next(iter(whole), None))
        if ready is None:
            faults: list[Fault] = []
            for row in waiting:
                faults += _stuck(site, placed[row], _with_own(site, placed[row], known))
            raise InputError(faults)
        own = _with_own(site, placed[ready], known)
        placed[ready] = _place(site, placed[ready], own, allow_misclosure=allow_misclosure)
        waiting.remove(ready)
        if placed[ready].sights is not None:
            placed = adjusted_parts(placed, _held(site, placed))
    return with_net(placed, _held(site, placed), site.units)


def _held(site: Site, parts: Sequence[SurveyPart]) -> dict[str, KnownPlace]:
    """Return the points that the net of the site counts from: those of the other files, and those that tables give."""
    others = [part for part in parts if part.sights is None or part.table.fit is not None]
    held = _known(site, [part for part in others if part.pending is None])
    for part in parts:
        held |= _with_own(site, part, held)
    return held


def _waits(part: SurveyPart) -> bool:
    """Say whether a file waits for others."""
    return part.pending is not None or part.table.fit is not None or part.table.fit_levels or _labelled(part)


def _labelled(part: SurveyPart) -> bool:
    """Say whether a file has places by a baseline or a grid."""
    return part.table.baseline is not None or part.table.grid is not None


def _known(site: Site, parts: Sequence[SurveyPart]) -> dict[str, KnownPlace]:
    """Return the points that are known so far."""
    levels = {name_key(name): level for name, level in site.known_levels.items()}
    for part in parts:
        for name, level, _ in part.named_levels:
            levels.setdefault(name_key(name), level)
    return known_places([part.shots for part in parts if part.shots is not None and not part.many], levels)


def _with_own(site: Site, part: SurveyPart, known: Known) -> dict[str, KnownPlace]:
    """Return the known points with those that the file's own table gives."""
    found = dict(known)
    for name, numbers in part.table.places.items():
        key = name_key(name)
        level = numbers[2] if len(numbers) > 2 else found.get(key, KnownPlace()).level
        found[key] = KnownPlace(numbers[0], numbers[1], level)
    walk = part.pending or part.reading
    if isinstance(walk, SlopeWalk) and part.table.origin is not None:
        key = name_key(walk.start[0])
        level = found.get(key, KnownPlace()).level
        if part.table.line_level is not None:
            level = part.table.line_level
        elif not math.isfinite(level) and site.datum is not None and name_key(site.datum.point) == key:
            level = site.datum.level
        found[key] = KnownPlace(*part.table.origin, level)
    return found


def _named(table: ReadingsTable, reading: object) -> list[str]:
    """Return every point that must be placed before a file can be."""
    wanted: list[object] = []
    if isinstance(reading, TapeTies):
        own = {name_key(name) for name in reading.point}
        wanted += [name for name in reading.reference if name_key(name) not in own]
    if isinstance(reading, StringDrops):
        for string in table.strings.values():
            wanted += [string.start, string.to]
    if table.baseline is not None:
        wanted += [table.baseline.start, table.baseline.to]
    if table.grid is not None:
        wanted.append(table.grid.origin)
    return list(dict.fromkeys(name for name in wanted if isinstance(name, str)))


def _missing(part: SurveyPart, known: Known) -> list[str]:
    """Return the points that keep a file from being placed."""

    def placed(name: str) -> bool:
        return known.get(name_key(name), KnownPlace()).placed

    reading = part.pending
    missing = [name for name in _named(part.table, reading) if not placed(name)]
    if isinstance(reading, TapeTies) and not missing:
        ends = dict.fromkeys((*reading.reference, *reading.point))
        if sum(map(placed, ends)) < 2:
            missing += [name for name in dict.fromkeys(reading.reference) if not placed(name)][:2]
    if isinstance(reading, RadialShots) and not any(map(placed, reading.station)):
        seen = {name_key(name) for name in reading.point if placed(name)}
        missing += [reading.station[0]] if len(seen) < 2 else []
    if isinstance(reading, SlopeWalk) and not any(map(placed, (*reading.start, *reading.point))):
        missing.append(reading.start[0])
    if part.table.fit is not None and part.shots is not None and reading is None:
        common = {name_key(name) for name in part.shots.point if placed(name)}
        needed = 1 if part.table.fit == "shift" else 2
        if len(common) < needed:
            missing.append(f"{needed - len(common)} more common point(s)")
    if part.table.fit_levels and part.shots is not None and reading is None:
        levelled_here = [name for row, name in enumerate(part.shots.point) if math.isfinite(part.shots.level[row])]
        if not any(known.get(name_key(name), KnownPlace()).levelled for name in levelled_here):
            missing.append("a common level")
    return missing


def _stuck(site: Site, part: SurveyPart, known: Known) -> list[Fault]:
    """Return why a file cannot be placed."""
    row = next((place for place, table in enumerate(site.readings) if table is part.table), 0)
    source = site.source("readings", row)
    missing = _missing(part, known)
    if (part.table.fit is not None or part.table.fit_levels) and part.pending is None:
        what = f"{part.file} is to be fitted to the other files, and too few of its points are named in them"
        rule = "a shift of places or levels needs one common point, a turn two, and one more to check it"
        return [Fault(what, rule, "give the points that both hold the same name", source)]
    names = ", ".join(missing[:8])
    what = f"{part.file} counts from {names}, and nothing says where {'that is' if len(missing) == 1 else 'they are'}"
    remedy = f'Say where, in the table of this file: places = {{ "{missing[0]}" = [0, 0] }}; or list it in another file'
    return [Fault(what, "a measured point hangs on known ones", remedy, source)]


def _place(site: Site, part: SurveyPart, known: Known, *, allow_misclosure: bool) -> SurveyPart:
    """Return a file with its points placed."""
    reading = part.pending
    notices: tuple[str, ...] = ()
    shots = part.shots
    table = part.table
    if table.tape is not None and reading is not None:
        reading, said = _taped(table, reading)
        part = replace(part, sentences=(*part.sentences, *said))
    if isinstance(reading, TapeTies):
        shots, notices = reduce_ties(reading, known, side=table.side or "", tape_sd=table.sd or 0.01)
    elif isinstance(reading, SlopeWalk):
        leg_sd = table.sd or instrument_precision(table.instrument or "clinometer").reading_sd
        adjust = site.positions.adjust
        shots, notices = reduce_slope_walk(
            reading,
            known,
            bearing=table.bearing,
            leg_sd=leg_sd,
            adjust=adjust,
            allow_misclosure=allow_misclosure or site.levels.allow_misclosure,
        )
        shots = walk_levels(reading, shots, known, leg_sd) if adjust == "least-squares" else shots
        taken = (
            f"{text} Taken all the same, because allow-misclosure was set." for text in notices if TOO_MUCH in text
        )
        part = replace(part, overrides=(*part.overrides, *taken))
    elif isinstance(reading, RadialShots):
        zeros = {name_key(name): bearing for name, bearing in table.zero.items()}
        shots, notices = reduce_radial(reading, known, zeros=zeros, multiplier=table.stadia)
    elif isinstance(reading, StringDrops):
        shots = reduce_string_lines(reading, _strings(site, table, reading, known))
    elif isinstance(reading, RodList):
        placed, notices = rods_by_label(site, part, reading, known)
        earlier = {name: place.level for name, place in known.items() if place.levelled}
        part = levelled(site, table, placed, part, earlier, allow_misclosure=allow_misclosure)
        shots = part.shots
    elif _labelled(part):
        shots, notices = shots_by_label(site, part, known)
    if shots is not None and part.reading is not None:
        shots = how_sure(shots, table, part.reading)
    part = replace(part, shots=_with_places(shots, table, known), pending=None, notices=(*part.notices, *notices))
    adjust = site.positions.adjust
    if reading is not None and adjust != "none" and not (adjust == "compass" and isinstance(reading, SlopeWalk)):
        sights = sights_of(reading, table)
        part = part if sights is None else replace(part, sights=sights[0], sights_words=sights[1])
    if table.fit_levels:
        part = fit_levels(site, part, known)
    return fit_part(site, part, known) if table.fit is not None else part


def _taped(table: ReadingsTable, reading: Reading) -> tuple[Reading, tuple[str, ...]]:
    """Return readings with the corrections of the tape, and what they come to."""
    tape = table.tape.tape if table.tape is not None else Tape()
    if isinstance(reading, StringDrops):
        reading = replace(reading, along=tape.corrected(reading.along))
    elif isinstance(reading, SlopeWalk | RadialShots | TapeTies):
        reading = replace(reading, distance=tape.corrected(reading.distance))
    causes = ", ".join(tape.causes) or "nothing"
    return reading, (f"Taped distances corrected for {causes} in {tape.nominal:g} m.",)


def _strings(site: Site, table: ReadingsTable, drops: StringDrops, known: Known) -> dict[str, StringLine]:
    """Return where each string runs: as the table says, or side by side from an origin."""
    faults: list[Fault] = []
    found: dict[str, StringLine] = {}
    source = site.source("readings")
    for name, string in table.strings.items():
        level = string.level if string.level is not None else table.line_level
        if level is None:
            what = f"the string {name!r} has no level"
            remedy = f'Give it one: level = "100 {site.units if site.units != "ft-in" else "ft"}"'
            faults.append(Fault(what, "levels are the string's level less the drops", remedy, source))
            continue
        end = string.end_level if string.end_level is not None else level
        found[name_key(name)] = StringLine(place_of(string.start, known), place_of(string.to, known), level, end)
    if not table.strings and table.line_level is not None:
        line = Baseline(*(table.origin or (0.0, 0.0)), table.bearing or 0.0)
        reach = float(drops.along.max()) + 1.0
        for name in dict.fromkeys(drops.string):
            try:
                across = parse_length(name, table.units or site.units, source=Source(drops.file))
            except InputError:
                continue
            east, north = line.place([0.0, reach], [across, across])
            pegs = [(float(e), float(n)) for e, n in zip(east, north, strict=True)]
            found[name_key(name)] = StringLine(pegs[0], pegs[1], table.line_level, table.line_level)
    elif not table.strings:
        what = f"{drops.file} gives drops below strings, and nothing says where the strings run and how high"
        remedy = (
            'Give strings = { A = { from = [0, 0], to = [10, 0], level = "100 m" } }, or line-level and, for strings '
            "named after their distance across, origin and bearing"
        )
        faults.append(Fault(what, "a string is placed by its two ends", remedy, source))
    if faults:
        raise InputError(faults)
    return found


def _with_places(shots: Shots | None, table: ReadingsTable, known: Known) -> Shots | None:
    """Return shots with the points that the table itself places, so that the site file may name them."""
    if shots is None or not table.places:
        return shots
    have = {name_key(name) for name in shots.point}
    names = [name for name in table.places if name_key(name) not in have]
    if not names:
        return shots
    places = [known[name_key(name)] for name in names]
    return Shots(
        (*shots.point, *names),
        np.concatenate([shots.east, [place.east for place in places]]),
        np.concatenate([shots.north, [place.north for place in places]]),
        np.concatenate([shots.level, np.full(len(names), np.nan)]),
        (*shots.note, *("",) * len(names)),
        np.concatenate([shots.line, np.zeros(len(names), dtype=np.int64)]),
        (*shots.file, *(table.file,) * len(names)),
        None if shots.level_sd is None else np.concatenate([shots.level_sd, np.full(len(names), np.nan)]),
        None if shots.position_sd is None else np.concatenate([shots.position_sd, np.full(len(names), np.nan)]),
    )
