"""Distances taped along a slope with their inclination: how far, how high, and where each leg ends."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError
from spadework.positions.places import KnownPlace, Places, name_key
from spadework.positions.polar import polar
from spadework.readings import FloatArray
from spadework.readings_positions import SlopeWalk
from spadework.shots import Shots

__all__ = ["reduce_slope_walk", "slope_parts"]


def slope_parts(distance: npt.ArrayLike, slope: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the horizontal and the vertical part of a slope: ``s cos a`` and ``s sin a``.

    Parameters
    ----------
    distance : array, shape (n,)
        Along the slope. [m]
    slope : array, shape (n,)
        Inclination, upwards positive. [deg]

    Returns
    -------
    horizontal, rise : array, shape (n,)
        [m]
    """
    along, tilt = np.asarray(distance, dtype=np.float64), np.deg2rad(np.asarray(slope, dtype=np.float64))
    return along * np.cos(tilt), along * np.sin(tilt)


def reduce_slope_walk(
    walk: SlopeWalk, places: Places, *, bearing: float | None = None, leg_sd: float | None = None
) -> tuple[Shots, tuple[str, ...]]:
    """Return the points of a walk, each leg set on where an earlier one ended or on a known point.

    Parameters
    ----------
    walk : SlopeWalk
        Legs.
    places : mapping of str to KnownPlace
        Known points: at least one that the walk touches.
    bearing : float, optional
        Direction of every leg that has none of its own, clockwise from site north. [deg]
    leg_sd : float, optional
        What one leg is sure to, in level and in each coordinate. [m] Legs add up by their squares.

    Returns
    -------
    shots : Shots
        One for each new point, and one for each known point that the walk starts from.
    notices : tuple of str
        How the walk closes where it comes to a point known already.

    Raises
    ------
    InputError
        When a leg has no bearing, or hangs on nothing known: all of them at once.
    """
    turn = np.where(np.isnan(walk.bearing), math.nan if bearing is None else bearing, walk.bearing)
    faults = [
        Fault(
            f"the leg from {walk.start[row]} to {walk.point[row]} has no bearing",
            "a place needs a direction as well as a distance",
            "add a column bearing, or give bearing for a walk along one straight line",
            walk.source(row),
        )
        for row in np.flatnonzero(np.isnan(turn)).tolist()
    ]
    if faults:
        raise InputError(faults)
    horizontal, rise = slope_parts(walk.distance, walk.slope)
    east, north = polar(np.zeros(len(walk)), np.zeros(len(walk)), turn, horizontal)
    at: dict[str, KnownPlace] = {}
    legs: dict[str, int] = {}
    first: list[tuple[int, str, KnownPlace]] = []
    notices: list[str] = []
    waiting = list(range(len(walk)))
    walked = 0.0
    while waiting:
        left: list[int] = []
        for row in waiting:
            keys = name_key(walk.start[row]), name_key(walk.point[row])
            known = [at.get(key) or _placed(places, key) for key in keys]
            if known[0] is None and known[1] is None:
                left.append(row)
                continue
            walked += float(walk.distance[row])
            sign, here, there = (1.0, 0, 1) if known[0] is not None else (-1.0, 1, 0)
            base = known[here] or KnownPlace()
            names = (walk.start[row], walk.point[row])
            if keys[here] not in at:
                at[keys[here]] = base
                legs[keys[here]] = 0
                first.append((row, names[here], base))
            end = KnownPlace(
                base.east + sign * float(east[row]),
                base.north + sign * float(north[row]),
                base.level + sign * float(rise[row]),
            )
            before = known[there]
            if before is not None:
                notices.append(_closing(names[there], end, before, walked))
            if before is None or keys[there] not in at:
                at[keys[there]] = before or end
                legs[keys[there]] = 0 if before is not None else legs[keys[here]] + 1
                first.append((row, names[there], before or end))
        if len(left) == len(waiting):
            raise InputError(
                Fault(
                    f"the leg from {walk.start[row]} to {walk.point[row]} hangs on no known point",
                    "a walk starts from, or comes to, a point whose place is known",
                    "give the place of its first point as origin, or list it in another file",
                    walk.source(row),
                )
                for row in left[:20]
            )
        waiting = left
    rows = [row for row, _, _ in first]
    return Shots(
        point=tuple(name for _, name, _ in first),
        east=np.array([place.east for *_, place in first], dtype=np.float64),
        north=np.array([place.north for *_, place in first], dtype=np.float64),
        level=np.array([place.level for *_, place in first], dtype=np.float64),
        note=tuple(walk.note[row] if name == walk.point[row] else "" for row, name, _ in first),
        line=walk.line[rows],
        file=(walk.file,) * len(first),
        level_sd=_spread(leg_sd, [legs[name_key(name)] for _, name, _ in first]),
        position_sd=_spread(leg_sd, [legs[name_key(name)] for _, name, _ in first]),
    ), tuple(notices)


def _spread(leg_sd: float | None, legs: list[int]) -> FloatArray | None:
    """Return the standard deviation after so many legs, that of one for a point known already. [m]"""
    return None if leg_sd is None else leg_sd * np.sqrt(np.maximum(np.array(legs, dtype=np.float64), 1.0))


def _placed(places: Places, key: str) -> KnownPlace | None:
    """Return a known point that has a position."""
    place = places.get(key)
    return place if place is not None and place.placed else None


def _closing(name: str, found: KnownPlace, known: KnownPlace, walked: float) -> str:
    """Return how far a walk comes out from a point known already."""
    away = math.hypot(found.east - known.east, found.north - known.north)
    ratio = f", 1 in {walked / away:,.0f} of {walked:.0f} m walked" if away > 0.001 else ""
    text = f"The walk comes to {name} {away:.3f} m from where it is known to be{ratio}"
    if known.levelled and math.isfinite(found.level):
        text += f", and {found.level - known.level:+.3f} m in level"
    return f"{text}. Nothing of this is shared out."
