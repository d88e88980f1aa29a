"""What bends and slopes of the ground may take off the bound of a pad with banks: compiled, plain arrays, no checks.

As in `bound_bends`, only a valley under fill and a ridge under cut count. With banks there is ground that is neither:
at a fold that lies deeper than the cut could reach down to, or higher than the fill could reach up to, there is no
weight at all. The kept machine code of `banked_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

from spadework.earthwork._compile import compiled_part
from spadework.placement.banked_pieces import BankedParts
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import area_within, part_within
from spadework.readings import FloatArray

__all__ = ["bends_under_banks", "rough_under_banks"]


@compiled_part
def rough_under_banks(
    near: FloatArray,
    count: int,
    swept: FloatArray,
    mean_u: float,
    mean_v: float,
    room: FloatArray,
    sums: FloatArray,
) -> None:
    """Write area, slopes times area, the steepest slope and ``∫ |slope - mean|`` of what lies in a rectangle."""
    for j in range(5):
        sums[j] = 0.0
    for t in range(count):
        one = near[t]
        if min(one[0], one[2], one[4]) > swept[1] or max(one[0], one[2], one[4]) < swept[0]:
            continue
        if min(one[1], one[3], one[5]) > swept[3] or max(one[1], one[3], one[5]) < swept[2]:
            continue
        for i in range(3):
            room[0, i, 0], room[0, i, 1] = one[2 * i], one[2 * i + 1]
        area = area_within(room, swept)
        if area <= 0.0:
            continue
        sums[0] += area
        sums[1] += area * one[7]
        sums[2] += area * one[8]
        sums[3] = max(sums[3], math.sqrt(one[7] * one[7] + one[8] * one[8]))
        sums[4] += area * math.sqrt((one[7] - mean_u) ** 2 + (one[8] - mean_v) ** 2)


@compiled_part
def bends_under_banks(
    mesh: Mesh,
    parts: BankedParts,
    near: FloatArray,
    count: int,
    swept: FloatArray,
    motion: FloatArray,
    cut: float,
    fill: float,
    level: float,
    reach: float,
    slack: float,
) -> float:
    """Return an upper bound of what bends take off the second derivative of ``G`` anywhere in the box.

    Parameters
    ----------
    swept : array, shape (4,)
        Rectangle that holds every place that what has weight comes to. [m]
    motion : array, shape (5,)
        Sine and cosine of the bearing and the half widths of the box.
    cut, fill : float
        Weights, not negative.
    level : float
        Of the formation, strip added. [m]
    reach : float
        Distance from the origin of the farthest place with weight. [m]
    slack : float
        By how much ground where the pad comes to stand may lie otherwise than at the centre, less how much nearer the
        pad may come, as metres of height of each: both counted. [m]
    """
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    shift = math.sqrt(a * a + b * b) + reach * d
    total = 0.0
    for t in range(count):
        row, one = int(near[t, 9]), near[t]
        for i in range(3):
            bend = mesh.bend[row, i]
            if bend == 0.0 or mesh.mine[row, i] == 0:
                continue
            weight = fill if bend > 0.0 else cut
            if weight <= 0.0:
                continue
            k = (i + 1) % 3
            au, av = one[2 * i], one[2 * i + 1]
            du, dv = one[2 * k] - au, one[2 * k + 1] - av
            first, last = part_within(au, av, du, dv, swept)
            if last <= first:
                continue
            # Where the weight could lie: the ground less the bank above the level, or plus the bank below it.
            sign, slope = (1.0, parts.cut_slope) if bend < 0.0 else (-1.0, parts.fill_slope)
            start = sign * (one[6] + one[7] * (au - one[0]) + one[8] * (av - one[1]) - level) + slack
            rise = sign * (one[7] * du + one[8] * dv)
            for j in range(-1, parts.outer.shape[0]):
                here, along = start, rise
                if j >= 0:
                    out = parts.outer[j, 0] * au + parts.outer[j, 1] * av - parts.outer[j, 2]
                    here -= slope * (out - shift)
                    along -= slope * (parts.outer[j, 0] * du + parts.outer[j, 1] * dv)
                if along > 0.0:
                    first = max(first, -here / along)
                elif along < 0.0:
                    last = min(last, -here / along)
                elif here < 0.0:
                    last = -1.0
            if last <= first:
                continue
            length = math.sqrt(du * du + dv * dv)
            # The way across the fold in site axes: how fast the pad may cross it.
            across_u, across_v = dv / length, -du / length
            across_e, across_n = across_u * sine + across_v * cosine, across_u * cosine - across_v * sine
            speed = abs(across_e) * a + abs(across_n) * b + reach * d
            total += weight * abs(bend) * (last - first) * length * speed * speed
    return total
