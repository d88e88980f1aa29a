"""Lines drawn from a triangulation: its rim and its contours."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from spadework.ground.index import TriangleArray
from spadework.readings import FloatArray

__all__ = ["contour_levels", "contour_lines", "rim_rings"]

Ends = npt.NDArray[np.int64]


def rim_rings(
    east: FloatArray, north: FloatArray, triangles: TriangleArray, origin: FloatArray
) -> tuple[FloatArray, ...]:
    """Return the edges that belong to one triangle only, joined to rings, the ring of the largest area first.

    Parameters
    ----------
    east, north : array, shape (n,)
        Local coordinates. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.
    origin : array, shape (2,)
        Added to the coordinates returned. [m]

    Returns
    -------
    tuple of array, shape (k, 2)
        Outer rings counter-clockwise, holes clockwise, without repeating the first point.
    """
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]).astype(np.int64)
    key = edges.min(axis=1) * len(east) + edges.max(axis=1)
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    rim = edges[first[count == 1]]
    rings = [
        np.column_stack([east[ring[:-1]], north[ring[:-1]]]) for ring in _chains(rim[:, 0], rim[:, 1]) if len(ring) > 3
    ]
    rings.sort(key=_ring_area, reverse=True)
    return tuple(ring + origin for ring in rings)


def _ring_area(ring: FloatArray) -> float:
    east, north = ring.T
    return 0.5 * float(np.dot(east, np.roll(north, -1)) - np.dot(north, np.roll(east, -1)))


def contour_levels(level: FloatArray, interval: float) -> FloatArray:
    """Return the multiples of ``interval`` strictly between the lowest and the highest level. [m]

    Raises
    ------
    ValueError
        If the interval is not more than zero, or so fine that there would be more than ten thousand lines.
    """
    if not interval > 0:
        raise ValueError(f"a contour interval must be more than 0 m, not {interval}")
    low, high = float(level.min()), float(level.max())
    first, last = math.floor(low / interval) + 1, math.ceil(high / interval) - 1
    if last - first > 10_000:
        raise ValueError(
            f"a contour interval of {interval} m gives {last - first} lines over {high - low:.1f} m of height"
        )
    levels: FloatArray = np.arange(first, last + 1).astype(np.float64) * float(interval)
    return levels


def contour_lines(  # noqa: PLR0917 -- the fields of a ground, in their order
    east: FloatArray,
    north: FloatArray,
    level: FloatArray,
    triangles: TriangleArray,
    origin: FloatArray,
    levels: FloatArray,
) -> list[tuple[float, FloatArray]]:
    """Return the contours of a triangulation, joined from triangle to triangle.

    A corner exactly at the wanted level counts as above it, so that every triangle which is crossed is crossed on two
    of its edges and a line ends only at the rim.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Corners, local coordinates. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.
    origin : array, shape (2,)
        Added to the coordinates returned. [m]
    levels : array, shape (k,)
        Wanted levels. [m]

    Returns
    -------
    list of (float, array of shape (m, 2))
        Level and line, lowest level first; higher ground lies to the left of the line.
    """
    lowest, highest = level[triangles].min(axis=1), level[triangles].max(axis=1)
    found: list[tuple[float, FloatArray]] = []
    for wanted in np.sort(levels):
        crossed = triangles[(lowest < wanted) & (highest >= wanted)].astype(np.int64)
        if not len(crossed):
            continue
        above = level[crossed] >= wanted
        # Going round a triangle the ground rises through the level once and falls through it once; the line runs from
        # the falling side to the rising one, which keeps the higher ground on its left.
        rising = ~above & np.roll(above, -1, axis=1)
        falling = above & ~np.roll(above, -1, axis=1)
        row = np.arange(len(crossed))
        enter, leave = falling.argmax(axis=1), rising.argmax(axis=1)
        ends = [np.sort(np.stack([crossed[row, i], crossed[row, (i + 1) % 3]]), axis=0) for i in (enter, leave)]
        keys = [low * len(east) + high for low, high in ends]
        edge, where = np.unique(np.concatenate(keys), return_inverse=True)
        low, high = edge // len(east), edge % len(east)
        share = (wanted - level[low]) / (level[high] - level[low])
        line_east = east[low] + share * (east[high] - east[low])
        line_north = north[low] + share * (north[high] - north[low])
        spots = np.column_stack([line_east, line_north]) + origin
        found += [(float(wanted), spots[chain]) for chain in _chains(where[: len(row)], where[len(row) :])]
    return found


def _chains(start: Ends, end: Ends) -> list[Ends]:
    """Join directed links into chains, open ones first; a closed chain repeats its first node."""
    following: dict[int, list[int]] = {}
    for a, b in zip(start.tolist(), end.tolist(), strict=True):
        following.setdefault(a, []).append(b)
    reached = set(end.tolist())
    chains: list[Ends] = []
    heads = [node for node in following if node not in reached]
    for head in [*heads, *following]:
        while following.get(head):
            chain = [head]
            while following.get(chain[-1]):
                chain.append(following[chain[-1]].pop())
                if chain[-1] == head:
                    break
            chains.append(np.array(chain))
    return chains
