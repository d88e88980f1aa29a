"""How much the bends of the ground may take off a bound while the pad moves within a box: compiled, plain arrays.

Along a straight path of poses the second derivative of ``G = ∫ s(q) z(pose(q)) dq`` is, besides what the turn adds,
the sum over the edges of the ground of ``∫ s J (v n)² dl``: ``J`` the jump of the slope across the edge, ``v n`` the
speed of the pad across it. Only a valley under fill (``J > 0``, ``s < 0``) and a ridge under cut take anything off.
The kept machine code of `bound_kernel` holds a copy: empty ``__pycache__`` after a change here.
"""
# ruff: noqa: PLR0917 -- a kernel takes its tables by position, in the order of its docstring

from __future__ import annotations

from spadework.earthwork._compile import compiled_inner
from spadework.placement.mesh import Mesh
from spadework.placement.swept_kernel import part_within, speed_across
from spadework.readings import FloatArray

__all__ = ["bends_under"]


@compiled_inner
def bends_under(
    mesh: Mesh, near: FloatArray, count: int, swept: FloatArray, motion: FloatArray, weights: FloatArray, slack: float
) -> float:
    """Return an upper bound of what bends take off the second derivative of ``G`` anywhere in the box.

    ``motion`` holds sine and cosine of the bearing and the half widths of the box. Ground whose level at the centre of
    the box lies above that of the weights may lie ``slack`` below it where the pad comes to stand.
    """
    cut, fill, level = weights[0], weights[1], weights[2]
    total = 0.0
    for t in range(count):
        row = int(near[t, 10])
        for i in range(3):
            bend = mesh.bend[row, i]
            if bend == 0.0 or mesh.mine[row, i] == 0:
                continue
            if bend > 0.0:
                above, below = max(-cut, 0.0), max(fill, 0.0)
            else:
                above, below = max(cut, 0.0), max(-fill, 0.0)
            if above == 0.0 and below == 0.0:
                continue
            k = (i + 1) % 3
            au, av, bu, bv = near[t, 2 * i], near[t, 2 * i + 1], near[t, 2 * k], near[t, 2 * k + 1]
            du, dv = bu - au, bv - av
            first, last = part_within(au, av, du, dv, swept)
            if last <= first:
                continue
            if above == 0.0 or below == 0.0:
                # The part that may come to lie under weights of the sign that matters.
                start = near[t, 6] + near[t, 7] * (au - near[t, 0]) + near[t, 8] * (av - near[t, 1]) - level
                rise = near[t, 7] * du + near[t, 8] * dv
                if above == 0.0:
                    start, rise = -start, -rise
                if start + slack < 0.0 and start + rise + slack < 0.0:
                    continue
                if rise > 0.0:
                    first = max(first, -(start + slack) / rise)
                elif rise < 0.0:
                    last = min(last, -(start + slack) / rise)
                if last <= first:
                    continue
            total += max(above, below) * abs(bend) * speed_across(au, av, du, dv, first, last, motion)
    return total
