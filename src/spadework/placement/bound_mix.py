"""The best mix of points for a bound: of the highest points, which weights make the bound over the box greatest.

The greatest of several heights is no less than any mix of them. A mix at whose weights the slopes in east, north and
bearing nearly cancel gives the best bound; it is found by a few steps of the method of M. Frank and P. Wolfe, "An
algorithm for quadratic programming", Naval Research Logistics 3 (1956), from memory: any mix is a bound. The kept
machine code of `bound_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner, compiled_part
from spadework.placement.bound_points import off_plane
from spadework.readings import FloatArray

__all__ = ["mixed_points"]

STEPS = 8


@compiled_inner
def _error(near: FloatArray, count: int, motion: FloatArray, points: FloatArray, row: int, higher: bool) -> float:
    """Return how much lower, or higher, than its straight way a point may come to lie; work it out once."""
    column = 6 if higher else 5
    if points[row, column] < 0.0:
        a, b, d = motion[2], motion[3], motion[4]
        arm = math.sqrt(points[row, 0] ** 2 + points[row, 1] ** 2)
        slope = math.sqrt(points[row, 3] ** 2 + points[row, 4] ** 2)
        wide = math.sqrt(a * a + b * b) + arm * d
        off = off_plane(near, count, points[row, :5], wide, wide, -1.0 if higher else 1.0)
        points[row, column] = off + 0.5 * d * d * arm * slope
    return float(points[row, column])


@compiled_inner
def _moves(points: FloatArray, row: int, motion: FloatArray, gains: FloatArray) -> None:
    """Write how the height of a point rises eastwards, northwards and with the bearing."""
    sine, cosine = motion[0], motion[1]
    gu, gv = points[row, 3], points[row, 4]
    gains[0], gains[1] = gu * sine + gv * cosine, gu * cosine - gv * sine
    gains[2] = gv * points[row, 0] - gu * points[row, 1]


@compiled_part
def mixed_points(
    near: FloatArray,
    count: int,
    motion: FloatArray,
    points: FloatArray,
    ends: FloatArray,
    mass: FloatArray,
    slopes: FloatArray,
) -> float:
    """Return the greatest bound found of ``S x + sum over the classes of mass times its extreme height``.

    ``mass`` has a weight for each of four classes: highest and lowest along the edge, highest and lowest under the pad;
    not below zero for the highest, not above for the lowest. ``ends`` has the number of points of each. ``slopes`` are
    ``S``: in them are added, on return, those of the mix.
    """
    held = np.zeros((4, 5))
    tried = np.zeros((4, 5))
    gains, first = np.empty(3), np.empty(3)
    for j in range(3):
        first[j] = slopes[j]
    for c in range(4):
        if mass[c] == 0.0:
            continue
        best, row = -np.inf, 0
        for i in range(int(ends[c])):
            if points[i, 2] * mass[c] > best:
                best, row = points[i, 2] * mass[c], i
        _moves(points, row, motion, gains)
        held[c, 0], held[c, 4] = points[row, 2], _error(near, count, motion, points, row, mass[c] < 0.0)
        for j in range(3):
            held[c, 1 + j] = gains[j]
            slopes[j] += mass[c] * gains[j]
    found = _worth(motion, mass, held, slopes)
    for _ in range(STEPS):
        for c in range(4):
            if mass[c] == 0.0:
                continue
            best, row = -np.inf, 0
            for i in range(int(ends[c])):
                _moves(points, i, motion, gains)
                value = points[i, 2]
                for j in range(3):
                    value -= gains[j] * motion[2 + j] * (1.0 if slopes[j] > 0.0 else -1.0 if slopes[j] < 0.0 else 0.0)
                known = points[i, 6] if mass[c] < 0.0 else points[i, 5]
                value = mass[c] * value - abs(mass[c]) * max(known, 0.0)
                if value > best:
                    best, row = value, i
            _moves(points, row, motion, gains)
            tried[c, 0], tried[c, 4] = points[row, 2], _error(near, count, motion, points, row, mass[c] < 0.0)
            for j in range(3):
                tried[c, 1 + j] = gains[j]
        moved, share = found, 0.0
        for k in range(4):
            # The bound is straight in the share of the new mix between the places where a slope changes its sign.
            t = 1.0
            if k < 3:
                there = first[k]
                for c in range(4):
                    there += mass[c] * tried[c, 1 + k]
                if slopes[k] == there:
                    continue
                t = slopes[k] / (slopes[k] - there)
                if not 0.0 < t < 1.0:
                    continue
            value = _blended(motion, mass, held, tried, first, t)
            if value > moved:
                moved, share = value, t
        if share == 0.0 or moved <= found + 1e-12 * abs(found):
            break
        for c in range(4):
            for j in range(5):
                held[c, j] += share * (tried[c, j] - held[c, j])
        for j in range(3):
            slopes[j] = first[j]
            for c in range(4):
                slopes[j] += mass[c] * held[c, 1 + j]
        found = moved
    return found


@compiled_inner
def _worth(motion: FloatArray, mass: FloatArray, held: FloatArray, slopes: FloatArray) -> float:
    """Return the bound of a mix."""
    value = 0.0
    for c in range(4):
        value += mass[c] * held[c, 0] - abs(mass[c]) * held[c, 4]
    for j in range(3):
        value -= abs(slopes[j]) * motion[2 + j]
    return value


@compiled_inner
def _blended(
    motion: FloatArray, mass: FloatArray, held: FloatArray, tried: FloatArray, first: FloatArray, share: float
) -> float:
    """Return the bound of a mix of two mixes."""
    value = 0.0
    for c in range(4):
        height = held[c, 0] + share * (tried[c, 0] - held[c, 0])
        error = held[c, 4] + share * (tried[c, 4] - held[c, 4])
        value += mass[c] * height - abs(mass[c]) * error
    for j in range(3):
        slope = first[j]
        for c in range(4):
            slope += mass[c] * (held[c, 1 + j] + share * (tried[c, 1 + j] - held[c, 1 + j]))
        value -= abs(slope) * motion[2 + j]
    return value
