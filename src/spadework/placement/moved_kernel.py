"""The compiled kernel of bounds on barrowing: how rough the ground is that a pad may sweep over within a box.

Its kept machine code knows its own file only.
"""

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled
from spadework.earthwork.kernel import bucket_of
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import area_within, part_within, speed_across
from spadework.readings import FloatArray

__all__ = ["swept_ground"]

WIDEST = 8
"""Corners of a triangle cut by a rectangle, at most, and one more."""


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
    polygon, corner = np.empty((2, WIDEST, 3)), np.empty((3, 2))
    held = np.empty((64, 1))
    number = np.empty(64, dtype=np.int64)
    for k in range(poses.shape[0]):
        east, north, sine, cosine = poses[k, 0], poses[k, 1], poses[k, 2], poses[k, 3]
        west, south, rim_east, rim_north = np.inf, np.inf, -np.inf, -np.inf
        for j in range(4):
            u, v = swept[k, j % 2], swept[k, 2 + j // 2]
            e, n = east + u * sine + v * cosine, north + u * cosine - v * sine
            west, rim_east, south, rim_north = min(west, e), max(rim_east, e), min(south, n), max(rim_north, n)
        column_from = bucket_of(west, mesh.first_east, mesh.per_metre, mesh.columns)
        column_to = bucket_of(rim_east, mesh.first_east, mesh.per_metre, mesh.columns)
        row_from = bucket_of(south, mesh.first_north, mesh.per_metre, mesh.rows)
        row_to = bucket_of(rim_north, mesh.first_north, mesh.per_metre, mesh.rows)
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
                        du, dv = bu - au, bv - av
                        first, last = part_within(au, av, du, dv, swept[k])
                        if last <= first:
                            continue
                        speed = abs(mesh.bend[t, i]) * speed_across(au, av, du, dv, first, last, motion[k])
                        if mesh.bend[t, i] > 0.0:
                            up += speed
                        else:
                            down += speed
                for i in range(3):
                    polygon[0, i, 0], polygon[0, i, 1] = corner[i, 0], corner[i, 1]
                area = area_within(polygon, swept[k])
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
