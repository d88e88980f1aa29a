"""The frame of a map: what it shows, at what contour interval, and how long its scale bar is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from spadework.ground import Ground
from spadework.placement import Limits
from spadework.plan import Plan, Reference
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import FOOT, LengthUnit, to_length_unit

__all__ = ["Extent", "Land", "contour_interval", "contour_text", "pad_extent", "scale_bar", "yard_extent"]

MOST_CONTOURS = 12
MARGIN = 0.06  # of the longer side, clear round what is shown
INCH = FOOT / 12
ROUND_METRES = tuple(base * 10.0**power for power in range(-2, 5) for base in (1, 2, 5))
ROUND_FEET = tuple(base * 10.0**power * FOOT for power in range(-1, 5) for base in (1, 2, 5))
ROUND_FEET_INCHES = (INCH, 2 * INCH, 3 * INCH, 6 * INCH, *(length for length in ROUND_FEET if length >= FOOT))
ROUND = {
    LengthUnit.METRE: ROUND_METRES,
    LengthUnit.FOOT: ROUND_FEET,
    LengthUnit.FOOT_INCH: ROUND_FEET_INCHES,
}


@dataclass(frozen=True, slots=True)
class Extent:
    """A rectangle of the site, north up.

    Parameters
    ----------
    west, south, east, north : float
        Its sides. [m]
    """

    west: float
    south: float
    east: float
    north: float

    @classmethod
    def around(cls, points: FloatArray, margin: float) -> Extent:
        """Return the rectangle about points, with a margin that is a share of its longer side."""
        low, high = points.min(axis=0), points.max(axis=0)
        room = margin * max(float((high - low).max()), 0.1)
        return cls(float(low[0]) - room, float(low[1]) - room, float(high[0]) + room, float(high[1]) + room)

    def filling(self, wide: float, high: float) -> Extent:
        """Return the rectangle widened about its centre to the proportions of a box on the page."""
        across, up = self.east - self.west, self.north - self.south
        more_across = max(up * wide / high - across, 0.0) / 2
        more_up = max(across * high / wide - up, 0.0) / 2
        return Extent(self.west - more_across, self.south - more_up, self.east + more_across, self.north + more_up)

    def holds(self, east: float, north: float) -> bool:
        """Return whether a point lies within."""
        return self.west <= east <= self.east and self.south <= north <= self.north


class Land(Protocol):
    """What a map shows of the land, with or without a plan upon it."""

    @property
    def ground(self) -> Ground:
        """The surface."""

    @property
    def limits(self) -> Limits:
        """Boundary, setback and keep-outs."""

    @property
    def shots(self) -> Shots | None:
        """The shots; ``None`` for a raster."""

    @property
    def references(self) -> tuple[Reference, ...]:
        """Fixed points to tape from."""

    @property
    def units(self) -> LengthUnit:
        """The user's unit."""

    @property
    def crs(self) -> str:
        """System of the axes, empty where they are the site's own."""


def yard_extent(plan: Plan) -> Extent:
    """Return the whole yard: boundary, or else the measured ground; pad, references, shots and what lies between."""
    parts = [plan.search.best.placement.corners(plan.pad)]
    parts += list(plan.limits.boundary) or list(plan.ground.outline()[:1])
    if plan.references:
        parts.append(np.array([[east, north] for _, east, north in plan.references]))
    if plan.shots is not None and len(plan.shots):
        placed = np.column_stack([plan.shots.east, plan.shots.north])
        parts.append(placed[np.isfinite(placed).all(axis=1)].reshape(-1, 2))
    return Extent.around(np.vstack(parts), MARGIN)


def pad_extent(plan: Plan) -> Extent:
    """Return the pad with room for its labels round it."""
    return Extent.around(plan.search.best.placement.corners(plan.pad), 0.32)


def contour_interval(plan: Land, extent: Extent) -> float:
    """Return an interval, round in the user's unit, that draws at most twelve contours; 0 for level ground. [m]

    Parameters
    ----------
    plan : Land
        The plan, or the ground alone.
    extent : Extent
        Part of the site that is shown.
    """
    ground = plan.ground
    east, north = ground.east + ground.origin[0], ground.north + ground.origin[1]
    shown = (east >= extent.west) & (east <= extent.east) & (north >= extent.south) & (north <= extent.north)
    levels = ground.level[shown] if shown.any() else ground.level
    height = float(np.ptp(levels))
    finest = ROUND[plan.units][0]
    if height < finest:
        return 0.0
    return next((step for step in ROUND[plan.units] if height / step <= MOST_CONTOURS), ROUND[plan.units][-1])


def contour_text(level: float, interval: float, unit: LengthUnit) -> str:
    """Return what a contour is labelled with: no more decimals than its interval needs, and no unit.

    Parameters
    ----------
    level, interval : float
        Level of the contour and interval. [m]
    unit : LengthUnit
        The user's unit; feet with a fraction are written in feet and inches by one who measures so.
    """
    if unit is LengthUnit.FOOT_INCH:
        inches = round(level / INCH)
        sign, (feet, rest) = "-" if inches < 0 else "", divmod(abs(inches), 12)
        return f"{sign}{feet}'" + (f' {rest}"' if rest else "")
    step = to_length_unit(interval, unit)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{to_length_unit(level, unit):.{decimals}f}"


def scale_bar(width: float, unit: LengthUnit) -> tuple[float, str]:
    """Return the length of a scale bar and what it says: round, and a fifth to a half of the width.

    Parameters
    ----------
    width : float
        Width of the map. [m]
    unit : LengthUnit
        The user's unit.

    Returns
    -------
    length : float
        Length of the bar. [m]
    text : str
        ``5 m``, ``20 ft``.
    """
    length = max((step for step in ROUND[unit] if step <= 0.4 * width), default=ROUND[unit][0])
    if unit is LengthUnit.METRE:
        return length, f"{length:g} m"
    if length < FOOT:
        return length, f"{length / INCH:.3g} in"
    return length, f"{length / FOOT:.0f} ft"
