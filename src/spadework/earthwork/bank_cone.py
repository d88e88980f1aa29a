"""A plane above a cone, over a triangle with a corner at the cone's: volume and area in closed form.

Seen from the corner, with polar coordinates ``r`` and ``φ``, the depth is ``a + (g cos φ - s) r``, where ``g`` is the
slope of the plane and ``s`` that of the cone. Where the far side of the triangle lies inside the depth, the integral
goes as far as that side: an area times mean heights less ``s ∫ r``, and ``∫ r`` over the triangle of a point and a
straight side at distance ``p`` is ``(t p w + p³ asinh(t / p)) / 6`` between the ends ``t`` of the side, ``w² = p² +
t²``. Elsewhere it goes as far as the depth does, ``r = a / (s - g cos φ)``: the sector's volume is ``∫ a³ / (6 (s - g
cos φ)²)`` and its area ``∫ a² / (2 (s - g cos φ)²)``, which have an arc tangent. (Own derivation; checked against
frustums, a fine grid and an adaptive quadrature.)
"""
# ruff: noqa: PLR0917 -- a kernel takes its numbers by position

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled

__all__ = ["cone_side"]

NOTHING = 1e-15
"""Twice an area below which a triangle is none. [m²]"""
GAUSS, WEIGHT = np.polynomial.legendre.leggauss(16)
STEPS = 8
"""Stretches of the sum that stands in where the ground is as steep as the bank."""
STEEP = 1e-9


@compiled
def cone_side(
    u0: float, v0: float, u1: float, v1: float, a: float, gu: float, gv: float, s: float
) -> tuple[float, float]:
    """Return volume and area of ``max(a + g q - s |q|, 0)`` over the triangle of the origin and a side, with its sign.

    The sum over the sides of any polygon, counter-clockwise, is the integral over the polygon.

    Parameters
    ----------
    u0, v0, u1, v1 : float
        Ends of the side. [m]
    a : float
        Height of the plane above the cone's tip. [m]
    gu, gv : float
        Slopes of the plane.
    s : float
        Slope of the cone.
    """
    square = gu * gu + gv * gv
    if a <= 0.0 and square < s * s - STEEP:
        return 0.0, 0.0
    double = u0 * v1 - u1 * v0
    if abs(double) <= NOTHING:
        return 0.0, 0.0
    if square >= s * s - STEEP:
        return _summed(u0, v0, u1, v1, a, gu, gv, s)
    steepest = math.sqrt(square)
    sign = 1.0
    if double < 0.0:
        u0, v0, u1, v1, double, sign = u1, v1, u0, v0, -double, -1.0
    along_u, along_v = u1 - u0, v1 - v0
    length = math.sqrt(along_u * along_u + along_v * along_v)
    along_u, along_v = along_u / length, along_v / length
    p = double / length
    t0, t1 = u0 * along_u + v0 * along_v, u1 * along_u + v1 * along_v
    foot_u, foot_v = u0 - t0 * along_u, v0 - t0 * along_v
    # Along the side the depth is base + tilt t - s w: above nothing between two roots, or nowhere.
    base, tilt = a + gu * foot_u + gv * foot_v, gu * along_u + gv * along_v
    room = s * s - tilt * tilt
    inner = base * base - p * p * room
    from_t, to_t = t1, t1
    volume, area = 0.0, 0.0
    if base > 0.0 and inner > 0.0:
        root = s * math.sqrt(inner)
        from_t = min(max((base * tilt - root) / room, t0), t1)
        to_t = min(max((base * tilt + root) / room, t0), t1)
        if to_t > from_t:
            area = 0.5 * p * (to_t - from_t)
            mean = (a + 2.0 * base + tilt * (from_t + to_t)) / 3.0
            volume = area * mean - s * (_far(p, to_t) - _far(p, from_t))
        else:
            from_t, to_t = t1, t1
    second = 0.0
    if from_t > t0:
        second += _sector(foot_u, foot_v, along_u, along_v, t0, from_t, gu, gv, steepest, s)
    if t1 > to_t:
        second += _sector(foot_u, foot_v, along_u, along_v, to_t, t1, gu, gv, steepest, s)
    return sign * (volume + a * a * a / 6.0 * second), sign * (area + 0.5 * a * a * second)


@compiled
def _far(p: float, t: float) -> float:
    """Return ``∫ r`` over the triangle of a point and a straight side at distance ``p`` from its foot to ``t``."""
    return (p * t * math.sqrt(p * p + t * t) + p * p * p * math.asinh(t / p)) / 6.0


@compiled
def _sector(
    foot_u: float,
    foot_v: float,
    along_u: float,
    along_v: float,
    t0: float,
    t1: float,
    gu: float,
    gv: float,
    steepest: float,
    s: float,
) -> float:
    """Return ``∫ dφ / (s - g cos φ)²`` as seen along a stretch of a side."""
    one = math.atan2(foot_v + t0 * along_v, foot_u + t0 * along_u)
    other = math.atan2(foot_v + t1 * along_v, foot_u + t1 * along_u)
    angle = other - one
    if angle < 0.0:
        angle += 2.0 * math.pi
    if steepest == 0.0:
        return angle / (s * s)
    start = one - math.atan2(gv, gu)
    return _inverse_square(start + angle, steepest, s) - _inverse_square(start, steepest, s)


@compiled
def _inverse_square(angle: float, g: float, s: float) -> float:
    """Return ``∫ dφ / (s - g cos φ)²`` from 0: by the half angle, whole turns counted."""
    turns = math.floor(angle / (2.0 * math.pi) + 0.5)
    rest = angle - 2.0 * math.pi * turns
    square = s * s - g * g
    width = math.sqrt(square)
    half = 0.5 * rest
    plain = 2.0 / width * (math.atan2((s + g) * math.sin(half), width * math.cos(half)) + math.pi * turns)
    return (g * math.sin(rest) / (s - g * math.cos(rest)) + s * plain) / square


@compiled
def _summed(
    u0: float, v0: float, u1: float, v1: float, a: float, gu: float, gv: float, s: float
) -> tuple[float, float]:
    """Return the same for a plane as steep as the cone, summed over stretches of the side.

    Such banks are refused where the ground is met again; the sum keeps the search on its way, to about a part in 10⁶.
    """
    volume, area = 0.0, 0.0
    for i in range(STEPS):
        for j in range(GAUSS.shape[0]):
            share = (i + 0.5 * (1.0 + GAUSS[j])) / STEPS
            u, v = u0 + share * (u1 - u0), v0 + share * (v1 - v0)
            square = u * u + v * v
            far = math.sqrt(square)
            if far == 0.0:
                continue
            # dφ = (u0 v1 - u1 v0) / r² dshare
            turn = 0.5 * WEIGHT[j] / STEPS * (u0 * v1 - u1 * v0) / square
            k = (gu * u + gv * v) / far - s
            low, high = 0.0, far
            if k < 0.0:
                high = min(far, -a / k) if a > 0.0 else 0.0
            elif a < 0.0:
                low = far if k == 0.0 else min(far, -a / k)
            if high > low:
                volume += turn * (0.5 * a * (high * high - low * low) + k * (high**3 - low**3) / 3.0)
                area += turn * 0.5 * (high * high - low * low)
    return volume, area
