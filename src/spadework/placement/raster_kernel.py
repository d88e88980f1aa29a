"""The compiled scan of a strip of a raster: bounds for blocks of positions, exact values where they do not rule out.

Plain arrays, no checks, as in `raster_passes`. Everything that a bound rules out costs more than ``most``, or no
less than the best known of its square.
"""

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.placement.raster_passes import BLOCK, bounds, run_sums
from spadework.placement.raster_tables import MaskTables
from spadework.placement.raster_value import SURE, value_of
from spadework.readings import FloatArray, IntArray

__all__ = ["coarse_strip", "map_strip", "scan_strip"]

LINE = 16
"""Positions whose levels are read at once."""
FEW = 1
"""So few positions of a block are worked out without a bound."""


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
def _span(alive, width: int) -> tuple[int, int]:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Return where the part of a block that holds all that is still alive begins and ends, in whole lines of cache."""
    first, past = 0, width
    while first < past and alive[first] == 0:
        first += 1
    while past > first and alive[past - 1] == 0:
        past -= 1
    return first // LINE * LINE, min(-(-past // LINE) * LINE, width)


@compiled_part
def _set_limit(most, best, best_row, p: int, q0: int, width: int, side: int, limit):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Fill ``limit`` with what a bound must not exceed at each position of a block.

    That is the lesser of what is wanted and the best of its square; nothing where that is free and comes earlier.
    """
    a = p // side
    for b in range(q0 // side, (q0 + width - 1) // side + 1):
        free = best[a, b] == 0.0 and best_row[a, b] < p
        value = -1.0 if free else min(most, best[a, b]) * SURE
        limit[max(b * side - q0, 0) : min((b + 1) * side - q0, width)] = value


@compiled_part
def _keep_alive(before, bound, limit, width: int, alive) -> int:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Put into ``alive`` which of a block's positions a bound leaves; return how many."""
    left = 0
    for j in range(width):
        alive[j] = before[j] & np.uint8(bound[j] <= limit[j])
        left += alive[j]
    return left


@compiled_part
def _lower_floor(alive, bound, p: int, q0: int, width: int, side: int, floor):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Take bounds into the floor of their squares."""
    a = p // side
    for b in range(q0 // side, (q0 + width - 1) // side + 1):
        least = floor[a, b]
        for j in range(max(b * side - q0, 0), min((b + 1) * side - q0, width)):
            if alive[j] == 1:
                least = min(least, bound[j])
        floor[a, b] = least


@compiled
def scan_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- plain arrays of several widths
    boxes, running, lost, kept_out,  # noqa: ANN001
    under: MaskTables, cores: MaskTables, touched: MaskTables, corners: MaskTables,
    member_start: IntArray, member: IntArray, cost: FloatArray, limits: FloatArray,
    window, halo, side, most, use_core, use_groups,  # noqa: ANN001
    work, count, bound, alive, room,  # noqa: ANN001
    best, best_row, best_column, best_bearing, best_level, floor, tally,  # noqa: ANN001
):  # fmt: skip
    """Find the best pose of each square of positions, if it costs no more than ``most``, in rows and columns of a tile.

    ``window`` is first row, row past the last, column past the last of positions, counted from the first that has its
    halo in the tile. ``floor`` takes what no pose of a square costs less than, so far as the common core tells.
    ``tally`` counts positions with a core bounded and left, groups bounded and left, bearings bounded and left, exact
    values, and numbers read for all that.
    """
    groups = member_start.shape[0] - 1
    limit = bound[3]
    for p in range(window[0], window[1]):
        i = p + halo
        for q0 in range(0, window[2], BLOCK):
            j0, width = q0 + halo, min(BLOCK, window[2] - q0)
            some = width
            alive[0, :width] = 1
            for sums in (lost, kept_out):
                if sums.shape[0] > 0:
                    run_sums(sums, i, j0, width, cores, 0, work[0])
                    for j in range(width):
                        if work[0, j] != 0 and alive[0, j] == 1:
                            alive[0, j] = 0
                            some -= 1
            if some == 0:
                continue
            _set_limit(most, best, best_row, p, q0, width, side, limit)
            if use_core:
                bounds(boxes, running, i, j0, width, cores, 0, work, count, bound[0])
                _lower_floor(alive[0], bound[0], p, q0, width, side, floor)
                tally[0] += some
                tally[7] += width * cores.reads[0]
                some = _keep_alive(alive[0], bound[0], limit, width, alive[0])
                tally[1] += some
                if some == 0:
                    continue
            whole, past = _span(alive[0], width)
            for g in range(min(1, groups - 1), groups):
                left, lo, hi = some, whole, past
                if use_groups and g > 0 and cores.cell_start[g + 1] - cores.cell_start[g] > 2:
                    bounds(boxes, running, i, j0 + lo, hi - lo, cores, g, work, count, bound[1, lo:hi])
                    tally[2] += some
                    tally[7] += (hi - lo) * cores.reads[g]
                    left = _keep_alive(alive[0, lo:hi], bound[1, lo:hi], limit[lo:hi], hi - lo, alive[1, lo:hi])
                    tally[3] += left
                    if left == 0:
                        continue
                    lo, hi = lo + _span(alive[1, lo:hi], hi - lo)[0], lo + _span(alive[1, lo:hi], hi - lo)[1]
                else:
                    alive[1, lo:hi] = alive[0, lo:hi]
                for k in range(member_start[g], member_start[g + 1]):
                    s = member[k]
                    tally[4] += left
                    if left <= FEW:
                        alive[2, lo:hi] = alive[1, lo:hi]
                    else:
                        bounds(boxes, running, i, j0 + lo, hi - lo, under, s, work, count, bound[2, lo:hi])
                        tally[7] += (hi - lo) * under.reads[s]
                        if _keep_alive(alive[1, lo:hi], bound[2, lo:hi], limit[lo:hi], hi - lo, alive[2, lo:hi]) == 0:
                            continue
                    for j in range(lo, hi):
                        if alive[2, j] == 0:
                            continue
                        tally[5] += 1
                        if not (_clear(lost, i, j0 + j, corners, s) and _clear(kept_out, i, j0 + j, touched, s)):
                            continue
                        a, b = p // side, (q0 + j) // side
                        value, at = value_of(boxes[0], i, j0 + j, under, s, cost, limits, min(most, best[a, b]), room)
                        tally[6] += 1
                        tally[7] += under.cell_start[s + 1] - under.cell_start[s]
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
                            _set_limit(most, best, best_row, p, q0, width, side, limit)


@compiled
def coarse_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- as above
    boxes, lost, kept_out,  # noqa: ANN001
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
                    value, _ = value_of(boxes[0], i, j, under, s, cost, limits, min(most, best[a, b]), room)
                    best[a, b] = min(best[a, b], value)


@compiled
def map_strip(  # type: ignore[no-untyped-def]  # noqa: ANN201, PLR0917 -- as above
    boxes, running, lost, kept_out,  # noqa: ANN001
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
                bounds(boxes, running, i, j0, width, under, s, work, count, here)
                if lost.shape[0] > 0:
                    run_sums(lost, i, j0, width, corners, s, work[0])
                    for j in range(width):
                        if work[0, j] != 0:
                            here[j] = math.inf
                if kept_out.shape[0] > 0:
                    run_sums(kept_out, i, j0, width, touched, s, work[0])
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
                        found, _ = value_of(boxes[0], i, j0 + j, under, s, cost, limits, best, room)
                        if found < best:
                            best, best_at = found, s
                value[p, q0 + j], bearing[p, q0 + j] = best, best_at
