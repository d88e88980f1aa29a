"""The value of ground at its best level as a weighted sum of the ground: compiled, plain arrays.

The weights are those of duality: of all weights between minus that of fill and that of cut, with the sum that the level
asks for, they give the greatest sum, which is the value. On any other ground the same weights give no more than its
value. The kept machine code of `bound_kernel` holds a copy of these functions, and does not notice when only this file
changes: empty ``__pycache__`` then.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import numpy as np

from spadework.earthwork._compile import compiled
from spadework.readings import FloatArray

__all__ = ["dual_value"]

CUT, FILL, KEEP, LEAST_TRADE, MOST_TRADE, BOUGHT, FIXED, LEVEL, RESERVE = 0, 1, 2, 3, 4, 5, 6, 7, 10


@compiled
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


@compiled
def _balanced(pieces: FloatArray, count: int, keep: float, bought: float, total: float, volume: float) -> float:
    """Return the level at which ``keep cut + bought = fill``, near enough: any level gives a bound."""
    level: float = (volume + bought) / total
    if keep == 1.0:
        return level
    low, high = np.inf, level
    for i in range(count):
        low, high = min(low, pieces[i, 9]), max(high, pieces[i, 3])
    for _ in range(60):
        cut, over, _flat = _above(pieces, count, level)
        excess = keep * cut + bought - (cut - (volume - total * level))
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


@compiled
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


@compiled
def dual_value(pieces: FloatArray, count: int, rule: FloatArray, sums: FloatArray) -> float:
    """Return the value of the ground of the pieces by itself at its best level, and the weights that it rests on.

    ``sums`` gets: weight of cut, weight of fill (less than zero where fill lowers the value), the level, the integral
    of the weights times the slope along u and along v, the moment for the bearing, the moments of the weights in u and
    v, the greatest size of a weight, and the integral of the weights.
    """
    total, volume = 0.0, 0.0
    for i in range(count):
        total += pieces[i, 0]
        volume += pieces[i, 0] * (pieces[i, 3] + pieces[i, 6] + pieces[i, 9]) / 3.0
    keep, fixed = rule[KEEP], rule[FIXED] > 0.0
    had = rule[BOUGHT] + rule[RESERVE]
    level = rule[LEVEL] if fixed else _balanced(pieces, count, keep, had, total, volume)
    cut, over, flat = _above(pieces, count, level)
    under = total - over - flat
    least, most = rule[LEAST_TRADE], rule[MOST_TRADE]
    if fixed:
        fill = cut - (volume - total * level)
        trade = most if keep * cut + rule[RESERVE] > fill else least
        if fill > keep * cut + had:
            least -= rule[9]
            trade = least
    else:
        half = 0.5 * flat
        trade = (rule[FILL] * (under + half) - rule[CUT] * (over + half)) / (keep * (over + half) + under + half)
    bounded = min(max(trade, least), most)
    cut_weight, fill_weight = rule[CUT] + keep * bounded, rule[FILL] - bounded
    tie = 0.0
    up, down = cut_weight, -fill_weight
    if not fixed:
        if bounded != trade:
            level = _with_share_above(pieces, count, fill_weight / (cut_weight + fill_weight), total)
            cut, over, flat = _above(pieces, count, level)
            under = total - over - flat
        # The weights must sum to nothing, for the level is free: first by what lies at the level, then by the heavier.
        rest = up * over + down * under
        if flat > 0.0:
            tie = min(max(-rest / flat, -fill_weight), cut_weight)
            rest += tie * flat
        if rest > 0.0:
            gain = up * over + max(tie, 0.0) * flat
            share = 1.0 - rest / gain
            up, tie = up * share, tie * share if tie > 0.0 else tie
        elif rest < 0.0:
            gain = -(down * under + min(tie, 0.0) * flat)
            share = 1.0 + rest / gain
            down, tie = down * share, tie * share if tie < 0.0 else tie
    sums[0], sums[1], sums[2] = cut_weight, fill_weight, level
    for j in range(3, 10):
        sums[j] = 0.0
    value: float = 0.0
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
        sums[6] += mu
        sums[7] += mv
        sums[9] += mass
    sums[8] = max(abs(cut_weight), abs(fill_weight))
    # What is there besides the cut counts wherever the pad is put: the weights stay, the value shifts.
    value += bounded * rule[RESERVE]
    if bounded < rule[8]:
        # Below it, the trade stands for the limit on soil bought, which has its own share.
        value -= (rule[8] - bounded) * rule[BOUGHT]
    return float(value)
