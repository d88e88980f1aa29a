"""Soil out of the edge's own trench: it hangs on the spot, the spot's level hangs on it, and so it is settled.

Search and proof count one amount of soil at every spot. It is found before them near a good spot, and looked at again
at the spot that they choose; where counting what is there would move the level, they are done again with that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from spadework.pad import Placement
from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom, polish
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_volume

__all__ = ["MOST_TURNS", "ReserveAt", "first_reserve", "reserve_again", "uncounted"]

ReserveAt = Callable[[Placement], float]
"""Returns the soil that a placement gets besides its own cut, in the bank. [m³]"""

MOST_TURNS = 6
"""Searches, at most; after the last it is said what is left uncounted."""
SAME_LEVEL = 1e-3
"""A change of the finish level that is none: less than a builder's level reads. [m]"""
SAME_SOIL, A_DROP = 1e-9, 1e-6
"""Soil that is the same; soil that is short by less is not. [m³]"""
THIN, KEPT, ROUNDS, STEPS = 8, 4, 4, 40
"""One pose of the dense start in eight is tried for the first amount, and the best four polished."""


def first_reserve(objective: Objective, poses: FloatArray, reserve_at: ReserveAt) -> float:
    """Return the soil that a good spot gets, before any is searched for. [m³]

    Parameters
    ----------
    objective : Objective
        Its own reserve is left out.
    poses : array, shape (k, 3)
        Those of the dense start.
    reserve_at : callable
    """
    some = poses[::THIN]
    if len(some) == 0:
        return 0.0
    bare = replace(objective, reserve=0.0)
    table = bare.evaluate(some)
    if not np.isfinite(table.value).any():
        near = int(np.argmin(bare.lacks(table)))
        return reserve_at(bare.spot(table, near).placement) if np.isfinite(table.formation[near]) else 0.0
    order = np.argsort(table.value, kind="stable")[:KEPT]
    pose, reserve = some[order[np.isfinite(table.value[order])]], 0.0
    freedom = Freedom(bare.pad, bare.limits, bare.clearance.shape.reach)
    for _ in range(ROUNDS):
        counted = replace(bare, reserve=reserve)
        pose, values, _tried = polish(
            counted.values, freedom, pose, step=bare.clearance.shape.short_side / 8, finest=1e-3
        )
        pose = pose[np.argmin(values)][None]
        before, reserve = reserve, _settled_at(counted, pose[0], reserve_at)
        if _same(objective, reserve - before):
            break
    return reserve


def reserve_again(objective: Objective, pose: FloatArray, reserve_at: ReserveAt) -> float | None:
    """Return what to count instead of the objective's reserve at the spot chosen with it; ``None`` where that holds.

    It holds where no more is counted than is there, and counting the rest would not move the level.

    Parameters
    ----------
    objective : Objective
    pose : array, shape (3,)
        ``east, north`` [m], ``bearing`` [deg].
    reserve_at : callable
    """
    there = _there(objective, pose, reserve_at)
    settled = _settled_at(objective, pose, reserve_at)
    if objective.reserve <= there + A_DROP and _same(objective, settled - objective.reserve):
        return None
    return min(settled, there) if _same(objective, settled - objective.reserve) else settled


def uncounted(there: float, objective: Objective, unit: LengthUnit) -> str:
    """Return what to say where no amount agrees with the spot that is best with it.

    Parameters
    ----------
    there : float
        Soil that the spot would settle at. [m³]
    objective : Objective
        With what was counted.
    unit : LengthUnit
        The user's unit.
    """
    return (
        f"The trench of the edge would give {format_volume(there, unit)} here, and "
        f"{format_volume(objective.reserve, unit)} are counted: with more, another spot is best, where it gives less. "
        "What is not counted stands as soil left over."
    )


def _same(objective: Objective, soil: float) -> bool:
    """Tell whether soil, rammed and spread over the pad, is thinner than a change of level that counts."""
    return abs(soil) * max(objective.keep, 1.0) <= SAME_LEVEL * objective.pad.area


def _there(objective: Objective, pose: FloatArray, reserve_at: ReserveAt) -> float:
    """Return what is there at a pose, at the level that the objective's reserve gives it."""
    outcome = objective.evaluate(pose[None])
    return reserve_at(objective.spot(outcome, 0).placement) if np.isfinite(outcome.formation[0]) else 0.0


def _settled_at(objective: Objective, pose: FloatArray, reserve_at: ReserveAt) -> float:
    """Return the soil at one pose that, counted, is still there: ``R = there(R)``.

    The higher the pad finishes the less deep its trench, so that taking what is there closes in fast. Where a course
    more or less makes it jump to and fro there is no such soil, and halving finds the jump: the end is taken at which
    no more is counted than is there.
    """
    low, high, counted = 0.0, np.inf, objective.reserve
    for _ in range(STEPS):
        there = _there(replace(objective, reserve=counted), pose, reserve_at)
        if abs(there - counted) <= SAME_SOIL:
            return there
        low, high = (max(low, counted), high) if there > counted else (low, min(high, counted))
        counted = there if low < there < high else 0.5 * (low + high)
    return low
