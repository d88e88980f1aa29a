"""Everything that a site measured in plan between points, as one net adjusted together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spadework.errors import InputError
from spadework.levels.net import LevelLines, adjust_level_net
from spadework.positions import KnownPlace
from spadework.positions.net import adjust_place_net
from spadework.positions.net_fit import PlaceFit, fit_places, place_sentence, place_slip_sentences
from spadework.positions.observations import PlaceObservations, join_observations
from spadework.positions.places import name_key
from spadework.positions.sights import (
    SightPrecision,
    radial_observations,
    sight_precision,
    tie_observations,
    walk_observations,
)
from spadework.positions.slope_walk import slope_parts
from spadework.readings import FloatArray, Reading
from spadework.readings_positions import RadialShots, SlopeWalk, TapeTies
from spadework.shots import Shots
from spadework.site_schema import ReadingsTable
from spadework.survey_levels import SurveyPart
from spadework.units import LengthUnit

__all__ = ["adjusted_parts", "fit_of_file", "sights_of", "walk_levels", "with_net"]

USUAL = {TapeTies: "tape", SlopeWalk: "clinometer", RadialShots: "total-station"}
Known = Mapping[str, KnownPlace]


def sights_of(reading: Reading, table: ReadingsTable) -> tuple[PlaceObservations, str] | None:
    """Return what a file measured in plan between points, and what that was taken for; None where it did not.

    Parameters
    ----------
    reading : Reading
        With the corrections of the tape.
    table : ReadingsTable
        What the site file says of it.
    """
    usual = next((name for kind, name in USUAL.items() if isinstance(reading, kind)), None)
    if usual is None:
        return None
    precision = sight_precision(table.instrument or usual, sd=table.sd, assumed=table.instrument is None)
    words = _words(precision)
    if isinstance(reading, TapeTies):
        return tie_observations(reading, precision), words
    if isinstance(reading, SlopeWalk):
        return walk_observations(reading, precision, bearing=table.bearing), words
    if isinstance(reading, RadialShots):
        zeros = {name_key(name): bearing for name, bearing in table.zero.items()}
        return radial_observations(reading, precision, zeros=zeros, multiplier=table.stadia), words
    return None


def _words(precision: SightPrecision) -> str:
    """Return what sights were taken for: ``10 mm a distance (tape, assumed)``."""
    seconds = precision.direction * 3600.0
    angle = f" and {seconds:.0f} seconds of arc a direction" if seconds else ""
    return f"{1000.0 * precision.distance:.3g} mm a distance{angle} ({precision.words})"


def _net_parts(parts: Sequence[SurveyPart]) -> list[int]:
    """Return the files that belong to the net of the site: those placed, in axes that are the site's own."""
    return [
        row
        for row, part in enumerate(parts)
        if part.sights is not None and part.pending is None and part.table.fit is None
    ]


def _net(
    parts: Sequence[SurveyPart], held: Known
) -> tuple[PlaceObservations, dict[str, tuple[float, float]], dict[str, tuple[float, float]]] | None:
    """Return the observations of the site, the places that are held, and those to begin with; None without any."""
    rows = _net_parts(parts)
    sights = [part for row in rows if (part := parts[row].sights) is not None]
    if not sights:
        return None
    observations = join_observations(sights)
    fixed = {key: (place.east, place.north) for key, place in held.items() if place.placed}
    near: dict[str, tuple[float, float]] = {}
    for row in rows:
        shots = parts[row].shots
        if shots is not None:
            for name, east, north in zip(shots.point, shots.east.tolist(), shots.north.tolist(), strict=True):
                if name_key(name) not in fixed and math.isfinite(east + north):
                    near.setdefault(name_key(name), (east, north))
    have = fixed.keys() | near.keys()
    ends = [(name_key(one), name_key(two)) for one, two in zip(observations.start, observations.end, strict=True)]
    whole = [row for row, (one, two) in enumerate(ends) if one in have and two in have and one != two]
    touched = {key for row in whole for key in ends[row]}
    if not whole:
        return None
    return (
        observations.take(whole),
        {key: spot for key, spot in fixed.items() if key in touched},
        {key: spot for key, spot in near.items() if key in touched},
    )


