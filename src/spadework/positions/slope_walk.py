"""Distances taped along a slope with their inclination: how far, how high, and where each leg ends."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError, MisclosureError
from spadework.positions.places import Places
from spadework.positions.polar import polar
from spadework.positions.walk_tree import expected_misclosure, share_by_length, walk_nodes
from spadework.readings import FloatArray
from spadework.readings_positions import SlopeWalk
from spadework.shots import Shots

__all__ = ["TOO_MUCH", "WalkAdjustment", "reduce_slope_walk", "slope_parts"]

TOO_MUCH = "That is more than"
WalkAdjustment = Literal["compass", "least-squares", "none"]
SAID: dict[WalkAdjustment, str] = {
    "compass": "It is shared out by the length walked (compass rule).",
    "least-squares": "It is adjusted by least squares.",
    "none": "Nothing of this is shared out.",
}


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
    walk: SlopeWalk,
    places: Places,
    *,
    bearing: float | None = None,
    leg_sd: float | None = None,
    adjust: WalkAdjustment = "compass",
    allow_misclosure: bool = False,
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
    adjust : str
        ``"compass"`` shares out what a walk misses by the length walked (`share_by_length`); ``"none"`` and
        ``"least-squares"`` do not, the latter because the net of the whole site does it afterwards.
    allow_misclosure : bool
        Whether to go on with a misclosure of more than three standard deviations of the legs.

    Returns
    -------
    shots : Shots
        One for each new point, and one for each known point that the walk touches.
    notices : tuple of str
        How the walk closes where it comes to a point placed already.

    Raises
    ------
    InputError
        When a leg has no bearing, or hangs on nothing known: all of them at once.
    MisclosureError
        When it closes worse than its legs allow, and that was not let pass.
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
    steps = np.column_stack([*polar(np.zeros(len(walk)), np.zeros(len(walk)), turn, horizontal), rise])
    nodes, closings = walk_nodes(walk, steps, places)
    correction, found = share_by_length(walk, nodes, closings)
    notices, failing = [], []
    for closing, misclosure, length in found:
        legs = nodes[closing.start].legs + 1
        limit = math.inf if leg_sd is None else expected_misclosure(leg_sd, legs)
        text = f"{_closing(nodes[closing.end].name, misclosure, length)}{SAID[adjust]}"
        away = max(float(np.hypot(misclosure[0], misclosure[1])), abs(float(np.nan_to_num(misclosure[2]))))
        if away > limit:
            allowed = (
                f"{legs} leg{'s' if legs > 1 else ''} of {1000 * (leg_sd or 0.0):.0f} mm each allow ({limit:.3f} m)"
            )
            lines = f"line {int(walk.line[closing.row])} and before"
            text += f" {TOO_MUCH} {allowed}: look for a leg with a wrong length, slope or bearing ({lines})."
            failing.append(text)
        notices.append(text)
    if failing and not allow_misclosure:
        raise MisclosureError("\n".join([*failing, "Correct it, or set allow-misclosure to go on with it."]))
    at = list(nodes)
    end = np.array([nodes[key].place + (correction[key] if adjust == "compass" else 0.0) for key in at])
    return Shots(
        point=tuple(nodes[key].name for key in at),
        east=end[:, 0],
        north=end[:, 1],
        level=end[:, 2],
        note=tuple(walk.note[nodes[key].row] if nodes[key].name == walk.point[nodes[key].row] else "" for key in at),
        line=walk.line[[nodes[key].row for key in at]],
        file=(walk.file,) * len(at),
        level_sd=_spread(leg_sd, [nodes[key].legs for key in at]),
        position_sd=_spread(leg_sd, [nodes[key].legs for key in at]),
    ), tuple(notices)


def _spread(leg_sd: float | None, legs: list[int]) -> FloatArray | None:
    """Return the standard deviation after so many legs, that of one for a point known already. [m]"""
    return None if leg_sd is None else leg_sd * np.sqrt(np.maximum(np.array(legs, dtype=np.float64), 1.0))


def _closing(name: str, misclosure: FloatArray, length: float) -> str:
    """Return how far a walk comes out from a point placed already."""
    away = float(np.hypot(misclosure[0], misclosure[1]))
    ratio = f", 1 in {length / away:,.0f} of {length:.0f} m walked" if away > 0.001 else ""
    text = f"The walk comes to {name} {away:.3f} m from where it is known to be{ratio}"
    if math.isfinite(misclosure[2]):
        text += f", and {misclosure[2]:+.3f} m in level"
    return f"{text}. "
