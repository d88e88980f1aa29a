"""Compiled: the exact value of one pose, found without sorting all cells under the pad.

The cost is convex in the level. Each look at a level gives its value and its slope there, and so a straight line that
the cost does not fall below; the lowest point lies between the last level where the cost still falls and the first
where it does not, and is no lower than where their two lines meet. When few cells are left between the two, these are
put in order and gone through one by one.
"""

from __future__ import annotations

import math

from spadework.earthwork._compile import compiled_part
from spadework.placement.raster_tables import MaskTables
from spadework.readings import FloatArray

__all__ = ["CHUNK", "SURE", "value_of"]

SURE = 1.0 + 1e-9
"""Bounds are rounded: they must exceed by this to rule out."""
FEW = 24
"""So few cells between two levels are put in order; after so many looks the rest is."""
LOOKS = 12
CHUNK = 8
"""Levels copied at once: so many columns are needed beyond a tile's last, and so many places beyond a pad's cells."""


@compiled_part
def _cost_at(  # noqa: PLR0917 -- plain numbers
    total: float, n: int, level: float, cut: float, above: int, cost: FloatArray
) -> tuple[float, float]:
    """Return the cost at a level and its slope just above it, from the cut there and the number of cells above."""
    fill = cut - (total - n * level)
    one, two = cost[0] * cut + cost[1] * fill, cost[2] * cut + cost[3] * fill
    slope_one = cost[1] * (n - above) - cost[0] * above
    slope_two = cost[3] * (n - above) - cost[2] * above
    if one > two or (one == two and slope_one > slope_two):
        return one, slope_one
    return two, slope_two


@compiled_part
def _gather(level, i, j, under: MaskTables, s, room):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Put the levels under a pose into ``room``, run by run; return their sum, the lowest and the highest.

    Whole chunks are copied, the quickest way; what is too much at a run's end is overwritten by the next run.
    """
    t = 0
    for r in range(under.run_start[s], under.run_start[s + 1]):
        first, past = j + under.run_first[r], j + under.run_past[r]
        row = level[i + under.run_row[r]]
        for q in range(first, past, CHUNK):
            here, there = row[q : q + CHUNK], room[t + q - first : t + q - first + CHUNK]
            for c in range(CHUNK):
                there[c] = here[c]
        t += past - first
    total, low, high = 0, room[0], room[0]
    for q in range(t):
        total += room[q]
        low, high = min(low, room[q]), max(high, room[q])
    return total, low, high


@compiled_part
def _cut_above(room, n: int, level):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
    """Return the cut at a level and how many cells lie above it."""
    cut, above = 0, 0
    for t in range(n):
        cut += max(room[t] - level, 0)
        above += room[t] > level
    return cut, above


@compiled_part
def _bracket(room, n, total, low, high, cost: FloatArray, most):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Return two levels with the first lowest point of the cost between them, and what it costs at least.

    Stops as soon as that is over ``most``.
    """
    down, up = low, high
    down_value, down_slope = cost[0] * (total - n * low), -cost[0] * n
    other = cost[2] * (total - n * low)
    if other > down_value:
        down_value, down_slope = other, -cost[2] * n
    up_value, up_slope = cost[1] * (n * high - total), cost[1] * n
    other = cost[3] * (n * high - total)
    if other > up_value:
        up_value, up_slope = other, cost[3] * n
    at, more_above, fewer_above, least = total // n, n, 0, 0.0
    for look in range(LOOKS):
        cut, above = _cut_above(room, n, at)
        value, slope = _cost_at(total, n, at, cut, above, cost)
        if slope < 0:
            down, down_value, down_slope, more_above = at, value, slope, above
        else:
            up, up_value, up_slope, fewer_above = at, value, slope, above
        steep = up_slope - down_slope
        if steep <= 0.0:
            break
        meet = (down_value - up_value + up_slope * (up - down)) / steep
        least = max(least, down_value + down_slope * meet)
        if least > most or more_above - fewer_above <= FEW or up - down <= 1:
            break
        # Every third look halves: two lines may close in from one side only.
        at = (down + up) // 2 if look % 3 == 2 else down + int(meet)
        at = min(max(at, down + 1), up - 1)
    return down, up, least


