"""How far it is with a barrow: straight, or around what must be kept clear of, with uphill counted."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely

from spadework.placement import KeepOut
from spadework.readings import FloatArray

__all__ = ["UPHILL", "walking_distances"]

UPHILL = 10.0
"""Metres of level way that one metre of rise counts for: common practice, no source. [m/m]"""
CORNERS_OF_A_CIRCLE = 24
ASIDE = 1e-6
"""A way may run along what it goes around; the corners stand this much clear of it. [m]"""


def walking_distances(
    start: FloatArray, end: FloatArray, obstacles: Sequence[KeepOut] = (), *, uphill: float = UPHILL
) -> FloatArray:
    """Return the shortest way from each start to each end, around obstacles.

    The shortest way around polygons turns only at their corners: each pair is joined through the graph of corners that
    see one another. A circle is a polygon of 24 sides around it, so its way is long by less than 1 %.
    A start or end inside an obstacle, such as a pad's own tree, leaves it by its nearest side.

    Parameters
    ----------
    start, end : array, shape (m, 3), (n, 3)
        East, north and level. [m]
    obstacles : sequence of KeepOut
        Gone around at their outline; for a circle at its radius.
    uphill : float
        Metres of level way that a metre of rise from start to end counts for. [m/m]

    Returns
    -------
    array, shape (m, n)
        Distance with the rise counted. [m]
    """
    start, end = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    plan = np.hypot(start[:, None, 0] - end[None, :, 0], start[:, None, 1] - end[None, :, 1])
    shapes = [shape for shape in map(_shape, obstacles) if not shape.is_empty]
    if shapes and len(start) and len(end):
        plan = _around(start[:, :2], end[:, :2], plan, shapes)
    rise = np.maximum(end[None, :, 2] - start[:, None, 2], 0.0)
    distance: FloatArray = plan + uphill * rise
    return distance


def _shape(obstacle: KeepOut) -> shapely.Polygon:
    """Return an obstacle as a polygon; a circle by one that goes around it."""
    if not obstacle.is_circle:
        # A line can be stepped over: what is buried or strung does not turn a barrow aside.
        return shapely.Polygon() if obstacle.open else shapely.Polygon(obstacle.outline)
    turn = np.arange(CORNERS_OF_A_CIRCLE) * (2 * np.pi / CORNERS_OF_A_CIRCLE)
    radius = obstacle.clearance / np.cos(np.pi / CORNERS_OF_A_CIRCLE)
    return shapely.Polygon(obstacle.outline[0] + radius * np.column_stack([np.sin(turn), np.cos(turn)]))


def _around(start: FloatArray, end: FloatArray, straight: FloatArray, shapes: list[shapely.Polygon]) -> FloatArray:
    """Return the ways in plan, where some straight ones may be blocked."""
    from scipy.sparse.csgraph import dijkstra  # noqa: PLC0415 -- only where there is something to go around

    land = shapely.union_all(shapes)
    shapely.prepare(land)
    points = np.concatenate([start, end])
    inside = shapely.contains_xy(land, points[:, 0], points[:, 1])
    blocked = ~_sees(start, end, land)
    blocked &= ~inside[: len(start), None] & ~inside[None, len(start) :]
    if not blocked.any():
        return straight
    outer = shapely.buffer(land, ASIDE, join_style="mitre")
    corners = shapely.get_coordinates(outer)
    places = np.concatenate([points, corners])
    seen = _sees(places, places, land)
    length = np.hypot(places[:, None, 0] - places[None, :, 0], places[:, None, 1] - places[None, :, 1])
    ways = dijkstra(np.where(seen, length, 0.0), indices=np.arange(len(start)))[:, len(start) : len(points)]
    found: FloatArray = np.where(blocked & np.isfinite(ways), ways, straight)
    return found


def _sees(
    one: FloatArray, other: FloatArray, land: shapely.Geometry
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Return which pairs are joined by a straight way that does not enter the land."""
    pairs = np.array(list(itertools.product(range(len(one)), range(len(other)))))
    lines = shapely.linestrings(np.stack([one[pairs[:, 0]], other[pairs[:, 1]]], axis=1))
    free = ~(shapely.crosses(lines, land) | shapely.within(lines, land))
    return np.asarray(free).reshape(len(one), len(other))
