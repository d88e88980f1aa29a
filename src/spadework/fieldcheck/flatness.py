"""How flat: the worst deviation under a straight-edge laid from one measured point to another."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spadework.fieldcheck.surface import NEAR
from spadework.ground import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["StraightEdge", "under_straight_edge"]

BoolArray = npt.NDArray[np.bool_]

SAME_END = 1e-9  # share of the straight-edge at its ends where it rests, and nothing deviates


@dataclass(frozen=True, slots=True)
class StraightEdge:
    """The worst place under a straight-edge.

    Parameters
    ----------
    length : float
        Of the straight-edge. [m]
    deviation : float
        Surface less straight-edge: positive for a hump, negative for a hollow. [m]
    start, end : str
        Names of the two points that it lies on.
    east, north : float
        Where the deviation is. [m]
    """

    length: float
    deviation: float
    start: str
    end: str
    east: float
    north: float


def under_straight_edge(surface: Ground, length: float) -> StraightEdge | None:
    """Return the worst deviation under a straight-edge, or None where no two points in its reach have any between.

    The straight-edge lies on two measured points ``p`` and ``q`` that are no farther apart than its length. What it is
    compared with is the surface of plane triangles between all measured points, and each measured point that lies
    within 50 mm of the line from ``p`` to ``q``; the plane of least squares is taken off all of them first. At a share
    ``t`` of the way the deviation is::

        surface(p + t (q - p)) - ((1 - t) level(p) + t level(q)),    0 < t < 1

    The surface is made of planes, so the greatest is where the line crosses a side of a triangle, or at such a point:
    it is found exactly, not by sampling. The definition is ours; with points along one line it is the mid-ordinate that
    a builder finds between straight-edge and surface, counted positive upwards.

    Parameters
    ----------
    surface : Ground
        Of levels; deviations from a plane will do as well, and give the same.
    length : float
        Of the straight-edge. [m]
    """
    place = np.column_stack([surface.east, surface.north])
    surface = replace(surface, level=_without_plane(place, surface.level))
    sides = np.unique(
        np.sort(np.concatenate([surface.triangles[:, [i, (i + 1) % 3]] for i in range(3)]), axis=1), axis=0
    ).astype(np.int64)
    low, high = _reach_of_sides(place, sides)
    worst: tuple[float, int, int, float] | None = None
    # From the points that stand out most: what they show rules most of the others out unseen.
    for start in np.argsort(-np.abs(surface.level), kind="stable").tolist():
        away = np.hypot(*(place - place[start]).T)
        ends = np.flatnonzero((away <= length + 1e-9) & (away > NEAR) & (np.arange(len(place)) > start))
        in_reach = away <= length + NEAR
        near = sides[((low <= place[start] + length) & (high >= place[start] - length)).all(axis=1)]
        if worst is not None:
            ends = ends[_most(surface.level, start, ends, near, in_reach) > abs(worst[0])]
        if not len(ends):
            continue
        found = [_at_sides(surface, place, start, ends, near), _at_points(surface, place, start, ends, in_reach)]
        for end, share, deviation in found:
            if len(deviation):
                row = int(np.abs(deviation).argmax())
                if worst is None or abs(deviation[row]) > abs(worst[0]) + 1e-12:
                    worst = (float(deviation[row]), start, int(end[row]), float(share[row]))
    if worst is None:
        return None
    off, first, last, at = worst
    east, north = surface.origin + place[first] + at * (place[last] - place[first])
    names = surface.names or tuple(str(number) for number in range(1, len(place) + 1))
    return StraightEdge(length, off, names[first], names[last], float(east), float(north))


def _without_plane(place: FloatArray, level: FloatArray) -> FloatArray:
    """Return levels less their plane of least squares, so that a tilt puts no point beside the line off it. [m]"""
    terms = np.column_stack([place - place.mean(axis=0), np.ones(len(place))])
    middle = level - level.mean()
    rest: FloatArray = middle - terms @ np.linalg.lstsq(terms, middle, rcond=None)[0]
    return rest


def _reach_of_sides(place: FloatArray, sides: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest place of each side. [m]"""
    one, other = place[sides[:, 0]], place[sides[:, 1]]
    return np.minimum(one, other), np.maximum(one, other)


def _most(level: FloatArray, start: int, ends: IntArray, near: IntArray, in_reach: BoolArray) -> FloatArray:
    """Return what a deviation between a point and each end can be at most. [m]

    No place of the surface near them is higher or lower than the ends of the sides there, no place of the straight-edge
    than its own ends.
    """
    around = np.concatenate([level[near].ravel(), level[in_reach]])
    one, other = level[start], level[ends]
    most: FloatArray = np.maximum(around.max() - np.minimum(one, other), np.maximum(one, other) - around.min())
    return most


Found = tuple[IntArray, FloatArray, FloatArray]
"""End of the straight-edge, share of its length, and the deviation there."""


def _at_sides(surface: Ground, place: FloatArray, start: int, ends: IntArray, sides: IntArray) -> Found:
    """Return deviations where lines from a point cross the sides of triangles."""
    one, other = place[sides[:, 0]], place[sides[:, 1]]
    reach = place[ends] - place[start]
    low, high = np.minimum(one, other), np.maximum(one, other)
    box_low, box_high = np.minimum(reach.min(axis=0), 0) + place[start], np.maximum(reach.max(axis=0), 0) + place[start]
    near = ((low <= box_high) & (high >= box_low)).all(axis=1)
    one, other, sides = one[near], other[near], sides[near]
    along = other - one
    gap = one - place[start]
    cross = reach[:, None, 0] * along[None, :, 1] - reach[:, None, 1] * along[None, :, 0]
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        share = (gap[:, 0] * along[:, 1] - gap[:, 1] * along[:, 0])[None, :] / cross
        across = (gap[None, :, 0] * reach[:, None, 1] - gap[None, :, 1] * reach[:, None, 0]) / cross
    meets = (share > SAME_END) & (share < 1 - SAME_END) & (across >= 0) & (across <= 1)
    row, side = np.nonzero(meets)
    share, across = share[row, side], across[row, side]
    height = surface.height
    met = height[sides[side, 0]] + across * (height[sides[side, 1]] - height[sides[side, 0]])
    chord = height[start] + share * (height[ends[row]] - height[start])
    return ends[row], share, met - chord


def _at_points(surface: Ground, place: FloatArray, start: int, ends: IntArray, in_reach: BoolArray) -> Found:
    """Return deviations of measured points beside lines from a point."""
    reach = place[ends] - place[start]
    size = np.hypot(*reach.T)
    points = np.flatnonzero(in_reach)
    gap = place[points] - place[start]
    share = (gap @ reach.T).T / size[:, None] ** 2
    aside = np.abs(reach[:, None, 0] * gap[None, :, 1] - reach[:, None, 1] * gap[None, :, 0]) / size[:, None]
    clear = NEAR / size[:, None]
    row, column = np.nonzero((share > clear) & (share < 1 - clear) & (aside <= NEAR))
    share, point = share[row, column], points[column]
    height = surface.height
    chord = height[start] + share * (height[ends[row]] - height[start])
    return ends[row], share, height[point] - chord
