"""Which common point of two surveys does not belong, and what may have been meant: each slip tried by fitting anew."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from spadework.adjust.least_squares import chi_square_share
from spadework.adjust.pen import HABIT, PenSlip, meant_distances, meant_readings
from spadework.adjust.slips import GAIN, RARE, named_slips
from spadework.errors import InputError
from spadework.positions.fit import fit_positions
from spadework.readings import FloatArray

__all__ = ["FitSlip", "find_fit_slips"]

MOST_NAMED = 3
WIDEST = 100.0
"""A point that no known slip explains may lie anywhere within this. [m]"""
STEP = 0.01
"""Coordinates are tried as written to the centimetre, unless another step is given. [m]"""


@dataclass(frozen=True)
class FitSlip:
    """A common point that may be wrong, with what it may have been.

    Parameters
    ----------
    kind : str
        A slip of `spadework.adjust.pen` in one coordinate; ``"columns"``: two points that bear each other's name, or,
        with ``other`` below 0, east and north of the point exchanged; ``"other"``: not the same point in both.
    point, other : int
        Row of the common point, and of the one that it changed names with; -1 without.
    axis : int
        0 for east, 1 for north, where one coordinate is wrong; -1 otherwise.
    was, meant : float
        That coordinate as written, and as it may have been. [m]
    off : float
        How far the point lies from where the others put it. [m]
    share : float
        How likely among all that was tried, 0 to 1.
    """

    kind: PenSlip
    point: int
    other: int = -1
    axis: int = -1
    was: float = math.nan
    meant: float = math.nan
    off: float = math.nan
    share: float = math.nan


def _chi(first: FloatArray, second: FloatArray, sd: FloatArray, *, turn: bool, scale: bool) -> float:
    """Return the chi-square of a fit, infinite where its points do not hold it."""
    try:
        fit = fit_positions(first, second, turn=turn, scale=scale, sd=sd)
    except InputError:
        return math.inf
    return float(np.sum(np.square(fit.residuals / sd[:, None])))


def _tries(first: FloatArray, point: int, off: FloatArray, step: float) -> Iterator[tuple[FitSlip, float, FloatArray]]:
    """Give the slips of one point: what it is, the log of how often it is made, and the positions without it."""
    away = float(np.hypot(*off))
    swapped = first.copy()
    swapped[point] = swapped[point, ::-1]
    yield FitSlip("columns", point, off=away), math.log(HABIT["columns"] / 2), swapped
    for axis in (0, 1):
        value = float(first[point, axis])
        sign = -1.0 if value < 0 else 1.0
        choices = [*meant_distances(abs(value), step)] if value else []
        kinds = [(kind, [(sign * meant, weight) for meant, weight in found]) for kind, found in choices]
        kinds += [(kind, found) for kind, found in meant_readings(value, step) if kind == "minus"]
        for kind, found in kinds:
            total = sum(weight for _, weight in found)
            for meant, weight in found:
                changed = first.copy()
                changed[point, axis] = meant
                slip = FitSlip(kind, point, axis=axis, was=value, meant=meant, off=away)
                yield slip, math.log(HABIT[kind] * weight / total / 2), changed


def find_fit_slips(
    first: FloatArray,
    second: FloatArray,
    sd: FloatArray,
    *,
    turn: bool = True,
    scale: bool = False,
    step: float = STEP,
) -> tuple[FitSlip, ...]:
    """Return what is probably wrong with the common points of two surveys, the likeliest first; nothing when all agree.

    Each point is left out in turn; every slip of the pen that would bring it near to where the others put it is tried
    by fitting anew, as is that two points bear each other's names. Nothing is changed.

    Parameters
    ----------
    first, second : array, shape (n, 2)
        East and north of the common points in the survey that is fitted, and in the other. [m]
    sd : array, shape (n,)
        Standard deviation of each coordinate, both surveys together. [m]
    turn, scale : bool
        As for `fit_positions`.
    step : float
        To which the coordinates of the first are written: it says their unit too. [m]
    """
    count = len(first)
    freedom = 2 * count - 2 - turn - scale
    whole = _chi(first, second, sd, turn=turn, scale=scale)
    if freedom < 2 or chi_square_share(whole, freedom) > RARE:
        return ()
    scored: list[tuple[float, FitSlip]] = []
    for point in range(count):
        kept = [row for row in range(count) if row != point]
        try:
            others = fit_positions(first[kept], second[kept], turn=turn, scale=scale, sd=sd[kept])
        except InputError:
            continue
        put = np.column_stack(others.apply(first[[point], 0], first[[point], 1]))[0]
        left = float(np.sum(np.square(others.residuals / sd[kept][:, None])))
        off = put - second[point]
        if whole - left < GAIN:
            continue
        room = (float(sd[point]) / WIDEST) ** 2 * 2.0 * math.pi
        scored.append((math.log(HABIT["other"] * room) - left / 2, FitSlip("other", point, off=float(np.hypot(*off)))))
        for slip, habit, changed in _tries(first, point, off, step):
            moved = np.column_stack(others.apply(changed[[point], 0], changed[[point], 1]))[0]
            if float(np.hypot(*(moved - second[point]))) < max(10.0 * float(sd[point]), 0.2 * slip.off):
                scored.append((habit - _chi(changed, second, sd, turn=turn, scale=scale) / 2, slip))
    for one, two in combinations(range(count), 2):
        changed = first.copy()
        changed[[one, two]] = changed[[two, one]]
        left = _chi(changed, second, sd, turn=turn, scale=scale)
        if whole - left >= GAIN:
            scored.append((math.log(HABIT["columns"]) - left / 2, FitSlip("columns", one, two)))
    if not scored:
        return ()
    named = named_slips([score for score, _ in scored], MOST_NAMED)
    return tuple(replace(scored[place][1], share=share) for place, share in named)
