"""The compiled kernel of bounds on barrowing: how rough the ground is that a pad may sweep over within a box.

Its kept machine code knows its own file only.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_part
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["swept_ground"]

WIDEST = 8
"""Corners of a triangle cut by a rectangle, at most, and one more."""


@compiled_part
def _bucket(value: float, low: float, per_metre: float, count: int) -> int:
    """Return the column or row of a coordinate; the same as `BucketIndex.column`."""
    place = math.floor((value - low) * per_metre)
    return int(min(max(place, 0), count - 1))


@compiled_part
def _area_within(corner: FloatArray, swept: FloatArray, polygon: FloatArray) -> float:
    """Return the area of a triangle within a rectangle (Sutherland and Hodgman)."""
    held, size = 0, 3
    for i in range(3):
        polygon[0, i, 0], polygon[0, i, 1] = corner[i, 0], corner[i, 1]
    for side in range(4):
        axis, sign = side // 2, 1.0 if side % 2 == 0 else -1.0
        edge = sign * swept[side]
        other, made = 1 - held, 0
        for i in range(size):
            k = i + 1 if i + 1 < size else 0
            here, there = sign * polygon[held, i, axis] - edge, sign * polygon[held, k, axis] - edge
            if here >= 0.0:
                polygon[other, made, 0], polygon[other, made, 1] = polygon[held, i, 0], polygon[held, i, 1]
                made += 1
            if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
                share = here / (here - there)
                for q in range(2):
                    polygon[other, made, q] = polygon[held, i, q] + share * (polygon[held, k, q] - polygon[held, i, q])
                made += 1
        held, size = other, made
        if size < 3:
            return 0.0
    double = 0.0
    for i in range(1, size - 1):
        double += (polygon[held, i, 0] - polygon[held, 0, 0]) * (polygon[held, i + 1, 1] - polygon[held, 0, 1])
        double -= (polygon[held, i + 1, 0] - polygon[held, 0, 0]) * (polygon[held, i, 1] - polygon[held, 0, 1])
    return 0.5 * abs(double)


@compiled_part
def _speed_along(au: float, av: float, bu: float, bv: float, swept: FloatArray, motion: FloatArray) -> float:
    """Return the integral of the square of the speed across an edge, along what of it lies within a rectangle.

    A point of the pad on the edge, ``x`` from the foot of the perpendicular from the pad's origin, crosses it by ``c +
    d |x|`` at the most while the pad goes from the middle of its box to the rim. The clipping is that of Liang and
    Barsky.
    """
    du, dv, first, last = bu - au, bv - av, 0.0, 1.0
    for side in range(4):
        if side == 0:
            p, q = -du, au - swept[0]
        elif side == 1:
            p, q = du, swept[1] - au
        elif side == 2:
            p, q = -dv, av - swept[2]
        else:
            p, q = dv, swept[3] - av
        if p == 0.0:
            if q < 0.0:
                return 0.0
        elif p < 0.0:
            first = max(first, q / p)
        else:
            last = min(last, q / p)
    length = math.sqrt(du * du + dv * dv)
    if last <= first or length == 0.0:
        return 0.0
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    tu, tv = du / length, dv / length
    te, tn = abs(tu * sine + tv * cosine), abs(tu * cosine - tv * sine)
    across = a * tn + b * te + d * (a * te + b * tn)
    start = au * tu + av * tv
    return _primitive(start + last * length, across, d) - _primitive(start + first * length, across, d)


@compiled_part
def _primitive(x: float, across: float, turn: float) -> float:
    """Return the integral of ``(c + d |x|)²`` from nothing to x."""
    far = turn * abs(x)
    return x * (across * across + across * far + far * far / 3.0)


@compiled
def swept_ground(mesh: Mesh, poses: FloatArray, motion: FloatArray, swept: FloatArray, result: FloatArray) -> None:
    """Sum up the slopes and bends of the ground under a rectangle of each pad's frame.

    Parameters
    ----------
    poses : array, shape (k, 4)
        Local east and north, sine and cosine of the bearing.
    motion : array, shape (k, 5)
        Sine and cosine of the bearing, half widths of the box: eastwards, northwards [m] and of the bearing [rad].
    swept : array, shape (k, 4)
        Least and greatest ``u``, least and greatest ``v``. [m]
    result : array, shape (k, 7)
        Written: mean rise eastwards and northwards; integral of what the rise differs from that; the greatest that it
        does; the greatest rise; for edges where the ground bends up, and for those where it bends down, the jump of
        the rise across them times the square of the speed of the pad across them, along them.
    """
    polygon, corner = np.empty((2, WIDEST, 2)), np.empty((3, 2))
    held = np.empty((64, 1))
    number = np.empty(64, dtype=np.int64)
    for k in range(poses.shape[0]):
        east, north, sine, cosine = poses[k, 0], poses[k, 1], poses[k, 2], poses[k, 3]
        west, south, rim_east, rim_north = np.inf, np.inf, -np.inf, -np.inf
        for j in range(4):
            u, v = swept[k, j % 2], swept[k, 2 + j // 2]
            e, n = east + u * sine + v * cosine, north + u * cosine - v * sine
            west, rim_east, south, rim_north = min(west, e), max(rim_east, e), min(south, n), max(rim_north, n)
        column_from = _bucket(west, mesh.first_east, mesh.per_metre, mesh.columns)
        column_to = _bucket(rim_east, mesh.first_east, mesh.per_metre, mesh.columns)
        row_from = _bucket(south, mesh.first_north, mesh.per_metre, mesh.rows)
        row_to = _bucket(rim_north, mesh.first_north, mesh.per_metre, mesh.rows)
        count, total, rise_east, rise_north, steepest, up, down = 0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for visited in range((row_to - row_from + 1) * (column_to - column_from + 1)):
            row = row_from + visited // (column_to - column_from + 1)
            column = column_from + visited % (column_to - column_from + 1)
            bucket = row * mesh.columns + column
            for place in range(mesh.start[bucket], mesh.start[bucket + 1]):
                entry = mesh.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                for i in range(3):
                    q = mesh.triangles[t, i]
                    e, n = mesh.east[q] - east, mesh.north[q] - north
                    corner[i, 0], corner[i, 1] = e * sine + n * cosine, e * cosine - n * sine
                for i in range(3):
                    if mesh.bend[t, i] != 0.0 and mesh.mine[t, i] == 1:
                        j = (i + 1) % 3
                        au, av, bu, bv = corner[i, 0], corner[i, 1], corner[j, 0], corner[j, 1]
                        speed = abs(mesh.bend[t, i]) * _speed_along(au, av, bu, bv, swept[k], motion[k])
                        if mesh.bend[t, i] > 0.0:
                            up += speed
                        else:
                            down += speed
                area = _area_within(corner, swept[k], polygon)
                if area <= 0.0:
                    continue
                if count == held.shape[0]:
                    larger, numbers = np.empty((2 * count, 1)), np.empty(2 * count, dtype=np.int64)
                    larger[:count], numbers[:count] = held, number
                    held, number = larger, numbers
                held[count, 0], number[count] = area, t
                count += 1
                total += area
                rise_east += area * mesh.slope[t, 0]
                rise_north += area * mesh.slope[t, 1]
                steepest = max(steepest, math.hypot(mesh.slope[t, 0], mesh.slope[t, 1]))
        if total > 0.0:
            rise_east, rise_north = rise_east / total, rise_north / total
        rest, most = 0.0, 0.0
        for i in range(count):
            off = math.hypot(mesh.slope[number[i], 0] - rise_east, mesh.slope[number[i], 1] - rise_north)
            rest += held[i, 0] * off
            most = max(most, off)
        result[k, 0], result[k, 1], result[k, 2], result[k, 3] = rise_east, rise_north, rest, most
        result[k, 4], result[k, 5], result[k, 6] = steepest, up, down
