"""The compiled kernel: ground under a pad clipped exactly, and the level that a rule asks for on what is left.

Plain arrays, no checks. Conventions of this module:

* A pose is ``east, north, sine, cosine``: local position of the pad's origin, sine and cosine of its bearing.
* A piece is a triangle cut off the ground: plan area and three heights, the highest first; one row of four.
* A summary is area, integral of height, lowest and highest ground, lowest and highest ground along the outline.

Compiled code that is kept knows its own file only: empty ``__pycache__`` after a change in `level_kernel`.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled, compiled_inner, compiled_part
from spadework.earthwork.arrays import GroundArrays, PadArrays, Room
from spadework.earthwork.level_kernel import above_level, balance_level, goal_level, share_level
from spadework.readings import FloatArray, IntArray

__all__ = ["above_level", "balance_level", "bucket_of", "share_level", "solve"]

COVERED = 1e-9
"""Share of the pad's area that may be missing by rounding."""

ON_EDGE = 1e-9
"""A corner of the ground within this share of the pad's reach of a side lies on that side."""

BALANCED, WEIGHTS, FIXED, FLUSH, GOAL, FLUSH_LOW = 0, 1, 2, 3, 4, 5
ALLOWED, NOT_COVERED, LIMITS_CROSS, OUTSIDE_LIMITS = 0, 1, 2, 3


@compiled_inner
def bucket_of(value: float, low: float, per_metre: float, count: int) -> int:
    """Return the column or row of a coordinate; the same as `BucketIndex.column`."""
    place = math.floor((value - low) * per_metre)
    return int(min(max(place, 0), count - 1))


@compiled_part
def _add_piece(pieces: FloatArray, count: int, area: float, heights: tuple[float, float, float]) -> FloatArray:
    """Write a piece with its heights in falling order; return the table, larger if it was full."""
    if count == pieces.shape[0]:
        larger = np.empty((2 * count, 4))
        for i in range(count):
            for j in range(4):
                larger[i, j] = pieces[i, j]
        pieces = larger
    a, b, c = heights
    pieces[count, 0] = area
    pieces[count, 1] = max(a, b, c)
    pieces[count, 2] = max(min(a, b), min(max(a, b), c))
    pieces[count, 3] = min(a, b, c)
    return pieces


@compiled_inner
def _bounds(pad: PadArrays, first: int, last: int, pose: FloatArray) -> tuple[float, float, float, float]:
    """Return least east and north, greatest east and north of a part."""
    west, south, east, north = np.inf, np.inf, -np.inf, -np.inf
    for j in range(first, last):
        e = pose[0] + pad.corners[j, 0] * pose[2] + pad.corners[j, 1] * pose[3]
        n = pose[1] + pad.corners[j, 0] * pose[3] - pad.corners[j, 1] * pose[2]
        west, east = min(west, e), max(east, e)
        south, north = min(south, n), max(north, n)
    near = ON_EDGE * pad.reach
    return west - near, south - near, east + near, north + near


