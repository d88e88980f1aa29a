"""Single points of the pad that a bound rests on: where the edge, or the ground under the pad, is highest and lowest.

A row of the table of points: ``u, v``; height; slope along u and along v with which its height follows the pad; how
much lower and how much higher than that it may come to lie in the box, below nothing where it is not worked out yet.
A point fixed to the pad follows the plane of its triangle. Where a side of the pad crosses an edge of the ground, the
crossing is followed instead: it runs along that edge, and its height is as straight as the edge. A corner of the
ground that stays under the pad for the whole box keeps its height. The kept machine code of `bound_kernel` holds a
copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_ground import apart_from
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["edge_points", "inner_points", "off_plane"]

SHARPEST = 0.05
"""Sine of the angle between a side and an edge of the ground below which their crossing is not followed."""


@compiled_inner
def off_plane(near: FloatArray, count: int, plane: FloatArray, half_u: float, half_v: float, sign: float) -> float:
    """Return how far the ground of a rectangle lies below a plane (sign 1), or above it (sign -1), at most; or zero.

    ``plane`` holds ``u, v``, height there, and slope along u and along v; the rectangle lies about ``u, v``.
    """
    u, v, z, gu, gv = plane[0], plane[1], plane[2], plane[3], plane[4]
    worst = 0.0
    for t in range(count):
        low_u = max(u - half_u, min(near[t, 0], near[t, 2], near[t, 4]))
        high_u = min(u + half_u, max(near[t, 0], near[t, 2], near[t, 4]))
        if low_u > high_u:
            continue
        low_v = max(v - half_v, min(near[t, 1], near[t, 3], near[t, 5]))
        high_v = min(v + half_v, max(near[t, 1], near[t, 3], near[t, 5]))
        if low_v > high_v:
            continue
        du, dv = sign * (gu - near[t, 7]), sign * (gv - near[t, 8])
        base = sign * (z + gu * (near[t, 0] - u) + gv * (near[t, 1] - v) - near[t, 6])
        corner = base
        for i in range(1, 3):
            corner = max(corner, base + du * (near[t, 2 * i] - near[t, 0]) + dv * (near[t, 2 * i + 1] - near[t, 1]))
        if corner <= worst:
            continue
        within = base + max(du * (low_u - near[t, 0]), du * (high_u - near[t, 0]))
        within += max(dv * (low_v - near[t, 1]), dv * (high_v - near[t, 1]))
        if min(corner, within) > worst and not apart_from(near, t, u, v, half_u, half_v):
            worst = min(corner, within)
    return worst


@compiled_inner
def edge_points(
    mesh: Mesh,
    near: FloatArray,
    count: int,
    pad: PadArrays,
    motion: FloatArray,
    points: FloatArray,
    bits: FloatArray,
) -> tuple[int, int]:
    """List the points at which the edge of the pad may be highest or lowest, and the bits of the edge between them.

    ``motion`` holds sine and cosine of the bearing and the half widths of the box. A row of ``bits``: ``u, v`` and
    height of the two ends, and the plane of a bit: slope along u and along v; then for each end the slope, across the
    side, of the crossing there, and 1 where the edge is highest there, -1 where it is lowest, 0 where it runs on; at
    last the outward normal of the side.
    """
    points_made, bits_made = 0, 0
    for p in range(pad.part.shape[0] - 1):
        for j in range(pad.part[p], pad.part[p + 1]):
            if pad.outer[j] == 0:
                continue
            k = j + 1 if j + 1 < pad.part[p + 1] else pad.part[p]
            pu, pv = pad.corners[j, 0], pad.corners[j, 1]
            tu, tv = pad.corners[k, 0] - pu, pad.corners[k, 1] - pv
            long = math.sqrt(tu * tu + tv * tv)
            tu, tv = tu / long, tv / long
            nu, nv = pad.sides[j, 0], pad.sides[j, 1]
            for t in range(count):
                found = 0
                x0, x1, e0, e1 = 0.0, 0.0, -1, -1
                for i in range(3):
                    m = (i + 1) % 3
                    here = nu * near[t, 2 * i] + nv * near[t, 2 * i + 1] - pad.sides[j, 2]
                    there = nu * near[t, 2 * m] + nv * near[t, 2 * m + 1] - pad.sides[j, 2]
                    if (here < 0.0) == (there < 0.0):
                        continue
                    share = here / (here - there)
                    u = near[t, 2 * i] + share * (near[t, 2 * m] - near[t, 2 * i])
                    v = near[t, 2 * i + 1] + share * (near[t, 2 * m + 1] - near[t, 2 * i + 1])
                    x = (u - pu) * tu + (v - pv) * tv
                    if found == 0:
                        x0, e0 = x, i
                    elif x < x0:
                        x1, e1, x0, e0 = x0, e0, x, i
                    else:
                        x1, e1 = x, i
                    found += 1
                if found < 2 or x1 <= 0.0 or x0 >= long:
                    continue
                if x0 <= 0.0:
                    x0, e0 = 0.0, -1
                if x1 >= long:
                    x1, e1 = long, -1
                bits[bits_made, 6], bits[bits_made, 7] = near[t, 7], near[t, 8]
                bits[bits_made, 12], bits[bits_made, 13] = nu, nv
                for end in range(2):
                    x, edge, away = (x0, e0, -1.0) if end == 0 else (x1, e1, 1.0)
                    u, v = pu + x * tu, pv + x * tv
                    z = near[t, 6] + near[t, 7] * (u - near[t, 0]) + near[t, 8] * (v - near[t, 1])
                    bits[bits_made, 3 * end], bits[bits_made, 3 * end + 1], bits[bits_made, 3 * end + 2] = u, v, z
                    bits[bits_made, 8 + 2 * end], bits[bits_made, 9 + 2 * end] = 0.0, 0.0
                    rise = away * (near[t, 7] * tu + near[t, 8] * tv)
                    if edge < 0:
                        if end == 0:
                            points[points_made, 0], points[points_made, 1], points[points_made, 2] = u, v, z
                            points[points_made, 3], points[points_made, 4] = near[t, 7], near[t, 8]
                            points[points_made, 5], points[points_made, 6] = -1.0, -1.0
                            points_made += 1
                        bits[bits_made, 9 + 2 * end] = 1.0 if rise >= 0.0 else -1.0
                        continue
                    row = int(near[t, 10])
                    bend = mesh.bend[row, edge]
                    m, o = (edge + 1) % 3, (edge + 2) % 3
                    su, sv = near[t, 2 * m] - near[t, 2 * edge], near[t, 2 * m + 1] - near[t, 2 * edge + 1]
                    span = math.sqrt(su * su + sv * sv)
                    su, sv = su / span, sv / span
                    # Outward from the triangle, across its edge.
                    ou, ov = sv, -su
                    if ou * (near[t, 2 * o] - near[t, 2 * m]) + ov * (near[t, 2 * o + 1] - near[t, 2 * m + 1]) > 0.0:
                        ou, ov = -ou, -ov
                    beyond = rise + bend * away * (ou * tu + ov * tv)
                    sharp = nu * su + nv * sv
                    along = near[t, 7] * su + near[t, 8] * sv
                    follows = along / sharp if abs(sharp) > SHARPEST else 0.0
                    if abs(sharp) > SHARPEST:
                        bits[bits_made, 8 + 2 * end] = follows
                        if rise >= 0.0 and beyond <= 0.0:
                            bits[bits_made, 9 + 2 * end] = 1.0
                        elif rise <= 0.0 and beyond >= 0.0:
                            bits[bits_made, 9 + 2 * end] = -1.0
                    if mesh.mine[row, edge] == 0 or bend == 0.0:
                        continue
                    points[points_made, 0], points[points_made, 1], points[points_made, 2] = u, v, z
                    gone = math.sqrt((u - near[t, 2 * edge]) ** 2 + (v - near[t, 2 * edge + 1]) ** 2)
                    room = min(gone, span - gone)
                    ahead = min(x, long - x)
                    error = _followed(motion, nu, nv, tu, tv, pad.sides[j, 2], u, v, sharp, along, room, ahead)
                    if error >= 0.0:
                        points[points_made, 3], points[points_made, 4] = follows * nu, follows * nv
                    else:
                        points[points_made, 3], points[points_made, 4] = near[t, 7], near[t, 8]
                    points[points_made, 5], points[points_made, 6] = error, error
                    points_made += 1
                bits_made += 1
    return points_made, bits_made


@compiled_inner
def _followed(
    motion: FloatArray,
    nu: float,
    nv: float,
    tu: float,
    tv: float,
    offset: float,
    u: float,
    v: float,
    sharp: float,
    along: float,
    room: float,
    ahead: float,
) -> float:
    """Return how far off its straight way in height a followed crossing may come to lie; -1 where it may end.

    With ``n`` the normal of the side, ``p`` the crossing on the edge of direction ``r``, ``n (p - c) = k``. Derived
    along a straight path of poses, turned by ``w`` in all: the crossing runs along the edge at ``V / (n r)``, ``V`` the
    speed of the side across itself there, and its speed changes by at most ``(w² |k| + 2 w (speed + |c'|)) / |n r|``.
    """
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    least = abs(sharp) - d
    if least < SHARPEST:
        return -1.0
    shift = math.sqrt(a * a + b * b)
    across = abs(nu * sine + nv * cosine) * a + abs(nu * cosine - nv * sine) * b + d * shift
    tangent = abs(u * tu + v * tv)
    # The place along the side changes by what the crossing and the pad run, which is known once it is known.
    speed = (across + d * (tangent + shift + d * abs(offset))) / max(least - d, 1e-9)
    if least - d < SHARPEST or speed > room or speed + shift + d * abs(offset) > ahead:
        return -1.0
    return float(0.5 * abs(along) * (d * d * abs(offset) + 2.0 * d * (speed + shift)) / least)


@compiled_inner
def inner_points(
    near: FloatArray, count: int, pad: PadArrays, motion: FloatArray, points: FloatArray, made: int
) -> int:
    """Add the corners of the ground under the pad to the points, and return how many there are then."""
    a, b, d = motion[2], motion[3], motion[4]
    shift = math.sqrt(a * a + b * b)
    for t in range(count):
        for i in range(3):
            u, v = near[t, 2 * i], near[t, 2 * i + 1]
            room = -np.inf
            for p in range(pad.part.shape[0] - 1):
                inside = np.inf
                for j in range(pad.part[p], pad.part[p + 1]):
                    inside = min(inside, pad.sides[j, 2] - pad.sides[j, 0] * u - pad.sides[j, 1] * v)
                room = max(room, inside)
            if room < 0.0:
                continue
            z = near[t, 6] + near[t, 7] * (u - near[t, 0]) + near[t, 8] * (v - near[t, 1])
            points[made, 0], points[made, 1], points[made, 2] = u, v, z
            points[made, 3], points[made, 4], points[made, 5], points[made, 6] = 0.0, 0.0, 0.0, 0.0
            if room < shift + d * (math.sqrt(u * u + v * v) + shift):
                points[made, 3], points[made, 4] = near[t, 7], near[t, 8]
                points[made, 5], points[made, 6] = -1.0, -1.0
            made += 1
    return made
