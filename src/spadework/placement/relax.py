"""The nearest relaxation of each limit that would make room, found by moving the pad within all the others."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from spadework.pad import Pad
from spadework.placement.alternatives import towards
from spadework.placement.clearance import Clearance
from spadework.placement.limits import BearingLimit
from spadework.placement.objective import Objective, Outcome, Verdict
from spadework.placement.polish import Freedom, polish
from spadework.placement.shape import PadShape
from spadework.placement.start import StartGrid, dense_start, middle_of
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_length

__all__ = ["level_relaxations", "position_relaxations"]

SEEDS = 8
FINEST = 1e-4


def position_relaxations(objective: Objective, grid: StartGrid, unit: LengthUnit) -> list[str]:
    """Return what would let the pad stand somewhere, a sentence for each limit that alone would do.

    Parameters
    ----------
    objective : Objective
        What was asked.
    grid : StartGrid
        What was tried.
    unit : LengthUnit
        The user's unit.
    """
    if len(grid.tested) == 0:
        return []
    found = [*_clearances(objective, grid, unit)]
    found += [*_other_bearing(objective), *_other_position(objective, unit)]
    found += [*_smaller_pad(objective, grid)]
    return found


def _best(
    objective: Objective, room: Callable[[FloatArray], FloatArray], grid: StartGrid, amount: FloatArray
) -> tuple[FloatArray, float]:
    """Return the pose with the most room, and how much, from the poses of the grid that have most."""
    seeds = grid.tested[np.argsort(-amount, kind="stable")[:SEEDS]]
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    step = grid.step or 0.1 * objective.clearance.shape.reach
    poses, lack, _ = polish(lambda trial: -room(trial), freedom, seeds, step=step, finest=FINEST)
    best = int(np.argmin(lack))
    return poses[best], -float(lack[best])


def _clearances(objective: Objective, grid: StartGrid, unit: LengthUnit) -> Iterable[str]:
    """Yield the clearance that each limit would have to come down to, all others kept."""
    clearance = objective.clearance
    every = clearance.distances(grid.tested) - clearance.required
    for limit, (name, required) in enumerate(zip(clearance.names, clearance.required.tolist(), strict=True)):
        others = np.arange(len(clearance.names)) != limit

        def room(poses: FloatArray, limit: int = limit, others: FloatArray = others) -> FloatArray:
            spare = clearance.distances(poses) - clearance.required
            return np.where((spare[:, others] >= 0).all(axis=1), spare[:, limit] + clearance.required[limit], -np.inf)

        kept = (every[:, others] >= 0).all(axis=1)
        if not kept.any():
            continue
        _, most = _best(objective, room, grid, np.where(kept, every[:, limit], -np.inf))
        if most > 0 and required > 0:
            yield (
                f"{name}: {format_length(_rounded_down(most), unit)} clear instead of {format_length(required, unit)};"
            )
        elif clearance.inside[limit] == 0:
            yield f"{name}: it would fit if that were out of the way;"


def _rounded_down(length: float) -> float:
    """Return a length rounded down to whole millimetres, so that what is advised does fit. [m]"""
    return math.floor(length * 1000) / 1000


def _rounded_up(length: float) -> float:
    """Return a length rounded up to whole millimetres. [m]"""
    return math.ceil(length * 1000) / 1000


def _other_bearing(objective: Objective) -> Iterable[str]:
    """Yield the nearest bearing at which the pad would fit."""
    fixed = objective.limits.bearing.fixed
    if fixed is None:
        return
    poses = _clear_when(replace(objective, limits=replace(objective.limits, bearing=BearingLimit())))
    if len(poses):
        change = np.mod(poses[:, 2] - fixed + objective.turn / 2, objective.turn) - objective.turn / 2
        nearest = int(np.argmin(np.abs(change)))
        yield f"bearing: {(fixed + change[nearest]) % 360:.1f}° instead of {fixed % 360:.1f}°;"


def _other_position(objective: Objective, unit: LengthUnit) -> Iterable[str]:
    """Yield how far the pad would have to move."""
    position = objective.limits.position
    if position is None:
        return
    poses = _clear_when(replace(objective, limits=replace(objective.limits, position=None)))
    if len(poses):
        shift = poses[:, :2] - position.centres(objective.pad, poses[:, 2])
        nearest = shift[int(np.argmin(np.hypot(*shift.T)))]
        yield f"position: {format_length(float(np.hypot(*nearest)), unit)} to the {towards(*nearest)};"


def _clear_when(objective: Objective) -> FloatArray:
    """Return the poses of a dense start that are clear under other limits."""
    outline = objective.ground.outline()
    return dense_start(objective, outline, middle_of(objective.limits, outline)).poses


def _smaller_pad(objective: Objective, grid: StartGrid) -> Iterable[str]:
    """Yield the largest pad of the same shape that would fit."""
    fits, too_large = 0.0, 1.0
    for _ in range(8):
        scale = 0.5 * (fits + too_large)
        pad = replace(objective.pad, outline=objective.pad.outline * scale)
        fits, too_large = (scale, too_large) if _fits(objective, pad, grid) else (fits, scale)
    if fits >= 0.05:
        yield f"pad: the same shape at {math.floor(fits * 100)} % of its length and width."


def _fits(objective: Objective, pad: Pad, grid: StartGrid) -> bool:
    """Tell whether a pad of another size finds a clear place."""
    clearance: Clearance = replace(objective.clearance, shape=PadShape.of(pad))
    smaller = replace(objective, pad=pad, clearance=clearance)
    freedom = Freedom(pad, objective.limits, clearance.shape.reach)
    if clearance.allowed(freedom.held(grid.tested.copy())).any():
        return True
    _, most = _best(smaller, clearance.room, grid, clearance.room(grid.tested))
    return most >= 0


def level_relaxations(objective: Objective, table: Outcome, start: StartGrid, unit: LengthUnit) -> str:
    """Return by how much the limits on heights would have to give way, at the spot that needs it least."""

    def excess(outcome: Outcome) -> FloatArray:
        cross = outcome.least - outcome.most
        beyond = np.fmax(outcome.least - outcome.formation, outcome.formation - outcome.most)
        return np.where(outcome.verdict == Verdict.NO_LEVEL, np.fmax(cross, beyond), np.inf)

    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    seeds = table.poses[np.argsort(excess(table), kind="stable")[:SEEDS]]
    poses, values, _ = polish(
        lambda trial: excess(objective.evaluate(trial)), freedom, seeds, step=max(start.step, 0.1) / 2, finest=FINEST
    )
    row = int(np.argmin(values))
    east, north, bearing = poses[row].tolist()
    limits = objective.limits
    given = {"exposed-edge": limits.exposed_edge, "cut-depth": limits.cut_depth, "fill-depth": limits.fill_depth}
    named = " and ".join(f"{name} {format_length(value, unit)}" for name, value in given.items() if value is not None)
    where = (
        f"centre at {format_length(east, unit)} east, {format_length(north, unit)} north, bearing {bearing % 360:.1f}°"
    )
    finish = "" if limits.finish.kind == "free" else f", or free the finish, which is {limits.finish.kind}"
    return (
        f"Nearest relaxation: at the spot that needs least, {where}, the limits ({named}) fall short by "
        f"{format_length(_rounded_up(float(values[row])), unit)}: give one of them that much more{finish}."
    )