@compiled_inner
def _clip(
    ground: GroundArrays, pad: PadArrays, first: int, last: int, pose: FloatArray, triangle: int, room: Room
) -> tuple[int, int]:
    """Clip a triangle by a part (Sutherland and Hodgman): one half plane after another, heights carried along.

    Returns which polygon of the room holds the result, and its corners: fewer than three if nothing is left.
    """
    sides, polygon, on_side = pad.sides, room.polygon, room.on_side
    for i in range(3):
        corner = ground.triangles[triangle, i]
        e, n = ground.east[corner] - pose[0], ground.north[corner] - pose[1]
        polygon[0, i, 0] = e * pose[2] + n * pose[3]
        polygon[0, i, 1] = e * pose[3] - n * pose[2]
        polygon[0, i, 2] = ground.height[corner]
        on_side[0, i] = 0
    wholly = True
    for j in range(first, last):
        a, b, c = sides[j, 0], sides[j, 1], sides[j, 2]
        one = c - a * polygon[0, 0, 0] - b * polygon[0, 0, 1]
        two = c - a * polygon[0, 1, 0] - b * polygon[0, 1, 1]
        three = c - a * polygon[0, 2, 0] - b * polygon[0, 2, 1]
        if max(one, two, three) <= 0.0:
            return 0, 0
        wholly &= min(one, two, three) > ON_EDGE * pad.reach
    if wholly:
        return 0, 3
    held, size = 0, 3
    for j in range(first, last):
        nearest, this_side = np.inf, 1 << (j - first)
        for i in range(size):
            inside = sides[j, 2] - sides[j, 0] * polygon[held, i, 0] - sides[j, 1] * polygon[held, i, 1]
            polygon[held, i, 3] = inside
            nearest = min(nearest, inside)
            if abs(inside) <= ON_EDGE * pad.reach:
                on_side[held, i] |= this_side
        if nearest >= 0.0:
            continue
        other, made = 1 - held, 0
        for i in range(size):
            k = i + 1 if i + 1 < size else 0
            here, there = polygon[held, i, 3], polygon[held, k, 3]
            if here >= 0.0:
                for q in range(3):
                    polygon[other, made, q] = polygon[held, i, q]
                on_side[other, made] = on_side[held, i]
                made += 1
            if (here > 0.0 and there < 0.0) or (here < 0.0 and there > 0.0):
                share = here / (here - there)
                for q in range(3):
                    polygon[other, made, q] = polygon[held, i, q] + share * (polygon[held, k, q] - polygon[held, i, q])
                on_side[other, made] = (on_side[held, i] & on_side[held, k]) | this_side
                made += 1
        held, size = other, made
        if size < 3:
            break
    return held, size


@compiled_inner
def _note_levels(room: Room, held: int, size: int, outline: int, summary: FloatArray) -> None:
    """Widen lowest and highest ground by a polygon, and those along the outline by its corners on sides of it."""
    for i in range(size):
        z = room.polygon[held, i, 2]
        summary[2], summary[3] = min(summary[2], z), max(summary[3], z)
        if room.on_side[held, i] & outline:
            summary[4], summary[5] = min(summary[4], z), max(summary[5], z)


@compiled_part
def _gather(
    ground: GroundArrays, pad: PadArrays, pose: FloatArray, room: Room, pieces: FloatArray, summary: FloatArray
) -> tuple[FloatArray, int]:
    """Cut the ground under a pose of the pad out, as pieces, and sum it up.

    Returns the table of pieces, a larger one if it was full, and how many rows it has; writes ``summary``.
    """
    east, north, polygon = ground.east, ground.north, room.polygon
    count = 0
    summary[0], summary[1] = 0.0, 0.0
    summary[2], summary[3], summary[4], summary[5] = np.inf, -np.inf, np.inf, -np.inf
    for p in range(pad.part.shape[0] - 1):
        first, last = pad.part[p], pad.part[p + 1]
        outline = 0
        for j in range(first, last):
            outline |= pad.outer[j] << (j - first)
        west, south, rim_east, rim_north = _bounds(pad, first, last, pose)
        column_from = bucket_of(west, ground.first_east, ground.per_metre, ground.columns)
        column_to = bucket_of(rim_east, ground.first_east, ground.per_metre, ground.columns)
        row_from = bucket_of(south, ground.first_north, ground.per_metre, ground.rows)
        row_to = bucket_of(rim_north, ground.first_north, ground.per_metre, ground.rows)
        buckets = (row_to - row_from + 1) * (column_to - column_from + 1)
        for visited in range(buckets):
            row = row_from + visited // (column_to - column_from + 1)
            column = column_from + visited % (column_to - column_from + 1)
            bucket = row * ground.columns + column
            for place in range(ground.start[bucket], ground.start[bucket + 1]):
                # Counted once: in the first bucket that the triangle and the pad share.
                entry = ground.entry[place]
                if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                    continue
                t = entry >> 2
                a, b, c = ground.triangles[t, 0], ground.triangles[t, 1], ground.triangles[t, 2]
                if min(east[a], east[b], east[c]) > rim_east or min(north[a], north[b], north[c]) > rim_north:
                    continue
                if max(east[a], east[b], east[c]) < west or max(north[a], north[b], north[c]) < south:
                    continue
                held, size = _clip(ground, pad, first, last, pose, t, room)
                before = count
                for i in range(1, size - 1):
                    area = 0.5 * (
                        (polygon[held, i + 1, 0] - polygon[held, 0, 0]) * (polygon[held, i, 1] - polygon[held, 0, 1])
                        - (polygon[held, i, 0] - polygon[held, 0, 0]) * (polygon[held, i + 1, 1] - polygon[held, 0, 1])
                    )
                    if area > 0.0:
                        heights = (polygon[held, 0, 2], polygon[held, i, 2], polygon[held, i + 1, 2])
                        pieces = _add_piece(pieces, count, area, heights)
                        count += 1
                        summary[0] += area
                        summary[1] += area * ((heights[0] + heights[1] + heights[2]) / 3.0)
                if count > before:
                    _note_levels(room, held, size, outline, summary)
    return pieces, count


