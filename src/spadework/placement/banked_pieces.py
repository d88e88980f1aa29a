"""Ground under a pad with banks as its bounds need it: compiled, plain arrays, no checks.

As in `spadework.earthwork.bank_kernel` two tables hold what a level is compared with, for cut and for fill; here a row
knows where its corners lie and how the ground slopes as well. The pad's own parts stand among those of its banks, with
nothing taken off. The kept machine code of `banked_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from spadework.earthwork._compile import compiled_part
from spadework.earthwork.bank_kernel import clipped, grown
from spadework.earthwork.kernel import bucket_of
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray, IntArray

__all__ = ["COLUMNS", "BankedParts", "banked_rows", "near_rows", "weighed"]

COLUMNS = 13
"""Area; three heights, the highest first; a flag not used; ``u, v`` of the three corners; slopes of the ground."""


class BankedParts(NamedTuple):
    """Convex parts of a pad and of the plan about it.

    ``sides``, ``part`` and ``plane`` are those of `BankShape`, the pad's own parts first, with a plane of nothing.
    ``box`` is ``(p, 4)``: least and greatest u, least and greatest v of each part; ``outer`` is ``(h, 3)``: planes
    that ``d`` nowhere falls short of.
    """

    sides: FloatArray
    part: IntArray
    plane: FloatArray
    box: FloatArray
    wide: FloatArray
    outer: FloatArray
    cut_slope: float
    fill_slope: float


@compiled_part
def near_rows(mesh: Mesh, pose: FloatArray, area: FloatArray, near: FloatArray) -> tuple[FloatArray, int]:
    """Write the triangles that touch a rectangle of the pad's frame; return the table, larger if it was full, and rows.

    A row is ``u, v`` of three corners, height of the first, slopes in the frame, number of the triangle.
    ``area`` is least and greatest u, least and greatest v.
    """
    sine, cosine = pose[2], pose[3]
    west, south, rim_east, rim_north = np.inf, np.inf, -np.inf, -np.inf
    for i in range(4):
        u = area[0] if i < 2 else area[1]
        v = area[2] if i % 2 == 0 else area[3]
        e, n = pose[0] + u * sine + v * cosine, pose[1] + u * cosine - v * sine
        west, rim_east, south, rim_north = min(west, e), max(rim_east, e), min(south, n), max(rim_north, n)
    column_from = bucket_of(west, mesh.first_east, mesh.per_metre, mesh.columns)
    column_to = bucket_of(rim_east, mesh.first_east, mesh.per_metre, mesh.columns)
    row_from = bucket_of(south, mesh.first_north, mesh.per_metre, mesh.rows)
    row_to = bucket_of(rim_north, mesh.first_north, mesh.per_metre, mesh.rows)
    count = 0
    for row in range(row_from, row_to + 1):
        for column in range(column_from, column_to + 1):
            bucket = row * mesh.columns + column
            for place in range(mesh.start[bucket], mesh.start[bucket + 1]):
                entry = mesh.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                if count == near.shape[0]:
                    near = grown(near)
                one = near[count]
                u_low, u_high, v_low, v_high = np.inf, -np.inf, np.inf, -np.inf
                for i in range(3):
                    at = mesh.triangles[t, i]
                    e, n = mesh.east[at] - pose[0], mesh.north[at] - pose[1]
                    u, v = e * sine + n * cosine, e * cosine - n * sine
                    one[2 * i], one[2 * i + 1] = u, v
                    u_low, u_high, v_low, v_high = min(u_low, u), max(u_high, u), min(v_low, v), max(v_high, v)
                if u_low > area[1] or u_high < area[0] or v_low > area[3] or v_high < area[2]:
                    continue
                one[6] = mesh.height[mesh.triangles[t, 0]]
                one[7] = mesh.slope[t, 0] * sine + mesh.slope[t, 1] * cosine
                one[8] = mesh.slope[t, 0] * cosine - mesh.slope[t, 1] * sine
                one[9] = t
                count += 1
    return near, count


@compiled_part
def _written(
    table: FloatArray, count: int, area: float, corner: FloatArray, rise_u: float, rise_v: float
) -> FloatArray:
    """Write a row, its corners in the order of falling heights; return the table, larger if it was full."""
    if count == table.shape[0]:
        table = grown(table)
    first, last = 0, 0
    for i in range(1, 3):
        if corner[i, 2] > corner[first, 2]:
            first = i
        if corner[i, 2] <= corner[last, 2]:
            last = i
    if first == last:
        first, last = 0, 2
    row = table[count]
    row[0], row[4], row[11], row[12] = area, 0.0, rise_u, rise_v
    for place in range(3):
        i = first if place == 0 else last if place == 2 else 3 - first - last
        row[1 + place], row[5 + 2 * place], row[6 + 2 * place] = corner[i, 2], corner[i, 0], corner[i, 1]
    return table


@compiled_part
def banked_rows(
    parts: BankedParts,
    near: FloatArray,
    count: int,
    low: float,
    high: float,
    polygon: FloatArray,
    cut: FloatArray,
    fill: FloatArray,
    counts: IntArray,
) -> tuple[FloatArray, FloatArray]:
    """Write the tables for levels between ``low`` and ``high``; return them, larger where they were full."""
    s, f = parts.cut_slope, parts.fill_slope
    corner = np.empty((3, 3))
    counts[0], counts[1] = 0, 0
    for t in range(count):
        one = near[t]
        u_low, u_high = min(one[0], one[2], one[4]), max(one[0], one[2], one[4])
        v_low, v_high = min(one[1], one[3], one[5]), max(one[1], one[3], one[5])
        for p in range(parts.part.shape[0] - 1):
            box = parts.box[p]
            if u_low > box[1] or u_high < box[0] or v_low > box[3] or v_high < box[2]:
                continue
            a, b, c = parts.plane[p, 0], parts.plane[p, 1], parts.plane[p, 2]
            highest, lowest = -np.inf, np.inf
            for i in range(3):
                u, v = one[2 * i], one[2 * i + 1]
                z = one[6] + one[7] * (u - one[0]) + one[8] * (v - one[1])
                out = a * u + b * v - c
                highest, lowest = max(highest, z - s * out), min(lowest, z + f * out)
                polygon[0, i, 0], polygon[0, i, 1], polygon[0, i, 2] = u, v, z
            if highest <= low and lowest >= high:
                continue
            held, size = clipped(polygon, parts.sides, parts.part[p], parts.part[p + 1])
            for i in range(1, size - 1):
                area = 0.5 * abs(
                    (polygon[held, i + 1, 0] - polygon[held, 0, 0]) * (polygon[held, i, 1] - polygon[held, 0, 1])
                    - (polygon[held, i, 0] - polygon[held, 0, 0]) * (polygon[held, i + 1, 1] - polygon[held, 0, 1])
                )
                if area <= 0.0:
                    continue
                for side in range(2):
                    sign, slope = (1.0, s) if side == 0 else (-1.0, f)
                    top = -np.inf
                    for q in range(3):
                        j = 0 if q == 0 else i + q - 1
                        u, v = polygon[held, j, 0], polygon[held, j, 1]
                        corner[q, 0], corner[q, 1] = u, v
                        corner[q, 2] = sign * polygon[held, j, 2] - slope * (a * u + b * v - c)
                        top = max(top, corner[q, 2])
                    if side == 0 and top > low:
                        cut = _written(cut, counts[0], area, corner, one[7], one[8])
                        counts[0] += 1
                    elif side == 1 and top > -high:
                        fill = _written(fill, counts[1], area, corner, one[7], one[8])
                        counts[1] += 1
    return cut, fill


@compiled_part
def weighed(
    table: FloatArray, count: int, level: float, weight: float, sums: FloatArray, swept: FloatArray, reach: float
) -> float:
    """Add up weight times slope and moment over what lies above a level, and widen a rectangle by it.

    ``sums`` is ``∫ w z_u``, ``∫ w z_v``, ``∫ w (u z_v - v z_u)``, ``∫ w u``, ``∫ w v``. Returns the distance from the
    origin of the farthest corner of what is widened by, or ``reach``.
    """
    for i in range(count):
        row = table[i]
        d0, d1, d2 = row[1] - level, row[2] - level, row[3] - level
        if d0 <= 0.0:
            continue
        area = row[0]
        mu, mv = (row[5] + row[7] + row[9]) / 3.0 * area, (row[6] + row[8] + row[10]) / 3.0 * area
        if d1 <= 0.0 and d2 < 0.0:
            t, r = d0 / (d0 - d1), d0 / (d0 - d2)
            area *= t * r
            mu = area * (row[5] + (t * (row[7] - row[5]) + r * (row[9] - row[5])) / 3.0)
            mv = area * (row[6] + (t * (row[8] - row[6]) + r * (row[10] - row[6])) / 3.0)
        elif d2 < 0.0:
            t, r = d2 / (d2 - d1), d2 / (d2 - d0)
            tip = area * t * r
            mu -= tip * (row[9] + (t * (row[7] - row[9]) + r * (row[5] - row[9])) / 3.0)
            mv -= tip * (row[10] + (t * (row[8] - row[10]) + r * (row[6] - row[10])) / 3.0)
            area -= tip
        sums[0] += weight * area * row[11]
        sums[1] += weight * area * row[12]
        sums[2] += weight * (row[12] * mu - row[11] * mv)
        sums[3] += weight * mu
        sums[4] += weight * mv
        # What lies above the level: corners above it, and where the sides pass it.
        for q in range(3):
            u, v, d = row[5 + 2 * q], row[6 + 2 * q], row[1 + q] - level
            k = (q + 1) % 3
            e = row[1 + k] - level
            if d < 0.0 and e <= 0.0:
                continue
            if d < 0.0:
                share = d / (d - e)
                u, v = u + share * (row[5 + 2 * k] - u), v + share * (row[6 + 2 * k] - v)
            elif e < 0.0:
                share = d / (d - e)
                x, y = u + share * (row[5 + 2 * k] - u), v + share * (row[6 + 2 * k] - v)
                swept[0], swept[1] = min(swept[0], x), max(swept[1], x)
                swept[2], swept[3] = min(swept[2], y), max(swept[3], y)
                reach = max(reach, math.sqrt(x * x + y * y))
            swept[0], swept[1] = min(swept[0], u), max(swept[1], u)
            swept[2], swept[3] = min(swept[2], v), max(swept[3], v)
            reach = max(reach, math.sqrt(u * u + v * v))
    return reach
