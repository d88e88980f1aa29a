"""The compiled range of levels whose banks stay on the land: plain arrays, no checks."""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_part
from spadework.earthwork.bank_arrays import BankArrays
from spadework.readings import FloatArray

__all__ = ["land_levels"]


@compiled_part
def land_levels(bank: BankArrays, pose: FloatArray, far: float) -> tuple[float, float]:
    """Return the lowest and the highest level whose banks stay clear of the land's stretches. [m]

    The banks of a level touch a place where the ground less ``s_c d`` stands above it, or the ground plus ``s_f d``
    lies below. Along a stretch within a part both are straight, or bend one way for a cone.
    """
    sine, cosine = pose[2], pose[3]
    least, most = -np.inf, np.inf
    s, f = bank.cut_slope, bank.fill_slope
    u_from, u_to = bank.wide[0] - far * bank.beyond[0], bank.wide[1] + far * bank.beyond[1]
    v_from, v_to = bank.wide[2] - far * bank.beyond[2], bank.wide[3] + far * bank.beyond[3]
    for r in range(bank.land.shape[0]):
        e, n = bank.land[r, 0] - pose[0], bank.land[r, 1] - pose[1]
        u, v, z = e * sine + n * cosine, e * cosine - n * sine, bank.land[r, 2]
        e, n = bank.land[r, 3] - pose[0], bank.land[r, 4] - pose[1]
        along_u, along_v, rise = e * sine + n * cosine - u, e * cosine - n * sine - v, bank.land[r, 5] - z
        if max(u, u + along_u) < u_from or min(u, u + along_u) > u_to:
            continue
        if max(v, v + along_v) < v_from or min(v, v + along_v) > v_to:
            continue
        for p in range(bank.part.shape[0] - 1):
            box = bank.box[p]
            if max(u, u + along_u) < box[0] or min(u, u + along_u) > box[1]:
                continue
            if max(v, v + along_v) < box[2] or min(v, v + along_v) > box[3]:
                continue
            start, end = 0.0, 1.0
            for j in range(bank.part[p], bank.part[p + 1]):
                inside = bank.sides[j, 2] - bank.sides[j, 0] * u - bank.sides[j, 1] * v
                change = -bank.sides[j, 0] * along_u - bank.sides[j, 1] * along_v
                if change > 0.0:
                    start = max(start, -inside / change)
                elif change < 0.0:
                    end = min(end, -inside / change)
                elif inside < 0.0:
                    end = -1.0
            if start > end:
                continue
            if bank.cone[p]:
                least = max(least, _highest(bank, p, u, v, z, along_u, along_v, rise, start, end, s))
                most = min(most, -_highest(bank, p, u, v, -z, along_u, along_v, -rise, start, end, f))
                continue
            a, b, c = bank.plane[p, 0], bank.plane[p, 1], bank.plane[p, 2]
            for t in (start, end):
                out = a * (u + t * along_u) + b * (v + t * along_v) - c
                least, most = max(least, z + t * rise - s * out), min(most, z + t * rise + f * out)
    return least, most


@compiled_part
def _highest(
    bank: BankArrays,
    p: int,
    u: float,
    v: float,
    z: float,
    along_u: float,
    along_v: float,
    rise: float,
    start: float,
    end: float,
    slope: float,
) -> float:
    """Return the greatest height less slope times distance from a corner along part of a stretch: it bends down."""
    u, v = u - bank.apex[p, 0], v - bank.apex[p, 1]
    square = along_u * along_u + along_v * along_v
    best = -np.inf
    middle = start
    if square > 0.0:
        length = math.sqrt(square)
        foot = -(u * along_u + v * along_v) / square
        aside = abs(u * along_v - v * along_u) / length
        tilt = rise / (length * slope)
        if abs(tilt) < 1.0:
            middle = min(max(foot + aside * tilt / math.sqrt(1.0 - tilt * tilt) / length, start), end)
    for t in (start, middle, end):
        far = math.sqrt((u + t * along_u) ** 2 + (v + t * along_v) ** 2)
        best = max(best, z + t * rise - slope * far)
    return best
