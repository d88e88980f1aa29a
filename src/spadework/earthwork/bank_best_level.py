"""The compiled level of a pad with banks on the pieces of ground under it: plain arrays, no checks.

Cut falls and fill rises with the level, both convex: a bank only adds, at each point, the greatest of nothing and a
plane less the level. So the slope of a goal's value, ``b A_fill - a A_cut`` with the areas of cut and of fill, banks
included, changes sign once, and jumps up where the soil balances.

The kept machine code holds a copy of what it calls in `bank_kernel`: empty ``__pycache__`` after a change there.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_part
from spadework.earthwork.bank_kernel import totals_at
from spadework.earthwork.level_kernel import AT_HAND, CUT, FILL, KEEP, OVER, SHORT
from spadework.readings import FloatArray, IntArray

__all__ = ["balance", "flat", "goal_level", "with_turf"]

FINE = 1e-12
MOST_STEPS = 200
TURFS = 16
"""Levels at which the turf is counted between the two that bound the best."""


@compiled_part
def balance(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    low: float,
    high: float,
    keep: float,
    at_hand: float,
    totals: FloatArray,
) -> float:
    """Return the level at which ``keep cut + at_hand = fill``; infinite where it lies beyond the levels asked for.

    The excess falls with slope ``-(keep A_cut + A_fill)``: Newton's steps between brackets.
    """
    totals_at(cut, fill, cones, counts, own, slopes, low, totals)
    if keep * totals[0] + at_hand - totals[2] < 0.0:
        return -math.inf
    totals_at(cut, fill, cones, counts, own, slopes, high, totals)
    if keep * totals[0] + at_hand - totals[2] > 0.0:
        return math.inf
    level = 0.5 * (low + high)
    for _ in range(MOST_STEPS):
        totals_at(cut, fill, cones, counts, own, slopes, level, totals)
        excess = keep * totals[0] + at_hand - totals[2]
        if excess == 0.0:
            break
        if excess > 0.0:
            low = level
        else:
            high = level
        slope = keep * totals[1] + totals[3]
        step = level + excess / slope if slope > 0.0 else 0.5 * (low + high)
        if not low < step < high:
            step = 0.5 * (low + high)
        moved = abs(step - level)
        level = step
        if moved <= FINE * (1.0 + abs(level)):
            break
    return level


@compiled_part
def flat(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    low: float,
    high: float,
    a: float,
    b: float,
    totals: FloatArray,
) -> float:
    """Return the level between two at which ``b A_fill - a A_cut`` changes sign; the nearer end if it does not."""
    totals_at(cut, fill, cones, counts, own, slopes, low, totals)
    at_low = b * totals[3] - a * totals[1]
    if at_low >= 0.0:
        return low
    totals_at(cut, fill, cones, counts, own, slopes, high, totals)
    at_high = b * totals[3] - a * totals[1]
    if at_high <= 0.0:
        return high
    for step in range(MOST_STEPS):
        level = 0.5 * (low + high)
        if step % 3 != 2:
            level = low + (high - low) * at_low / (at_low - at_high)
            if not low < level < high:
                level = 0.5 * (low + high)
        totals_at(cut, fill, cones, counts, own, slopes, level, totals)
        here = b * totals[3] - a * totals[1]
        if here <= 0.0:
            low, at_low = level, here
        else:
            high, at_high = level, here
        if high - low <= FINE * (1.0 + abs(level)):
            break
    return 0.5 * (low + high)


@compiled_part
def goal_level(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    low: float,
    high: float,
    rule: FloatArray,
    totals: FloatArray,
) -> float:
    """Return the level of least value of a goal; an end where it lies at or beyond one of the levels asked for."""
    c, f, keep = rule[CUT], rule[FILL], rule[KEEP]
    if rule[OVER] <= 0.0 and rule[SHORT] <= 0.0:
        return flat(cut, fill, cones, counts, own, slopes, low, high, c, f, totals)
    even = balance(cut, fill, cones, counts, own, slopes, low, high, keep, rule[AT_HAND], totals)
    # Below the balance soil is left over, above it is short: each has weights of its own.
    over_a, over_b = c + rule[OVER], f - rule[OVER] / keep
    short_a, short_b = c - keep * rule[SHORT], f + rule[SHORT]
    if even == -math.inf:
        return flat(cut, fill, cones, counts, own, slopes, low, high, short_a, short_b, totals)
    if even == math.inf:
        return flat(cut, fill, cones, counts, own, slopes, low, high, over_a, over_b, totals)
    totals_at(cut, fill, cones, counts, own, slopes, even, totals)
    if over_b * totals[3] - over_a * totals[1] > 0.0:
        return flat(cut, fill, cones, counts, own, slopes, low, even, over_a, over_b, totals)
    if short_b * totals[3] - short_a * totals[1] < 0.0:
        return flat(cut, fill, cones, counts, own, slopes, even, high, short_a, short_b, totals)
    return even


@compiled_part
def _worth(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    level: float,
    rule: FloatArray,
    turf: float,
    totals: FloatArray,
) -> float:
    """Return the value of a goal at a level; ``turf`` is what a square metre under the banks counts."""
    totals_at(cut, fill, cones, counts, own, slopes, level, totals)
    spare = rule[KEEP] * totals[0] + rule[AT_HAND] - totals[2]
    soil = rule[OVER] * max(spare, 0.0) / rule[KEEP] + rule[SHORT] * max(-spare, 0.0)
    return float(rule[CUT] * totals[0] + rule[FILL] * totals[2] + soil + turf * (totals[4] + totals[5]))


@compiled_part
def with_turf(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    low: float,
    high: float,
    start: float,
    rule: FloatArray,
    turf: float,
    totals: FloatArray,
) -> float:
    """Return the level of least value, the turf under the banks counted, between two levels.

    The turf is no convex function of the level. What it can save is less than all that it costs at the level that is
    best without it: that bounds the levels to look at, which are tried evenly and then closed in on.
    """
    here = _worth(cut, fill, cones, counts, own, slopes, start, rule, turf, totals)
    ends = np.empty(2)
    for side in range(2):
        bound = low if side == 0 else high
        step, end = 1e-3, start
        while end != bound:
            end = max(start - step, low) if side == 0 else min(start + step, high)
            if _worth(cut, fill, cones, counts, own, slopes, end, rule, 0.0, totals) >= here:
                break
            step *= 2.0
        ends[side] = end
    best, least = 0, math.inf
    for i in range(TURFS + 1):
        level = ends[0] + (ends[1] - ends[0]) * i / TURFS
        worth = _worth(cut, fill, cones, counts, own, slopes, level, rule, turf, totals)
        if worth < least:
            best, least = i, worth
    left = ends[0] + (ends[1] - ends[0]) * max(best - 1, 0) / TURFS
    right = ends[0] + (ends[1] - ends[0]) * min(best + 1, TURFS) / TURFS
    golden = 0.5 * (math.sqrt(5.0) - 1.0)
    one, other = right - golden * (right - left), left + golden * (right - left)
    at_one = _worth(cut, fill, cones, counts, own, slopes, one, rule, turf, totals)
    at_other = _worth(cut, fill, cones, counts, own, slopes, other, rule, turf, totals)
    for _ in range(48):
        if right - left <= 1e-9:
            break
        if at_one <= at_other:
            right, other, at_other = other, one, at_one
            one = right - golden * (right - left)
            at_one = _worth(cut, fill, cones, counts, own, slopes, one, rule, turf, totals)
        else:
            left, one, at_one = one, other, at_other
            other = left + golden * (right - left)
            at_other = _worth(cut, fill, cones, counts, own, slopes, other, rule, turf, totals)
    return start if min(at_one, at_other) >= here else 0.5 * (left + right)