@compiled
def solve(
    ground: GroundArrays,
    pad: PadArrays,
    poses: FloatArray,
    kind: int,
    rule: FloatArray,
    result: FloatArray,
    status: IntArray,
) -> None:
    """Find the formation, cut and fill of each pose.

    Parameters
    ----------
    poses : array, shape (k, 4)
    kind : int
        `BALANCED`, `WEIGHTS`, `FIXED`, `FLUSH`, `GOAL` or `FLUSH_LOW`.
    rule : array, shape (18,)
        As `LevelRule.numbers` gives it.
    result : array, shape (k, 11)
        NaN; written as far as it is known: formation, cut, fill, area, mean, lowest and highest ground, lowest and
        highest edge, least and greatest formation allowed.
    status : array of int, shape (k,)
        Written: `ALLOWED`, `NOT_COVERED`, `LIMITS_CROSS` or `OUTSIDE_LIMITS`.
    """
    width = 3
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 3 + pad.part[p + 1] - pad.part[p])
    pieces = np.empty((256, 4))
    room = Room(np.empty((2, width, 4)), np.zeros((2, width), dtype=np.int64))
    summary = np.empty(6)
    for i in range(poses.shape[0]):
        pieces, count = _gather(ground, pad, poses[i], room, pieces, summary)
        total, volume = summary[0], summary[1]
        result[i, 3] = total
        if not total >= pad.area * (1.0 - COVERED):
            status[i] = NOT_COVERED
            continue
        result[i, 4] = volume / total
        for j in range(4):
            result[i, 5 + j] = summary[2 + j]
        thickness, strip = rule[5], rule[6]
        least = max(summary[3] - strip - rule[8], rule[10] - thickness)
        most = min(summary[4] + rule[7] - thickness, summary[2] - strip + rule[9], rule[11] - thickness)
        result[i, 9], result[i, 10] = least, most
        if least > most:
            status[i] = LIMITS_CROSS
            continue
        if kind == BALANCED:
            level = balance_level(pieces, count, rule[0], rule[1], summary) - strip
        elif kind == WEIGHTS:
            level = share_level(pieces, count, total * rule[3] / (rule[2] + rule[3]), summary) - strip
        elif kind == FIXED:
            level = rule[4] - thickness
        elif kind == FLUSH:
            level = summary[5] - thickness
        elif kind == FLUSH_LOW:
            level = summary[4] - thickness
        else:
            rise = thickness - strip
            level = goal_level(pieces, count, rule, summary, rise, least + strip, most + strip) - strip
        status[i] = ALLOWED
        if kind <= WEIGHTS or kind == GOAL:
            level = min(max(level, least), most)
        elif level < least - 1e-9 or level > most + 1e-9:
            status[i] = OUTSIDE_LIMITS
        cut, _over, _too = above_level(pieces, count, level + strip)
        result[i, 0], result[i, 1] = level, cut
        nothing_below = level + strip <= summary[2]
        result[i, 2] = 0.0 if nothing_below else max(cut - (volume - total * (level + strip)), 0.0)
