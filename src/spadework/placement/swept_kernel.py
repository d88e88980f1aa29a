"""What lies within the rectangle that a pad may sweep over: of a triangle, of an edge between two: compiled parts.

A rectangle is least and greatest u, least and greatest v in the pad's frame. The kept machine code of the kernels that
call these holds a copy and does not notice when only this file changes: empty ``__pycache__`` then.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.readings import FloatArray

__all__ = ["area_of", "area_within", "clip", "part_within", "speed_across"]


@compiled_inner
def clip(polygon: FloatArray, held: int, size: int, a: float, b: float, c: float) -> tuple[int, int]:
    """Clip a polygon (``polygon[held, :size]``) to ``a u + b v <= c``; return which half holds the result, its size."""
    worst, best = -np.inf, np.inf
    for i in range(size):
        over = a * polygon[held, i, 0] + b * polygon[held, i, 1] - c
        polygon[held, i, 2] = over
        worst, best = max(worst, over), min(best, over)
    if worst <= 0.0:
        return held, size
    if best >= 0.0:
        return held, 0
    other, made = 1 - held, 0
    for i in range(size):
        k = i + 1 if i + 1 < size else 0
        here, there = polygon[held, i, 2], polygon[held, k, 2]
        if here <= 0.0:
            polygon[other, made, 0], polygon[other, made, 1] = polygon[held, i, 0], polygon[held, i, 1]
            made += 1
        if (here < 0.0 and there > 0.0) or (here > 0.0 and there < 0.0):
            share = here / (here - there)
            polygon[other, made, 0] = polygon[held, i, 0] + share * (polygon[held, k, 0] - polygon[held, i, 0])
            polygon[other, made, 1] = polygon[held, i, 1] + share * (polygon[held, k, 1] - polygon[held, i, 1])
            made += 1
    return other, made


@compiled_inner
def area_within(room: FloatArray, swept: FloatArray) -> float:
    """Return the area of a triangle, ``room[0, :3]``, within a rectangle; ``room`` has shape (2, 8, 3) at least."""
    held, size = 0, 3
    for side in range(4):
        sign = -1.0 if side % 2 == 0 else 1.0
        along, aside = (sign, 0.0) if side < 2 else (0.0, sign)
        held, size = clip(room, held, size, along, aside, sign * swept[side])
        if size < 3:
            return 0.0
    return area_of(room, held, size)


@compiled_inner
def area_of(polygon: FloatArray, held: int, size: int) -> float:
    """Return the area of a convex polygon, ``polygon[held, :size]``."""
    area = 0.0
    for i in range(1, size - 1):
        area += 0.5 * abs(
            (polygon[held, i, 0] - polygon[held, 0, 0]) * (polygon[held, i + 1, 1] - polygon[held, 0, 1])
            - (polygon[held, i + 1, 0] - polygon[held, 0, 0]) * (polygon[held, i, 1] - polygon[held, 0, 1])
        )
    return area


@compiled_inner
def part_within(au: float, av: float, du: float, dv: float, swept: FloatArray) -> tuple[float, float]:
    """Return which part of the way ``(au, av) + t (du, dv)`` lies within a rectangle, from ``t`` to ``t``.

    The second is no more than the first where none does. The clipping is that of Liang and Barsky.
    """
    first, last = 0.0, 1.0
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
                last = -1.0
        elif p < 0.0:
            first = max(first, q / p)
        else:
            last = min(last, q / p)
    return first, last


@compiled_inner
def speed_across(au: float, av: float, du: float, dv: float, first: float, last: float, motion: FloatArray) -> float:
    """Return the integral of the square of the speed at which a pad may cross a part of an edge, along it.

    A point of the pad on the edge, ``x`` from the foot of the perpendicular from the pad's origin, crosses it by ``c +
    d |x|`` at the most while the pad goes from the middle of its box to the rim. ``motion`` begins with sine and cosine
    of the bearing and the half widths of the box.
    """
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    length = math.sqrt(du * du + dv * dv)
    if length == 0.0:
        return 0.0
    tu, tv = du / length, dv / length
    te, tn = abs(tu * sine + tv * cosine), abs(tu * cosine - tv * sine)
    across = a * tn + b * te + d * (a * te + b * tn)
    start = au * tu + av * tv
    return _primitive(start + last * length, across, d) - _primitive(start + first * length, across, d)


@compiled_inner
def _primitive(x: float, across: float, turn: float) -> float:
    """Return the integral of ``(c + d |x|)²`` from nothing to x."""
    far = turn * abs(x)
    return x * (across * across + across * far + far * far / 3.0)
