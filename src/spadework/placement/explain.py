"""Why nothing fits: which limit forbids how much, and what the nearest relaxation would be."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from spadework.errors import PlacementError
from spadework.ground.rim import REACH_KEY
from spadework.placement.objective import Objective, Outcome, Verdict
from spadework.placement.polish import Freedom, polish
from spadework.placement.pose_kernel import FACE
from spadework.placement.relax import level_relaxations, position_relaxations
from spadework.placement.start import StartGrid
from spadework.units import LengthUnit, format_length, format_slope, format_volume

__all__ = ["nothing_fits"]

MOST_SHARED = 60_000
"""Poses of the grid on which the share that a limit forbids is counted."""


def nothing_fits(objective: Objective, start: StartGrid, table: Outcome, unit: LengthUnit) -> PlacementError:
    """Return the error for a search that found no placement.

    Parameters
    ----------
    objective : Objective
        What was asked.
    start : StartGrid
        What was tried.
    table : Outcome
        What came of the poses that are clear of every limit on position.
    unit : LengthUnit
        The user's unit.
    """
    grid = start.thinned(MOST_SHARED)
    lines = [f"No placement keeps all the limits: {len(start.tested):,} tried."]
    lines += [f"- {line}" for line in _shares(objective, grid, table, unit)]
    if (table.verdict == Verdict.TOO_MUCH_OVER).any():
        lines.append(_too_much_over(objective, table, unit))
    elif (table.verdict == Verdict.SHORT_OF_SOIL).any():
        lines.append(_short_of_soil(objective, table, start, unit))
    elif (table.verdict == Verdict.NO_ROOM_FOR_BANKS).any():
        lines.append(_no_room_for_banks(objective, table, unit))
    elif (table.verdict == Verdict.NO_LEVEL).any():
        lines.append(level_relaxations(objective, table, start, unit))
    elif (table.verdict == Verdict.TOO_STEEP).any():
        lines.append(_too_steep(objective, table, unit))
    elif (table.verdict == Verdict.BANKS_TOO_STEEP).any():
        lines.append("Nearest relaxation: steeper banks, where the soil stands at them, or a retained edge.")
    elif (table.verdict == Verdict.NOT_MEASURED).any():
        lines.append(
            "Nearest relaxation: take more shots, so that the measured ground has no gap where the pad could lie."
        )
    else:
        found = position_relaxations(objective, grid, unit)
        lines += ["Nearest relaxations, one at a time:", *(f"- {line}" for line in found)] if found else []
        if not found:
            lines.append("No single limit is to blame: relax several, or make the pad smaller.")
    lines += [notice for notice in objective.ground.notices if REACH_KEY in notice]
    return PlacementError("\n".join(lines))


def _shares(objective: Objective, grid: StartGrid, table: Outcome, unit: LengthUnit) -> Iterable[str]:
    """Yield for each limit the share of the poses tried that it forbids by itself."""
    clearance = objective.clearance
    if len(grid.tested) == 0:
        yield "the boundary and the measured ground do not overlap: check that both are in the same coordinates."
        return
    broken = (clearance.distances(grid.tested) < clearance.required - 1e-9).mean(axis=0)
    for limit, (name, required, share) in enumerate(zip(clearance.names, clearance.required, broken, strict=True)):
        if share > 0:
            asks = f" (clear by {format_length(float(required), unit)})" if required else ""
            if limit >= clearance.rings and clearance.rules is not None:
                angle = clearance.rules.kind[limit - clearance.rings] == FACE
                asks = f" (within {f'{-required:.1f}°' if angle else format_length(-float(required), unit)})"
            yield f"{name}{asks} forbids {_percent(share)} of them by itself;"
    if not len(table.poses):
        yield "together they forbid all of them."
        return
    yield f"{_counted(len(table.poses))} keep clear of all that; of these"
    for verdict, words in (
        (Verdict.NOT_MEASURED, "reach over gaps in the measured ground"),
        (Verdict.TOO_STEEP, "lie on ground steeper than the limit"),
        (Verdict.NO_LEVEL, "have no finish level within the limits on heights"),
        (Verdict.SHORT_OF_SOIL, "need more soil than is dug there and may be bought"),
        (Verdict.TOO_MUCH_OVER, "leave more soil over than may be carted away"),
        (Verdict.NO_ROOM_FOR_BANKS, "have banks that leave the land or run into something, at any finish allowed"),
        (Verdict.BANKS_TOO_STEEP, "lie on ground as steep as the banks, which would meet it again further out"),
    ):
        count = int((table.verdict == verdict).sum())
        if count:
            yield f"{count:,} {words};"


def _too_much_over(objective: Objective, table: Outcome, unit: LengthUnit) -> str:
    """Return the least soil left over at any spot that is otherwise allowed."""
    least = float(np.where(table.verdict == Verdict.TOO_MUCH_OVER, table.over, np.inf).min())
    return (
        f"Nearest relaxation: the spot that leaves least over leaves {format_volume(least, unit)} in the bank; "
        f"{format_volume(objective.limits.carted or 0.0, unit)} may be carted. Let that much be carted, or let the pad "
        "finish higher."
    )


def _no_room_for_banks(objective: Objective, table: Outcome, unit: LengthUnit) -> str:
    """Return between which finish levels the banks of the spot with most room would have to end."""
    row = int(np.argmin(objective.lacks(table)))
    east, north, bearing = table.poses[row].tolist()
    rise = objective.pad.build_up.thickness
    low, high = (format_length(float(end[row]) + rise, unit) for end in (table.least, table.most))
    return (
        f"Nearest relaxation: at the spot with most room for banks, centre at {format_length(east, unit)} east, "
        f"{format_length(north, unit)} north, bearing {bearing % 360:.1f}°, cut banks stay on the land from a finish "
        f"of {low} up, fill banks from {high} down. Give steeper banks, a retained edge, a smaller pad, or more land."
    )


def _too_steep(objective: Objective, table: Outcome, unit: LengthUnit) -> str:
    """Return the gentlest ground that any clear spot has."""
    row = int(np.argmin(np.where(table.verdict == Verdict.TOO_STEEP, table.slope, np.inf)))
    east, north, _ = table.poses[row].tolist()
    return (
        f"Nearest relaxation: the gentlest ground, centre at {format_length(east, unit)} east, "
        f"{format_length(north, unit)} north, slopes {format_slope(float(table.slope[row]))}; "
        f"{format_slope(objective.limits.ground_slope or 0.0)} is allowed."
    )


def _percent(share: float) -> str:
    """Return a share that is neither all nor nothing without rounding it to that."""
    if share in {0.0, 1.0}:
        return f"{100 * share:.0f} %"
    return "more than 99 %" if share > 0.99 else "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _counted(count: int) -> str:
    return f"{count:,} placement" if count == 1 else f"{count:,} placements"


def _short_of_soil(objective: Objective, table: Outcome, start: StartGrid, unit: LengthUnit) -> str:
    """Return the least soil short at any spot, and how far the finish would have to come down there."""
    lacks = np.where(table.verdict == Verdict.SHORT_OF_SOIL, table.short, np.inf)
    seeds = table.poses[np.argsort(lacks, kind="stable")[:8]]
    freedom = Freedom(objective.pad, objective.limits, objective.clearance.shape.reach)
    poses, values, _ = polish(
        lambda trial: objective.lacks(objective.evaluate(trial)),
        freedom,
        seeds,
        step=max(start.step, 0.1) / 2,
        finest=1e-3,
    )
    pose = poses[[int(np.argmin(values))]]
    asked, balanced = objective.evaluate(pose), objective.at_balance(pose)
    lower = float(asked.formation[0] - balanced.formation[0])
    finish = float(asked.formation[0]) + objective.pad.build_up.thickness
    place = f"{format_length(float(pose[0, 0]), unit)} east, {format_length(float(pose[0, 1]), unit)} north"
    allowed = format_volume(objective.most_bought, unit)
    return (
        f"Nearest relaxation: the spot that is least short, centre at {place}, bearing {pose[0, 2] % 360:.1f}°, lacks "
        f"{format_volume(float(asked.short[0]), unit)} of compacted soil at a finish of {format_length(finish, unit)}; "
        f"{allowed} may be bought. Let that much be bought, or finish {format_length(lower, unit)} lower there, at "
        f"{format_length(finish - lower, unit)}."
    )
