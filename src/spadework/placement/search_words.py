"""What a search says of itself: how coarse it was, and that many spots are as good as one another."""

from __future__ import annotations

import numpy as np

from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_length

__all__ = ["coarse_notice", "equal_notice"]


def coarse_notice(step: float, short_side: float, unit: LengthUnit) -> list[str]:
    """Return what a search without a proof may have missed, where its first positions stand far apart.

    Parameters
    ----------
    step : float
        Between the positions first tried. [m]
    short_side : float
        Width of the pad. [m]
    unit : LengthUnit
        The user's unit.
    """
    if step <= short_side:
        return []
    notice = (
        "The site is large for this pad: the positions first tried are "
        f"{format_length(step, unit)} apart, more than the pad is wide, and a better spot may lie between them. "
        "Give a boundary round the part that matters."
    )
    return [notice]


def equal_notice(positions: FloatArray, poses: FloatArray) -> list[str]:
    """Return that many placements are equal, where they are.

    Parameters
    ----------
    positions : array, shape (k, 2)
        Positions as good as the best; none where they are few.
    poses : array, shape (n, 3)
        All that were tried.
    """
    if len(positions) == 0:
        return []
    every = len(np.unique(poses[:, :2], axis=0))
    notice = (
        f"Many placements are equal within 1 %: {len(positions):,} of the {every:,} positions tried. "
        "The one nearest the middle of the site is given; choose among them by what else matters to you."
    )
    return [notice]
