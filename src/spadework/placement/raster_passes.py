"""Compiled passes over a block of positions side by side: sums, and what the goal costs at least at each.

Plain arrays, no checks. Levels are whole steps above the lowest of the tile. ``boxes[k]`` holds for each cell the sum
of the box of the k-th size that begins there, the cells themselves first. Sums over runs come from running sums along
rows, whose wrap-around cancels in differences.
"""

from __future__ import annotations

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.placement.raster_tables import MaskTables

__all__ = ["BLOCK", "bounds", "prepare", "run_sums"]

BLOCK = 128
"""Columns worked on at once: levels, sums and results of a block stay in the first cache."""


@compiled
def prepare(raw, barred, base, boxes, running, lost, kept_out):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN201, PLR0917 -- plain arrays of several widths
    """Fill a tile's levels above ``base`` and all their sums.

    Those are sums over boxes, and running sums along rows of levels, cells lost and cells kept out. ``lost`` and
    ``kept_out`` have no rows where the tile has no such cells.
    """
    none = np.int32(-(2**31))
    level = boxes[0]
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
    for k in range(1, boxes.shape[0]):
        half, room = 1 << (k - 1), (1 << k) - 1
        for i in range(raw.shape[0] - room):
            upper, lower, total = boxes[k - 1, i], boxes[k - 1, i + half], boxes[k, i]
            for j in range(raw.shape[1] - room):
                total[j] = upper[j] + upper[j + half] + lower[j] + lower[j + half]


@compiled_part
def run_sums(running, i, j0, width, tables: MaskTables, s, total):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN201, PLR0917
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
def _larger_sums(level, i, j0, width, tables: MaskTables, t, end, at, total):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Add to ``total`` the larger of each box's sum and that of the level ``at``, over boxes ``t`` to ``end``."""
    while t + 4 <= end:
        c0, c1 = j0 + tables.box_column[t], j0 + tables.box_column[t + 1]
        c2, c3 = j0 + tables.box_column[t + 2], j0 + tables.box_column[t + 3]
        z0 = level[i + tables.box_row[t], c0 : c0 + width]
        z1 = level[i + tables.box_row[t + 1], c1 : c1 + width]
        z2 = level[i + tables.box_row[t + 2], c2 : c2 + width]
        z3 = level[i + tables.box_row[t + 3], c3 : c3 + width]
        for j in range(width):
            h = at[j]
            total[j] += max(z0[j], h) + max(z1[j], h) + max(z2[j], h) + max(z3[j], h)
        t += 4
    while t < end:
        c0 = j0 + tables.box_column[t]
        z0 = level[i + tables.box_row[t], c0 : c0 + width]
        for j in range(width):
            total[j] += max(z0[j], at[j])
        t += 1


@compiled_part
def _larger_sums_and_counts(level, i, j0, width, tables: MaskTables, t, end, each, at, total, count):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, PLR0917
    """Do the same, and add to ``count`` the number of cells, ``each`` of a box, in boxes whose sum is above ``at``."""
    while t + 4 <= end:
        c0, c1 = j0 + tables.box_column[t], j0 + tables.box_column[t + 1]
        c2, c3 = j0 + tables.box_column[t + 2], j0 + tables.box_column[t + 3]
        z0 = level[i + tables.box_row[t], c0 : c0 + width]
        z1 = level[i + tables.box_row[t + 1], c1 : c1 + width]
        z2 = level[i + tables.box_row[t + 2], c2 : c2 + width]
        z3 = level[i + tables.box_row[t + 3], c3 : c3 + width]
        for j in range(width):
            h = at[j]
            total[j] += max(z0[j], h) + max(z1[j], h) + max(z2[j], h) + max(z3[j], h)
            count[j] += each * (np.int32(z0[j] > h) + np.int32(z1[j] > h) + np.int32(z2[j] > h) + np.int32(z3[j] > h))
        t += 4
    while t < end:
        c0 = j0 + tables.box_column[t]
        z0 = level[i + tables.box_row[t], c0 : c0 + width]
        for j in range(width):
            total[j] += max(z0[j], at[j])
            count[j] += each * np.int32(z0[j] > at[j])
        t += 1


@compiled_part
def bounds(boxes, running, i, j0, width, tables: MaskTables, s, work, count, bound):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN201, PLR0917
    """Fill ``bound`` with what the goal costs at least at each position of a block. [m³]

    With the mean level rounded down, weights that are alike on all boxes above it, and alike on the others, give no
    more than the factor for so many cells, times what those boxes hold above the mean level: no more than the cells
    above it hold. Where cells are not counted the least factor serves.
    """
    total, at, larger = work[0], work[2], work[1]
    n = tables.cell_start[s + 1] - tables.cell_start[s]
    run_sums(running, i, j0, width, tables, s, total)
    per_cell = 1.0 / n
    counted = tables.counted[s] == 1
    above = count[1]
    for j in range(width):
        at[j] = np.int32(total[j] * per_cell)
        larger[j] = -max(total[j], n * at[j])
        above[j] = 0
    for k in range(boxes.shape[0]):
        t, end = tables.box_start[s, k], tables.box_start[s, k + 1]
        if counted:
            each = np.int32(1 << (2 * k))
            _larger_sums_and_counts(boxes[k], i, j0, width, tables, t, end, each, at, larger, above)
        else:
            _larger_sums(boxes[k], i, j0, width, tables, t, end, at, larger)
        for j in range(width):
            at[j] *= 4
    if counted:
        first, scale = tables.factor_start[s], tables.scale[s]
        for j in range(width):
            bound[j] = larger[j] * tables.factor[first + above[j]] * scale
    else:
        factor = tables.least_factor[s] * tables.scale[s]
        for j in range(width):
            bound[j] = larger[j] * factor
