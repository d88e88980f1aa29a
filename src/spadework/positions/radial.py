"""Set-ups of a transit or total station: orientation, then position and level of everything sighted."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from spadework.errors import Fault, InputError
from spadework.positions.fit import fit_positions
from spadework.positions.places import KnownPlace, Places, name_key
from spadework.positions.polar import bearing_and_distance, polar, turned_bearing
from spadework.positions.slope_walk import slope_parts
from spadework.positions.stadia import MULTIPLIER, stadia_parts
from spadework.readings import FloatArray
from spadework.readings_positions import RadialShots
from spadework.shots import Shots

__all__ = ["reduce_radial"]


def sight_parts(
    shots: RadialShots, multiplier: float = MULTIPLIER, addition: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Return the horizontal distance of each sight and the rise of its line over it; NaN where it has no inclination.

    A sight without an inclination is taken as level, its distance as horizontal. [m]
    """
    tilt = np.where(np.isnan(shots.vertical), 0.0, shots.vertical)
    by_stadia = stadia_parts(shots.interval, tilt, multiplier=multiplier, addition=addition)
    if shots.horizontal:
        measured: tuple[FloatArray, FloatArray] = (shots.distance, shots.distance * np.tan(np.deg2rad(tilt)))
    else:
        measured = slope_parts(shots.distance, tilt)
    has = np.isfinite(shots.distance)
    along, rise = np.where(has, measured[0], by_stadia[0]), np.where(has, measured[1], by_stadia[1])
    return along, np.where(np.isnan(shots.vertical), np.nan, rise)


def reduce_radial(
    shots: RadialShots,
    places: Places,
    *,
    zeros: Mapping[str, float] | None = None,
    multiplier: float = MULTIPLIER,
    addition: float = 0.0,
) -> tuple[Shots, tuple[str, ...]]:
    """Return every point sighted, set-up by set-up.

    A set-up stands on a known point, on one that another set-up sighted, or anywhere that two known points are seen.
    Its zero direction is given, is site north where the readings are bearings, or follows from sights on known points
    (their mean). Its height follows from its level and the height of the instrument, or from rod readings on points of
    known level.

    Parameters
    ----------
    shots : RadialShots
        Readings.
    places : mapping of str to KnownPlace
        Known points.
    zeros : mapping of str to float, optional
        Bearing of the zero of the circle at each station, by `name_key`. [deg]
    multiplier, addition : float
        Constants of the stadia wires; the second in metres.

    Returns
    -------
    shots : Shots
        One for each row that is no known point, and each station once.
    notices : tuple of str
        How the sights on known points agree, and points without a level.

    Raises
    ------
    InputError
        When a station is not known, or its zero direction or its height is not: all of them at once.
    """
    along, rise = sight_parts(shots, multiplier, addition)
    rows_of: dict[str, list[int]] = {}
    for row, name in enumerate(shots.station):
        rows_of.setdefault(name_key(name), []).append(row)
    at: dict[str, KnownPlace] = {key: place for key, place in places.items() if place.placed or place.levelled}
    kept: list[tuple[int, str, KnownPlace]] = []
    faults: list[Fault] = []
    notices: list[str] = []
    waiting = list(rows_of)
    while waiting:
        key = next((key for key in waiting if key in at and at[key].placed), None)
        if key is None:
            key = next((key for key in waiting if _free_station(shots, rows_of[key], at, along, notices)), None)
        if key is None:
            faults += [_unknown_station(shots, rows_of[key][0]) for key in waiting]
            break
        waiting.remove(key)
        rows = rows_of[key]
        base = at[key]
        name = shots.station[rows[0]]
        zero = _zero(shots, rows, base, at, zeros or {}, notices)
        if zero is None:
            faults.append(_no_zero(shots, rows[0]))
            continue
        height = _line_of_sight(shots, rows, base, at, rise, notices, faults)
        east, north = polar(base.east, base.north, shots.direction[rows] + zero, along[rows])
        level = _levels(shots, rows, height, rise)
        if not any(name_key(other) == key for _, other, _ in kept):
            kept.append((rows[0], name, base))
        for place, row in enumerate(rows):
            target = name_key(shots.point[row])
            found = KnownPlace(float(east[place]), float(north[place]), float(level[place]))
            if target in at and at[target].placed:
                notices += _check_known(shots, row, at[target], found)
                if target in places or at[target].levelled:
                    continue
            if target in at and not at[target].placed:
                found = found._replace(level=at[target].level)
            at[target] = found
            kept.append((row, shots.point[row], found))
    if faults:
        raise InputError(faults)
    rows = [row for row, _, _ in kept]
    return Shots(
        point=tuple(name for _, name, _ in kept),
        east=np.array([place.east for *_, place in kept], dtype=np.float64),
        north=np.array([place.north for *_, place in kept], dtype=np.float64),
        level=np.array([place.level for *_, place in kept], dtype=np.float64),
        note=tuple(shots.note[row] if name == shots.point[row] else "" for row, name, _ in kept),
        line=shots.line[rows],
        file=(shots.file,) * len(kept),
    ), tuple(dict.fromkeys(notices))


