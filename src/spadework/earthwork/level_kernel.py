"""The level problem on the pieces of ground under one pad: volumes above a level, and the level that a rule asks for.

Plain arrays, no checks. A piece is one row: plan area and three heights, the highest first. A summary is area, integral
of height, lowest and highest ground, lowest and highest ground along the outline. Compiled code that is kept knows its
own file only: empty ``__pycache__`` after a change here, for `kernel` holds a copy.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner, compiled_part
from spadework.readings import FloatArray

__all__ = ["above_level", "balance_level", "goal_level", "share_level"]

EXACT = 4e-16
"""Relative step below which a root is at rounding."""

SAME_SHARE = 1e-13
"""Shares of the pad's area that differ by less are the same share."""

KEEP, CUT, FILL, OVER, SHORT, WALL, MOST_SHORT, AT_HAND, MOST_OVER = 0, 2, 3, 12, 13, 14, 15, 16, 17
"""Places in the numbers of a `LevelRule`."""


@compiled_inner
def above_level(pieces: FloatArray, count: int, level: float) -> tuple[float, float, float]:
    """Return the volume above a level, the area above it, and the area above it or at it.

    With ``d0 >= d1 >= d2`` above the level and ``A`` the area of a piece: all above, ``A (d0 + d1 + d2) / 3``; one
    above, ``A t1 t2 d0 / 3`` over the area ``A t1 t2``, ``t = d0 / (d0 - d)``; two, the whole plus what is below.
    """
    volume, over, level_too = 0.0, 0.0, 0.0
    for i in range(count):
        d0 = pieces[i, 1] - level
        if d0 < 0.0:
            continue
        area = pieces[i, 0]
        d1, d2 = pieces[i, 2] - level, pieces[i, 3] - level
        if d2 >= 0.0:
            volume += area * ((d0 + d1 + d2) / 3.0)
            level_too += area
            if d0 > 0.0:
                over += area
        elif d0 > 0.0:
            if d1 <= 0.0:
                tip = area * (d0 / (d0 - d1)) * (d0 / (d0 - d2))
                volume += tip * d0 / 3.0
            else:
                below = area * (d2 / (d2 - d0)) * (d2 / (d2 - d1))
                volume += area * ((d0 + d1 + d2) / 3.0) - below * d2 / 3.0
                tip = area - below
            over += tip
            level_too += tip
    return volume, over, level_too


@compiled_inner
def balance_level(pieces: FloatArray, count: int, keep: float, bought: float, summary: FloatArray) -> float:
    """Return the level at which ``keep`` times the cut, and what is bought, is the fill.

    ``g(h) = k cut(h) + b - fill(h)`` falls with slope ``-(k A_above + A_below)``: Newton's steps on the exact function,
    held between brackets, down to rounding.
    """
    total, volume = summary[0], summary[1]
    level: float = (volume + bought) / total
    if keep == 1.0:
        return level
    # With less soil than is dug counted the level may lie below all ground, where there is no fill.
    low, high = min(summary[2], (volume + bought / keep) / total), max(summary[3], level)
    level = min(max(level, low), high)
    for _ in range(200):
        cut, over, _at = above_level(pieces, count, level)
        fill = cut - (volume - total * level)
        excess = keep * cut + bought - fill
        if excess == 0.0:
            break
        if excess > 0.0:
            low = level
        else:
            high = level
        slope = keep * over + (total - over)
        step = level + excess / slope if slope > 0.0 else low
        if not low < step < high:
            step = 0.5 * (low + high)
        moved = abs(step - level)
        level = step
        if moved <= EXACT * max(abs(low), abs(high)):
            break
    return level


@compiled_inner
def _vertex_near(pieces: FloatArray, count: int, low: float, high: float, wanted: float) -> float:
    """Return the height of a corner strictly between two levels, the nearest to ``wanted``; NaN if there is none."""
    best, gap = np.nan, np.inf
    for i in range(count):
        for j in range(1, 4):
            z: float = pieces[i, j]
            if low < z < high and abs(z - wanted) < gap:
                best, gap = z, abs(z - wanted)
    return best


@compiled_inner
def share_level(pieces: FloatArray, count: int, over: float, summary: FloatArray) -> float:
    """Return the level above which the ground covers the area ``over``; the middle where a range of levels does.

    The area above a level falls with it, by jumps at level pieces, and between two neighbouring corner heights it is a
    quadratic. The bracket closes from corner height to corner height until none is left inside; the quadratic through
    its ends and middle then gives the level in closed form.
    """
    total = summary[0]
    same = SAME_SHARE * total
    low: float = summary[2]
    high: float = summary[3]
    if low == high:
        return low
    area_low, area_high = total, 0.0
    for step in range(3 * count + 3):
        if step == 0:
            level = low
        elif step == 1:
            level = high
        else:
            guess = 0.5 * (low + high)
            if step % 3 != 0 and area_low > area_high:
                guess = low + (high - low) * (area_low - over) / (area_low - area_high)
            level = _vertex_near(pieces, count, low, high, guess)
            if math.isnan(level):
                break
        _volume, strictly, too = above_level(pieces, count, level)
        if strictly > over + same:
            low, area_low = level, strictly
        elif too < over - same:
            high, area_high = level, too
        else:
            return _middle_of_flat(pieces, count, over, same, level)
    _volume, middle, _too = above_level(pieces, count, 0.5 * (low + high))
    bend = 2.0 * (area_low - 2.0 * middle + area_high)
    fall = area_high - area_low - bend
    missing = area_low - over
    root = math.sqrt(max(fall * fall - 4.0 * bend * missing, 0.0))
    share = 2.0 * missing / (root - fall) if root > fall else 0.5
    return low + min(max(share, 0.0), 1.0) * (high - low)


