"""A goal as the larger of two weighted sums of cut and fill, and what that sum is at least.

With ``C`` the cut and ``F`` the fill at a level, both convex in the level, every `Goal` has a best level that is also
the lowest point of ``max(a C + b F, a' C + b' F)`` with weights of zero or more:

- below the balanced level its value is ``(cut + over) C + (fill - over / k) F``, above it
  ``(cut - k short) C + (fill + short) F``, and each is the larger on its own side;
- where one weight of a side is negative, or soil may not be bought, the value runs one way on that side, and a sum that
  meets it at the balanced level, ``k C = F``, and runs the same way may stand for it.

The least of such a maximum is never under what any weights ``s`` of the ground give that add up to nothing over the pad
and keep ``-f <= s <= c`` for a mixture ``c, f`` of the two pairs (duality of linear programming). With ``s`` constant
above the mean level and constant below it, the bound is a factor, which depends on how many of the n cells lie above,
times the cut at the mean level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.placement.goals import Goal
from spadework.readings import FloatArray

__all__ = ["LevelCost", "bound_factors", "level_cost"]


@dataclass(frozen=True, slots=True)
class LevelCost:
    """A goal for the ground under a pad whose level is free.

    Parameters
    ----------
    low, high : (float, float)
        Weights of cut and fill of the two sums; the larger one counts.
    cut, fill, over, short, keep : float
        The goal's own weights, and the compacted volume that one volume in the bank makes.
    buys : bool
        Whether soil may be short.
    """

    low: tuple[float, float]
    high: tuple[float, float]
    cut: float
    fill: float
    over: float
    short: float
    keep: float
    buys: bool

    @property
    def numbers(self) -> FloatArray:
        """The same as one row of numbers for kernels, shape (10,)."""
        return np.array(
            [*self.low, *self.high, self.cut, self.fill, self.over, self.short, self.keep, float(self.buys)]
        )


def level_cost(goal: Goal, keep: float) -> LevelCost:
    """Return a goal as the larger of two sums.

    Parameters
    ----------
    goal : Goal
        What should be least.
    keep : float
        Compacted volume that one volume in the bank makes.
    """
    low = (goal.cut + goal.over, goal.fill - goal.over / keep)
    high = (goal.cut - keep * goal.short, goal.fill + goal.short)
    # Both meet the goal at the balanced level, where F = k C, and rise away from it.
    if min(low) < 0:
        low = (goal.cut + keep * goal.fill, 0.0)
    if min(high) < 0 or not goal.buys:
        high = (0.0, goal.cut / keep + goal.fill)
    return LevelCost(low, high, goal.cut, goal.fill, goal.over, goal.short, keep, goal.buys)


def bound_factors(cost: LevelCost, count: int) -> FloatArray:
    """Return by what the cut at the mean level is multiplied for a bound, for each number of cells above that level.

    Of weights ``x`` on the m cells above and ``-y`` on the others, with ``x m = y (n - m) = t``, the ground gives
    ``(x + y) C``. The largest ``t`` is that of the best mixture of the two pairs: ``max min(c m, f (n - m))``, which
    lies at an end or where the two are equal.

    Parameters
    ----------
    cost : LevelCost
        The goal.
    count : int
        Cells under the pad, n.

    Returns
    -------
    array, shape (n + 1,)
        Factors; the two ends, where the cut is nothing, take those of their neighbours.
    """
    if count < 2:
        return np.zeros(count + 1)
    above = np.arange(1, count, dtype=np.float64)
    below = count - above
    (a, b), (c, d) = cost.low, cost.high
    # min(...) of the mixture with share s of the low pair; both are linear in s.
    shares = [np.zeros_like(above), np.ones_like(above)]
    slope = (a - c) * above - (b - d) * below
    with np.errstate(divide="ignore", invalid="ignore"):
        even = (d * below - c * above) / slope
    shares.append(np.where(np.isfinite(even), np.clip(even, 0.0, 1.0), 0.0))
    best = np.maximum.reduce([np.minimum((s * a + (1 - s) * c) * above, (s * b + (1 - s) * d) * below) for s in shares])
    inner = best * count / (above * below)
    return np.concatenate([inner[:1], inner, inner[-1:]])
