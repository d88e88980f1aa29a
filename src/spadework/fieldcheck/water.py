"""Where water can stand: hollows that are closed all round among the measured points."""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np

from spadework.fieldcheck.surface import rim_points
from spadework.ground import Ground
from spadework.readings import FloatArray

__all__ = ["DEEP_ENOUGH", "FLATTEST_FALL", "Hollow", "hollows", "standing_water"]

DEEP_ENOUGH = 0.003
"""A hollow less deep than this is not told from a flat place by a level and a rod; common practice, no source. [m]"""
FLATTEST_FALL = 0.01
"""On a surface that falls less than 1 in 100 water does not run off by itself; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Hollow:
    """A point that water stands over.

    Parameters
    ----------
    name : str
        Of the point.
    east, north : float
        Where it is. [m]
    depth : float
        Of the water before it runs over. [m]
    """

    name: str
    east: float
    north: float
    depth: float


def standing_water(surface: Ground) -> FloatArray:
    """Return how deep water can stand over each corner of a surface whose rim lets it out.

    Every corner is filled to ``max(level, lowest way out)``, where a way out runs along the sides of triangles to the
    rim and is as high as its highest corner: the priority flood of Barnes, Lehman and Mulla, "Priority-Flood: An
    Optimal Depression-Filling and Watershed-Labeling Algorithm", Computers & Geosciences 62 (2014), on a net of
    triangles.

    Parameters
    ----------
    surface : Ground
        Of levels.

    Returns
    -------
    array, shape (n,)
        0 where water runs off. [m]
    """
    near: list[set[int]] = [set() for _ in surface.level]
    for triangle in surface.triangles.tolist():
        for one in triangle:
            near[one].update(triangle)
    filled = np.full(len(surface.level), np.inf)
    queue: list[tuple[float, int]] = []
    for corner in np.flatnonzero(rim_points(surface)).tolist():
        filled[corner] = surface.level[corner]
        queue.append((float(filled[corner]), corner))
    heapq.heapify(queue)
    while queue:
        level, corner = heapq.heappop(queue)
        for other in near[corner]:
            if np.isinf(filled[other]):
                filled[other] = max(level, float(surface.level[other]))
                heapq.heappush(queue, (float(filled[other]), other))
    depth: FloatArray = np.where(np.isfinite(filled), filled - surface.level, 0.0)
    return depth


def hollows(surface: Ground, least: float = DEEP_ENOUGH) -> tuple[Hollow, ...]:
    """Return the points that water can stand over, the deepest first.

    Parameters
    ----------
    surface : Ground
        Of levels.
    least : float
        What is less deep is left out. [m]
    """
    depth = standing_water(surface)
    rows = [row for row in np.argsort(-depth, kind="stable").tolist() if depth[row] >= least]
    east, north = surface.east + surface.origin[0], surface.north + surface.origin[1]
    names = surface.names or ("",) * len(depth)
    return tuple(Hollow(names[row], float(east[row]), float(north[row]), float(depth[row])) for row in rows)
