"""Banks as the plain tables that kernels read."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spadework.earthwork.bank_shape import BankShape
from spadework.readings import FloatArray, IntArray

__all__ = ["BankArrays", "bank_arrays"]


class BankArrays(NamedTuple):
    """The parts of `BankShape`, the slopes of cut and fill, and the land.

    ``box`` is ``(p, 4)``: least and greatest u, least and greatest v of each part; ``wide`` the same of the pad, and
    how far the parts go beyond it for each metre of reach. ``land`` is ``(r, 6)``: ends of stretches of what the banks
    must not touch, each ``east, north, height``, straight on the ground.
    """

    sides: FloatArray
    corners: FloatArray
    part: IntArray
    plane: FloatArray
    cone: IntArray
    apex: FloatArray
    box: FloatArray
    wide: FloatArray
    beyond: FloatArray
    reach: float
    cut_slope: float
    fill_slope: float
    land: FloatArray


def bank_arrays(
    shape: BankShape, outline: FloatArray, slopes: tuple[float, float], land: FloatArray | None = None
) -> BankArrays:
    """Return the tables of the banks of a pad.

    Parameters
    ----------
    shape : BankShape
        The parts beyond the pad.
    outline : array, shape (m, 2)
        The pad. [m]
    slopes : (float, float)
        Rise over run of cut and fill.
    land : array, shape (r, 6), optional
        As in `BankArrays`.
    """
    outlines = [shape.outline(number) for number in range(len(shape))]
    box = np.array([np.column_stack([ring.min(axis=0), ring.max(axis=0)]).ravel() for ring in outlines])
    low, high = outline.min(axis=0), outline.max(axis=0)
    wide = np.array([low[0], high[0], low[1], high[1]])
    ends = np.array([box[:, 0].min(), box[:, 1].max(), box[:, 2].min(), box[:, 3].max()])
    return BankArrays(
        shape.sides,
        shape.corners,
        shape.part,
        shape.plane,
        shape.cone,
        shape.apex,
        box,
        wide,
        np.abs(ends - wide) / shape.reach,
        shape.reach,
        slopes[0],
        slopes[1],
        np.zeros((0, 6)) if land is None else np.ascontiguousarray(land),
    )
