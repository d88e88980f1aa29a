"""The dense start of a search: a grid of positions and bearings, as fine as the pad asks for and time allows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from spadework.pad_rings import middle_of_area, signed_area
from spadework.placement.limits import Limits
from spadework.placement.objective import Objective
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_length

__all__ = ["StartGrid", "dense_start", "middle_of", "search_region"]

COARSEST_TURN = 5.0
"""Degrees between bearings; less where a long pad's corner would move by more than a position step."""
FINEST_TURN = 0.5
"""Degrees between bearings where the position is fixed, and nothing else is left to try."""
MOST_TESTED = 3_000_000
"""Poses put to the clearance kernel for one grid."""
MOST_EVALUATED = 160_000
"""Clear poses worked out on a ground with few triangles under the pad."""
MOVED = 0.2
"""Share of them where barrowing counts: every cell of the pad is worked out besides."""
FEWEST = 20_000
"""With fewer clear poses the grid is made finer."""
FINER = math.sqrt(0.5)


@dataclass(frozen=True)
class StartGrid:
    """The poses of a dense start that are clear of every limit on position.

    Parameters
    ----------
    poses : array, shape (k, 3)
        ``east, north`` [m], ``bearing`` [deg].
    step : float
        Between positions; zero where the position is fixed. [m]
    turn : float
        Between bearings; zero where the bearing is fixed. [deg]
    tested : array, shape (t, 3)
        Every pose of the grid, clear or not.
    """

    poses: FloatArray
    step: float
    turn: float
    tested: FloatArray

    def thinned(self, most: int) -> StartGrid:
        """Return the grid with no more than ``most`` of its poses, spread evenly, and all the clear ones."""
        if len(self.tested) <= most:
            return self
        rows = np.linspace(0, len(self.tested) - 1, most).astype(np.int64)
        return replace(self, tested=self.tested[rows])

    def sentence(self, unit: LengthUnit) -> str:
        """Return what was tried, with counts and the step in the user's unit."""
        bearings = len(np.unique(self.tested[:, 2]))
        where = f"on a {format_length(self.step, unit)} grid" if self.step else "at the one position allowed"
        which = f"at {bearings} bearings" if bearings > 1 else "at one bearing"
        return f"{len(self.poses):,} placements {where} {which}"


def middle_of(limits: Limits, outline: tuple[FloatArray, ...]) -> FloatArray:
    """Return the centroid of the boundary's outline, or of the ground's where there is no boundary, shape (2,). [m]

    Of several outlines, that of the largest.
    """
    rings = [np.asarray(ring, dtype=np.float64) for ring in limits.boundary or outline[:1]]
    return middle_of_area(max(rings, key=lambda ring: abs(signed_area(ring))))


def dense_start(objective: Objective, outline: tuple[FloatArray, ...], middle: FloatArray) -> StartGrid:
    """Return the clear poses of a grid about the middle of the site.

    The step starts at a quarter of the pad's short side. It grows where more poses would be clear than can be worked
    out, and shrinks, to a tenth of that, where few or none are.

    Parameters
    ----------
    objective : Objective
        With ground, pad and limits.
    outline : tuple of arrays, shape (n, 2)
        Rings of the measured ground. [m]
    middle : array, shape (2,)
        One position of the grid. [m]
    """
    low, high = search_region(objective.limits, outline)
    shape = objective.clearance.shape
    step = first = shape.short_side / 4
    budget = most_evaluated(objective)
    grid = None
    while True:
        turn = _turn_step(objective, step)
        count = _count(objective, low, high, step, turn)
        if count > MOST_TESTED:
            if grid is not None:
                return grid
            step *= (count / MOST_TESTED) ** 0.5 * 1.01
            continue
        tested = _grid(objective, low, high, middle, step, turn)
        clear = tested[objective.clearance.allowed(tested)]
        free = objective.limits.position is None
        if len(clear) > budget and free:
            if grid is not None and len(grid.poses):
                return grid
            step *= (len(clear) / budget) ** 0.5 * 1.01
            continue
        grid = StartGrid(clear, step if free else 0.0, turn, tested)
        if len(clear) >= min(FEWEST, budget) or not free or step < first / 10:
            return grid
        step *= FINER if len(clear) else FINER**2


