"""The compiled test of many poses against the sides of boundary and keep-outs: plain arrays, no checks."""

from __future__ import annotations

import math

from spadework.earthwork._compile import compiled, compiled_inner
from spadework.placement.limits import BoolArray
from spadework.readings import FloatArray, IntArray

__all__ = ["TOLERANCE", "clear_kernel"]

TOLERANCE = 1e-9
"""Two things nearer than this touch. [m]"""


@compiled
def clear_kernel(  # noqa: PLR0917 -- the land, the pad and the results
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
    """Fill ``distance`` and ``allowed`` for poses in radians, counted from the origin of the sides.

    Unless ``every``, a pose is left at the first limit that it breaks, and sides that are clear by their distance from
    the pad's centre are passed over. With a ``radius`` the pad is a circle, and its corners and parts do not count.
    """
    for k in range(poses.shape[0]):
        sine, cosine = math.sin(poses[k, 2]), math.cos(poses[k, 2])
        for limit in range(required.shape[0]):
            nearest, deepest, odd = math.inf, 0.0, False
            for i in range(first_side[limit], first_side[limit + 1]):
                east, north = land[i, 0] - poses[k, 0], land[i, 1] - poses[k, 1]
                au, av = east * sine + north * cosine, east * cosine - north * sine
                east, north = land[i, 2] - poses[k, 0], land[i, 3] - poses[k, 1]
                bu, bv = east * sine + north * cosine, east * cosine - north * sine
                if (av > inner[1]) != (bv > inner[1]) and inner[0] < au + (inner[1] - av) / (bv - av) * (bu - au):
                    odd = not odd
                if radius > 0.0:
                    # A round pad is a circle about its origin.
                    away = math.sqrt(_point_to_side(0.0, 0.0, au, av, bu, bv)) - radius
                    nearest = min(nearest, max(away, 0.0))
                    if away < -TOLERANCE:
                        deepest = max(deepest, -away)
                    continue
                bound = math.sqrt(_point_to_side(0.0, 0.0, au, av, bu, bv)) - reach
                if bound > nearest or (not every and bound > required[limit]):
                    continue
                depth = _depth_inside(au, av, bu, bv, sides, outer, part)
                if depth > 0.0:
                    deepest = max(deepest, depth)
                    if not every:
                        break
                    continue
                nearest = min(nearest, _side_to_outline(au, av, bu, bv, corners))
            if deepest > 0.0:
                distance[k, limit] = -deepest
            elif odd != (inside[limit] == 1):
                distance[k, limit] = -nearest - reach
            else:
                distance[k, limit] = nearest
            if distance[k, limit] < required[limit] - TOLERANCE:
                allowed[k] = False
                if not every:
                    break


@compiled_inner
def _point_to_side(  # noqa: PLR0917 -- coordinates of three points
    pu: float, pv: float, au: float, av: float, bu: float, bv: float
) -> float:
    """Return the squared distance from a point to the side from a to b."""
    du, dv = bu - au, bv - av
    square = du * du + dv * dv
    share = 0.0
    if square > 0.0:
        share = min(1.0, max(0.0, ((pu - au) * du + (pv - av) * dv) / square))
    return (au + share * du - pu) ** 2 + (av + share * dv - pv) ** 2


@compiled_inner
def _side_to_outline(au: float, av: float, bu: float, bv: float, corners: FloatArray) -> float:
    """Return the distance from a side to an outline that it does not cross: an end of one is nearest."""
    nearest = math.inf
    count = corners.shape[0]
    for i in range(count):
        cu, cv = corners[i, 0], corners[i, 1]
        j = i + 1 if i + 1 < count else 0
        du, dv = corners[j, 0], corners[j, 1]
        nearest = min(nearest, _point_to_side(cu, cv, au, av, bu, bv))
        nearest = min(nearest, _point_to_side(au, av, cu, cv, du, dv))
        nearest = min(nearest, _point_to_side(bu, bv, cu, cv, du, dv))
    return math.sqrt(nearest)


@compiled_inner
def _depth_inside(  # noqa: PLR0917 -- a side and the parts of the pad
    au: float,
    av: float,
    bu: float,
    bv: float,
    sides: FloatArray,
    outer: IntArray,
    part: IntArray,
) -> float:
    """Return how deep the middle of the part of a side within the pad lies, or zero where no part is inside.

    Each convex piece cuts the side to the part between its lines (M. Cyrus and J. Beck, "Generalized two- and
    three-dimensional clipping", Computers & Graphics 3 (1978) 23-28, from memory). Lines of the outline are moved
    inward by the tolerance, so that a side which only touches does not enter.
    """
    deepest = 0.0
    for p in range(part.shape[0] - 1):
        first, last = 0.0, 1.0
        for h in range(part[p], part[p + 1]):
            line = sides[h, 2] - TOLERANCE * outer[h]
            over_a = sides[h, 0] * au + sides[h, 1] * av - line
            over_b = sides[h, 0] * bu + sides[h, 1] * bv - line
            if over_a > 0.0 and over_b > 0.0:
                last = -1.0
                break
            if over_a > 0.0:
                first = max(first, over_a / (over_a - over_b))
            elif over_b > 0.0:
                last = min(last, over_a / (over_a - over_b))
        if first > last:
            continue
        middle = 0.5 * (first + last)
        mu, mv = au + middle * (bu - au), av + middle * (bv - av)
        depth = math.inf
        for h in range(part[p], part[p + 1]):
            if outer[h] == 1:
                depth = min(depth, sides[h, 2] - sides[h, 0] * mu - sides[h, 1] * mv)
        # A piece with no side of the outline lies inside by at least the tolerance.
        deepest = max(deepest, TOLERANCE if depth == math.inf else depth)
    return deepest
