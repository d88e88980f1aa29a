"""The same test as the compiled one, for machines without a compiler: a side at a time, all poses at once."""

from __future__ import annotations

import numpy as np

from spadework.placement.clearance_kernel import TOLERANCE
from spadework.placement.limits import BoolArray
from spadework.readings import FloatArray, IntArray

__all__ = ["clear_with_numpy"]


def clear_with_numpy(  # noqa: PLR0917 -- the arguments of the kernel, in its order
    poses: FloatArray,
    land: FloatArray,
    first_side: IntArray,
    inside: IntArray,
    required: FloatArray,
    corners: FloatArray,
    sides: FloatArray,
    outer: IntArray,
    part: IntArray,
    inner: FloatArray,
    reach: float,
    radius: float,
    every: bool,
    distance: FloatArray,
    allowed: BoolArray,
) -> None:
    """Do what `clear_kernel` does, with the same arguments."""
    sine, cosine = np.sin(poses[:, 2]), np.cos(poses[:, 2])
    left = np.arange(len(poses))
    for limit in range(len(required)):
        nearest, deepest = np.full(len(left), np.inf), np.zeros(len(left))
        odd = np.zeros(len(left), dtype=np.bool_)
        for i in range(first_side[limit], first_side[limit + 1]):
            ends = []
            for at in (0, 2):
                east, north = land[i, at] - poses[left, 0], land[i, at + 1] - poses[left, 1]
                ends.append((east * sine[left] + north * cosine[left], east * cosine[left] - north * sine[left]))
            (au, av), (bu, bv) = ends
            with np.errstate(divide="ignore", invalid="ignore"):
                across = au + (inner[1] - av) / (bv - av) * (bu - au)
            odd ^= ((av > inner[1]) != (bv > inner[1])) & (inner[0] < across)
            if radius > 0.0:
                away = np.sqrt(_points_to_side(0.0, 0.0, au, av, bu, bv)) - radius
                nearest = np.minimum(nearest, np.maximum(away, 0.0))
                deepest = np.maximum(deepest, np.where(away < -TOLERANCE, -away, 0.0))
                continue
            deepest = np.maximum(deepest, _depths_inside(au, av, bu, bv, sides, outer, part))
            for (cu, cv), (du, dv) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
                for square in (
                    _points_to_side(cu, cv, au, av, bu, bv),
                    _points_to_side(au, av, cu, cv, du, dv),
                    _points_to_side(bu, bv, cu, cv, du, dv),
                ):
                    nearest = np.minimum(nearest, np.sqrt(square))
        wrong = odd != (inside[limit] == 1)
        distance[left, limit] = np.where(deepest > 0, -deepest, np.where(wrong, -nearest - reach, nearest))
        keeps = distance[left, limit] >= required[limit] - TOLERANCE
        allowed[left[~keeps]] = False
        if not every:
            left = left[keeps]


def _points_to_side(  # noqa: PLR0917 -- coordinates of three points
    pu: FloatArray | float, pv: FloatArray | float, au: FloatArray, av: FloatArray, bu: FloatArray, bv: FloatArray
) -> FloatArray:
    """Return squared distances as `_point_to_side` does, for arrays."""
    du, dv = bu - au, bv - av
    square = du * du + dv * dv
    share = np.clip(((pu - au) * du + (pv - av) * dv) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    result: FloatArray = (au + share * du - pu) ** 2 + (av + share * dv - pv) ** 2
    return result


def _depths_inside(  # noqa: PLR0917 -- a side and the parts of the pad
    au: FloatArray,
    av: FloatArray,
    bu: FloatArray,
    bv: FloatArray,
    sides: FloatArray,
    outer: IntArray,
    part: IntArray,
) -> FloatArray:
    """Return depths as `_depth_inside` does, for arrays."""
    deepest = np.zeros(len(au))
    for p in range(len(part) - 1):
        rows = range(part[p], part[p + 1])
        first, last = np.zeros(len(au)), np.ones(len(au))
        for h in rows:
            line = sides[h, 2] - TOLERANCE * outer[h]
            over_a = sides[h, 0] * au + sides[h, 1] * av - line
            over_b = sides[h, 0] * bu + sides[h, 1] * bv - line
            gap = over_a - over_b
            at = over_a / np.where(gap == 0, 1.0, gap)
            last = np.where((over_a > 0) & (over_b > 0), -1.0, last)
            first = np.where((over_a > 0) & (over_b <= 0), np.maximum(first, at), first)
            last = np.where((over_a <= 0) & (over_b > 0), np.minimum(last, at), last)
        middle = 0.5 * (first + last)
        mu, mv = au + middle * (bu - au), av + middle * (bv - av)
        outside = [sides[h, 2] - sides[h, 0] * mu - sides[h, 1] * mv for h in rows if outer[h] == 1]
        depth = np.min(outside, axis=0) if outside else np.full(len(au), TOLERANCE)
        deepest = np.where(first <= last, np.maximum(deepest, depth), deepest)
    return deepest
