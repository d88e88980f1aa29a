"""The compiled kernel of pads with banks: ground under the banks clipped exactly, and volumes at a level.

Plain arrays, no checks. Heights count from the datum and are those of unstripped ground. Two tables of pieces hold what
a level is compared with: for cut the ground less ``s_c d``, for fill the ground plus ``s_f d`` with its sign turned, so
that both are volumes above a level. In both tables the first ``own`` rows are the ground under the pad. A third table
holds, for round corners, each side of each piece of ground there: a cone less a plane has its own closed form.

The kept machine code holds a copy of what it calls in `kernel` and `bank_cone`: empty ``__pycache__`` after a change
there.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_part
from spadework.earthwork.arrays import GroundArrays
from spadework.earthwork.bank_arrays import BankArrays
from spadework.earthwork.bank_cone import cone_side
from spadework.earthwork.kernel import bucket_of
from spadework.readings import FloatArray, IntArray

__all__ = ["bank_pieces", "clipped", "grown", "totals_at", "turns_up_again"]

RISES = 1e-6
"""Ground that rises outward faster than the bank by more is too steep to be met by it."""
MET = 1e-6
"""Heights above and below a level that count as being on both sides of it. [m]"""


@compiled_part
def grown(table: FloatArray) -> FloatArray:
    """Return a table of twice as many rows that begins with these.

    Number by number: to copy a slice numba compiles the words of an error besides, for seconds.
    """
    larger = np.empty((2 * table.shape[0], table.shape[1]))
    for i in range(table.shape[0]):
        for j in range(table.shape[1]):
            larger[i, j] = table[i, j]
    return larger


@compiled_part
def _added(pieces: FloatArray, count: int, area: float, a: float, b: float, c: float, rises: float) -> FloatArray:
    """Write a piece, its heights in falling order, and whether it rises outward; return the table, larger if full."""
    if count == pieces.shape[0]:
        pieces = grown(pieces)
    pieces[count, 0] = area
    pieces[count, 1] = max(a, b, c)
    pieces[count, 2] = max(min(a, b), min(max(a, b), c))
    pieces[count, 3] = min(a, b, c)
    pieces[count, 4] = rises
    return pieces


@compiled_part
def clipped(polygon: FloatArray, sides: FloatArray, first: int, last: int) -> tuple[int, int]:
    """Clip the triangle in ``polygon[0]`` by half planes; return which polygon holds the result, and its corners."""
    held, size = 0, 3
    for j in range(first, last):
        other, made = 1 - held, 0
        for i in range(size):
            k = i + 1 if i + 1 < size else 0
            here = sides[j, 2] - sides[j, 0] * polygon[held, i, 0] - sides[j, 1] * polygon[held, i, 1]
            there = sides[j, 2] - sides[j, 0] * polygon[held, k, 0] - sides[j, 1] * polygon[held, k, 1]
            if here >= 0.0:
                for q in range(3):
                    polygon[other, made, q] = polygon[held, i, q]
                made += 1
            if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
                share = here / (here - there)
                for q in range(3):
                    polygon[other, made, q] = polygon[held, i, q] + share * (polygon[held, k, q] - polygon[held, i, q])
                made += 1
        held, size = other, made
        if size < 3:
            return held, 0
    return held, size


@compiled_part
def bank_pieces(
    ground: GroundArrays,
    bank: BankArrays,
    pose: FloatArray,
    low: float,
    high: float,
    far: float,
    polygon: FloatArray,
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Add the ground under the banks to the tables, as far as any level between ``low`` and ``high`` could ask for it.

    Parameters
    ----------
    pose : array, shape (4,)
        As in `kernel`.
    low, high : float
        Levels that will be asked for. [m]
    far : float
        How far out they can reach. [m]
    polygon : array, shape (2, w, 3)
        Room for clipping.
    cut, fill : array, shape (n, 5)
        Area, three heights, and by how much the piece rises outward, per metre.
    cones : array, shape (n, 9)
        Side of a piece seen from the corner of its cone (``u, v`` of both ends), height of its plane there and slopes
        of it, 1 where the ground somewhere is as steep as the bank, and 1 for cut or -1 for fill, whose height and
        slopes have their signs turned.
    counts : array of int, shape (3,)
        Rows of each table; changed.

    Returns
    -------
    cut, fill, cones
        The tables, larger ones where they were full.
    """
    sine, cosine = pose[2], pose[3]
    lows, highs = np.empty(2), np.empty(2)
    lows[0], highs[0] = bank.wide[0] - far * bank.beyond[0], bank.wide[1] + far * bank.beyond[1]
    lows[1], highs[1] = bank.wide[2] - far * bank.beyond[2], bank.wide[3] + far * bank.beyond[3]
    west, south, rim_east, rim_north = np.inf, np.inf, -np.inf, -np.inf
    for i in range(4):
        u = lows[0] if i < 2 else highs[0]
        v = lows[1] if i % 2 == 0 else highs[1]
        e, n = pose[0] + u * sine + v * cosine, pose[1] + u * cosine - v * sine
        west, rim_east, south, rim_north = min(west, e), max(rim_east, e), min(south, n), max(rim_north, n)
    column_from = bucket_of(west, ground.first_east, ground.per_metre, ground.columns)
    column_to = bucket_of(rim_east, ground.first_east, ground.per_metre, ground.columns)
    row_from = bucket_of(south, ground.first_north, ground.per_metre, ground.rows)
    row_to = bucket_of(rim_north, ground.first_north, ground.per_metre, ground.rows)
    corner = np.empty((3, 3))
    for row in range(row_from, row_to + 1):
        for column in range(column_from, column_to + 1):
            bucket = row * ground.columns + column
            for place in range(ground.start[bucket], ground.start[bucket + 1]):
                entry = ground.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                u_low, u_high, v_low, v_high, z_low, z_high = np.inf, -np.inf, np.inf, -np.inf, np.inf, -np.inf
                for i in range(3):
                    at = ground.triangles[t, i]
                    e, n, z = ground.east[at] - pose[0], ground.north[at] - pose[1], ground.height[at]
                    u, v = e * sine + n * cosine, e * cosine - n * sine
                    corner[i, 0], corner[i, 1], corner[i, 2] = u, v, z
                    u_low, u_high, v_low, v_high = min(u_low, u), max(u_high, u), min(v_low, v), max(v_high, v)
                    z_low, z_high = min(z_low, z), max(z_high, z)
                if u_low > highs[0] or u_high < lows[0] or v_low > highs[1] or v_high < lows[1]:
                    continue
                for p in range(bank.part.shape[0] - 1):
                    box = bank.box[p]
                    if u_low > box[1] or u_high < box[0] or v_low > box[3] or v_high < box[2]:
                        continue
                    cut, fill, cones = _one(bank, p, corner, low, high, polygon, cut, fill, cones, counts)
    return cut, fill, cones