def adjusted_parts(parts: Sequence[SurveyPart], held: Known) -> list[SurveyPart]:
    """Return the files with the places that the net of the site gives, as far as they are placed yet.

    Parameters
    ----------
    parts : sequence of SurveyPart
        Some of them may wait still.
    held : mapping of str to KnownPlace
        Places that no file of the net gives.
    """
    found = _net(parts, held)
    if found is None:
        return list(parts)
    try:
        net = adjust_place_net(*found)
    except InputError:  # said at the end, by `with_net`
        return list(parts)
    at = {name_key(name): row for row, name in enumerate(net.point)}
    sd = net.position_sd
    done = list(parts)
    for number in _net_parts(parts):
        shots = done[number].shots
        if shots is None:
            continue
        keys = [name_key(name) for name in shots.point]
        rows = [row for row, key in enumerate(keys) if key in at]
        places = [at[keys[row]] for row in rows]
        east, north = shots.east.copy(), shots.north.copy()
        east[rows], north[rows] = net.east[places], net.north[places]
        spread = np.full(len(shots), np.nan) if shots.position_sd is None else shots.position_sd.copy()
        spread[rows] = sd[places]
        done[number] = replace(done[number], shots=replace(shots, east=east, north=north, position_sd=spread))
    return done


def with_net(parts: Sequence[SurveyPart], held: Known, unit: LengthUnit) -> tuple[list[SurveyPart], PlaceFit | None]:
    """Return the files with what is to be said of the net, and the net with its doubts.

    Parameters
    ----------
    parts, held
        As for `adjusted_parts`, all of them placed.
    unit : LengthUnit
        Of the words.
    """
    found = _net(parts, held)
    done = list(parts)
    if found is None:
        return done, None
    rows = _net_parts(parts)
    first = done[rows[0]]
    words = " and ".join(dict.fromkeys(parts[row].sights_words for row in rows))
    try:
        fit = fit_places(*found, words)
    except InputError as error:
        notice = f"Places are not adjusted together: {error.faults[0].what}; {error.faults[0].remedy}."
        done[rows[0]] = replace(first, notices=(*first.notices, notice))
        return done, None
    done[rows[0]] = replace(
        first,
        sentences=(*first.sentences, f"Places adjusted by least squares: {place_sentence(fit)}"),
        notices=(*first.notices, *place_slip_sentences(fit, unit)),
    )
    return done, fit


def fit_of_file(reading: Reading, shots: Shots, known: Known, table: ReadingsTable) -> PlaceFit | None:
    """Return the net of one file by itself; None where it measures nothing between points.

    Parameters
    ----------
    reading : Reading
        Ties, radial shots or a slope walk.
    shots : Shots
        Its points as they were first placed.
    known : mapping of str to KnownPlace
        Points that are held.
    table : ReadingsTable
        For the instrument and its standard deviation.
    """
    sights = sights_of(reading, table)
    if sights is None:
        return None
    part = SurveyPart(table.file, shots=shots, table=table, sights=sights[0], sights_words=sights[1])
    found = _net([part], known)
    return None if found is None else fit_places(*found, sights[1])


def walk_levels(walk: SlopeWalk, shots: Shots, known: Known, leg_sd: float) -> Shots:
    """Return the points of a walk with levels by least squares over all its legs, where any of them has one.

    Parameters
    ----------
    walk : SlopeWalk
        Legs.
    shots : Shots
        Its points.
    known : mapping of str to KnownPlace
        Points that were known before.
    leg_sd : float
        Standard deviation of the rise of one leg. [m]
    """
    names = {name_key(name) for name in (*walk.start, *walk.point)}
    levels = {key: place.level for key, place in known.items() if key in names and place.levelled}
    if not levels:
        return shots
    _, rise = slope_parts(walk.distance, walk.slope)
    lines = LevelLines(walk.start, walk.point, rise, sd=np.full(len(walk), leg_sd))
    try:
        net = adjust_level_net(lines, levels, weights="sd")
    except InputError:  # legs that no known level reaches: their levels stay unknown
        return shots
    at = {name_key(name): row for row, name in enumerate(net.point)}
    rows = [at[name_key(name)] for name in shots.point]
    wide: FloatArray = net.expected_sd * net.solution.widening
    return replace(shots, level=net.level[rows], level_sd=wide[rows])
