"""The edge of the pad where a bound needs its highest ground from above, or its lowest from below: bit by bit.

The kept machine code of `bound_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner, compiled_part
from spadework.placement.swept_kernel import clip
from spadework.readings import FloatArray

__all__ = ["least_of_bits"]


@compiled_part
def least_of_bits(
    near: FloatArray,
    count: int,
    motion: FloatArray,
    bits: FloatArray,
    made: int,
    mass: float,
    slopes: FloatArray,
    room: FloatArray,
) -> float:
    """Return a lower bound of ``S x + mass times the extreme height along the edge`` where the mass has the wrong sign.

    With a mass below nothing it is the highest ground, above nothing the lowest. The edge comes in bits, each under a
    plane (over one): that of its triangle, or, where the edge is highest (lowest) at a crossing, the one that follows
    the crossing; where ground near a stretch of the bit rises above the plane, that stretch counts by so much more.
    Whichever bit holds the extreme, the sum is no less than what its plane gives.
    """
    peak = 1.0 if mass < 0.0 else -1.0
    plane = np.empty(6)
    least = np.inf
    for i in range(made):
        best = -np.inf
        for way in range(3):
            gu, gv = bits[i, 6], bits[i, 7]
            at = 3 if way < 2 else 0
            if way > 0:
                column = 10 if way == 1 else 8
                if bits[i, column + 1] != peak or bits[i, column] == 0.0:
                    continue
                gu, gv = bits[i, column] * bits[i, 12], bits[i, column] * bits[i, 13]
            plane[0], plane[1], plane[2] = bits[i, at], bits[i, at + 1], bits[i, at + 2]
            plane[3], plane[4], plane[5] = gu, gv, peak
            value = _stretch(motion, bits, i, 0.0, 1.0, plane, mass, slopes)
            if value > best:
                best = max(best, _with_ground(near, count, motion, bits, i, plane, mass, slopes, value, best, room))
            if best >= least:
                break
        least = min(least, best)
    return least


@compiled_inner
def _stretch(
    motion: FloatArray,
    bits: FloatArray,
    row: int,
    first: float,
    last: float,
    plane: FloatArray,
    mass: float,
    slopes: FloatArray,
) -> float:
    """Return the least of the sum over a stretch of a bit (shares of it) whose height follows a plane."""
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    gu, gv = plane[3], plane[4]
    east, north = slopes[0] + mass * (gu * sine + gv * cosine), slopes[1] + mass * (gu * cosine - gv * sine)
    value, far = np.inf, 0.0
    for end in range(2):
        share = first if end == 0 else last
        u = bits[row, 0] + share * (bits[row, 3] - bits[row, 0])
        v = bits[row, 1] + share * (bits[row, 4] - bits[row, 1])
        height = plane[2] + gu * (u - plane[0]) + gv * (v - plane[1])
        value = min(value, mass * height - abs(slopes[2] + mass * (gv * u - gu * v)) * d)
        far = max(far, math.sqrt(u * u + v * v))
    turned = 0.5 * abs(mass) * d * d * far * math.sqrt(gu * gu + gv * gv)
    return float(value - abs(east) * a - abs(north) * b - turned)


@compiled_inner
def _with_ground(
    near: FloatArray,
    count: int,
    motion: FloatArray,
    bits: FloatArray,
    row: int,
    plane: FloatArray,
    mass: float,
    slopes: FloatArray,
    value: float,
    floor: float,
    room: FloatArray,
) -> float:
    """Return the bound of a bit with what ground near it rises above its plane; stop once no better than a floor."""
    a, b, d = motion[2], motion[3], motion[4]
    au, av, bu, bv = bits[row, 0], bits[row, 1], bits[row, 3], bits[row, 4]
    long = math.sqrt((bu - au) ** 2 + (bv - av) ** 2)
    if long <= 0.0:
        return value if long == 0.0 else -np.inf
    tu, tv = (bu - au) / long, (bv - av) / long
    nu, nv = bits[row, 12], bits[row, 13]
    far = math.sqrt(max(au * au + av * av, bu * bu + bv * bv))
    wide = math.sqrt(a * a + b * b) + far * d
    start, side = au * tu + av * tv, au * nu + av * nv
    peak = plane[5]
    for t in range(count):
        low_x, high_x, low_y, high_y, above = np.inf, -np.inf, np.inf, -np.inf, -np.inf
        for i in range(3):
            u, v = near[t, 2 * i], near[t, 2 * i + 1]
            x, y = u * tu + v * tv - start, u * nu + v * nv - side
            low_x, high_x, low_y, high_y = min(low_x, x), max(high_x, x), min(low_y, y), max(high_y, y)
            ground = near[t, 6] + near[t, 7] * (u - near[t, 0]) + near[t, 8] * (v - near[t, 1])
            over = ground - plane[2] - plane[3] * (u - plane[0]) - plane[4] * (v - plane[1])
            above = max(above, peak * over)
            room[0, i, 0], room[0, i, 1] = u, v
        if above <= 0.0 or low_x > long + wide or high_x < -wide or low_y > wide or high_y < -wide:
            continue
        held, size = clip(room, 0, 3, tu, tv, start + long + wide)
        held, size = clip(room, held, size, -tu, -tv, wide - start)
        held, size = clip(room, held, size, nu, nv, side + wide)
        held, size = clip(room, held, size, -nu, -nv, wide - side)
        above, low_x, high_x = 0.0, np.inf, -np.inf
        for i in range(size):
            u, v = room[held, i, 0], room[held, i, 1]
            ground = near[t, 6] + near[t, 7] * (u - near[t, 0]) + near[t, 8] * (v - near[t, 1])
            over = ground - plane[2] - plane[3] * (u - plane[0]) - plane[4] * (v - plane[1])
            above = max(above, peak * over)
            x = u * tu + v * tv - start
            low_x, high_x = min(low_x, x), max(high_x, x)
        if above <= 0.0:
            continue
        first, last = max((low_x - wide) / long, 0.0), min((high_x + wide) / long, 1.0)
        if first > last:
            continue
        value = min(value, _stretch(motion, bits, row, first, last, plane, mass, slopes) - abs(mass) * above)
        if value <= floor:
            break
    return value
