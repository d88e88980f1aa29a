"""Which triangles lie under a box of placements, and the pieces that the pad cuts from them: compiled, plain arrays.

The kept machine code of `bound_kernel` holds a copy of these functions and does not notice when only this file changes:
empty ``__pycache__`` then.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner, compiled_part
from spadework.earthwork.arrays import PadArrays
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import area_within, clip
from spadework.readings import FloatArray, IntArray

__all__ = ["apart_from", "buckets_under", "near_triangles", "pad_pieces_near", "room_for", "within_hull"]


@compiled_part
def room_for(table: FloatArray, count: int) -> FloatArray:
    """Return the table if it has that many rows, or a larger one in its stead: what it held is not kept."""
    return table if count <= table.shape[0] else np.empty((2 * count, table.shape[1]))


@compiled_inner
def within_hull(mesh: Mesh, pose: FloatArray, swept: FloatArray) -> bool:
    """Tell whether the swept rectangle lies within the frame of the ground, and so on triangles."""
    sine, cosine = pose[2], pose[3]
    middle_u, middle_v = 0.5 * (swept[0] + swept[1]), 0.5 * (swept[2] + swept[3])
    half_u, half_v = 0.5 * (swept[1] - swept[0]), 0.5 * (swept[3] - swept[2])
    east, north = pose[0] + middle_u * sine + middle_v * cosine, pose[1] + middle_u * cosine - middle_v * sine
    for j in range(mesh.hull.shape[0]):
        a, b = mesh.hull[j, 0], mesh.hull[j, 1]
        out = a * east + b * north + half_u * abs(a * sine + b * cosine) + half_v * abs(a * cosine - b * sine)
        if out > mesh.hull[j, 2]:
            return False
    return True


@compiled_inner
def buckets_under(mesh: Mesh, pose: FloatArray, swept: FloatArray, buckets: IntArray) -> int:
    """Write first and last column and row of the buckets under the swept rectangle; return how many they list."""
    low_u, high_u, low_v, high_v = swept[0], swept[1], swept[2], swept[3]
    sine, cosine = pose[2], pose[3]
    west, south, east, north = np.inf, np.inf, -np.inf, -np.inf
    for corner in range(4):
        u = low_u if corner < 2 else high_u
        v = low_v if corner % 2 == 0 else high_v
        e, n = pose[0] + u * sine + v * cosine, pose[1] + u * cosine - v * sine
        west, east, south, north = min(west, e), max(east, e), min(south, n), max(north, n)
    column_from = min(max(math.floor((west - mesh.first_east) * mesh.per_metre), 0), mesh.columns - 1)
    column_to = min(max(math.floor((east - mesh.first_east) * mesh.per_metre), 0), mesh.columns - 1)
    row_from = min(max(math.floor((south - mesh.first_north) * mesh.per_metre), 0), mesh.rows - 1)
    row_to = min(max(math.floor((north - mesh.first_north) * mesh.per_metre), 0), mesh.rows - 1)
    buckets[0], buckets[1], buckets[2], buckets[3] = column_from, column_to, row_from, row_to
    listed = 0
    for row in range(row_from, row_to + 1):
        listed += mesh.start[row * mesh.columns + column_to + 1] - mesh.start[row * mesh.columns + column_from]
    return int(listed)


@compiled_inner
def near_triangles(
    mesh: Mesh,
    pose: FloatArray,
    swept: FloatArray,
    buckets: IntArray,
    exact: bool,
    room: FloatArray,
    near: FloatArray,
    sums: FloatArray,
) -> int:
    """List the triangles under the swept rectangle, in the pad's frame, and sum up their slopes.

    A row: three corners ``u, v``, height of the first, slope along u and along v, area within the rectangle (no less
    than it where it is not wanted ``exact``), number of the triangle. ``sums`` gets the area, the integrals of the
    slope along u and v, and the steepest slope.
    """
    low_u, high_u, low_v, high_v = swept[0], swept[1], swept[2], swept[3]
    sine, cosine = pose[2], pose[3]
    column_from, column_to, row_from, row_to = buckets[0], buckets[1], buckets[2], buckets[3]
    middle_u, middle_v = 0.5 * (swept[0] + swept[1]), 0.5 * (swept[2] + swept[3])
    half_u, half_v = 0.5 * (swept[1] - swept[0]), 0.5 * (swept[3] - swept[2])
    count = 0
    for j in range(4):
        sums[j] = 0.0
    for row in range(row_from, row_to + 1):
        for column in range(column_from, column_to + 1):
            bucket = row * mesh.columns + column
            for place in range(mesh.start[bucket], mesh.start[bucket + 1]):
                # Counted once: in the first bucket that the triangle and the rectangle share.
                entry = mesh.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                least_u, least_v, most_u, most_v = np.inf, np.inf, -np.inf, -np.inf
                for i in range(3):
                    corner = mesh.triangles[t, i]
                    e, n = mesh.east[corner] - pose[0], mesh.north[corner] - pose[1]
                    u, v = e * sine + n * cosine, e * cosine - n * sine
                    near[count, 2 * i], near[count, 2 * i + 1] = u, v
                    least_u, most_u, least_v, most_v = min(least_u, u), max(most_u, u), min(least_v, v), max(most_v, v)
                if least_u >= high_u or most_u <= low_u or least_v >= high_v or most_v <= low_v:
                    continue
                if apart_from(near, count, middle_u, middle_v, half_u, half_v):
                    continue
                if exact:
                    for i in range(3):
                        room[0, i, 0], room[0, i, 1] = near[count, 2 * i], near[count, 2 * i + 1]
                    area = area_within(room, swept)
                else:
                    du, dv = near[count, 2] - near[count, 0], near[count, 3] - near[count, 1]
                    whole = 0.5 * abs(du * (near[count, 5] - near[count, 1]) - dv * (near[count, 4] - near[count, 0]))
                    wide, long = min(most_u, high_u) - max(least_u, low_u), min(most_v, high_v) - max(least_v, low_v)
                    area = min(whole, wide * long)
                along = mesh.slope[t, 0] * sine + mesh.slope[t, 1] * cosine
                aside = mesh.slope[t, 0] * cosine - mesh.slope[t, 1] * sine
                near[count, 6] = mesh.height[mesh.triangles[t, 0]]
                near[count, 7], near[count, 8], near[count, 9], near[count, 10] = along, aside, area, t
                sums[0] += area
                sums[1] += area * along
                sums[2] += area * aside
                sums[3] = max(sums[3], along * along + aside * aside)
                count += 1
    sums[3] = math.sqrt(sums[3])
    return count


@compiled_inner
def apart_from(near: FloatArray, row: int, middle_u: float, middle_v: float, half_u: float, half_v: float) -> bool:
    """Tell whether a line along one side of a triangle parts it from a rectangle about a point."""
    for i in range(3):
        k, o = 2 * ((i + 1) % 3), 2 * ((i + 2) % 3)
        a, b = near[row, k + 1] - near[row, 2 * i + 1], near[row, 2 * i] - near[row, k]
        here = a * (middle_u - near[row, 2 * i]) + b * (middle_v - near[row, 2 * i + 1])
        third = a * (near[row, o] - near[row, 2 * i]) + b * (near[row, o + 1] - near[row, 2 * i + 1])
        if third > 0.0:
            here = -here
        if here >= half_u * abs(a) + half_v * abs(b):
            return True
    return False


@compiled_inner
def pad_pieces_near(
    near: FloatArray, count: int, pad: PadArrays, shrink: FloatArray, room: FloatArray, pieces: FloatArray
) -> int:
    """Cut listed triangles to the pad, its sides drawn in by ``shrink``.

    A row: area, three corners ``u, v, z`` with the highest first, slope along u and along v.
    """
    made = 0
    for p in range(pad.part.shape[0] - 1):
        for t in range(count):
            for i in range(3):
                room[0, i, 0], room[0, i, 1] = near[t, 2 * i], near[t, 2 * i + 1]
            held, size = 0, 3
            for j in range(pad.part[p], pad.part[p + 1]):
                held, size = clip(room, held, size, pad.sides[j, 0], pad.sides[j, 1], pad.sides[j, 2] - shrink[j])
                if size < 3:
                    break
            for i in range(1, size - 1):
                area = 0.5 * abs(
                    (room[held, i, 0] - room[held, 0, 0]) * (room[held, i + 1, 1] - room[held, 0, 1])
                    - (room[held, i + 1, 0] - room[held, 0, 0]) * (room[held, i, 1] - room[held, 0, 1])
                )
                if area <= 0.0:
                    continue
                pieces[made, 0] = area
                for corner in range(3):
                    place = 0 if corner == 0 else i + corner - 1
                    u, v = room[held, place, 0], room[held, place, 1]
                    z = near[t, 6] + near[t, 7] * (u - near[t, 0]) + near[t, 8] * (v - near[t, 1])
                    # Put in its place among those before it, the highest first.
                    at = corner
                    while at > 0 and pieces[made, 3 * at] < z:
                        for q in range(3):
                            pieces[made, 3 * at + 1 + q] = pieces[made, 3 * at - 2 + q]
                        at -= 1
                    pieces[made, 3 * at + 1], pieces[made, 3 * at + 2], pieces[made, 3 * at + 3] = u, v, z
                pieces[made, 10], pieces[made, 11] = near[t, 7], near[t, 8]
                made += 1
    return made