@compiled_inner
def _middle_of_flat(pieces: FloatArray, count: int, over: float, same: float, level: float) -> float:
    """Return the middle of the levels around ``level`` that have the same area above them."""
    upper = _vertex_near(pieces, count, level, np.inf, level)
    lower = _vertex_near(pieces, count, -np.inf, level, level)
    if not math.isnan(upper) and above_level(pieces, count, upper)[2] >= over - same:
        return 0.5 * (level + upper)
    if not math.isnan(lower) and above_level(pieces, count, lower)[1] <= over + same:
        return 0.5 * (lower + level)
    return level


@compiled_inner
def _worth(pieces: FloatArray, count: int, rule: FloatArray, summary: FloatArray, rise: float, level: float) -> float:
    """Return the value of a goal at a level."""
    cut, _over, _too = above_level(pieces, count, level)
    fill = max(cut - (summary[1] - summary[0] * level), 0.0)
    spare = rule[KEEP] * cut + rule[AT_HAND] - fill
    soil = rule[OVER] * max(spare, 0.0) / rule[KEEP] + rule[SHORT] * max(-spare, 0.0)
    wall = max(summary[5] - level - rise, level + rise - summary[4])
    value: float = rule[CUT] * cut + rule[FILL] * fill + soil + rule[WALL] * wall
    return value


@compiled_inner
def _slopes(rule: FloatArray, below_balance: bool, below_middle: bool) -> tuple[float, float, float]:
    """Return ``a, b, c``: between two kinks the value rises with the level by ``b A_below - a A_above + c``."""
    wall = -rule[WALL] if below_middle else rule[WALL]
    if below_balance:
        return rule[CUT] + rule[OVER], rule[FILL] - rule[OVER] / rule[KEEP], wall
    return rule[CUT] - rule[KEEP] * rule[SHORT], rule[FILL] + rule[SHORT], wall


@compiled_part
def goal_level(
    pieces: FloatArray, count: int, rule: FloatArray, summary: FloatArray, rise: float, least: float, most: float
) -> float:
    """Return the level of least value of a goal between two levels, all of them levels of unstripped ground.

    The value has kinks where the soil balances and where the edge is retained as high above as below; between them it
    rises by ``b A_below - a A_above + c``. Where ``a + b >= 0`` throughout it is convex: the kink or the one stretch in
    which its slope changes sign is the answer. Elsewhere every kink and every level of no slope is tried.
    ``rise`` is that from a level to the finish.
    """
    total = summary[0]
    top = most
    if rule[MOST_SHORT] < np.inf:
        top = min(most, balance_level(pieces, count, rule[KEEP], rule[AT_HAND] + rule[MOST_SHORT], summary))
    bottom = least
    if rule[MOST_OVER] < np.inf:
        bottom = max(
            least, balance_level(pieces, count, rule[KEEP], rule[AT_HAND] - rule[KEEP] * rule[MOST_OVER], summary)
        )
    kinks, kinds = np.empty(3), np.zeros(3)
    made = 0
    balance, middle = np.inf, np.inf
    if rule[OVER] > 0.0 or rule[SHORT] > 0.0:
        balance = balance_level(pieces, count, rule[KEEP], rule[AT_HAND], summary)
        kinks[made], kinds[made] = balance, 0.0
        made += 1
    if rule[WALL] > 0.0:
        middle = 0.5 * (summary[4] + summary[5]) - rise
        kinks[made], kinds[made] = middle, 1.0
        made += 1
    if made == 2 and kinks[1] < kinks[0]:
        kinks[0], kinks[1] = kinks[1], kinks[0]
    convex = True
    for i in range(made + 1):
        low = -np.inf if i == 0 else kinks[i - 1]
        a, b, _c = _slopes(rule, low < balance, low < middle)
        convex &= a + b >= 0.0
    best, found = np.inf, np.nan
    for i in range(made + 1):
        low = -np.inf if i == 0 else kinks[i - 1]
        high = np.inf if i == made else kinks[i]
        a, b, c = _slopes(rule, low < balance, low < middle)
        if convex and i < made:
            right_a, right_b, right_c = _slopes(rule, high < balance, high < middle)
            _volume, strictly, too = above_level(pieces, count, high)
            if right_b * (total - strictly) - right_a * strictly + right_c < 0.0:
                continue
            if b * (total - too) - a * too + c <= 0.0:
                found = high
                break
        level = high if i < made else low
        if b * total + c <= 0.0 and a + b >= 0.0:
            level = high
        elif a + b > 0.0:
            over = min((b * total + c) / (a + b), total)
            level = min(max(share_level(pieces, count, over, summary), low), high)
        if convex:
            found = level
            break
        for one in (level, high if i < made else level):
            tried = min(max(min(max(one, bottom), top), least), most)
            if math.isinf(tried):
                continue
            worth = _worth(pieces, count, rule, summary, rise, tried)
            if worth < best:
                best, found = worth, tried
    return min(max(min(max(found, bottom), top), least), most)
