"""The compiled scan of a strip of a raster: bounds for blocks of positions, exact values where they do not rule out.

Plain arrays, no checks. Levels are whole steps above the lowest of the tile. Sums over runs come from running sums
along rows, whose wrap-around cancels in differences. Everything that a bound rules out costs more than ``most``, or no
less than the best known of its square.
"""

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.placement.raster_tables import MaskTables
from spadework.readings import FloatArray, IntArray

__all__ = ["BLOCK", "coarse_strip", "map_strip", "prepare", "scan_strip"]

BLOCK = 128
"""Columns worked on at once: levels, sums and results of a block stay in the first cache."""
SURE = 1.0 + 1e-9
"""Bounds are rounded: they must exceed by this to rule out."""


@compiled
def prepare(raw, barred, base, level, running, lost, kept_out):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN201, PLR0917 -- plain arrays of several widths
    """Fill a tile's levels above ``base`` and the running sums along rows of levels, cells lost and cells kept out.

    ``lost`` and ``kept_out`` have no rows where the tile has no such cells.
    """
    none = np.int32(-(2**31))
    for i in range(raw.shape[0]):
        running[i, 0] = 0
        for j in range(raw.shape[1]):
            known = raw[i, j] != none
            value = raw[i, j] - base if known else 0
            level[i, j] = value
            running[i, j + 1] = running[i, j] + value
        if lost.shape[0] > 0:
            lost[i, 0] = 0
            for j in range(raw.shape[1]):
                lost[i, j + 1] = lost[i, j] + (1 if raw[i, j] == none else 0)
        if kept_out.shape[0] > 0:
            kept_out[i, 0] = 0
            for j in range(raw.shape[1]):
                kept_out[i, j + 1] = kept_out[i, j] + barred[i, j]


@compiled_part
def _run_sums(running, i, j0, width, tables: MaskTables, s, total):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Fill ``total`` with the sum over the runs of set ``s`` about each position of a block."""
    for j in range(width):
        total[j] = 0
    for r in range(tables.run_start[s], tables.run_start[s + 1]):
        row = running[i + tables.run_row[r]]
        start, past = j0 + tables.run_first[r], j0 + tables.run_past[r]
        before, after = row[start : start + width], row[past : past + width]
        for j in range(width):
            total[j] += after[j] - before[j]


@compiled_part
def _larger_sums(level, i, j0, width, tables: MaskTables, s, at, total):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Fill ``total`` with the sum of the larger of each cell's level and the level ``at`` of the position."""
    for j in range(width):
        total[j] = 0
    t, end = tables.cell_start[s], tables.cell_start[s + 1]
    while t + 4 <= end:
        c0, c1 = j0 + tables.cell_column[t], j0 + tables.cell_column[t + 1]
        c2, c3 = j0 + tables.cell_column[t + 2], j0 + tables.cell_column[t + 3]
        z0 = level[i + tables.cell_row[t], c0 : c0 + width]
        z1 = level[i + tables.cell_row[t + 1], c1 : c1 + width]
        z2 = level[i + tables.cell_row[t + 2], c2 : c2 + width]
        z3 = level[i + tables.cell_row[t + 3], c3 : c3 + width]
        for j in range(width):
            h = at[j]
            total[j] += max(z0[j], h) + max(z1[j], h) + max(z2[j], h) + max(z3[j], h)
        t += 4
    while t < end:
        c0 = j0 + tables.cell_column[t]
        z0 = level[i + tables.cell_row[t], c0 : c0 + width]
        for j in range(width):
            total[j] += max(z0[j], at[j])
        t += 1


