"""What a weighted sum of the ground loses at most while the pad moves within a box: of first and of second order.

The kept machine code of `bound_kernel` and `bound_plain` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_bends import bends_under, stands_by, sweep
from spadework.placement.bound_core import ROUNDING
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["moved_by", "orders", "pad_extent"]


@compiled_inner
def pad_extent(pad: PadArrays, extent: FloatArray) -> None:
    """Write least and greatest u, least and greatest v of the pad."""
    extent[0], extent[1], extent[2], extent[3] = np.inf, -np.inf, np.inf, -np.inf
    for j in range(pad.corners.shape[0]):
        extent[0], extent[1] = min(extent[0], pad.corners[j, 0]), max(extent[1], pad.corners[j, 0])
        extent[2], extent[3] = min(extent[2], pad.corners[j, 1]), max(extent[3], pad.corners[j, 1])


@compiled_inner
def moved_by(
    boxes: FloatArray, k: int, extent: FloatArray, pose: FloatArray, motion: FloatArray, swept: FloatArray
) -> None:
    """Write pose and motion of a box, and the rectangle in the pad's frame that the pad sweeps over.

    ``pose``: east and north of the centre, sine and cosine of its bearing. ``motion``: sine and cosine of it, the half
    widths east, north and of bearing, and sine and cosine of that last one, a right angle at most.
    """
    a, b, d = boxes[k, 3], boxes[k, 4], boxes[k, 5]
    sine, cosine = math.sin(boxes[k, 2]), math.cos(boxes[k, 2])
    pose[0], pose[1], pose[2], pose[3] = boxes[k, 0], boxes[k, 1], sine, cosine
    turn_sine, turn_cosine = math.sin(min(d, 0.5 * math.pi)), math.cos(min(d, 0.5 * math.pi))
    motion[0], motion[1], motion[2], motion[3], motion[4] = sine, cosine, a, b, d
    motion[5], motion[6] = turn_sine, turn_cosine
    sweep(extent, motion, 1.0, swept)


@compiled_inner
def orders(
    mesh: Mesh,
    near: FloatArray,
    count: int,
    extent: FloatArray,
    motion: FloatArray,
    sums: FloatArray,
    pad: PadArrays,
    value: float,
    weights: FloatArray,
    ways: int,
    stands: FloatArray,
    form: FloatArray,
) -> tuple[float, float, float]:
    """Return the bounds of second order, the slopes at the centre still to be taken off, and of first order; rounding.

    ``value`` and ``weights`` are those of `dual_value` at the centre of the box, ``stands`` and ``form`` room for
    `bends_under`.
    """
    a, b, d = motion[2], motion[3], motion[4]
    mean_u, mean_v = sums[1] / sums[0], sums[2] / sums[0]
    slide = math.sqrt(a * a + b * b)
    rest, turned = 0.0, 0.0
    for i in range(count):
        off = near[i, 9] * math.sqrt((near[i, 7] - mean_u) ** 2 + (near[i, 8] - mean_v) ** 2)
        arm = 0.0
        for k in range(3):
            arm = max(arm, near[i, 2 * k] ** 2 + near[i, 2 * k + 1] ** 2)
        rest += off
        turned += off * min(pad.reach, math.sqrt(arm) + slide)
    shift = slide + pad.reach * d
    plane = math.sqrt(mean_u * mean_u + mean_v * mean_v)
    arm = math.sqrt(weights[6] ** 2 + weights[7] ** 2)
    largest = weights[8]
    rounding = ROUNDING * abs(value) + 1e-13 * pad.area + ROUNDING * largest * pad.area * shift * plane
    second = value
    if ways & 1:
        stands_by(pad, extent, motion, stands)
        bends, changes = bends_under(mesh, near, count, pad, motion, stands, weights, sums[3], form)
        # The turn draws every point of the pad towards its origin, by half the square of the turn.
        inward = 0.5 * max(weights[16], 0.0) + (changes + d * (plane * arm + largest * turned)) / 6.0
        second -= bends + d * d * min(inward, 0.5 * (plane * arm + largest * turned))
    # Where the level is fixed the weights need not sum to nothing, and a shift of the mean plane counts.
    level = abs(weights[9]) * plane * slide
    first = value - plane * arm * 2.0 * math.sin(min(0.5 * d, 0.5 * math.pi)) - largest * shift * rest
    return second, first - level, rounding
