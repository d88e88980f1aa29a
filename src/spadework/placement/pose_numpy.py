"""The same test as the compiled one, for machines without a compiler: a rule at a time, all poses at once."""

from __future__ import annotations

import numpy as np

from spadework.placement.pose_kernel import FACE, FARTHEST, MIDDLE, NEAREST
from spadework.readings import FloatArray, IntArray

__all__ = ["poses_with_numpy"]


def poses_with_numpy(  # noqa: PLR0917 -- the arguments of the kernel, in its order
    poses: FloatArray,
    points: FloatArray,
    kind: IntArray,
    sides: FloatArray,
    corners: FloatArray,
    radius: float,
    result: FloatArray,
) -> None:
    """Do what `pose_kernel` does, with the same arguments."""
    sine, cosine = np.sin(poses[:, 2]), np.cos(poses[:, 2])
    for rule, point in enumerate(points):
        east, north = point[0] - poses[:, 0], point[1] - poses[:, 1]
        u, v = east * sine + north * cosine, east * cosine - north * sine
        if kind[rule] == FACE:
            along, aside = u - sides[rule, 0], v - sides[rule, 1]
            ahead = along * sides[rule, 2] + aside * sides[rule, 3]
            across = along * sides[rule, 3] - aside * sides[rule, 2]
            result[:, rule] = np.abs(np.degrees(np.arctan2(across, ahead)))
        elif kind[rule] == MIDDLE:
            result[:, rule] = np.hypot(u, v)
        elif radius > 0.0:
            away = np.hypot(u, v)
            result[:, rule] = np.maximum(away - radius, 0.0) if kind[rule] == NEAREST else away + radius
        elif kind[rule] == FARTHEST:
            result[:, rule] = np.hypot(corners[:, 0] - u[:, None], corners[:, 1] - v[:, None]).max(axis=1)
        else:
            result[:, rule] = _nearest(u, v, corners)


def _nearest(u: FloatArray, v: FloatArray, corners: FloatArray) -> FloatArray:
    """Return the distance from points to an outline, 0 for those inside."""
    nearest, odd = np.full(len(u), np.inf), np.zeros(len(u), dtype=np.bool_)
    for (au, av), (bu, bv) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        du, dv = bu - au, bv - av
        if av != bv:
            odd ^= ((av > v) != (bv > v)) & (u < au + (v - av) / (bv - av) * (bu - au))
        share = np.clip(((u - au) * du + (v - av) * dv) / (du * du + dv * dv), 0.0, 1.0)
        nearest = np.minimum(nearest, np.hypot(au + share * du - u, av + share * dv - v))
    result: FloatArray = np.where(odd, 0.0, nearest)
    return result
