"""How steep and how rough a ground is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.ground.hollows import links
from spadework.ground.outliers import Around, off_plane
from spadework.ground.surface import Ground
from spadework.readings import FloatArray

__all__ = ["Relief", "relief", "slopes"]

MOST_CORNERS = 50_000


@dataclass(frozen=True, slots=True)
class Relief:
    """Slopes of the triangles, and how far points lie off the plane of their neighbours.

    Parameters
    ----------
    gentle, middle, steep : float
        Slopes, rise over run, that a tenth, a half and nine tenths of the area do not exceed.
    steepest : float
        Slope of the steepest triangle.
    roughness : float
        Root mean square distance of the corners from the plane through their neighbours; NaN for a ground of more than
        fifty thousand corners. [m]
    """

    gentle: float
    middle: float
    steep: float
    steepest: float
    roughness: float


def slopes(ground: Ground) -> FloatArray:
    """Return the slope of each triangle, rise over run, shape (t,).

    Parameters
    ----------
    ground : Ground
        Any.
    """
    a, b, c = ground.triangles.T
    east, north, height = ground.east, ground.north, ground.height
    double = 2 * ground.triangle_areas
    rise, rise2 = height[b] - height[a], height[c] - height[a]
    to_east = (rise * (north[c] - north[a]) - rise2 * (north[b] - north[a])) / double
    to_north = (rise2 * (east[b] - east[a]) - rise * (east[c] - east[a])) / double
    slope: FloatArray = np.hypot(to_east, to_north)
    return slope


def relief(ground: Ground) -> Relief:
    """Return how steep and how rough a ground is.

    Parameters
    ----------
    ground : Ground
        Any.
    """
    slope = slopes(ground)
    order = np.argsort(slope)
    share = np.cumsum(ground.triangle_areas[order]) / ground.area
    gentle, middle, steep = (
        float(slope[order][min(int(np.searchsorted(share, part)), len(slope) - 1)]) for part in (0.1, 0.5, 0.9)
    )
    rough = float("nan")
    if 4 <= len(ground.level) <= MOST_CORNERS:
        off, _ = off_plane(ground.east, ground.north, ground.level, Around(*links(ground)))
        rough = float(np.sqrt(np.mean(off**2)))
    return Relief(gentle, middle, steep, float(slope.max()), rough)
