"""Room between the poses of the first grid: those nearest to being allowed are moved until they are, if ever."""

from __future__ import annotations

import numpy as np

from spadework.placement.objective import Objective, Outcome
from spadework.placement.polish import Freedom, polish
from spadework.placement.start import StartGrid
from spadework.readings import FloatArray

__all__ = ["squeezed_in"]

SEEDS = 16
"""Poses that are moved."""


def squeezed_in(objective: Objective, start: StartGrid) -> tuple[StartGrid, Outcome]:
    """Look between the poses of the grid: move those nearest to being allowed until they are, if they ever are."""
    clearance = objective.clearance
    freedom = Freedom(objective.pad, objective.limits, clearance.shape.reach)
    step = start.step or 0.1 * clearance.shape.reach
    poses = start.poses
    if len(poses) == 0 and len(start.tested):

        def too_near(trial: FloatArray) -> FloatArray:
            return -clearance.room(trial)

        seeds = start.tested[np.argsort(too_near(start.tested), kind="stable")[:SEEDS]]
        poses, _, _ = polish(too_near, freedom, seeds, step=step, finest=1e-9)
        poses = poses[clearance.allowed(poses)]
    table = objective.evaluate(poses)
    if len(poses) and not np.isfinite(table.value).any():
        seeds = poses[np.argsort(objective.lacks(table), kind="stable")[:SEEDS]]
        moved, _, _ = polish(
            lambda trial: objective.lacks(objective.evaluate(trial)), freedom, seeds, step=step, finest=1e-6
        )
        poses = np.vstack([poses, moved])
        table = objective.evaluate(poses)
    return StartGrid(poses, start.step, start.turn, start.tested), table
