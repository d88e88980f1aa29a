"""Shots joined by triangles."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spadework.errors import GroundError
from spadework.ground.checks import check_shots
from spadework.ground.index import TriangleArray
from spadework.ground.surface import Ground, local_origin
from spadework.readings import FloatArray, IntArray
from spadework.shots import Shots

__all__ = ["level_diagonals", "triangulate_shots"]

FLATTEST = 1e-9
"""A triangle whose height is less than this share of its longest side has no area worth the name."""

ON_ONE_CIRCLE = 1e-6
"""Relative tolerance within which the four corners of a cell lie on one circle, so that either diagonal would do."""


def triangulate_shots(
    shots: Shots, *, breaklines: Sequence[Sequence[str]] = (), accept_outliers: Sequence[str] = ()
) -> Ground:
    """Join shots by the triangles of Delaunay's rule: no shot inside the circle through the corners of a triangle.

    Where four shots lie on one circle, as in every cell of a taped grid, the rule leaves the diagonal open; the one
    whose ends differ less in level is taken, so that moving or turning the site changes nothing.

    Parameters
    ----------
    shots : Shots
        Points with a position and a level; see `check_shots` for what is refused.
    breaklines : sequence of sequence of str
        Lines along which the ground bends, as names of shots. Not taken yet: give none.
    accept_outliers : sequence of str
        Names of shots whose level is right however far it is from its neighbours.

    Returns
    -------
    Ground

    Raises
    ------
    GroundError
        If the shots do not describe a ground, or breaklines are given.
    """
    if len(breaklines):
        raise GroundError(
            f"{len(breaklines)} breakline(s) given, but this version joins shots without breaklines. Take shots along "
            "the line, closer together than to its sides, and leave the breaklines out."
        )
    from scipy.spatial import Delaunay  # noqa: PLC0415 -- 0.5 s of import that reading a level book does not need

    checked = check_shots(shots, accept_outliers=accept_outliers)
    origin = local_origin(checked.east, checked.north)
    east, north = checked.east - origin[0], checked.north - origin[1]
    net = Delaunay(np.column_stack([east, north]))
    if len(net.coplanar):
        lost = ", ".join(checked.point[i] for i in net.coplanar[:, 0])
        raise GroundError(f"The triangulation leaves out {lost}: too near another shot. Take one of the two out.")
    triangles = _counter_clockwise(east, north, net.simplices.astype(np.int32))
    triangles = level_diagonals(east, north, checked.level, triangles)
    return Ground(origin, east, north, checked.level, triangles, "triangulated shots", checked.point, checked.notices)


def _counter_clockwise(east: FloatArray, north: FloatArray, triangles: TriangleArray) -> TriangleArray:
    """Return the triangles counter-clockwise from above, without those that are a line."""
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    turned = np.where((double < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
    longest = np.max([np.hypot(east[i] - east[j], north[i] - north[j]) for i, j in ((a, b), (b, c), (c, a))], axis=0)
    kept: TriangleArray = turned[np.abs(double) > FLATTEST * longest**2]
    return kept


def level_diagonals(east: FloatArray, north: FloatArray, level: FloatArray, triangles: TriangleArray) -> TriangleArray:
    """Turn the diagonal of every four-cornered cell on one circle to the one whose ends differ less in level.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Corners. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.

    Returns
    -------
    array of int32, shape (t, 3)
        The same ground with some diagonals turned.
    """
    side, opposite, owner = _inner_sides(len(east), triangles)
    first, second = side.T
    left, right = opposite.T
    open_choice = _on_one_circle(east, north, side, opposite)
    gain = np.abs(level[first] - level[second]) - np.abs(level[left] - level[right])
    turned = triangles.copy()
    used = np.zeros(len(triangles), dtype=bool)
    for i in np.flatnonzero(open_choice & (gain > 0)):
        if not used[owner[i]].any():
            used[owner[i]] = True
            turned[owner[i]] = ((left[i], right[i], second[i]), (right[i], left[i], first[i]))
    return turned


def _inner_sides(count: int, triangles: TriangleArray) -> tuple[TriangleArray, TriangleArray, IntArray]:
    """Return the sides that two triangles share, shape (s, 2).

    With them the corners opposite and the triangles: first that to the left of the side, then that to the right.
    """
    start, end, apex = (triangles[:, [i, (i + 1) % 3, (i + 2) % 3]].ravel() for i in range(3))
    key = np.minimum(start, end).astype(np.int64) * count + np.maximum(start, end)
    order = np.lexsort((start > end, key))
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = order[same], order[same + 1]
    owner = np.column_stack([one // 3, other // 3]).astype(np.int64)
    return np.column_stack([start[one], end[one]]), np.column_stack([apex[one], apex[other]]), owner


def _on_one_circle(
    east: FloatArray, north: FloatArray, side: TriangleArray, opposite: TriangleArray
) -> npt.NDArray[np.bool_]:
    """Return whether opposite angles add up to half a turn: ``|sin(α + β)|`` below the tolerance."""
    sines, cosines = [], []
    for apex in opposite.T:
        ae, an = east[side[:, 0]] - east[apex], north[side[:, 0]] - north[apex]
        be, bn = east[side[:, 1]] - east[apex], north[side[:, 1]] - north[apex]
        size = np.hypot(ae, an) * np.hypot(be, bn)
        sines.append(np.abs(ae * bn - an * be) / size)
        cosines.append((ae * be + an * bn) / size)
    near: npt.NDArray[np.bool_] = np.abs(sines[0] * cosines[1] + cosines[0] * sines[1]) < ON_ONE_CIRCLE
    return near
