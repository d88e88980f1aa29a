"""The pad and its stakes to a stated scale, so that a ruler on the printed page measures the yard."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.units import LengthUnit
from spadework.write.canvas import drawing_settings, empty_figure, map_axes
from spadework.write.drawing import below_map, draw_detail
from spadework.write.map_frame import Extent
from spadework.write.pad_areas import pad_areas

__all__ = ["map_scale", "scale_words", "scaled_map"]

INCH = 0.0254
# Scales that rulers have: metric ones, and a number of feet to the inch.
METRIC = (10, 20, 25, 50, 100, 125, 200, 250, 500, 1000, 2000, 5000, 10_000)
FEET = tuple(12 * feet for feet in (1, 2, 4, 5, 8, 10, 20, 30, 40, 50, 100, 200, 500, 1000))
BELOW = 0.6  # room for scale bar and north arrow [in]
ROOM = 0.8  # clear round what is shown, for labels [in]


def map_scale(plan: Plan, wide: float, high: float) -> tuple[int, bool]:
    """Return the largest scale at which the stakes fit, and whether the references are on the map too.

    Parameters
    ----------
    plan : Plan
        The plan.
    wide, high : float
        Room on the page. [in]

    Returns
    -------
    scale : int
        50 for 1:50.
    references : bool
        Whether they fit at that scale, or at one no more than two and a half times smaller, which is then taken.
    """
    stakes = np.array([[stake.east, stake.north] for stake in plan.stakeout.all_stakes])
    alone = _fitting(plan, stakes, wide, high)
    if not plan.stakeout.references:
        return alone, False
    known = np.array([[east, north] for _, east, north in plan.stakeout.references])
    together = _fitting(plan, np.vstack([stakes, known]), wide, high)
    return (together, True) if together <= 2.5 * alone else (alone, False)


def scale_words(plan: Plan, scale: int) -> str:
    """Return a scale in the user's words: ``1:50``, or ``1 inch = 4 feet (1:48)``."""
    if plan.units is LengthUnit.METRE:
        return f"1:{scale}"
    feet = scale // 12
    return f"1 inch = {feet} {'foot' if feet == 1 else 'feet'} (1:{scale})"


def scaled_map(plan: Plan, wide: float, high: float) -> Figure:
    """Return the map; one inch of it is the scale's number of inches in the yard. [in]

    Parameters
    ----------
    plan : Plan
        The plan.
    wide, high : float
        Size on the page. [in]
    """
    scale, references = map_scale(plan, wide, high)
    points = np.array([[stake.east, stake.north] for stake in plan.stakeout.all_stakes])
    if references:
        points = np.vstack([points, [[east, north] for _, east, north in plan.stakeout.references]])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    half = np.array([wide, high - BELOW]) * INCH * scale / 2
    with drawing_settings():
        figure = empty_figure(wide, high)
        extent = Extent(*(middle - half).tolist(), *(middle + half).tolist())
        axes = map_axes(figure, (0.0, BELOW, wide, high - BELOW), extent)
        draw_detail(axes, plan, pad_areas(plan.ground, plan.pad, plan.search.best.placement), 7.0)
        below_map(figure, axes, plan, 0.12, size=7.0)
    return figure


def _fitting(plan: Plan, points: FloatArray, wide: float, high: float) -> int:
    """Return the largest scale at which points fit."""
    across, up = np.ptp(points, axis=0) / INCH
    scales = METRIC if plan.units is LengthUnit.METRE else FEET
    return next(
        (s for s in scales if across / s <= wide - ROOM and up / s <= high - BELOW - ROOM),
        scales[-1],
    )
