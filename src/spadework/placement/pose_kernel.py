"""The compiled test of many poses against points to reach and points to face: plain arrays, no checks."""

from __future__ import annotations

import math

from spadework.earthwork._compile import compiled
from spadework.placement.clearance_kernel import _point_to_side
from spadework.readings import FloatArray, IntArray

__all__ = ["FACE", "FARTHEST", "MIDDLE", "NEAREST", "pose_kernel"]

NEAREST, MIDDLE, FARTHEST, FACE = 0, 1, 2, 3


@compiled
def pose_kernel(  # noqa: PLR0917 -- the rules, the pad and the result
    poses: FloatArray,
    points: FloatArray,
    kind: IntArray,
    sides: FloatArray,
    corners: FloatArray,
    radius: float,
    result: FloatArray,
) -> None:
    """Fill ``result`` (k, r) with what each rule measures at each pose: a distance [m], or an angle [deg].

    Parameters
    ----------
    poses : array, shape (k, 3)
        Local east, north [m] and bearing [rad].
    points : array, shape (r, 2)
        Local east and north of the point. [m]
    kind : array of int, shape (r,)
        `NEAREST`, `MIDDLE`, `FARTHEST` point of the pad, or `FACE`.
    sides : array, shape (r, 4)
        For `FACE`: middle of the side and its way square out, in the pad's frame.
    corners : array, shape (m, 2)
        Of the outline, in the pad's frame. [m]
    radius : float
        Of a round pad; 0 for others. [m]
    """
    count = corners.shape[0]
    for k in range(poses.shape[0]):
        sine, cosine = math.sin(poses[k, 2]), math.cos(poses[k, 2])
        for rule in range(points.shape[0]):
            east, north = points[rule, 0] - poses[k, 0], points[rule, 1] - poses[k, 1]
            u, v = east * sine + north * cosine, east * cosine - north * sine
            middle = math.sqrt(u * u + v * v)
            if kind[rule] == MIDDLE:
                result[k, rule] = middle
            elif kind[rule] == FACE:
                along, aside = u - sides[rule, 0], v - sides[rule, 1]
                ahead = along * sides[rule, 2] + aside * sides[rule, 3]
                across = along * sides[rule, 3] - aside * sides[rule, 2]
                result[k, rule] = abs(math.degrees(math.atan2(across, ahead)))
            elif radius > 0.0:
                result[k, rule] = max(middle - radius, 0.0) if kind[rule] == NEAREST else middle + radius
            elif kind[rule] == FARTHEST:
                farthest = 0.0
                for i in range(count):
                    farthest = max(farthest, (corners[i, 0] - u) ** 2 + (corners[i, 1] - v) ** 2)
                result[k, rule] = math.sqrt(farthest)
            else:
                nearest, odd = math.inf, False
                for i in range(count):
                    j = i + 1 if i + 1 < count else 0
                    au, av, bu, bv = corners[i, 0], corners[i, 1], corners[j, 0], corners[j, 1]
                    if (av > v) != (bv > v) and u < au + (v - av) / (bv - av) * (bu - au):
                        odd = not odd
                    nearest = min(nearest, _point_to_side(u, v, au, av, bu, bv))
                result[k, rule] = 0.0 if odd else math.sqrt(nearest)
