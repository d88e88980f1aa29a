"""What every spot costs: the best value at each position that was tried, and the value at each finish of one spot."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spadework.placement.limits import FinishLimit
from spadework.placement.objective import Objective, Outcome
from spadework.readings import FloatArray

__all__ = ["FinishCurve", "SpotMap", "finish_curve", "spot_map"]

LEVELS = 81
ROOM = 0.2
"""How far beyond the lowest and highest ground under the pad a curve goes. [m]"""


@dataclass(frozen=True, eq=False)
class SpotMap:
    """The best value at each position of a regular grid, over all bearings tried and all levels.

    Parameters
    ----------
    east, north : array, shape (m,) and (n,)
        Positions of the pad's origin, rising. [m]
    value : array, shape (n, m)
        The goal's weighted sum; NaN where no placement is allowed.
    bearing : array, shape (n, m)
        The bearing that gives it. [deg]
    finish : array, shape (n, m)
        The finish level that gives it. [m]
    """

    east: FloatArray
    north: FloatArray
    value: FloatArray
    bearing: FloatArray
    finish: FloatArray


@dataclass(frozen=True, eq=False)
class FinishCurve:
    """What one position and bearing costs at each finish level.

    Parameters
    ----------
    finish : array, shape (k,)
        Finish levels. [m]
    value, cut, fill : array, shape (k,)
        The goal's weighted sum, NaN where a limit is broken; soil dug and made up. [m³]
    """

    finish: FloatArray
    value: FloatArray
    cut: FloatArray
    fill: FloatArray


def spot_map(table: Outcome, step: float, thickness: float) -> SpotMap | None:
    """Return the map of a dense start, or ``None`` where it is not a grid of positions.

    Parameters
    ----------
    table : Outcome
        Every pose of the start.
    step : float
        Between positions. [m]
    thickness : float
        Finish level less formation level. [m]
    """
    allowed = np.flatnonzero(np.isfinite(table.value))
    if step <= 0 or len(allowed) == 0:
        return None
    order = allowed[np.argsort(-table.value[allowed], kind="stable")]
    low = table.poses[allowed, :2].min(axis=0)
    place = (table.poses[order, :2] - low) / step
    cell = np.rint(place).astype(np.int64)
    if np.abs(place - cell).max() > 0.01:
        return None
    wide, long = cell.max(axis=0) + 1
    grids = [np.full((long, wide), np.nan) for _ in range(3)]
    # The best of a position is written last.
    for grid, column in zip(grids, (table.value, table.poses[:, 2], table.formation + thickness), strict=True):
        grid[cell[:, 1], cell[:, 0]] = column[order]
    return SpotMap(low[0] + step * np.arange(wide), low[1] + step * np.arange(long), *grids)


def finish_curve(objective: Objective, pose: FloatArray) -> FinishCurve:
    """Return the value of one pose at finish levels from below the lowest to above the highest ground under it.

    Parameters
    ----------
    objective : Objective
        The exact objective; its own finish limit is left out.
    pose : array, shape (3,)
        ``east, north`` [m], ``bearing`` [deg].
    """
    thickness = objective.pad.build_up.thickness
    here = objective.at_balance(pose[None])
    finish = (
        np.linspace(here.ground_low[0] - ROOM, here.ground_high[0] + ROOM, LEVELS) + thickness - objective.pad.strip
    )
    rows = []
    for level in finish.tolist():
        limits = replace(objective.limits, finish=FinishLimit("fixed", level))
        level_objective = replace(objective, limits=limits)
        found = level_objective.evaluate(pose[None])
        rows.append((level_objective.true_values(pose[None])[0], found.cut[0], found.fill[0]))
    value, cut, fill = np.array(rows).T
    return FinishCurve(finish, np.where(np.isfinite(value), value, np.nan), cut, fill)
