"""How much the bends of the ground may take off a bound while the pad moves within a box: compiled, plain arrays.

Along a straight path of poses, from the middle of the box at time 0 to any pose of it at time 1, the second derivative
of ``G = ∫ s(q) z(pose(q)) dq`` is, besides what the turn adds, the sum over the edges of the ground of ``∫ s J (v n)²
dl``: ``J`` the jump of the slope across the edge, ``v n`` the speed of the pad across it. A valley under fill (``J`` is
more than nothing, ``s`` less) and a ridge under cut take from the value, a valley under cut and a ridge under fill give
to it. The speed is linear in the shift and the turn, so the folds add up to one quadratic form in them, whose least
value over the box is found exactly.

Where a fold lies under the pad changes on the way. What takes is counted wherever the pad may come to stand, what gives
only where pad and weight are sure; the way is looked at in stretches, for its start counts most and moves least. The
kept machine code of `bound_kernel` and `bound_plain` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled_inner
from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_core import draw_in
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import part_within
from spadework.readings import FloatArray

__all__ = ["STRETCHES", "bends_under", "most_taken_off", "stands_by", "sweep"]

STRETCHES = 2
"""Parts of the way from the middle of a box to its rim."""


@compiled_inner
def sweep(extent: FloatArray, motion: FloatArray, share: float, swept: FloatArray) -> None:
    """Write the rectangle in the pad's frame that the pad sweeps over within a share of the box.

    ``extent`` is least and greatest u, least and greatest v of the pad; ``motion`` begins with sine and cosine of the
    bearing and the half widths of the box.
    """
    sine, cosine, a, b = motion[0], motion[1], share * motion[2], share * motion[3]
    turn = min(share * motion[4], 0.5 * math.pi)
    turn_sine, turn_cosine = math.sin(turn), math.cos(turn)
    shift_u, shift_v = a * abs(sine) + b * abs(cosine), a * abs(cosine) + b * abs(sine)
    wide_u, wide_v = max(abs(extent[0]), abs(extent[1])), max(abs(extent[2]), abs(extent[3]))
    swept[0] = min(extent[0], extent[0] * turn_cosine) - shift_u - wide_v * turn_sine
    swept[1] = max(extent[1], extent[1] * turn_cosine) + shift_u + wide_v * turn_sine
    swept[2] = min(extent[2], extent[2] * turn_cosine) - shift_v - wide_u * turn_sine
    swept[3] = max(extent[3], extent[3] * turn_cosine) + shift_v + wide_u * turn_sine


@compiled_inner
def stands_by(pad: PadArrays, extent: FloatArray, motion: FloatArray, stands: FloatArray) -> None:
    """Write where the pad may stand, and where it stands for sure, up to the end of each stretch of the way.

    A row of ``stands``, shape (STRETCHES, 4 + sides): the rectangle that it sweeps over, and by how much each side is
    drawn in about what is common to all poses.
    """
    for k in range(STRETCHES):
        share = (k + 1.0) / STRETCHES
        sweep(extent, motion, share, stands[k])
        draw_in(pad, motion, share, 4, stands[k])


@compiled_inner
def _add(
    form: FloatArray, much: float, k: int, au: float, av: float, du: float, dv: float, first: float, last: float,
    motion: FloatArray,
) -> None:  # fmt: skip
    """Add a part of an edge, times ``much``, to the form for the stretch ``k`` of the way.

    ``form`` is that of the shift east and north and of the turn: 00, 11, 22, 01, 02, 12; and what is to be taken off
    besides, for the lever of the turn changes as the pad is shifted along the edge.
    """
    length = math.sqrt(du * du + dv * dv)
    if last <= first or length == 0.0:
        return
    tu, tv = du / length, dv / length
    te, tn = tu * motion[0] + tv * motion[1], tu * motion[1] - tv * motion[0]
    a, b, d = motion[2], motion[3], motion[4]
    start = au * tu + av * tv
    low, high = start + first * length, start + last * length
    long, moment, second = high - low, 0.5 * (high * high - low * low), (high**3 - low**3) / 3.0
    since, until = k / STRETCHES, (k + 1.0) / STRETCHES
    # The integrals of 1 - t, of (1 - t) t and of (1 - t) t² over the stretch.
    weigh = until - since - 0.5 * (until**2 - since**2)
    by_time = 0.5 * (until**2 - since**2) - (until**3 - since**3) / 3.0
    by_square = (until**3 - since**3) / 3.0 - 0.25 * (until**4 - since**4)
    by = much * weigh
    form[0] += by * tn * tn * long
    form[1] += by * te * te * long
    form[2] += by * second
    form[3] -= by * te * tn * long
    form[4] += by * tn * moment
    form[5] -= by * te * moment
    slid = d * (a * abs(te) + b * abs(tn))
    speed = a * abs(tn) + b * abs(te) + d * max(abs(low), abs(high))
    form[6] += abs(much) * long * slid * (2.0 * speed * by_time + slid * by_square)


@compiled_inner
def _part_over(start: float, rise: float, least: float, most: float, first: float, last: float) -> tuple[float, float]:
    """Return which part of a way on which a height goes from ``start`` by ``rise`` lies from ``least`` to ``most``."""
    if rise == 0.0:
        return (first, last) if least <= start <= most else (first, first)
    one, other = (least - start) / rise, (most - start) / rise
    return max(first, min(one, other)), min(last, max(one, other))


@compiled_inner
def bends_under(
    mesh: Mesh, near: FloatArray, count: int, pad: PadArrays, motion: FloatArray, stands: FloatArray,
    weights: FloatArray, steepest: float, form: FloatArray,
) -> tuple[float, float]:  # fmt: skip
    """Return what bends take off ``G`` at most on the way from the middle of a box to any pose of it.

    The second number is by how much the integral of the weights times the rise away from the pad's origin changes at
    most in a unit of time, because other slopes come to lie under the pad.

    ``motion`` begins with sine and cosine of the bearing and the half widths of the box, ``stands`` is that of
    `stands_by`, ``weights`` those of `dual_value`; ``form`` has room for seven numbers.
    """
    sine, cosine, a, b, d = motion[0], motion[1], motion[2], motion[3], motion[4]
    up, down, tie, level = weights[13], weights[14], weights[15], weights[2]
    lowest, highest = min(up, down, tie), max(up, down, tie)
    largest, changes = max(abs(up), abs(down)), 0.0
    shift = math.sqrt(a * a + b * b)
    # How much higher or lower the ground may be that comes to lie over a point of the pad as it is shifted.
    slide = 0.0
    for t in range(count):
        east, north = near[t, 7] * sine + near[t, 8] * cosine, near[t, 7] * cosine - near[t, 8] * sine
        slide = max(slide, a * abs(east) + b * abs(north))
    for i in range(7):
        form[i] = 0.0
    for t in range(count):
        row = int(near[t, 10])
        for i in range(3):
            bend = mesh.bend[row, i]
            if bend == 0.0 or mesh.mine[row, i] == 0:
                continue
            m = (i + 1) % 3
            au, av = near[t, 2 * i], near[t, 2 * i + 1]
            du, dv = near[t, 2 * m] - au, near[t, 2 * m + 1] - av
            start = near[t, 6] + near[t, 7] * (au - near[t, 0]) + near[t, 8] * (av - near[t, 1]) - level
            rise = near[t, 7] * du + near[t, 8] * dv
            for k in range(STRETCHES):
                first, last = part_within(au, av, du, dv, stands[k])
                if last <= first:
                    continue
                share = (k + 1.0) / STRETCHES
                arm = max(
                    math.sqrt((au + first * du) ** 2 + (av + first * dv) ** 2),
                    math.sqrt((au + last * du) ** 2 + (av + last * dv) ** 2),
                )
                if k == STRETCHES - 1:
                    changes += abs(bend) * _passes(au, av, du, dv, first, last, motion, d * min(pad.reach, arm + shift))
                slack = share * (slide + d * steepest * min(pad.reach, arm + share * shift))
                for weight in range(3):
                    # Where the weight is that of fill for sure, any, and that of cut for sure.
                    if weight == 0:
                        one, other = _part_over(start, rise, -np.inf, -slack, first, last)
                        much = bend * down
                    elif weight == 1:
                        one, other = _part_over(start, rise, -slack, slack, first, last)
                        much = min(bend * lowest, bend * highest)
                    else:
                        one, other = _part_over(start, rise, slack, np.inf, first, last)
                        much = bend * up
                    if other <= one or much == 0.0:
                        continue
                    if much < 0.0:
                        _add(form, much, k, au, av, du, dv, one, other, motion)
                        continue
                    for p in range(pad.part.shape[0] - 1):
                        low, high = one, other
                        for j in range(pad.part[p], pad.part[p + 1]):
                            x, y = pad.sides[j, 0], pad.sides[j, 1]
                            over = x * au + y * av - pad.sides[j, 2] + stands[k, 4 + j]
                            along = x * du + y * dv
                            if along > 0.0:
                                high = min(high, -over / along)
                            elif along < 0.0:
                                low = max(low, -over / along)
                            elif over > 0.0:
                                high = low
                        _add(form, much, k, au, av, du, dv, low, high, motion)
    return most_taken_off(form, a, b, d) + form[6], largest * changes


@compiled_inner
def _passes(
    au: float, av: float, du: float, dv: float, first: float, last: float, motion: FloatArray, turned: float
) -> float:
    """Return the area that a part of an edge passes over in the pad, times its distance from the pad's origin."""
    length = math.sqrt(du * du + dv * dv)
    if length == 0.0:
        return 0.0
    tu, tv = du / length, dv / length
    te, tn = abs(tu * motion[0] + tv * motion[1]), abs(tu * motion[1] - tv * motion[0])
    a, b, d = motion[2], motion[3], motion[4]
    start = au * tu + av * tv
    far = max(abs(start + first * length), abs(start + last * length))
    aside = a * tn + b * te
    speed = aside + d * (far + a * te + b * tn)
    return float((last - first) * length * speed * (abs(au * tv - av * tu) + aside + turned))