@compiled_part
def _best_level(room, n, total, down, up, between, cost: FloatArray) -> tuple[float, float]:  # type: ignore[no-untyped-def]  # noqa: ANN001, PLR0917
    """Return the least value over all levels, in steps, and its level, given two levels that hold it between them.

    Between two neighbouring cells in order of level both sums are straight lines: the lowest point lies at a cell or
    where the two lines cross.
    """
    first = last = room[0]
    found_first = found_last = False
    for t in range(n):
        here = room[t]
        if here <= down and (not found_first or here > first):
            first, found_first = here, True
        if here >= up and (not found_last or here < last):
            last, found_last = here, True
    before, below, m = 0, 0, 0
    for t in range(n):
        here = room[t]
        if here < first:
            before += 1
            below += here
        elif here <= last:
            between[m] = here
            m += 1
    between[:m].sort()
    best, best_at = math.inf, 0.0
    for q in range(m):
        t, here = before + q, float(between[q])
        cut = (total - below) - (n - t) * here
        fill = t * here - below
        one, two = cost[0] * cut + cost[1] * fill, cost[2] * cut + cost[3] * fill
        value = max(one, two)
        if value < best:
            best, best_at = value, here
        elif value > best:
            break
        below += between[q]
        if q + 1 < m:
            slope_one = cost[1] * (t + 1) - cost[0] * (n - t - 1)
            slope_two = cost[3] * (t + 1) - cost[2] * (n - t - 1)
            if slope_one != slope_two:
                rise = (two - one) / (slope_one - slope_two)
                if 0.0 < rise < between[q + 1] - here:
                    value = one + slope_one * rise
                    if value < best:
                        best, best_at = value, here + rise
    return best, best_at


@compiled_part
def _held(room, n, best, best_at, least, most, cost: FloatArray) -> tuple[float, float]:  # type: ignore[no-untyped-def]  # noqa: ANN001, PLR0917
    """Return value and level moved into the range of levels that the limits leave; infinite where they leave none."""
    if least > most:
        return math.inf, 0.0
    if least <= best_at <= most:
        return best, best_at
    at = least if best_at < least else most
    cut = fill = 0.0
    for t in range(n):
        gap = room[t] - at
        cut += max(gap, 0.0)
        fill += max(-gap, 0.0)
    short = max(fill - cost[8] * cut, 0.0)
    if cost[9] == 0.0 and short > 1e-6:
        return math.inf, 0.0
    over = max(cut - fill / cost[8], 0.0)
    return cost[4] * cut + cost[5] * fill + cost[6] * over + cost[7] * short, at


@compiled_part
def value_of(level, i, j, under: MaskTables, s, cost, limits, most, room):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN201, PLR0917
    """Return the exact value of a pose [m³] and its level [steps]; infinite where a bound puts it over ``most``.

    ``room`` has two rows for the levels under the pad, and for those of them that are put in order.
    """
    start = under.cell_start[s]
    n, scale = under.cell_start[s + 1] - start, under.scale[s]
    total, low, high = _gather(level, i, j, under, s, room[0])
    if high - low > limits[2]:
        return math.inf, 0.0
    down, up, least = _bracket(room[0], n, total, low, high, cost, most * SURE / scale)
    if least * scale > most * SURE:
        return math.inf, 0.0
    if limits[3] < math.inf:
        east = north = 0.0
        for t in range(n):
            east += under.slope_east[start + t] * room[0, t]
            north += under.slope_north[start + t] * room[0, t]
        if math.hypot(east, north) > limits[3]:
            return math.inf, 0.0
    found, at = _best_level(room[0], n, total, down, up, room[1], cost)
    found, at = _held(room[0], n, found, at, high - limits[0], low + limits[1], cost)
    return found * scale, at