def _free_station(
    shots: RadialShots, rows: list[int], at: dict[str, KnownPlace], along: FloatArray, notices: list[str]
) -> bool:
    """Place a station that nobody placed by its own sights on two known points or more; False where it has not two.

    The sights as the instrument saw them are laid over the known points by shift and turn.
    """
    seen = [
        row for row in rows if math.isfinite(along[row]) and at.get(name_key(shots.point[row]), KnownPlace()).placed
    ]
    if len({name_key(shots.point[row]) for row in seen}) < 2:
        return False
    east, north = polar(np.zeros(len(seen)), np.zeros(len(seen)), shots.direction[seen], along[seen])
    goal = np.array([at[name_key(shots.point[row])][:2] for row in seen], dtype=np.float64)
    try:
        fit = fit_positions(np.column_stack([east, north]), goal, turn=not shots.from_north)
    except InputError:
        return False
    found = fit.apply([0.0], [0.0])
    key = name_key(shots.station[rows[0]])
    at[key] = KnownPlace(float(found[0][0]), float(found[1][0]), at.get(key, KnownPlace()).level)
    names = ", ".join(dict.fromkeys(shots.point[row] for row in seen))
    notices.append(f"Station {shots.station[rows[0]]} is placed by its own sights on {names}.")
    return True


def _unknown_station(shots: RadialShots, row: int) -> Fault:
    """Return the fault of a station that nothing places."""
    name = shots.station[row]
    what = f"nothing says where the station {name} is"
    rule = "an instrument stands over a known point, or over one sighted before"
    remedy = f'place it: stations = {{ "{name}" = {{ at = [0, 0], level = 100.0 }} }}'
    return Fault(what, rule, remedy, shots.source(row))


def _no_zero(shots: RadialShots, row: int) -> Fault:
    """Return the fault of a set-up whose circle points nowhere."""
    name = shots.station[row]
    what = f"nothing says which way the circle of station {name} was turned"
    rule = "angles count from a direction: a sight on a known point, or a given bearing of zero"
    remedy = f'sight a known point, or give stations = {{ "{name}" = {{ zero = 0 }} }}; head bearings as bearing'
    return Fault(what, rule, remedy, shots.source(row))


