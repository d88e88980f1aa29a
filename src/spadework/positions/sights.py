"""Readings that place points as observations of a net, each with how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spadework.factors import factor_row
from spadework.positions.observations import PlaceObservations, Sight, join_observations
from spadework.positions.places import name_key
from spadework.positions.radial import sight_parts
from spadework.positions.slope_walk import slope_parts
from spadework.positions.stadia import MULTIPLIER
from spadework.readings import FloatArray
from spadework.readings_positions import RadialShots, SlopeWalk, TapeTies

__all__ = ["SightPrecision", "radial_observations", "sight_precision", "tie_observations", "walk_observations"]

MILLIMETRE = 0.001
WIRE_SD = 0.001
"""How sure one stadia wire is on the rod, estimated between its marks. Common practice, no source. [m]"""

COARSEST = 0.01
COARSEST_ANGLE = 1.0 / 60.0
"""Columns of whole numbers are taken as written to a centimetre and a minute. [m], [deg]"""


@dataclass(frozen=True)
class SightPrecision:
    """How sure the sights of an instrument are in plan.

    Parameters
    ----------
    distance : float
        Standard deviation of one distance, and of where the target stands to the side. [m]
    direction : float
        Standard deviation of one direction, the target apart. [deg]
    words : str
        Where the figures come from.
    """

    distance: float
    direction: float = 0.0
    words: str = "given"


def sight_precision(name: str, *, sd: float | None = None, assumed: bool = False) -> SightPrecision:
    """Return how sure the sights of an instrument of the table are.

    Parameters
    ----------
    name : str
        Row of ``factors/instruments.toml``.
    sd : float, optional
        Of a distance, and of a target to the side, where the user knows better. [m]
    assumed : bool
        Whether nobody named the instrument.
    """
    row = factor_row("instruments", name)
    direction = float(str(row.extra.get("direction", 0.0))) / 3600.0
    distance = float(str(row.extra.get("distance", row.extra["position"]))) * MILLIMETRE
    if sd is not None:
        return SightPrecision(sd, direction, "given")
    return SightPrecision(distance, direction, f"{row.name}{', assumed' if assumed else ''}")


def _rounding(step: float, coarsest: float) -> float:
    """Return the standard deviation of what was rounded to a step; a round number is not taken for a rounded one."""
    return min(step, coarsest) / math.sqrt(12.0)


def tie_observations(ties: TapeTies, precision: SightPrecision) -> PlaceObservations:
    """Return taped distances as observations."""
    count = len(ties)
    kinds: list[Sight] = ["distance"] * count
    rounding = _rounding(ties.resolution, COARSEST)
    return PlaceObservations(
        kind=tuple(kinds),
        start=ties.reference,
        end=ties.point,
        value=ties.distance,
        sd=np.full(count, math.hypot(precision.distance, rounding)),
        step=np.full(count, ties.resolution),
        set_up=("",) * count,
        line=ties.line,
        file=(ties.file,) * count,
    )


def _polar_observations(  # noqa: PLR0917 - the columns of one table
    readings: RadialShots | SlopeWalk,
    start: tuple[str, ...],
    along: FloatArray,
    along_sd: FloatArray,
    turn: FloatArray,
    kinds: list[Sight],
    precision: SightPrecision,
) -> PlaceObservations:
    """Return distances, where there are any, and directions or bearings of some rays."""
    by_distance = np.flatnonzero(np.isfinite(along) & (along > 0)).tolist()
    by_angle = np.flatnonzero(np.isfinite(turn) & (~np.isfinite(along) | (along > 0))).tolist()
    reach = np.where(np.isfinite(along) & (along > 0), along, np.inf)
    aside = np.rad2deg(precision.distance / reach)
    rounding = _rounding(readings.angle_resolution, COARSEST_ANGLE)
    turn_sd = np.sqrt(precision.direction**2 + aside**2 + rounding**2)
    parts = []
    for rows, is_angle in ((by_distance, False), (by_angle, True)):
        distances: list[Sight] = ["distance"] * len(kinds)
        parts.append(
            PlaceObservations(
                kind=tuple((kinds if is_angle else distances)[row] for row in rows),
                start=tuple(start[row] for row in rows),
                end=tuple(readings.point[row] for row in rows),
                value=(turn if is_angle else along)[rows],
                sd=(turn_sd if is_angle else along_sd)[rows],
                step=np.full(len(rows), readings.angle_resolution if is_angle else readings.resolution),
                set_up=tuple(start[row] for row in rows) if is_angle else ("",) * len(rows),
                line=readings.line[rows],
                file=(readings.file,) * len(rows),
            )
        )
    return join_observations(parts)


def radial_observations(
    shots: RadialShots,
    precision: SightPrecision,
    *,
    zeros: Mapping[str, float] | None = None,
    multiplier: float = MULTIPLIER,
) -> PlaceObservations:
    """Return the sights of set-ups as observations: a horizontal distance and a direction each.

    Parameters
    ----------
    shots : RadialShots
        Readings.
    precision : SightPrecision
        How sure they are. A direction is as sure as the circle and the target to the side together. A distance by
        stadia wires is as sure as the two wires times the constant.
    zeros : mapping of str to float, optional
        Bearing of the zero of the circle at each station, by `name_key`. [deg]
    multiplier : float
        Constant of the stadia wires.
    """
    along, _ = sight_parts(shots, multiplier)
    rounding = _rounding(shots.resolution, COARSEST)
    measured = math.hypot(precision.distance, rounding)
    wires = math.hypot(multiplier * WIRE_SD * math.sqrt(2.0), precision.distance)
    along_sd = np.where(np.isfinite(shots.interval) & ~np.isfinite(shots.distance), wires, measured)
    given = zeros or {}
    zero = np.array([given.get(name_key(name), 0.0) for name in shots.station])
    sure: list[Sight] = [
        "bearing" if shots.from_north or name_key(name) in given else "direction" for name in shots.station
    ]
    turn = np.where([kind == "bearing" for kind in sure], shots.direction + zero, shots.direction)
    return _polar_observations(shots, shots.station, along, along_sd, turn % 360.0, sure, precision)


def walk_observations(walk: SlopeWalk, precision: SightPrecision, *, bearing: float | None = None) -> PlaceObservations:
    """Return the legs of a walk as observations: a horizontal distance and a bearing each.

    Parameters
    ----------
    walk : SlopeWalk
        Legs.
    precision : SightPrecision
        How sure they are.
    bearing : float, optional
        Direction of the legs that have none of their own. [deg]
    """
    along, _ = slope_parts(walk.distance, walk.slope)
    turn = np.where(np.isnan(walk.bearing), math.nan if bearing is None else bearing, walk.bearing) % 360.0
    sd = np.full(len(walk), math.hypot(precision.distance, _rounding(walk.resolution, COARSEST)))
    kinds: list[Sight] = ["bearing"] * len(walk)
    return _polar_observations(walk, walk.start, along, sd, turn, kinds, precision)
