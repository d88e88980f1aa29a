"""The compiled kernel of cells: what lies above and below a level in each cell of a pad, at many poses.

A cell is cut against each triangle under it, and what is left is split where the plane meets the level. A pose is
``east, north, sine, cosine`` as in `kernel`; levels and heights are above the datum.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.earthwork.arrays import GroundArrays
from spadework.earthwork.kernel import bucket_of
from spadework.readings import FloatArray, IntArray

__all__ = ["CellArrays", "measure_cells"]

AREA, VOLUME, ALONG, ACROSS, RISE_ALONG, RISE_ACROSS, TURN = range(7)


class CellArrays(NamedTuple):
    """Convex pieces of cells: corners counter-clockwise, where each piece begins, its cell, and its box.

    A box is least and greatest ``u``, least and greatest ``v``; pieces stand in the order of their least ``u``, which
    are also in ``first``, and none is longer than ``longest``.
    """

    corners: FloatArray
    part: IntArray
    owner: IntArray
    box: FloatArray
    first: FloatArray
    longest: float


@compiled_part
def _halved(polygon: FloatArray, held: int, size: int, a: float, b: float, c: float) -> tuple[int, int]:
    """Keep of a polygon where ``a u + b v + c >= 0``; return which of the two holds it, and its corners."""
    least, most = np.inf, -np.inf
    for i in range(size):
        inside = a * polygon[held, i, 0] + b * polygon[held, i, 1] + c
        polygon[held, i, 2] = inside
        least, most = min(least, inside), max(most, inside)
    if least >= 0.0:
        return held, size
    if most <= 0.0:
        return held, 0
    other, made = 1 - held, 0
    for i in range(size):
        k = i + 1 if i + 1 < size else 0
        here, there = polygon[held, i, 2], polygon[held, k, 2]
        if here >= 0.0:
            polygon[other, made, 0], polygon[other, made, 1] = polygon[held, i, 0], polygon[held, i, 1]
            made += 1
        if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
            share = here / (here - there)
            for q in range(2):
                polygon[other, made, q] = polygon[held, i, q] + share * (polygon[held, k, q] - polygon[held, i, q])
            made += 1
    return other, made


@compiled_part
def _add(polygon: FloatArray, held: int, size: int, plane: FloatArray, into: FloatArray) -> None:
    """Add the integrals over a polygon: area, height above the level, place, rise and turn."""
    area, along, across = 0.0, 0.0, 0.0
    u0, v0 = polygon[held, 0, 0], polygon[held, 0, 1]
    for i in range(1, size - 1):
        au, av = polygon[held, i, 0] - u0, polygon[held, i, 1] - v0
        bu, bv = polygon[held, i + 1, 0] - u0, polygon[held, i + 1, 1] - v0
        double = au * bv - av * bu
        area += double
        along += double * (au + bu)
        across += double * (av + bv)
    if area <= 0.0:
        return
    u, v = u0 + along / (3.0 * area), v0 + across / (3.0 * area)
    area *= 0.5
    into[AREA] += area
    into[VOLUME] += area * (plane[0] * u + plane[1] * v + plane[2])
    if into.shape[0] > 2:
        into[ALONG] += area * u
        into[ACROSS] += area * v
        into[RISE_ALONG] += area * plane[0]
        into[RISE_ACROSS] += area * plane[1]
        into[TURN] += area * (plane[1] * u - plane[0] * v)


@compiled_part
def _cut_cells(cells: CellArrays, corner: FloatArray, plane: FloatArray, polygon: FloatArray, into: FloatArray) -> None:
    """Add what one triangle, its corners counter-clockwise, puts into every cell."""
    west, east = min(corner[0, 0], corner[1, 0], corner[2, 0]), max(corner[0, 0], corner[1, 0], corner[2, 0])
    south, north = min(corner[0, 1], corner[1, 1], corner[2, 1]), max(corner[0, 1], corner[1, 1], corner[2, 1])
    for p in range(np.searchsorted(cells.first, west - cells.longest), cells.owner.shape[0]):
        if cells.first[p] >= east:
            break
        if cells.box[p, 1] <= west or cells.box[p, 2] >= north or cells.box[p, 3] <= south:
            continue
        first, size = cells.part[p], cells.part[p + 1] - cells.part[p]
        held = 0
        for i in range(size):
            polygon[0, i, 0], polygon[0, i, 1] = cells.corners[first + i, 0], cells.corners[first + i, 1]
        for i in range(3):
            k = (i + 1) % 3
            a, b = corner[i, 1] - corner[k, 1], corner[k, 0] - corner[i, 0]
            held, size = _halved(polygon, held, size, a, b, -a * corner[i, 0] - b * corner[i, 1])
            if size < 3:
                break
        if size < 3:
            continue
        least, most = np.inf, -np.inf
        for i in range(size):
            above = plane[0] * polygon[held, i, 0] + plane[1] * polygon[held, i, 1] + plane[2]
            least, most = min(least, above), max(most, above)
        cell = cells.owner[p]
        if least >= 0.0:
            _add(polygon, held, size, plane, into[cell, 0])
        elif most <= 0.0:
            _add(polygon, held, size, plane, into[cell, 1])
        else:
            for i in range(size):
                polygon[2, i, 0], polygon[2, i, 1] = polygon[held, i, 0], polygon[held, i, 1]
            whole = size
            held, size = _halved(polygon, held, whole, plane[0], plane[1], plane[2])
            if size > 2:
                _add(polygon, held, size, plane, into[cell, 0])
            for i in range(whole):
                polygon[0, i, 0], polygon[0, i, 1] = polygon[2, i, 0], polygon[2, i, 1]
            held, size = _halved(polygon, 0, whole, -plane[0], -plane[1], -plane[2])
            if size > 2:
                _add(polygon, held, size, plane, into[cell, 1])


@compiled
def measure_cells(
    ground: GroundArrays, cells: CellArrays, poses: FloatArray, level: FloatArray, result: FloatArray
) -> None:
    """Add up the ground in each cell, above a level and below it.

    Parameters
    ----------
    poses : array, shape (k, 4)
    level : array, shape (k,)
        What is dug and filled to, before stripping.
    result : array, shape (k, n, 2, 2) or (k, n, 2, 7)
        Zero; written for each cell, above and below: area; integral of the height above the level, below zero below
        it; and, where there is room, integrals of ``u``, of ``v``, of the rise along ``u`` and along ``v``, and of
        ``u`` times the rise along ``v`` less ``v`` times that along ``u``.
    """
    widest = 0
    for p in range(cells.owner.shape[0]):
        widest = max(widest, cells.part[p + 1] - cells.part[p])
    polygon, corner, plane = np.empty((3, widest + 6, 3)), np.empty((3, 2)), np.empty(3)
    for k in range(poses.shape[0]):
        east, north, sine, cosine = poses[k, 0], poses[k, 1], poses[k, 2], poses[k, 3]
        west, south, rim_east, rim_north = np.inf, np.inf, -np.inf, -np.inf
        for j in range(cells.corners.shape[0]):
            e = east + cells.corners[j, 0] * sine + cells.corners[j, 1] * cosine
            n = north + cells.corners[j, 0] * cosine - cells.corners[j, 1] * sine
            west, rim_east, south, rim_north = min(west, e), max(rim_east, e), min(south, n), max(rim_north, n)
        column_from = bucket_of(west, ground.first_east, ground.per_metre, ground.columns)
        column_to = bucket_of(rim_east, ground.first_east, ground.per_metre, ground.columns)
        row_from = bucket_of(south, ground.first_north, ground.per_metre, ground.rows)
        row_to = bucket_of(rim_north, ground.first_north, ground.per_metre, ground.rows)
        for visited in range((row_to - row_from + 1) * (column_to - column_from + 1)):
            row = row_from + visited // (column_to - column_from + 1)
            column = column_from + visited % (column_to - column_from + 1)
            bucket = row * ground.columns + column
            for place in range(ground.start[bucket], ground.start[bucket + 1]):
                # Counted once: in the first bucket that the triangle and the pad share.
                entry = ground.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                for i in range(3):
                    q = ground.triangles[t, i]
                    e, n = ground.east[q] - east, ground.north[q] - north
                    corner[i, 0], corner[i, 1] = e * sine + n * cosine, e * cosine - n * sine
                au, av = corner[1, 0] - corner[0, 0], corner[1, 1] - corner[0, 1]
                bu, bv = corner[2, 0] - corner[0, 0], corner[2, 1] - corner[0, 1]
                double = au * bv - av * bu
                if double == 0.0:
                    continue
                z = ground.height[ground.triangles[t, 0]]
                az, bz = ground.height[ground.triangles[t, 1]] - z, ground.height[ground.triangles[t, 2]] - z
                plane[0], plane[1] = (az * bv - bz * av) / double, (bz * au - az * bu) / double
                plane[2] = z - plane[0] * corner[0, 0] - plane[1] * corner[0, 1] - level[k]
                if double < 0.0:
                    for q in range(2):
                        swap = corner[1, q]
                        corner[1, q], corner[2, q] = corner[2, q], swap
                _cut_cells(cells, corner, plane, polygon, result[k])