def _zero(  # noqa: PLR0917 - what a set-up hangs on
    shots: RadialShots,
    rows: list[int],
    base: KnownPlace,
    at: Mapping[str, KnownPlace],
    zeros: Mapping[str, float],
    notices: list[str],
) -> float | None:
    """Return the bearing of the zero of the circle, None where nothing tells it. [deg]"""
    key = name_key(shots.station[rows[0]])
    if key in zeros:
        return zeros[key]
    if shots.from_north:
        return 0.0
    sights: list[tuple[int, float, float]] = []
    for row in rows:
        target = at.get(name_key(shots.point[row]))
        if target is None or not target.placed:
            continue
        bearing, away = bearing_and_distance(target.east - base.east, target.north - base.north)
        if float(away) > 0.05:
            sights.append((row, float(bearing) - float(shots.direction[row]), float(away)))
    if not sights:
        return None
    turn = np.deg2rad([angle for _, angle, _ in sights])
    weight = np.array([away for *_, away in sights])
    zero = math.degrees(math.atan2(float(np.sum(weight * np.sin(turn))), float(np.sum(weight * np.cos(turn))))) % 360.0
    if len(sights) > 1:
        off = [float(turned_bearing(angle - zero)) for _, angle, _ in sights]
        aside = [abs(math.radians(value)) * away for value, (*_, away) in zip(off, sights, strict=True)]
        worst = int(np.argmax(aside))
        name = shots.point[sights[worst][0]]
        notices.append(
            f"Station {shots.station[rows[0]]} is turned by {len(sights)} sights on known points; the widest, to "
            f"{name}, is {aside[worst] * 1000:.0f} mm aside."
        )
    return zero


def _line_of_sight(  # noqa: PLR0917 - the same
    shots: RadialShots,
    rows: list[int],
    base: KnownPlace,
    at: Mapping[str, KnownPlace],
    rise: FloatArray,
    notices: list[str],
    faults: list[Fault],
) -> float:
    """Return the level of the instrument's axis, NaN where nothing tells it. [m]"""
    heights = shots.height[rows]
    given = heights[np.isfinite(heights)]
    name = shots.station[rows[0]]
    if len(given) and float(np.ptp(given)) > 1e-9:
        what = f"station {name} has two heights of instrument, {given.min():.3f} m and {given.max():.3f} m"
        rule = "one set-up has one height"
        faults.append(Fault(what, rule, "give each set-up a station name of its own", shots.source(rows[0])))
    found: list[tuple[str, float]] = []
    for row in rows:
        target = at.get(name_key(shots.point[row]))
        if target is not None and target.levelled and math.isfinite(float(shots.rod[row])):
            up = 0.0 if math.isnan(rise[row]) else float(rise[row])
            found.append((shots.point[row], target.level + float(shots.rod[row]) - up))
    if len(given) and base.levelled:
        axis = base.level + float(given[0])
        notices.extend(
            f"Seen from station {name}, {point} is {axis - other:+.3f} m off its known level."
            for point, other in found
            if abs(axis - other) > 0.0005
        )
        return axis
    if found:
        levels = np.array([level for _, level in found])
        if len(found) > 1:
            notices.append(
                f"The axis at station {name} follows from {len(found)} points of known level, which differ by "
                f"{float(np.ptp(levels)) * 1000:.0f} mm."
            )
        return float(levels.mean())
    inclined = bool(np.isfinite(rise[rows]).any()) and not np.isfinite(shots.rod[rows]).any()
    if base.levelled and inclined and not len(given):
        notices.append(
            f"Station {name} has vertical angles, but neither a height of instrument nor rods: each sight is taken as "
            "aimed as high over its point as the instrument stood."
        )
        return base.level
    return math.nan


def _levels(shots: RadialShots, rows: list[int], height: float, rise: FloatArray) -> FloatArray:
    """Return the level of each point of a set-up: axis, plus rise of the sight, less rod. [m]

    A sight with neither inclination nor rod says nothing of a level.
    """
    up, rod = rise[rows], shots.rod[rows]
    says = np.isfinite(up) | np.isfinite(rod)
    level = height + np.where(np.isnan(up), 0.0, up) - np.where(np.isnan(rod), 0.0, rod)
    return np.where(says, level, np.nan)


def _check_known(shots: RadialShots, row: int, known: KnownPlace, found: KnownPlace) -> list[str]:
    """Return how a sight on a known point agrees with it, where it has a distance."""
    away = math.hypot(found.east - known.east, found.north - known.north)
    if not math.isfinite(away):
        return []
    text = f"{shots.point[row]} seen from {shots.station[row]} comes {away * 1000:.0f} mm from where it is known to be"
    return [f"{text}."]
