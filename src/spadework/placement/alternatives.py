"""Which spots really differ, and what each trades against the best."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spadework.placement.goal_words import value_words
from spadework.placement.goals import GOALS, Goal
from spadework.placement.limits import BoolArray
from spadework.placement.shape import PadShape
from spadework.placement.spots import Spot
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_length, format_volume, format_wind

__all__ = ["Trade", "apart", "far_enough", "towards", "with_trades"]

REALLY_TURNED = 30.0
"""Spots whose bearings differ by more really differ, wherever they are. [deg]"""
SAME_VOLUME = 0.005
"""Volumes that differ by less are the same in a sentence. [m³]"""
SAME_BARROWING = 0.05
"""Barrow loads times way that differ by less are the same in a sentence. [m]"""
SAME_HEIGHT = 0.02
"""Heights that differ by less are not worth a word. [m]"""
SAME_PLACE = 1.0
"""Distances that differ by less are not worth a word. [m]"""


@dataclass(frozen=True, slots=True)
class Trade:
    """What sentences about alternatives need.

    Parameters
    ----------
    goal : Goal
        What should be least.
    unit : LengthUnit
        The user's unit.
    landmarks : tuple of (str, float, float)
        Named points, east and north. [m]
    edge : bool
        Whether the pad has an edge that may show; a bank has none.
    """

    goal: Goal
    unit: LengthUnit
    landmarks: tuple[tuple[str, float, float], ...] = ()
    edge: bool = True


def far_enough(shape: PadShape) -> tuple[float, float]:
    """Return the distance [m] and the turn [deg] beyond which two spots really differ: half the diagonal, and 30°."""
    return shape.diagonal / 2, REALLY_TURNED


def apart(poses: FloatArray, pose: FloatArray, distance: float, degrees: float, turn: float) -> BoolArray:
    """Tell which poses are farther than ``distance`` from one, or turned by more than ``degrees``.

    Parameters
    ----------
    poses : array, shape (k, 3)
        ``east, north`` [m], ``bearing`` [deg].
    pose : array, shape (3,)
        The one.
    distance, degrees : float
        Both as in `far_enough`.
    turn : float
        Bearings that differ by it are the same. [deg]

    Returns
    -------
    array of bool, shape (k,)
    """
    shift = np.hypot(poses[:, 0] - pose[0], poses[:, 1] - pose[1])
    angle = np.mod(poses[:, 2] - pose[2], turn)
    result: BoolArray = (shift > distance) | (np.minimum(angle, turn - angle) > degrees)
    return result


def with_trades(best: Spot, others: Sequence[Spot], trade: Trade) -> tuple[Spot, ...]:
    """Return the others, each with a sentence about where it is and what it trades against the best."""
    return tuple(replace(spot, what_differs=_sentence(best, spot, trade)) for spot in others)


def _sentence(best: Spot, spot: Spot, trade: Trade) -> str:
    """Return ``5.20 m to the north-east: 0.31 m³ more digging; exposed edge 0.22 m lower.``"""
    parts = [*_barrow_words(best, spot, trade), _volume_words(best, spot, trade)]
    edge = spot.exposed_edge - best.exposed_edge
    if trade.edge and abs(edge) >= SAME_HEIGHT and max(spot.exposed_edge, best.exposed_edge) > 0:
        parts.append(f"exposed edge {format_length(abs(edge), trade.unit)} {'higher' if edge > 0 else 'lower'}")
    dig = (spot.ground_high - spot.formation) - (best.ground_high - best.formation)
    if abs(dig) >= SAME_HEIGHT:
        parts.append(f"deepest dig {format_length(abs(dig), trade.unit)} {'deeper' if dig > 0 else 'shallower'}")
    nearer = _nearer_landmark(best, spot, trade)
    if nearer:
        parts.append(nearer)
    if spot.rise is not None:
        parts.append(_valley_words(spot.rise, trade))
    return f"{_where(best, spot, trade.unit)}: {'; '.join(parts)}."


def _volume_words(best: Spot, spot: Spot, trade: Trade) -> str:
    """Return the volume that the goal asks about, against the best."""
    word = "digging" if trade.goal.fill == 0 else "soil moved"
    change = spot.cut - best.cut if trade.goal.fill == 0 else spot.cut + spot.fill - best.cut - best.fill
    if abs(change) < SAME_VOLUME:
        return f"the same {word}"
    return f"{format_volume(abs(change), trade.unit)} {'more' if change > 0 else 'less'} {word}"


def _barrow_words(best: Spot, spot: Spot, trade: Trade) -> list[str]:
    """Return the barrowing against that of the best, where it was worked out."""
    if best.moved is None or spot.moved is None:
        return []
    change = spot.moved - best.moved
    if abs(change) < SAME_BARROWING:
        return ["the same barrowing"]
    return [f"{value_words(GOALS['moved'], abs(change), trade.unit)} {'more' if change > 0 else 'less'} barrowing"]


def _valley_words(rise: float, trade: Trade) -> str:
    """Return what lies between it and a cheaper spot."""
    if not math.isfinite(rise):
        return "a valley of its own, with no allowed way to a cheaper one"
    return f"a valley of its own: {value_words(trade.goal, rise, trade.unit)} up before it falls to a cheaper one"


def _nearer_landmark(best: Spot, spot: Spot, trade: Trade) -> str:
    """Return the landmark that it comes nearer to by the most."""
    gains = []
    for name, east, north in trade.landmarks:
        before = math.hypot(best.placement.east - east, best.placement.north - north)
        after = math.hypot(spot.placement.east - east, spot.placement.north - north)
        gains.append((before - after, name))
    gain, name = max(gains, default=(0.0, ""))
    return f"{format_length(gain, trade.unit)} nearer {name}" if gain >= SAME_PLACE else ""


def _where(best: Spot, spot: Spot, unit: LengthUnit) -> str:
    """Return where it lies from the best spot, and how it is turned."""
    here, there = best.placement, spot.placement
    shift = (there.east - here.east, there.north - here.north)
    distance = math.hypot(*shift)
    words = [f"{format_length(distance, unit)} to the {towards(*shift)}"] if distance >= 0.05 else ["On the same place"]
    turned = abs((there.bearing - here.bearing + 90.0) % 180.0 - 90.0)
    if turned >= 1.0:
        words.append(f"turned {turned:.0f}°")
    return ", ".join(words)


def towards(east: float, north: float) -> str:
    """Return the nearest of the eight winds for a shift."""
    return format_wind(math.degrees(math.atan2(east, north)))
