"""The value of ground at its best level as a weighted sum of the ground: compiled, plain arrays.

The weights are those of duality: of all weights between minus that of fill and that of cut, with the sum that the level
asks for, they give the greatest sum, which is the value. On any other ground the same weights give no more than its
value. The kept machine code of `bound_kernel` holds a copy of these functions, and does not notice when only this file
changes: empty ``__pycache__`` then.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.readings import FloatArray

__all__ = ["dual_value"]

CUT, FILL, KEEP, LEAST_TRADE, MOST_TRADE, BOUGHT, KIND, LEVEL, GOAL_TRADE, LACK = 0, 1, 2, 3, 4, 5, 6, 7, 8, 9
RESERVE, WALL, RISE, LOWEST, HIGHEST, CUT_DEPTH, FILL_DEPTH, EXPOSED = 10, 11, 12, 13, 14, 15, 16, 17
OVER_TRADE, MOST_OVER = 18, 19


@compiled_inner
def _above(pieces: FloatArray, count: int, level: float) -> tuple[float, float, float]:
    """Return the volume above a level, the area above it, and the area at it."""
    volume, over, flat = 0.0, 0.0, 0.0
    for i in range(count):
        d0, d1, d2 = pieces[i, 3] - level, pieces[i, 6] - level, pieces[i, 9] - level
        area = pieces[i, 0]
        if d0 <= 0.0:
            if d2 >= 0.0:
                flat += area
        elif d2 >= 0.0:
            volume += area * (d0 + d1 + d2) / 3.0
            over += area
        elif d1 <= 0.0:
            tip = area * (d0 / (d0 - d1)) * (d0 / (d0 - d2))
            volume += tip * d0 / 3.0
            over += tip
        else:
            below = area * (d2 / (d2 - d0)) * (d2 / (d2 - d1))
            volume += area * (d0 + d1 + d2) / 3.0 - below * d2 / 3.0
            over += area - below
    return volume, over, flat


@compiled_inner
def _balanced(pieces: FloatArray, count: int, keep: float, had: float, total: float, volume: float) -> float:
    """Return the level at which ``keep cut + had = fill``, near enough: any level gives a bound."""
    level: float = (volume + had) / total
    if keep == 1.0:
        return level
    low, high = np.inf, level
    for i in range(count):
        low, high = min(low, pieces[i, 9]), max(high, pieces[i, 3])
    for _ in range(60):
        cut, over, _flat = _above(pieces, count, level)
        excess = keep * cut + had - (cut - (volume - total * level))
        if excess > 0.0:
            low = level
        else:
            high = level
        step = level + excess / (keep * over + (total - over))
        if not low < step < high:
            step = 0.5 * (low + high)
        moved = abs(step - level)
        level = step
        if moved <= 1e-12:
            break
    return level


@compiled_inner
def _with_share_above(pieces: FloatArray, count: int, share: float, total: float) -> float:
    """Return the level with about a share of the area above it: any level gives a bound."""
    low, high = np.inf, -np.inf
    for i in range(count):
        low, high = min(low, pieces[i, 9]), max(high, pieces[i, 3])
    wanted = share * total
    more, less = total - wanted, -wanted
    level = 0.5 * (low + high)
    for turn in range(60):
        _volume, over, flat = _above(pieces, count, level)
        excess = over - wanted
        if excess <= 1e-7 * total and excess + flat >= -1e-7 * total:
            break
        if excess > 0.0:
            low, more = level, excess
        else:
            high, less = level, excess + flat
        level = 0.5 * (low + high)
        if turn % 3 != 2 and more > less:
            level = low + (high - low) * more / (more - less)
        if not low < level < high:
            break
    return level


@compiled_inner
def _free_level(
    pieces: FloatArray, count: int, rule: FloatArray, total: float, volume: float, middle: float
) -> tuple[float, float, float, float, float]:
    """Return the level of least value, the trades on its two sides, and the slopes of the edge on its two sides.

    The slope of the value in the level jumps at the level below which too much soil is over, at that of balance, at the
    one beyond which too much is short, and at the middle of the edge: the first of them at which it is no longer below
    nothing is the level, or a level before it.
    """
    trade, wall = rule[MOST_TRADE], -rule[WALL]
    spilling, lacking, balance = np.inf, np.inf, np.inf
    if rule[OVER_TRADE] < trade:
        spilling = _balanced(pieces, count, rule[KEEP], rule[RESERVE] - rule[MOST_OVER], total, volume)
    if rule[LEAST_TRADE] < rule[GOAL_TRADE]:
        lacking = _balanced(pieces, count, rule[KEEP], rule[RESERVE] + rule[BOUGHT], total, volume)
    if rule[GOAL_TRADE] < rule[OVER_TRADE]:
        balance = lacking
        if lacking == np.inf or rule[BOUGHT] > 0.0:
            balance = _balanced(pieces, count, rule[KEEP], rule[RESERVE], total, volume)
    if rule[WALL] == 0.0:
        middle = np.inf
    last = np.nan
    for _ in range(4):
        kink = min(spilling, balance, lacking, middle)
        if kink == np.inf:
            break
        after, wall_after = trade, wall
        if kink == spilling:
            after, spilling = rule[OVER_TRADE], np.inf
        if kink == balance:
            after, balance = rule[GOAL_TRADE], np.inf
        if kink == lacking:
            after, lacking = rule[LEAST_TRADE], np.inf
        if kink == middle:
            wall_after, middle = rule[WALL], np.inf
        _cut, over, flat = _above(pieces, count, kink)
        under = total - over - flat
        if after > -np.inf:
            slope = (rule[FILL] - after) * (under + flat) - (rule[CUT] + rule[KEEP] * after) * over + wall_after
            if slope < 0.0:
                trade, wall, last = after, wall_after, kink
                continue
        slope = (rule[FILL] - trade) * under - (rule[CUT] + rule[KEEP] * trade) * (over + flat) + wall
        if slope <= 0.0:
            return kink, trade, after, wall, wall_after
        last = kink
        break
    both = rule[CUT] + rule[KEEP] * trade + rule[FILL] - trade
    if both <= 0.0:
        return (volume / total if math.isnan(last) else last), trade, trade, wall, wall
    share = min(max((rule[FILL] - trade + wall / total) / both, 0.0), 1.0)
    return _with_share_above(pieces, count, share, total), trade, trade, wall, wall


@compiled_inner
def dual_value(
    pieces: FloatArray,
    count: int,
    rule: FloatArray,
    low: float,
    high: float,
    edge_high: float,
    edge_low: float,
    sums: FloatArray,
) -> float:
    """Return the value of the ground of the pieces by itself at its best level, and the weights that it rests on.

    The level lies from ``low`` to ``high``, which are the same where it is given. ``sums`` gets: weight of cut, weight
    of fill (less than zero where fill lowers the value), the level, the integral of the weights times the slope along u
    and along v, the moment for the bearing, the moments of the weights in u and v, the greatest size of a weight, the
    integral of the weights, how the value rises with the level where a limit holds it, and the weights of the highest
    and the lowest ground along the edge; the weights above, below and at the level; the
    integral of the weights times the rise away from the pad's origin.
    """
    total, volume = 0.0, 0.0
    for i in range(count):
        total += pieces[i, 0]
        volume += pieces[i, 0] * (pieces[i, 3] + pieces[i, 6] + pieces[i, 9]) / 3.0
    keep = rule[KEEP]
    middle = 0.5 * (edge_high + edge_low) - rule[RISE]
    level, before, after, wall_before, wall_after = low, 0.0, 0.0, 0.0, 0.0
    held = low == high
    if not held:
        level, before, after, wall_before, wall_after = _free_level(pieces, count, rule, total, volume, middle)
        held = level < low or level > high
        level = min(max(level, low), high)
    cut, over, flat = _above(pieces, count, level)
    under = total - over - flat
    if held:
        spare = keep * cut + rule[RESERVE] - (cut - (volume - total * level))
        before = rule[OVER_TRADE] if spare > 0.0 else rule[GOAL_TRADE]
        if spare > rule[MOST_OVER] and rule[OVER_TRADE] < rule[MOST_TRADE]:
            before = min(before + rule[LACK], rule[MOST_TRADE])
        if spare < -rule[BOUGHT] and rule[LEAST_TRADE] < rule[GOAL_TRADE]:
            before -= rule[LACK]
        wall_before = rule[WALL] if level > middle else -rule[WALL]
        after, wall_after = before, wall_before
    over_half, under_half = over + 0.5 * flat, under + 0.5 * flat
    trade, wall = before, wall_before
    if after < before:
        trade = rule[FILL] * under_half - rule[CUT] * over_half + 0.5 * (wall_before + wall_after)
        trade = min(max(trade / (keep * over_half + under_half), after), before)
    cut_weight, fill_weight = rule[CUT] + keep * trade, rule[FILL] - trade
    if wall_before < wall_after:
        wall = min(max(cut_weight * over_half - fill_weight * under_half, wall_before), wall_after)
    up, down, tie = cut_weight, -fill_weight, 0.0
    rises = -(up * over + down * under) + wall
    if held and low < high:
        held = rises > 0.0 if level == low else rises < 0.0
    if not held:
        # The weights must sum to that of the edge, for the level is free: first by what lies at the level, then by the
        # heavier side.
        rest = -rises
        if flat > 0.0:
            tie = min(max(-rest / flat, -fill_weight), cut_weight)
            rest += tie * flat
        if rest > 0.0:
            gain = up * over + max(tie, 0.0) * flat
            share = 1.0 - rest / gain if gain > 0.0 else 1.0
            up, tie = up * share, tie * share if tie > 0.0 else tie
        elif rest < 0.0:
            gain = -(down * under + min(tie, 0.0) * flat)
            share = 1.0 + rest / gain if gain > 0.0 else 1.0
            down, tie = down * share, tie * share if tie < 0.0 else tie
        if min(up, -down) < 0.0 and cut_weight >= 0.0 and fill_weight >= 0.0:
            up, down, tie, wall = 0.0, 0.0, 0.0, min(max(0.0, -rule[WALL]), rule[WALL])
    sums[0], sums[1], sums[2] = cut_weight, fill_weight, level
    for j in range(3, 10):
        sums[j] = 0.0
    sums[16] = 0.0
    value = _weighted(pieces, count, level, up, down, tie, sums)
    sums[13], sums[14], sums[15] = up, down, tie
    sums[8] = max(abs(cut_weight), abs(fill_weight))
    sums[10] = -sums[9] + wall if held else 0.0
    sums[11], sums[12] = 0.5 * (rule[WALL] - wall), -0.5 * (rule[WALL] + wall)
    if rule[WALL] > 0.0:
        finish = level + rule[RISE]
        value += sums[11] * (edge_high - finish) + sums[12] * (edge_low - finish)
    # What is there besides the cut counts wherever the pad is put: the weights stay, the value shifts.
    value += trade * rule[RESERVE]
    if trade < rule[GOAL_TRADE]:
        # Below it, the trade stands for the limit on soil bought, which has its own share.
        value -= (rule[GOAL_TRADE] - trade) * rule[BOUGHT]
    if trade > rule[OVER_TRADE]:
        # Above it, for the limit on soil carted away.
        value -= (trade - rule[OVER_TRADE]) * rule[MOST_OVER]
    return float(value)


@compiled_inner
def _weighted(
    pieces: FloatArray, count: int, level: float, up: float, down: float, tie: float, sums: FloatArray
) -> float:
    """Return the integral of the weights times the height above a level; add up slopes, moments and weights."""
    value = 0.0
    for i in range(count):
        d0, d1, d2 = pieces[i, 3] - level, pieces[i, 6] - level, pieces[i, 9] - level
        area = pieces[i, 0]
        middle_u = (pieces[i, 1] + pieces[i, 4] + pieces[i, 7]) / 3.0
        middle_v = (pieces[i, 2] + pieces[i, 5] + pieces[i, 8]) / 3.0
        whole = area * (d0 + d1 + d2) / 3.0
        if d0 <= 0.0:
            weight = tie if d2 >= 0.0 else down
            value += weight * whole
            mass, mu, mv = weight * area, weight * area * middle_u, weight * area * middle_v
        elif d2 >= 0.0:
            value += up * whole
            mass, mu, mv = up * area, up * area * middle_u, up * area * middle_v
        else:
            one = 0 if d1 <= 0.0 else 2
            apex = d0 if one == 0 else d2
            first = d1
            last = d2 if one == 0 else d0
            t, r = apex / (apex - first), apex / (apex - last)
            tip = area * t * r
            far = 7 if one == 0 else 1
            at = 3 * one + 1
            tip_u = pieces[i, at] + (t * (pieces[i, 4] - pieces[i, at]) + r * (pieces[i, far] - pieces[i, at])) / 3.0
            tip_v = (
                pieces[i, at + 1]
                + (t * (pieces[i, 5] - pieces[i, at + 1]) + r * (pieces[i, far + 1] - pieces[i, at + 1])) / 3.0
            )
            tip_weight, weight = (up, down) if one == 0 else (down, up)
            value += tip_weight * tip * apex / 3.0 + weight * (whole - tip * apex / 3.0)
            mass = weight * area + (tip_weight - weight) * tip
            mu = weight * area * middle_u + (tip_weight - weight) * tip * tip_u
            mv = weight * area * middle_v + (tip_weight - weight) * tip * tip_v
        sums[3] += mass * pieces[i, 10]
        sums[4] += mass * pieces[i, 11]
        sums[5] += pieces[i, 11] * mu - pieces[i, 10] * mv
        sums[16] += pieces[i, 10] * mu + pieces[i, 11] * mv
        sums[6] += mu
        sums[7] += mv
        sums[9] += mass
    return value