def most_evaluated(objective: Objective) -> int:
    """Return how many poses are worked out: fewer where many triangles lie under the pad."""
    ground = objective.ground
    under = ground.triangle_count * objective.pad.area / max(ground.area, objective.pad.area)
    share = objective.tried_share * (MOVED if objective.goal.moved else 1.0)
    return max(objective.fewest_tried, int(MOST_EVALUATED * share / (1 + under / 50)))


def search_region(limits: Limits, outline: tuple[FloatArray, ...]) -> tuple[FloatArray, FloatArray]:
    """Return the south-west and north-east corners of the rectangle that the pad's centre must lie in.

    Parameters
    ----------
    limits : Limits
        With the boundary.
    outline : tuple of arrays, shape (n, 2)
        Rings of the measured ground. [m]

    Returns
    -------
    south_west, north_east : array, shape (2,)
        [m]
    """
    rings = [outline, limits.boundary] if limits.boundary else [outline]
    low = np.max([np.min([ring.min(axis=0) for ring in group], axis=0) for group in rings], axis=0)
    high = np.min([np.max([ring.max(axis=0) for ring in group], axis=0) for group in rings], axis=0)
    return low, high


def _turn_step(objective: Objective, step: float) -> float:
    """Return the step between bearings, which divides the turn evenly. [deg]"""
    if not objective.limits.bearing.turns:
        return 0.0
    wanted = FINEST_TURN
    if objective.limits.position is None:
        wanted = min(COARSEST_TURN, math.degrees(step / objective.clearance.shape.reach))
    if objective.limits.bearing.free:
        return objective.turn / math.ceil(objective.turn / wanted - 1e-9)
    # Two steps at least from one end of a range to the other.
    widths = [width for _, width in objective.limits.bearing.ranges if width > 0]
    return min(wanted, min(widths) / 2)


def _bearings(objective: Objective, turn: float) -> FloatArray:
    """Return the bearings of a grid: all round, or each range from end to end. [deg]"""
    limit = objective.limits.bearing
    if limit.free:
        return turn * np.arange(round(objective.turn / turn), dtype=np.float64)
    every = []
    for start, width in limit.spans(objective.turn):
        count = math.ceil(width / turn - 1e-9) if turn else 0
        every.append(start + (width * np.arange(count + 1) / count if count else np.zeros(1)))
    return np.concatenate(every)


def _axis(low: float, high: float, middle: float, step: float) -> FloatArray:
    """Return the multiples of ``step`` from the middle that lie between two values."""
    first, last = math.ceil((low - middle) / step), math.floor((high - middle) / step)
    return np.array([middle + step * number for number in range(first, last + 1)], dtype=np.float64)


def _count(objective: Objective, low: FloatArray, high: FloatArray, step: float, turn: float) -> float:
    """Return about how many poses a grid has."""
    bearings = float(len(_bearings(objective, turn)))
    if objective.limits.position is not None:
        return bearings
    sides = np.maximum(high - low, 0.0) / step + 1
    return float(sides[0] * sides[1]) * bearings


def _grid(  # noqa: PLR0917 -- the extent and steps of a grid
    objective: Objective, low: FloatArray, high: FloatArray, middle: FloatArray, step: float, turn: float
) -> FloatArray:
    """Return all poses of a grid, bearings changing fastest, shape (t, 3)."""
    bearings = _bearings(objective, turn)
    position = objective.limits.position
    if position is not None:
        return np.column_stack([position.centres(objective.pad, bearings), bearings])
    east = _axis(low[0], high[0], middle[0], step)
    north = _axis(low[1], high[1], middle[1], step)
    mesh = np.meshgrid(east, north, bearings, indexing="ij")
    return np.stack([axis.ravel() for axis in mesh], axis=-1)