@compiled_part
def _above_counts(level, i, j0, width, tables: MaskTables, s, at, count):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Fill ``count`` with the number of cells above the level ``at`` of each position."""
    for j in range(width):
        count[j] = 0
    t, end = tables.cell_start[s], tables.cell_start[s + 1]
    while t + 4 <= end:
        c0, c1 = j0 + tables.cell_column[t], j0 + tables.cell_column[t + 1]
        c2, c3 = j0 + tables.cell_column[t + 2], j0 + tables.cell_column[t + 3]
        z0 = level[i + tables.cell_row[t], c0 : c0 + width]
        z1 = level[i + tables.cell_row[t + 1], c1 : c1 + width]
        z2 = level[i + tables.cell_row[t + 2], c2 : c2 + width]
        z3 = level[i + tables.cell_row[t + 3], c3 : c3 + width]
        for j in range(width):
            h = at[j]
            count[j] += np.int32(z0[j] > h) + np.int32(z1[j] > h) + np.int32(z2[j] > h) + np.int32(z3[j] > h)
        t += 4
    while t < end:
        c0 = j0 + tables.cell_column[t]
        z0 = level[i + tables.cell_row[t], c0 : c0 + width]
        for j in range(width):
            count[j] += np.int32(z0[j] > at[j])
        t += 1


@compiled_part
def _bounds(level, running, i, j0, width, tables: MaskTables, s, work, count, bound):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Fill ``bound`` with what the goal costs at least at each position of a block. [m³]

    At any level the lesser of cut and fill is no more than either at the mean level.
    """
    total, at, larger = work[0], count[0], work[1]
    n = tables.cell_start[s + 1] - tables.cell_start[s]
    _run_sums(running, i, j0, width, tables, s, total)
    per_cell = 1.0 / n
    for j in range(width):
        at[j] = np.int32(total[j] * per_cell)
    _larger_sums(level, i, j0, width, tables, s, at, larger)
    for j in range(width):
        larger[j] -= max(total[j], n * at[j])
    if tables.counted[s] == 1:
        above = count[1]
        _above_counts(level, i, j0, width, tables, s, at, above)
        first = tables.factor_start[s]
        for j in range(width):
            bound[j] = larger[j] * tables.factor[first + above[j]] * tables.scale[s]
    else:
        factor = tables.least_factor[s] * tables.scale[s]
        for j in range(width):
            bound[j] = larger[j] * factor


@compiled_part
def _best_level(sorted_level, n: int, cost: FloatArray, limits: FloatArray) -> tuple[float, float]:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Return the least value over all levels, in steps, and its level; infinite where the limits leave none.

    Between two neighbouring cells in order of level both sums are straight lines: the lowest point lies at a cell or
    where the two lines cross.
    """
    low, high = sorted_level[0], sorted_level[n - 1]
    if high - low > limits[2]:
        return math.inf, 0.0
    whole = 0.0
    for t in range(n):
        whole += sorted_level[t]
    best, best_at, below = math.inf, 0.0, 0.0
    for t in range(n):
        here = float(sorted_level[t])
        cut = (whole - below) - (n - t) * here
        fill = t * here - below
        one, two = cost[0] * cut + cost[1] * fill, cost[2] * cut + cost[3] * fill
        value = max(one, two)
        if value < best:
            best, best_at = value, here
        elif value > best:
            break
        below += here
        if t + 1 < n:
            slope_one = cost[1] * (t + 1) - cost[0] * (n - t - 1)
            slope_two = cost[3] * (t + 1) - cost[2] * (n - t - 1)
            if slope_one != slope_two:
                up = (two - one) / (slope_one - slope_two)
                if 0.0 < up < sorted_level[t + 1] - here:
                    value = one + slope_one * up
                    if value < best:
                        best, best_at = value, here + up
    least, most = high - limits[0], low + limits[1]
    if least > most:
        return math.inf, 0.0
    if least <= best_at <= most:
        return best, best_at
    raised = best_at < least
    best_at = least if raised else most
    cut = fill = 0.0
    for t in range(n):
        gap = sorted_level[t] - best_at
        cut += max(gap, 0.0)
        fill += max(-gap, 0.0)
    short = max(fill - cost[8] * cut, 0.0)
    if cost[9] == 0.0 and short > 1e-6:
        return math.inf, 0.0
    over = max(cut - fill / cost[8], 0.0)
    return cost[4] * cut + cost[5] * fill + cost[6] * over + cost[7] * short, best_at


@compiled_part
def _value(level, i, j, under: MaskTables, s, cost, limits, most, room):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Return the exact value of a pose [m³] and its level [steps]; infinite where a bound puts it over ``most``."""
    start = under.cell_start[s]
    n = under.cell_start[s + 1] - start
    total = 0
    for t in range(n):
        value = level[i + under.cell_row[start + t], j + under.cell_column[start + t]]
        room[t] = value
        total += value
    mean = total // n
    above, cut = 0, 0
    for t in range(n):
        if room[t] > mean:
            above += 1
            cut += room[t] - mean
    at_mean = cut - above * (total / n - mean)
    if at_mean * under.factor[under.factor_start[s] + above] * under.scale[s] > most * SURE:
        return math.inf, 0.0
    if limits[3] < math.inf:
        east = north = 0.0
        for t in range(n):
            east += under.slope_east[start + t] * room[t]
            north += under.slope_north[start + t] * room[t]
        if math.hypot(east, north) > limits[3]:
            return math.inf, 0.0
    room[:n].sort()
    found, at = _best_level(room, n, cost, limits)
    return found * under.scale[s], at