@compiled_part
def _one(
    bank: BankArrays,
    p: int,
    corner: FloatArray,
    low: float,
    high: float,
    polygon: FloatArray,
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Add what one triangle and one part share."""
    a, b, c = bank.plane[p, 0], bank.plane[p, 1], bank.plane[p, 2]
    s, f = bank.cut_slope, bank.fill_slope
    highest, lowest = -np.inf, np.inf
    for i in range(3):
        out = a * corner[i, 0] + b * corner[i, 1] - c
        highest = max(highest, corner[i, 2] - s * out)
        lowest = min(lowest, corner[i, 2] + f * out)
        for q in range(3):
            polygon[0, i, q] = corner[i, q]
    if highest <= low and lowest >= high:
        return cut, fill, cones
    held, size = clipped(polygon, bank.sides, bank.part[p], bank.part[p + 1])
    if size < 3:
        return cut, fill, cones
    u1, v1, z1 = corner[1, 0] - corner[0, 0], corner[1, 1] - corner[0, 1], corner[1, 2] - corner[0, 2]
    u2, v2, z2 = corner[2, 0] - corner[0, 0], corner[2, 1] - corner[0, 1], corner[2, 2] - corner[0, 2]
    double = u1 * v2 - u2 * v1
    if double == 0.0:
        return cut, fill, cones
    rise_u, rise_v = (z1 * v2 - z2 * v1) / double, (u1 * z2 - u2 * z1) / double
    if bank.cone[p]:
        height = corner[0, 2] + rise_u * (bank.apex[p, 0] - corner[0, 0]) + rise_v * (bank.apex[p, 1] - corner[0, 1])
        highest, lowest, around = -np.inf, np.inf, 0.0
        for i in range(size):
            k = i + 1 if i + 1 < size else 0
            out = a * polygon[held, i, 0] + b * polygon[held, i, 1] - c
            highest = max(highest, polygon[held, i, 2] - s * out)
            lowest = min(lowest, polygon[held, i, 2] + f * out)
            around += polygon[held, i, 0] * polygon[held, k, 1] - polygon[held, k, 0] * polygon[held, i, 1]
        steep = math.sqrt(rise_u * rise_u + rise_v * rise_v)
        for side in range(2):
            sign = 1.0 if side == 0 else -1.0
            if (side == 0 and highest <= low) or (side == 1 and lowest >= high):
                continue
            for i in range(size):
                k = i + 1 if i + 1 < size else 0
                if counts[2] == cones.shape[0]:
                    cones = grown(cones)
                row = cones[counts[2]]
                first, second = (i, k) if around > 0.0 else (k, i)
                row[0], row[1] = polygon[held, first, 0] - bank.apex[p, 0], polygon[held, first, 1] - bank.apex[p, 1]
                row[2], row[3] = polygon[held, second, 0] - bank.apex[p, 0], polygon[held, second, 1] - bank.apex[p, 1]
                row[4], row[5], row[6], row[8] = sign * height, sign * rise_u, sign * rise_v, sign
                row[7] = 1.0 if steep >= (s if side == 0 else f) - RISES else 0.0
                counts[2] += 1
        return cut, fill, cones
    outward = a * rise_u + b * rise_v
    for i in range(1, size - 1):
        area = 0.5 * abs(
            (polygon[held, i + 1, 0] - polygon[held, 0, 0]) * (polygon[held, i, 1] - polygon[held, 0, 1])
            - (polygon[held, i, 0] - polygon[held, 0, 0]) * (polygon[held, i + 1, 1] - polygon[held, 0, 1])
        )
        if area <= 0.0:
            continue
        d0 = a * polygon[held, 0, 0] + b * polygon[held, 0, 1] - c
        d1 = a * polygon[held, i, 0] + b * polygon[held, i, 1] - c
        d2 = a * polygon[held, i + 1, 0] + b * polygon[held, i + 1, 1] - c
        h0, h1, h2 = polygon[held, 0, 2], polygon[held, i, 2], polygon[held, i + 1, 2]
        if max(h0 - s * d0, h1 - s * d1, h2 - s * d2) > low:
            cut = _added(cut, counts[0], area, h0 - s * d0, h1 - s * d1, h2 - s * d2, outward - s)
            counts[0] += 1
        if min(h0 + f * d0, h1 + f * d1, h2 + f * d2) < high:
            fill = _added(fill, counts[1], area, -h0 - f * d0, -h1 - f * d1, -h2 - f * d2, -outward - f)
            counts[1] += 1
    return cut, fill, cones


@compiled_part
def _above(pieces: FloatArray, first: int, last: int, level: float) -> tuple[float, float]:
    """Return volume and area above a level of some pieces; the formulas are those of `level_kernel.above_level`."""
    volume, over = 0.0, 0.0
    for i in range(first, last):
        d0 = pieces[i, 1] - level
        if d0 <= 0.0:
            continue
        area = pieces[i, 0]
        d1, d2 = pieces[i, 2] - level, pieces[i, 3] - level
        if d2 >= 0.0:
            volume += area * ((d0 + d1 + d2) / 3.0)
            over += area
        elif d1 <= 0.0:
            tip = area * (d0 / (d0 - d1)) * (d0 / (d0 - d2))
            volume += tip * d0 / 3.0
            over += tip
        else:
            below = area * (d2 / (d2 - d0)) * (d2 / (d2 - d1))
            volume += area * ((d0 + d1 + d2) / 3.0) - below * d2 / 3.0
            over += area - below
    return volume, over


@compiled_part
def totals_at(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    level: float,
    totals: FloatArray,
) -> None:
    """Write cut and its area, fill and its area, and how much of the two areas lies beyond the pad, shape (6,).

    Parameters
    ----------
    own : array of int, shape (2,)
        Rows of the pad itself in the tables of cut and of fill.
    slopes : (float, float)
        Of cut and fill.
    level : float
        [m]
    """
    totals[0], totals[1] = _above(cut, 0, own[0], level)
    totals[2], totals[3] = _above(fill, 0, own[1], -level)
    bank, over = _above(cut, own[0], counts[0], level)
    more, under = _above(fill, own[1], counts[1], -level)
    for i in range(counts[2]):
        row = cones[i]
        slope = slopes[0] if row[8] > 0.0 else slopes[1]
        volume, area = cone_side(row[0], row[1], row[2], row[3], row[4] - row[8] * level, row[5], row[6], slope)
        if row[8] > 0.0:
            bank, over = bank + volume, over + area
        else:
            more, under = more + volume, under + area
    totals[0], totals[1], totals[2], totals[3] = totals[0] + bank, totals[1] + over, totals[2] + more, totals[3] + under
    totals[4], totals[5] = over, under


@compiled_part
def turns_up_again(
    cut: FloatArray,
    fill: FloatArray,
    cones: FloatArray,
    counts: IntArray,
    own: IntArray,
    slopes: tuple[float, float],
    level: float,
) -> bool:
    """Tell whether the ground, followed outward, passes a bank again from below to above: as steep as the bank."""
    for i in range(own[0], counts[0]):
        if cut[i, 4] > RISES and cut[i, 1] > level + MET and cut[i, 3] < level - MET:
            return True
    for i in range(own[1], counts[1]):
        if fill[i, 4] > RISES and fill[i, 1] > -level + MET and fill[i, 3] < -level - MET:
            return True
    for i in range(counts[2]):
        row = cones[i]
        if row[7] == 0.0:
            continue
        slope = slopes[0] if row[8] > 0.0 else slopes[1]
        above, below, rises = False, False, False
        for q in (0, 2):
            far = math.sqrt(row[q] ** 2 + row[q + 1] ** 2)
            outward = row[5] * row[q] + row[6] * row[q + 1]
            depth = row[4] - row[8] * level + outward - slope * far
            above |= depth > MET
            below |= depth < -MET
            rises |= outward > (slope + RISES) * far
        if above and below and rises:
            return True
    return False
