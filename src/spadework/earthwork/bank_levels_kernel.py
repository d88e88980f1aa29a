"""The compiled level problem of pads with banks, pose by pose: plain arrays, no checks.

The kept machine code holds a copy of what it calls in `kernel` and in the other kernels of banks: empty ``__pycache__``
after a change there.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled
from spadework.earthwork.arrays import GroundArrays, PadArrays, Room
from spadework.earthwork.bank_arrays import BankArrays
from spadework.earthwork.bank_best_level import balance, goal_level, with_turf
from spadework.earthwork.bank_kernel import bank_pieces, grown, totals_at, turns_up_again
from spadework.earthwork.bank_land_kernel import land_levels
from spadework.earthwork.kernel import (
    ALLOWED,
    COVERED,
    FIXED,
    FLUSH,
    FLUSH_LOW,
    LIMITS_CROSS,
    NOT_COVERED,
    OUTSIDE_LIMITS,
    _gather,
)
from spadework.earthwork.level_kernel import AT_HAND, KEEP, MOST_OVER, MOST_SHORT
from spadework.readings import FloatArray, IntArray

__all__ = ["NO_ROOM", "TOO_STEEP", "WIDER", "solve_banked"]

NO_ROOM, TOO_STEEP, WIDER = 4, 5, 6
"""No level has banks that stay on the land; the ground is as steep as a bank; the parts do not reach far enough."""
LEAST_SPAN = 0.05
"""Levels are asked for at least so far about those of the ground under the pad. [m]"""
EDGE = 1e-9


@compiled
def solve_banked(
    ground: GroundArrays,
    pad: PadArrays,
    bank: BankArrays,
    poses: FloatArray,
    kind: int,
    rule: FloatArray,
    turf: float,
    ends: FloatArray,
    result: FloatArray,
    status: IntArray,
) -> None:
    """Find the formation, cut and fill of each pose, banks included.

    Parameters
    ----------
    poses : array, shape (k, 4)
        As in `kernel`.
    kind : int
        `FIXED`, `FLUSH`, `FLUSH_LOW` or, for any other, the goal.
    rule : array, shape (18,)
        As `LevelRule.numbers` gives it.
    turf : float
        What a square metre of turf under the banks adds to the value.
    ends : array, shape (2,)
        Lowest and highest ground of the site. [m]
    result : array, shape (k, 13)
        NaN; written as in `kernel.solve`, and then the areas of cut and of fill beyond the pad.
    status : array of int, shape (k,)
        Written: as in `kernel.solve`, or `NO_ROOM`, `TOO_STEEP` or `WIDER`.
    """
    width = 3
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 3 + pad.part[p + 1] - pad.part[p])
    room = Room(np.empty((2, width, 4)), np.zeros((2, width), dtype=np.int64))
    for p in range(bank.part.shape[0] - 1):
        width = max(width, 3 + bank.part[p + 1] - bank.part[p])
    polygon = np.empty((2, width, 3))
    pieces, summary = np.empty((256, 4)), np.empty(6)
    cut, fill, cones = np.empty((512, 5)), np.empty((512, 5)), np.empty((64, 9))
    counts, own, totals = np.zeros(3, dtype=np.int64), np.zeros(2, dtype=np.int64), np.empty(6)
    slopes = (bank.cut_slope, bank.fill_slope)
    thickness, strip = rule[5], rule[6]
    for i in range(poses.shape[0]):
        pieces, count = _gather(ground, pad, poses[i], room, pieces, summary)
        total, volume = summary[0], summary[1]
        result[i, 3] = total
        if not total >= pad.area * (1.0 - COVERED):
            status[i] = NOT_COVERED
            continue
        result[i, 4] = volume / total
        for j in range(4):
            result[i, 5 + j] = summary[2 + j]
        # From here on levels are those of unstripped ground at the formation.
        least = max(summary[3] - rule[8], rule[10] - thickness + strip)
        most = min(summary[2] + rule[9], rule[11] - thickness + strip)
        result[i, 9], result[i, 10] = least - strip, most - strip
        if least > most:
            status[i] = LIMITS_CROSS
            continue
        given = math.nan
        if kind == FIXED:
            given = rule[4] - thickness + strip
        elif kind == FLUSH:
            given = summary[5] - thickness + strip
        elif kind == FLUSH_LOW:
            given = summary[4] - thickness + strip
        low = min(summary[2], most) - LEAST_SPAN
        high = max(summary[3], least) + LEAST_SPAN
        low, high = max(low, least), min(high, most)
        if not math.isnan(given):
            low = high = given
        status[i] = ALLOWED
        level = math.nan
        reach_least, reach_most = -math.inf, math.inf
        for _ in range(60):
            far = max((ends[1] - low) / bank.cut_slope, (high - ends[0]) / bank.fill_slope)
            far = max(far, 0.0)
            if far > bank.reach:
                status[i] = WIDER
                break
            reach_least, reach_most = land_levels(bank, poses[i], far)
            if math.isnan(given):
                low, high = max(low, min(reach_least, high)), min(high, max(reach_most, low))
            for j in range(count):
                if j == cut.shape[0]:
                    cut = grown(cut)
                if j == fill.shape[0]:
                    fill = grown(fill)
                for q in range(4):
                    cut[j, q] = pieces[j, q]
                fill[j, 0], fill[j, 4], cut[j, 4] = pieces[j, 0], 0.0, 0.0
                for q in range(1, 4):
                    fill[j, q] = -pieces[j, 4 - q]
            counts[0], counts[1], counts[2], own[0], own[1] = count, count, 0, count, count
            cut, fill, cones = bank_pieces(ground, bank, poses[i], low, high, far, polygon, cut, fill, cones, counts)
            if not math.isnan(given):
                level = given
                break
            bottom, top = max(least, reach_least), min(most, reach_most)
            if rule[MOST_SHORT] < np.inf:
                top = min(
                    top,
                    balance(
                        cut, fill, cones, counts, own, slopes, low, high, rule[KEEP],
                        rule[AT_HAND] + rule[MOST_SHORT], totals,
                    ),
                )  # fmt: skip
            if rule[MOST_OVER] < np.inf:
                bottom = max(
                    bottom,
                    balance(
                        cut, fill, cones, counts, own, slopes, low, high, rule[KEEP],
                        rule[AT_HAND] - rule[KEEP] * rule[MOST_OVER], totals,
                    ),
                )  # fmt: skip
            level = goal_level(cut, fill, cones, counts, own, slopes, low, high, rule, totals)
            hard_low, hard_high = max(least, reach_least), min(most, reach_most)
            level = min(max(min(max(level, bottom), top), hard_low), hard_high)
            down = level <= low and low > hard_low
            up = level >= high and high < hard_high
            if not (down or up) or high - low > 4.0 * (1.0 + ends[1] - ends[0]):
                if turf > 0.0 and low <= level <= high:
                    left, right = max(bottom, low), min(top, high)
                    if left < right:
                        level = with_turf(
                            cut, fill, cones, counts, own, slopes, left, right, min(max(level, left), right), rule,
                            turf, totals,
                        )  # fmt: skip
                break
            span = max(high - low, LEAST_SPAN)
            low = max(low - span, hard_low) if down else low
            high = min(high + span, hard_high) if up else high
        if status[i] == WIDER:
            continue
        if reach_least > result[i, 9] + strip or reach_most < result[i, 10] + strip:
            result[i, 9], result[i, 10] = max(least, reach_least) - strip, min(most, reach_most) - strip
        if not math.isnan(given):
            if given < least - EDGE or given > most + EDGE:
                status[i] = OUTSIDE_LIMITS
            elif given < reach_least - EDGE or given > reach_most + EDGE:
                status[i] = NO_ROOM
        elif max(least, reach_least) > min(most, reach_most) + EDGE:
            status[i] = NO_ROOM
            continue
        if not low - EDGE <= level <= high + EDGE:
            status[i] = LIMITS_CROSS
            continue
        if turns_up_again(cut, fill, cones, counts, own, slopes, level) and status[i] == ALLOWED:
            status[i] = TOO_STEEP
        totals_at(cut, fill, cones, counts, own, slopes, level, totals)
        result[i, 0], result[i, 1], result[i, 2] = level - strip, totals[0], totals[2]
        result[i, 11], result[i, 12] = totals[4], totals[5]
