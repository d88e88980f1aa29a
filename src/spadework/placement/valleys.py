"""The distinct valleys of the map of every spot: where each lies, and how high the cost rises on the way out of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom, polish
from spadework.placement.spot_map import SpotMap
from spadework.placement.spots import Spot
from spadework.readings import FloatArray

__all__ = ["Valley", "find_valleys", "valley_floors", "with_rise"]

RISE, RISE_FLAT = 0.03, 2e-4
"""A valley is one whose way out rises by this share of its lowest cost, or by so much for each m² of the pad."""
MOST = 8
"""Valleys whose lowest point is sought."""


class Valley(NamedTuple):
    """One valley of the map.

    ``pose`` is its lowest point, shape (3,): east, north [m] and bearing [deg]; ``value`` what it costs; ``rise`` by
    how much the cost rises on the easiest way from there to a cheaper valley, infinite where no way of allowed
    positions leads there, and for the cheapest of all.
    """

    pose: FloatArray
    value: float
    rise: float


def find_valleys(spots: SpotMap, area: float) -> tuple[Valley, ...]:
    """Return the valleys of a map, the cheapest first.

    Cells are flooded in the order of their cost. A cell that touches no flooded one begins a valley; one that touches
    two joins them, and is the pass between them: the dearer valley ends there, and how far the pass lies above its
    lowest cell says whether it was one. Source of the idea: H. Edelsbrunner, D. Letscher and A. Zomorodian,
    "Topological persistence and simplification", *Discrete & Computational Geometry* 28 (2002).

    Parameters
    ----------
    spots : SpotMap
        The best value at each position.
    area : float
        The pad's. [m²]
    """
    long, wide = spots.value.shape
    flat = spots.value.ravel()
    order = np.flatnonzero(np.isfinite(flat))
    order = order[np.argsort(flat[order], kind="stable")]
    owner = np.full((long + 2) * (wide + 2), -1, dtype=np.int64)  # with a rim, so that every cell has eight neighbours
    steps = [row * (wide + 2) + column for row in (-1, 0, 1) for column in (-1, 0, 1) if row or column]
    lowest: list[int] = []
    joined: list[int] = []
    rise: list[float] = []

    def root(valley: int) -> int:
        while joined[valley] != valley:
            joined[valley] = valley = joined[joined[valley]]
        return valley

    for cell in order.tolist():
        place = (cell // wide + 1) * (wide + 2) + cell % wide + 1
        about = sorted({root(owner[place + step]) for step in steps if owner[place + step] >= 0})
        if not about:
            owner[place] = len(lowest)
            joined.append(len(lowest))
            lowest.append(cell)
            rise.append(math.inf)
            continue
        # Valleys are numbered in the order of their lowest cost: the first goes on.
        owner[place] = about[0]
        for other in about[1:]:
            joined[other] = about[0]
            rise[other] = float(flat[cell] - flat[lowest[other]])
    kept = [n for n, cell in enumerate(lowest) if rise[n] >= RISE * abs(flat[cell]) + RISE_FLAT * area]
    return tuple(_valley(spots, lowest[number], rise[number]) for number in kept)


def _valley(spots: SpotMap, cell: int, rise: float) -> Valley:
    row, column = divmod(cell, spots.value.shape[1])
    pose = np.array([spots.east[column], spots.north[row], spots.bearing[row, column]])
    return Valley(pose, float(spots.value[row, column]), rise)


def valley_floors(
    objective: Objective, valleys: Sequence[Valley], poses: FloatArray, values: FloatArray, step: float
) -> tuple[list[FloatArray], int]:
    """Return the lowest pose of each of the cheapest valleys, the cheapest first, and how many poses that took.

    Parameters
    ----------
    objective : Objective
        What is least.
    valleys : sequence of Valley
        The cheapest first.
    poses : array, shape (k, 3)
        Poses that were polished: one near the lowest cell of a valley is a better start than that.
    values : array, shape (k,)
        Their values.
    step : float
        Of the map. [m]
    """
    if not valleys:
        return [], 0
    starts = np.array([valley.pose for valley in valleys[:MOST]])
    for column, start in enumerate(starts):
        near = np.hypot(*(poses - start)[:, :2].T) <= 2 * step
        rows = np.flatnonzero(near & np.isfinite(values))
        if len(rows):
            starts[column] = poses[rows[np.argmin(values[rows])]]
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    floors, found, tried = polish(objective.values, freedom, starts, step=step / 4, finest=1e-3)
    return [floors[row] for row in np.argsort(found, kind="stable")], tried


def with_rise(spot: Spot, best: Spot, valleys: Sequence[Valley], short_side: float) -> Spot:
    """Return a spot with the rise out of its valley, where the lowest point of one lies within half a pad's width.

    Parameters
    ----------
    spot, best : Spot
        An alternative, and the best spot.
    valleys : sequence of Valley
        Those of the map.
    short_side : float
        The pad's. [m]
    """
    own, taken = _nearest(spot, valleys, short_side), _nearest(best, valleys, short_side)
    if own is None or own is taken:
        return replace(spot, rise=None)
    # On a coarse map the cheapest valley may be another than that of the best spot: it is left by the same pass.
    rise = taken.rise if own is valleys[0] and taken is not None else own.rise
    return replace(spot, rise=rise)


def _nearest(spot: Spot, valleys: Sequence[Valley], short_side: float) -> Valley | None:
    """Return the valley whose lowest point is nearest, within half a pad's width."""
    here = np.array([spot.placement.east, spot.placement.north])
    away = [float(np.hypot(*(valley.pose[:2] - here))) for valley in valleys]
    nearest = int(np.argmin(away)) if away else 0
    return valleys[nearest] if away and away[nearest] <= short_side / 2 else None
