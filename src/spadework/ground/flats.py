"""Shots taken along contours: triangles that lie flat across a bend are turned to run from one to the next."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spadework.ground.index import TriangleArray
from spadework.ground.sides import inner_sides, is_kept
from spadework.readings import FloatArray

__all__ = ["looks_like_contours", "turn_flats"]

SAME = 1e-6
"""Levels of one contour differ by no more than this. [m]"""
FINEST_INTERVAL = 0.1
"""Contours closer than this in level are readings of a rod, not contours: a judgement. [m]"""
ALONG = 0.7
"""Share of shots at the level of the shot before: what tells a walk along contours from a grid: a judgement."""
THINNEST = 1e-6
"""A turned triangle whose area is less than this share of the square of its new side is none."""


def looks_like_contours(level: FloatArray) -> bool:
    """Return whether levels, in the order that they were taken, follow contours.

    Parameters
    ----------
    level : array, shape (n,)
        Levels. [m]
    """
    steps = np.abs(np.diff(level))
    apart = np.diff(np.unique(np.round(level / SAME))) * SAME
    if not len(apart) or not len(steps):
        return False
    return bool(apart[apart > 2 * SAME].min(initial=np.inf) >= FINEST_INTERVAL and (steps <= SAME).mean() >= ALONG)


def turn_flats(
    east: FloatArray, north: FloatArray, level: FloatArray, triangles: TriangleArray, kept: TriangleArray
) -> tuple[TriangleArray, str]:
    """Turn a side of each flat triangle, where that makes it run to the next contour.

    Three shots of one contour make a flat triangle, which cuts off the bend between them: a spur or a gully. A side
    between two that are not neighbours on the contour, turned, runs along the spur. Shots that do not follow contours
    are left as they are: flat triangles are right on a lawn.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Corners, in the order that they were taken. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.
    kept : array of int32, shape (s, 2)
        Sides that stay.

    Returns
    -------
    triangles : array of int32, shape (t, 3)
        The same ground with some sides turned.
    sentence : str
        What was done; empty where nothing was to be done.
    """
    if not looks_like_contours(level):
        return triangles, ""
    turned = triangles.copy()
    before = int(_flat(level, turned).sum())
    if not before:
        return triangles, ""
    while _turn_once(east, north, level, turned, kept):
        pass
    after = int(_flat(level, turned).sum())
    rest = (
        f" {after} stay flat, on tops and in hollows inside the last contour: take a shot on each of them."
        if after
        else ""
    )
    return turned, (
        f"The shots follow contours, and {before} triangles lay flat across their bends: {before - after} were turned "
        f"to run from contour to contour.{rest}"
    )


def _flat(level: FloatArray, triangles: TriangleArray) -> npt.NDArray[np.bool_]:
    flat: npt.NDArray[np.bool_] = np.ptp(level[triangles], axis=1) <= SAME
    return flat


def _turn_once(
    east: FloatArray, north: FloatArray, level: FloatArray, triangles: TriangleArray, kept: TriangleArray
) -> bool:
    """Turn what can be turned without two turns touching one triangle; return whether anything was."""
    side, opposite, owner = inner_sides(len(east), triangles)
    flat = _flat(level, triangles)
    fixed = np.abs(side[:, 0] - side[:, 1]) == 1  # neighbours on their contour
    if len(kept):
        fixed |= is_kept(len(east), side, kept)
    used = np.zeros(len(triangles), dtype=bool)
    done = False
    for i in np.flatnonzero((flat[owner[:, 0]] != flat[owner[:, 1]]) & ~fixed):
        first, second = side[i]
        left, right = opposite[i]
        if used[owner[i]].any() or abs(level[left] - level[right]) <= SAME:
            continue
        new = ((left, right, second), (right, left, first))
        span = (east[left] - east[right]) ** 2 + (north[left] - north[right]) ** 2
        if min(_double_area(east, north, one) for one in new) <= THINNEST * span:
            continue
        used[owner[i]] = done = True
        triangles[owner[i]] = new
    return done


def _double_area(east: FloatArray, north: FloatArray, corners: tuple[int, int, int]) -> float:
    a, b, c = corners
    return float((east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a]))
