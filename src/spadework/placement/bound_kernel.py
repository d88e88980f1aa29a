"""The compiled lower bound over boxes of placements: plain arrays, no checks.

A box holds all poses within half widths ``a`` east, ``b`` north and ``d`` of bearing about its centre. Let ``s`` be a
weight at each point of the pad, as the best level at the centre gives it: what a metre of ground there adds to the
value. No pose of the box has a lower value than ``G = ∫ s(q) z(pose(q)) dq`` (duality: the value is the greatest such
integral), and at the centre the two are equal. ``G`` is then bounded over the box in three ways; the best one counts.

* second order: the exact gradient at the centre, and half the square of the shift times the bends under the box;
* first order: the mean plane taken out, and the shift times what is left of the slope under the box;
* core: what the part of the pad that is common to all poses costs by itself.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_dual import dual_value
from spadework.placement.bound_ground import near_triangles, pad_pieces_near
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["bound_boxes"]

COVERED = 1e-9
"""Share of an area that may be missing by rounding."""

ROUNDING = 1e-9
"""Share of the terms of a bound that is taken off for rounding."""


@compiled
def bound_boxes(mesh: Mesh, pad: PadArrays, boxes: FloatArray, rule: FloatArray, ways: int, result: FloatArray) -> None:
    """Write a lower bound of the value over each box, and the value at its centre.

    Parameters
    ----------
    boxes : array, shape (k, 6)
        Local east and north [m] and bearing [rad] of the centre, half widths of the same.
    rule : array, shape (11,)
        Weights of cut and of fill; compacted volume of one in the bank; least and greatest trade; compacted volume that
        may be bought; 1 where the level is fixed, and that level of the formation, strip added; least trade that the
        goal itself gives; what a volume short counts where the level is fixed and none may be short; compacted volume
        that is there besides the cut. The trade is what a compacted volume over adds to the value, whichever way it
        counts.
    ways : int
        Which bounds are used: 1 second order, 2 first order, 4 core, or sums of these.
    result : array, shape (k, 3)
        Written: bound, minus infinity where there is none; value at the centre, NaN where the pad is not covered;
        triangles under the box.
    """
    width = 8
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 4 + pad.part[p + 1] - pad.part[p])
    room = np.empty((2, width, 3))
    near, pieces = np.empty((128, 10)), np.empty((256, 12))
    sums, weights = np.empty(5), np.empty(10)
    pose, swept = np.empty(4), np.empty(4)
    shrink = np.zeros(pad.sides.shape[0])
    least_u, most_u, least_v, most_v = np.inf, -np.inf, np.inf, -np.inf
    for j in range(pad.corners.shape[0]):
        least_u, most_u = min(least_u, pad.corners[j, 0]), max(most_u, pad.corners[j, 0])
        least_v, most_v = min(least_v, pad.corners[j, 1]), max(most_v, pad.corners[j, 1])
    wide_u, wide_v = max(abs(least_u), abs(most_u)), max(abs(least_v), abs(most_v))
    for k in range(boxes.shape[0]):
        a, b, d = boxes[k, 3], boxes[k, 4], boxes[k, 5]
        sine, cosine = math.sin(boxes[k, 2]), math.cos(boxes[k, 2])
        pose[0], pose[1], pose[2], pose[3] = boxes[k, 0], boxes[k, 1], sine, cosine
        turn_sine, turn_cosine = math.sin(min(d, 0.5 * math.pi)), math.cos(min(d, 0.5 * math.pi))
        shift_u, shift_v = a * abs(sine) + b * abs(cosine), a * abs(cosine) + b * abs(sine)
        swept[0] = min(least_u, least_u * turn_cosine) - shift_u - wide_v * turn_sine
        swept[1] = max(most_u, most_u * turn_cosine) + shift_u + wide_v * turn_sine
        swept[2] = min(least_v, least_v * turn_cosine) - shift_v - wide_u * turn_sine
        swept[3] = max(most_v, most_v * turn_cosine) + shift_v + wide_u * turn_sine
        near, count = near_triangles(mesh, pose, swept, room, near, sums)
        result[k, 0], result[k, 1], result[k, 2] = -np.inf, np.nan, count
        covered = sums[0] >= (swept[1] - swept[0]) * (swept[3] - swept[2]) * (1.0 - COVERED)
        # The whole pad at the centre first, then the core: the sides drawn in as far as any pose of the box moves them.
        for turn in range(2):
            core = turn == 1
            if (core and ways & 4 == 0) or (not core and not covered):
                continue
            for j in range(shrink.shape[0]):
                x, y = pad.sides[j, 0], pad.sides[j, 1]
                across = 0.0
                for i in range(pad.corners.shape[0]):
                    across = max(across, abs(x * pad.corners[i, 1] - y * pad.corners[i, 0]))
                slid = abs(x * sine + y * cosine) * a + abs(x * cosine - y * sine) * b
                shrink[j] = (slid + across * turn_sine + (1.0 - turn_cosine) * pad.reach) if core else 0.0
            pieces, made = pad_pieces_near(near, count, pad, shrink, room, pieces)
            if made == 0:
                continue
            value = dual_value(pieces, made, rule, weights)
            rounding = ROUNDING * abs(value) + 1e-13 * pad.area
            if core:
                # A part costs no more than the whole where neither volume lowers the value.
                if min(weights[0], weights[1]) >= 0.0:
                    result[k, 0] = max(result[k, 0], value - rounding)
                continue
            result[k, 1] = value
            mean_u, mean_v = sums[1] / sums[0], sums[2] / sums[0]
            rest = 0.0
            for i in range(count):
                rest += near[i, 9] * math.sqrt((near[i, 7] - mean_u) ** 2 + (near[i, 8] - mean_v) ** 2)
            shift = math.sqrt(a * a + b * b) + pad.reach * d
            plane = math.sqrt(mean_u * mean_u + mean_v * mean_v)
            arm = math.sqrt(weights[6] ** 2 + weights[7] ** 2)
            largest = weights[8]
            rounding += ROUNDING * largest * pad.area * shift * plane
            if ways & 1:
                gain_east = weights[3] * sine + weights[4] * cosine
                gain_north = weights[3] * cosine - weights[4] * sine
                bends = max(weights[1], 0.0) * sums[3] + max(weights[0], 0.0) * sums[4]
                second = value - abs(gain_east) * a - abs(gain_north) * b - abs(weights[5]) * d
                second -= 0.5 * (bends * shift * shift + d * d * (plane * arm + largest * pad.reach * rest))
                result[k, 0] = second - rounding
            if ways & 2:
                # Where the level is fixed the weights need not sum to nothing, and a shift of the mean plane counts.
                slide = abs(weights[9]) * plane * math.sqrt(a * a + b * b)
                first = value - plane * arm * 2.0 * math.sin(min(0.5 * d, 0.5 * math.pi)) - largest * shift * rest
                result[k, 0] = max(result[k, 0], first - slide - rounding)
