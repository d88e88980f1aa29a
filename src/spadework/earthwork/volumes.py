"""Volumes of plane pieces above and below a level, and the levels that balance them: closed form, in numpy.

Works for many poses at once. The formulas are those of `kernel`, the way to the level is another: all corner heights
are sorted and halved down to two neighbours, so that each checks the other.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spadework.earthwork.level_kernel import EXACT, SAME_SHARE
from spadework.earthwork.pieces import Pieces
from spadework.readings import FloatArray, IntArray

__all__ = ["above", "cut_fill", "ground_range", "level_for_balance", "level_for_weights"]


def above(pieces: Pieces, level: FloatArray | float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return for each pose the volume above a level, the area above it, and the area above it or at it.

    For a piece of area ``A`` with ``d0 >= d1 >= d2`` above the level: ``A (d0 + d1 + d2) / 3`` if all are above,
    ``A t1 t2 d0 / 3`` with ``t = d0 / (d0 - d)`` if one is, and the whole plus what is below if two are.

    Parameters
    ----------
    pieces : Pieces
    level : float or array, shape (k,)
        [m]

    Returns
    -------
    volume, area, area_or_at : array, shape (k,)
        [m³], [m²], [m²]
    """
    height = np.broadcast_to(np.asarray(level, dtype=np.float64) - pieces.datum, (len(pieces),))
    return _above(pieces, height)