@compiled_part
def _clear(sums, i, j, tables: MaskTables, s):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
    """Tell whether none of the cells of a set about a position is counted in running sums; without rows, none is."""
    if sums.shape[0] == 0:
        return True
    for r in range(tables.run_start[s], tables.run_start[s + 1]):
        row = i + tables.run_row[r]
        if sums[row, j + tables.run_past[r]] != sums[row, j + tables.run_first[r]]:
            return False
    return True


@compiled_part
def _beaten(  # noqa: PLR0917 -- as above
    bound: float, most: float, best: FloatArray, best_row: IntArray, p: int, a: int, b: int
) -> bool:
    """Tell whether a bound rules a position out: over what is wanted or the best of its square, or nothing to gain."""
    return bool(bound > most * SURE or bound > best[a, b] * SURE or (best[a, b] == 0.0 and best_row[a, b] < p))


@compiled
def scan_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- plain arrays of several widths
    level, running, lost, kept_out,  # noqa: ANN001
    under: MaskTables, cores: MaskTables, touched: MaskTables, corners: MaskTables,
    member_start: IntArray, member: IntArray, cost: FloatArray, limits: FloatArray,
    window, halo, side, most, use_core, use_groups,  # noqa: ANN001
    work, count, bound, alive, room,  # noqa: ANN001
    best, best_row, best_column, best_bearing, best_level, floor, tally,  # noqa: ANN001
):  # fmt: skip
    """Find the best pose of each square of positions, if it costs no more than ``most``, in rows and columns of a tile.

    ``window`` is first row, row past the last, column past the last of positions, counted from the first that has its
    halo in the tile. ``floor`` takes what no pose of a square costs less than, so far as the common core tells.
    ``tally`` counts positions with a core bounded and left, groups bounded and left, bearings bounded and left, and
    exact values.
    """
    groups = member_start.shape[0] - 1
    for p in range(window[0], window[1]):
        i = p + halo
        for q0 in range(0, window[2], BLOCK):
            j0, width = q0 + halo, min(BLOCK, window[2] - q0)
            some = width
            for j in range(width):
                alive[0, j] = 1
                bound[0, j] = 0.0
            for sums in (lost, kept_out):
                if sums.shape[0] > 0:
                    _run_sums(sums, i, j0, width, cores, 0, work[0])
                    for j in range(width):
                        if work[0, j] != 0 and alive[0, j] == 1:
                            alive[0, j] = 0
                            some -= 1
            if some == 0:
                continue
            if use_core:
                _bounds(level, running, i, j0, width, cores, 0, work, count, bound[0])
                tally[0] += some
                for j in range(width):
                    if alive[0, j] == 1:
                        square = (q0 + j) // side
                        floor[p // side, square] = min(floor[p // side, square], bound[0, j])
                        if _beaten(bound[0, j], most, best, best_row, p, p // side, square):
                            alive[0, j] = 0
                            some -= 1
                tally[1] += some
                if some == 0:
                    continue
            for g in range(min(1, groups - 1), groups):
                left = some
                for j in range(width):
                    alive[1, j] = alive[0, j]
                if use_groups and g > 0 and cores.cell_start[g + 1] - cores.cell_start[g] > 2:
                    _bounds(level, running, i, j0, width, cores, g, work, count, bound[1])
                    tally[2] += some
                    for j in range(width):
                        if alive[1, j] == 1 and _beaten(
                            bound[1, j], most, best, best_row, p, p // side, (q0 + j) // side
                        ):
                            alive[1, j] = 0
                            left -= 1
                    tally[3] += left
                    if left == 0:
                        continue
                for k in range(member_start[g], member_start[g + 1]):
                    s = member[k]
                    tally[4] += left
                    few = left * 24 <= width
                    if not few:
                        _bounds(level, running, i, j0, width, under, s, work, count, bound[2])
                    for j in range(width):
                        if alive[1, j] == 0:
                            continue
                        a, b = p // side, (q0 + j) // side
                        if _beaten(0.0 if few else bound[2, j], most, best, best_row, p, a, b):
                            continue
                        tally[5] += 1
                        if not (_clear(lost, i, j0 + j, corners, s) and _clear(kept_out, i, j0 + j, touched, s)):
                            continue
                        value, at = _value(level, i, j0 + j, under, s, cost, limits, min(most, best[a, b]), room)
                        tally[6] += 1
                        # Of equals the first in order of row, column and bearing, whatever order they come in.
                        if value <= most and (
                            value < best[a, b]
                            or (
                                value == best[a, b]
                                and p == best_row[a, b]
                                and (
                                    q0 + j < best_column[a, b]
                                    or (q0 + j == best_column[a, b] and s < best_bearing[a, b])
                                )
                            )
                        ):
                            best[a, b], best_level[a, b] = value, at
                            best_row[a, b], best_column[a, b], best_bearing[a, b] = p, q0 + j, s


@compiled
def coarse_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- as above
    level, lost, kept_out,  # noqa: ANN001
    under: MaskTables, touched: MaskTables, corners: MaskTables, cost: FloatArray, limits: FloatArray,
    window, halo, side, stride, turn, most, room, best,  # noqa: ANN001
):  # fmt: skip
    """Put into ``best`` the least value of each square at every ``stride``-th position and ``turn``-th bearing."""
    for p in range(window[0], window[1], stride):
        for q in range(0, window[2], stride):
            a, b = p // side, q // side
            for s in range(0, under.scale.shape[0], turn):
                i, j = p + halo, q + halo
                if _clear(lost, i, j, corners, s) and _clear(kept_out, i, j, touched, s):
                    value, _ = _value(level, i, j, under, s, cost, limits, min(most, best[a, b]), room)
                    best[a, b] = min(best[a, b], value)


@compiled
def map_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- as above
    level, running, lost, kept_out,  # noqa: ANN001
    under: MaskTables, touched: MaskTables, corners: MaskTables, cost: FloatArray, limits: FloatArray,
    window, halo, work, count, bound, room, value, bearing,  # noqa: ANN001
):  # fmt: skip
    """Fill ``value`` and ``bearing`` for every position: exact for the better of the two bearings of least bound."""
    for p in range(window[0], window[1]):
        i = p + halo
        for q0 in range(0, window[2], BLOCK):
            j0, width = q0 + halo, min(BLOCK, window[2] - q0)
            first, second, here = bound[0], bound[1], bound[2]
            first_at, second_at = count[2], count[3]
            for j in range(width):
                first[j] = second[j] = math.inf
                first_at[j] = second_at[j] = -1
            for s in range(under.scale.shape[0]):
                _bounds(level, running, i, j0, width, under, s, work, count, here)
                if lost.shape[0] > 0:
                    _run_sums(lost, i, j0, width, corners, s, work[0])
                    for j in range(width):
                        if work[0, j] != 0:
                            here[j] = math.inf
                if kept_out.shape[0] > 0:
                    _run_sums(kept_out, i, j0, width, touched, s, work[0])
                    for j in range(width):
                        if work[0, j] != 0:
                            here[j] = math.inf
                for j in range(width):
                    if here[j] < first[j]:
                        second[j], second_at[j] = first[j], first_at[j]
                        first[j], first_at[j] = here[j], s
                    elif here[j] < second[j]:
                        second[j], second_at[j] = here[j], s
            for j in range(width):
                best, best_at = math.inf, -1
                for s in (first_at[j], second_at[j]):
                    if s >= 0:
                        found, _ = _value(level, i, j0 + j, under, s, cost, limits, best, room)
                        if found < best:
                            best, best_at = found, s
                value[p, q0 + j], bearing[p, q0 + j] = best, best_at
