"""The surface that was built: plane triangles between the measured points, and which points are on the pad at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spadework.ground import Ground
from spadework.ground.surface import local_origin
from spadework.ground.triangulate import level_diagonals
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray, IntArray

__all__ = ["NEAR", "drawn_in", "merged", "on_pad", "rim_points", "surface_of"]

NEAR = 0.05
"""What tape and boot leave open: two points, or a point and a line, nearer than this are taken as one. [m]"""
INSIDE = 1e-6  # how far inside its edge a point is put that lies off the pad [m]
FLATTEST = 1e-9  # a triangle lower than this share of its longest side is a line
FLAT = 1e-9  # points in a line have a spread across it below this share of the spread along it


def on_pad(pad: Pad, placement: Placement, points: FloatArray, margin: float = NEAR) -> npt.NDArray[np.bool_]:
    """Return which points lie inside the outline or within a margin of it.

    Parameters
    ----------
    pad, placement : Pad, Placement
        The pad and where it is.
    points : array, shape (n, 2)
        Site east and north. [m]
    margin : float
        [m]
    """
    from spadework.stakeout.grid import on_outline  # noqa: PLC0415 -- stakeout brings more with it than a check needs

    found: npt.NDArray[np.bool_] = on_outline(pad.outline, placement.to_pad(points), margin)
    return found


def drawn_in(pad: Pad, placement: Placement, points: FloatArray) -> FloatArray:
    """Return points with those off the pad moved to the nearest place just inside its edge, shape (n, 2). [m]"""
    at = placement.to_pad(points)
    outside = ~on_pad(pad, placement, points, 0.0)
    start, end = pad.outline, np.roll(pad.outline, -1, axis=0)
    middle = pad.outline.mean(axis=0)
    for row in np.flatnonzero(outside):
        share = np.clip(((at[row] - start) * (end - start)).sum(axis=1) / ((end - start) ** 2).sum(axis=1), 0.0, 1.0)
        foot = start + share[:, None] * (end - start)
        nearest = foot[np.hypot(*(at[row] - foot).T).argmin()]
        inward = middle - nearest
        at[row] = nearest + inward * (INSIDE / max(float(np.hypot(*inward)), INSIDE))
    return np.where(outside[:, None], placement.to_site(at), points)


def merged(points: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return one point for all that lie within 50 mm of the first of them, with the mean of their values.

    Parameters
    ----------
    points : array, shape (n, 2)
        [m]
    values : array, shape (n,)

    Returns
    -------
    points, values, group : array
        Shapes (g, 2), (g,) and (n,): the first point of each group, its mean, and the group of each point.
    """
    group = np.full(len(points), -1, dtype=np.int64)
    first: list[int] = []
    for row in range(len(points)):
        if group[row] < 0:
            near = (group < 0) & (np.hypot(*(points - points[row]).T) <= NEAR)
            group[near] = len(first)
            first.append(row)
    count = np.bincount(group, minlength=len(first))
    mean = np.bincount(group, weights=values, minlength=len(first)) / np.maximum(count, 1)
    return points[first], mean, group


def surface_of(points: FloatArray, values: FloatArray, names: Sequence[str] = ()) -> Ground | None:
    """Return plane triangles by Delaunay's rule between points, or None where three of them make no triangle.

    Parameters
    ----------
    points : array, shape (n, 2)
        Site east and north, no two at one place. [m]
    values : array, shape (n,)
        Level, or deviation from a level. [m]
    names : sequence of str, length n or 0
        Of the points.
    """
    if len(points) < 3:
        return None
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    if spread[1] <= FLAT * spread[0] or spread[1] < NEAR:
        return None
    from scipy.spatial import Delaunay  # noqa: PLC0415 -- 0.5 s of import that a single point does not need

    origin = local_origin(points[:, 0], points[:, 1])
    east, north = (points - origin).T
    triangles = Delaunay(np.column_stack([east, north])).simplices.astype(np.int32)
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    longest = np.max([np.hypot(east[i] - east[j], north[i] - north[j]) for i, j in ((a, b), (b, c), (c, a))], axis=0)
    turned = np.where((double < 0)[:, None], triangles[:, [0, 2, 1]], triangles)[np.abs(double) > FLATTEST * longest**2]
    if not len(turned):
        return None
    return Ground(origin, east, north, values, level_diagonals(east, north, values, turned), "built", tuple(names))


def rim_points(surface: Ground) -> npt.NDArray[np.bool_]:
    """Return which corners stand on the rim of a surface, or within 50 mm of it, shape (n,)."""
    sides = np.sort(
        np.concatenate([surface.triangles[:, [0, 1]], surface.triangles[:, [1, 2]], surface.triangles[:, [2, 0]]]),
        axis=1,
    )
    side, count = np.unique(sides, axis=0, return_counts=True)
    outer = side[count == 1]
    place = np.column_stack([surface.east, surface.north])
    rim = np.zeros(len(place), dtype=bool)
    rim[outer.ravel()] = True
    for start, end in place[outer]:
        along = end - start
        share = np.clip(((place - start) @ along) / (along @ along), 0.0, 1.0)
        rim |= np.hypot(*(place - start - share[:, None] * along).T) <= NEAR
    return rim