def _above(pieces: Pieces, height: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    d0, d1, d2 = (pieces.height - height[pieces.pose, None]).T
    area = pieces.area
    mean = (d0 + d1 + d2) / 3.0
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = area * (d0 / (d0 - d1)) * (d0 / (d0 - d2))
        below = area * (d2 / (d2 - d0)) * (d2 / (d2 - d1))
    whole, one, two = d2 >= 0, (d2 < 0) & (d1 <= 0) & (d0 > 0), (d2 < 0) & (d1 > 0)
    volume = np.select([whole, one, two], [area * mean, tip * d0 / 3.0, area * mean - below * d2 / 3.0], 0.0)
    over = np.select([whole, one, two], [area, tip, area - below], 0.0)
    return pieces.sum(volume), pieces.sum(np.where(whole & (d0 <= 0), 0.0, over)), pieces.sum(over)


def cut_fill(pieces: Pieces, formation: FloatArray | float, strip: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Return the cut and the fill of each pose against a level formation.

    Cut is ``∫ max(ground - strip - formation, 0)``, fill is ``∫ max(formation - ground + strip, 0)``.

    Parameters
    ----------
    pieces : Pieces
    formation : float or array, shape (k,)
        Level of the formation. [m]
    strip : float
        Depth stripped first. [m]

    Returns
    -------
    cut, fill : array, shape (k,)
        [m³]
    """
    height = np.broadcast_to(np.asarray(formation, dtype=np.float64) - pieces.datum + strip, (len(pieces),))
    cut = _above(pieces, height)[0]
    total, volume = _totals(pieces)
    fill = np.where(height <= _range(pieces)[0], 0.0, np.maximum(cut - (volume - total * height), 0.0))
    return cut, fill


def _totals(pieces: Pieces) -> tuple[FloatArray, FloatArray]:
    return pieces.sum(pieces.area), pieces.sum(pieces.area * (pieces.height.sum(axis=1) / 3.0))


def ground_range(pieces: Pieces) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean, lowest and highest ground of each pose; NaN where a pose has no ground. [m]"""
    total, volume = _totals(pieces)
    low, high = _range(pieces)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = volume / total
    nothing = total <= 0
    low, high = np.where(nothing, np.nan, low), np.where(nothing, np.nan, high)
    return mean + pieces.datum, low + pieces.datum, high + pieces.datum


def _range(pieces: Pieces) -> tuple[FloatArray, FloatArray]:
    low, high = np.full(len(pieces), np.inf), np.full(len(pieces), -np.inf)
    np.minimum.at(low, pieces.pose, pieces.height[:, 2])
    np.maximum.at(high, pieces.pose, pieces.height[:, 0])
    return low, high


def level_for_balance(pieces: Pieces, keep: float = 1.0, strip: float = 0.0, bought: float = 0.0) -> FloatArray:
    """Return the formation at which ``keep cut + bought = fill``.

    ``g(h) = k cut(h) + b - fill(h)`` falls with slope ``-(k A_above + A_below)``; Newton's steps between brackets.

    Parameters
    ----------
    pieces : Pieces
        Every pose must have ground.
    keep : float
        Compacted volume made of one volume dug.
    strip : float
        Depth stripped first. [m]
    bought : float
        Compacted volume brought in. [m³]

    Returns
    -------
    array, shape (k,)
        [m]
    """
    total, volume = _totals(pieces)
    low, high = _range(pieces)
    level = (volume + bought) / total
    # With less soil than is dug counted the level may lie below all ground, where there is no fill.
    low = np.minimum(low, (volume + bought / keep) / total)
    high = np.maximum(high, level)
    largest = np.maximum(np.abs(low), np.abs(high))
    level = np.clip(level, low, high)
    for _ in range(200 if keep != 1.0 else 0):
        cut, over, _at = _above(pieces, level)
        excess = keep * cut + bought - (cut - (volume - total * level))
        low, high = np.where(excess >= 0, level, low), np.where(excess <= 0, level, high)
        step = level + excess / (keep * over + (total - over))
        step = np.where((step > low) & (step < high), step, 0.5 * (low + high))
        moved, level = np.abs(step - level), step
        if (moved <= EXACT * largest).all():
            break
    return level + (pieces.datum - strip)


def level_for_weights(pieces: Pieces, cut_weight: float, fill_weight: float, strip: float = 0.0) -> FloatArray:
    """Return the formation of least ``c cut + f fill``: ground above it covers the share ``f / (c + f)`` of the pad.

    Parameters
    ----------
    pieces : Pieces
        Every pose must have ground.
    cut_weight, fill_weight : float
        ``c`` and ``f``.
    strip : float
        Depth stripped first. [m]

    Returns
    -------
    array, shape (k,)
        The middle where a range of levels gives the least. [m]
    """
    total, _volume = _totals(pieces)
    over = total * (fill_weight / (cut_weight + fill_weight))
    same = SAME_SHARE * total
    corner, start = _sorted_corners(pieces)
    last = start[1:] - start[:-1] - 1

    def first_where(test: str) -> IntArray:
        """Halve down to the first corner whose area above it is small enough; one past the last if none is."""
        low, high = np.zeros(len(pieces), dtype=np.int64), last + 1
        while (low < high).any():
            middle = (low + high) // 2
            _v, strictly, too = _above(pieces, corner[start[:-1] + np.minimum(middle, last)])
            small: npt.NDArray[np.bool_] = strictly <= over + same if test == "reached" else too < over - same
            active = low < high
            high = np.where(active & small, middle, high)
            low = np.where(active & ~small, middle + 1, low)
        return low

    reached, passed = first_where("reached"), first_where("passed") - 1
    upper, lower = corner[start[:-1] + np.minimum(reached, last)], corner[start[:-1] + np.maximum(passed, 0)]
    hit = reached <= passed
    area_low, area_high = _above(pieces, lower)[1], _above(pieces, upper)[2]
    middle = _above(pieces, 0.5 * (lower + upper))[1]
    bend = 2.0 * (area_low - 2.0 * middle + area_high)
    fall, missing = area_high - area_low - bend, area_low - over
    root = np.sqrt(np.maximum(fall * fall - 4.0 * bend * missing, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(root > fall, 2.0 * missing / (root - fall), 0.5)
    inside = lower + np.clip(share, 0.0, 1.0) * (upper - lower)
    level: FloatArray = np.where(hit, 0.5 * (lower + upper), inside) + (pieces.datum - strip)
    return level


def _sorted_corners(pieces: Pieces) -> tuple[FloatArray, IntArray]:
    """Return the corner heights of each pose in rising order, one pose after another, and where each begins."""
    pose = np.repeat(pieces.pose, 3)
    height = pieces.height.ravel()
    start = np.concatenate([[0], np.cumsum(np.bincount(pose, minlength=len(pieces)))])
    return height[np.lexsort((height, pose))], start
