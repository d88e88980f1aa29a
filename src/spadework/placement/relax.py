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
from spadework.placement.pose_kernel import FACE
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
        if limit >= clearance.rings:
            kind = None if clearance.rules is None else int(clearance.rules.kind[limit - clearance.rings])
            yield from _farther(name, kind, (-required, -most), unit)
        elif most > 0 and required > 0:
            yield (
                f"{name}: {format_length(_rounded_down(most), unit)} clear instead of {format_length(required, unit)};"
            )
        elif clearance.inside[limit] == 0:
            yield f"{name}: it would fit if that were out of the way;"


def _farther(name: str, kind: int | None, off: tuple[float, float], unit: LengthUnit) -> Iterable[str]:
    """Yield how far off a point to reach or to face would have to be allowed to be, and is now."""
    allowed, needed = off
    if not math.isfinite(needed):
        return
    if kind == FACE:
        yield f"{name}: within {math.ceil(needed * 10) / 10:.1f}° instead of {allowed:.1f}°;"
    else:
        yield f"{name}: {format_length(_rounded_up(needed), unit)} instead of {format_length(allowed, unit)};"


def _rounded_down(length: float) -> float:
    """Return a length rounded down to whole millimetres, so that what is advised does fit. [m]"""
    return math.floor(length * 1000) / 1000


def _rounded_up(length: float) -> float:
    """Return a length rounded up to whole millimetres. [m]"""
    return math.ceil(length * 1000) / 1000


def _other_bearing(objective: Objective) -> Iterable[str]:
    """Yield the nearest bearing at which the pad would fit."""
    limit, rules = objective.limits.bearing, objective.clearance.rules
    if limit.free or rules is None:
        return
    clearance = replace(objective.clearance, rules=replace(rules, bearing=BearingLimit()))
    free = replace(objective, limits=replace(objective.limits, bearing=BearingLimit()), clearance=clearance)
    poses = _clear_when(free)
    if len(poses) == 0:
        return
    # A turn that repeats the pad brings each bearing within half of it of one that is allowed.
    ways = poses[:, 2][:, None] + objective.turn * np.arange(round(360.0 / objective.turn))
    off = limit.off(ways.ravel()).reshape(ways.shape)
    row, way = np.unravel_index(int(np.argmin(off)), off.shape)
    bearing = float(ways[row, way])
    yield f"bearing: {bearing % 360:.1f}° instead of {float(limit.held(np.array([bearing]))[0]) % 360:.1f}°;"


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
        radius = None if objective.pad.radius is None else objective.pad.radius * scale
        pad = replace(objective.pad, outline=objective.pad.outline * scale, radius=radius)
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
    given = {
        "exposed-edge": limits.exposed_edge,
        "cut-depth": limits.cut_depth,
        "fill-depth": limits.fill_depth,
        "finish from": limits.finish.lowest,
        "finish up to": limits.finish.highest,
    }
    named = " and ".join(f"{name} {format_length(value, unit)}" for name, value in given.items() if value is not None)
    where = (
        f"centre at {format_length(east, unit)} east, {format_length(north, unit)} north, bearing {bearing % 360:.1f}°"
    )
    finish = "" if limits.finish.kind == "free" else f", or free the finish, which is {limits.finish.kind}"
    return (
        f"Nearest relaxation: at the spot that needs least, {where}, the limits ({named}) fall short by "
        f"{format_length(_rounded_up(float(values[row])), unit)}: give one of them that much more{finish}."
    )