@compiled_inner
def _least_on_line(square: float, slope: float) -> float:
    """Return the least value of ``square x² + 2 slope x`` for ``x`` from -1 to 1."""
    if square > abs(slope):
        return -slope * slope / square
    return square - 2.0 * abs(slope)


@compiled_inner
def most_taken_off(form: FloatArray, a: float, b: float, d: float) -> float:
    """Return how far below nothing a quadratic form goes in a box about nothing, no less than nothing.

    A form is least at nothing or where one of the three is at the end of its range; by its symmetry, at the upper end.
    There it is least at an end of the second, or where its slopes in both others are nothing.
    """
    least = 0.0
    for fixed in range(3):
        if fixed == 0:
            whole, one, other, mixed, by_one, by_other = form[0], form[1], form[2], form[5], form[3], form[4]
            wide, long, far = a, b, d
        elif fixed == 1:
            whole, one, other, mixed, by_one, by_other = form[1], form[0], form[2], form[4], form[3], form[5]
            wide, long, far = b, a, d
        else:
            whole, one, other, mixed, by_one, by_other = form[2], form[0], form[1], form[3], form[4], form[5]
            wide, long, far = d, a, b
        whole, one, other = whole * wide * wide, one * long * long, other * far * far
        mixed, by_one, by_other = mixed * long * far, by_one * wide * long, by_other * wide * far
        for end in range(2):
            sign = 1.0 - 2.0 * end
            least = min(least, whole + one + 2.0 * sign * by_one + _least_on_line(other, by_other + sign * mixed))
            least = min(least, whole + other + 2.0 * sign * by_other + _least_on_line(one, by_one + sign * mixed))
        full = one * other - mixed * mixed
        if one > 0.0 and full > 0.0:
            x, y = (mixed * by_other - other * by_one) / full, (mixed * by_one - one * by_other) / full
            if abs(x) <= 1.0 and abs(y) <= 1.0:
                least = min(least, whole + by_one * x + by_other * y)
    return -least
