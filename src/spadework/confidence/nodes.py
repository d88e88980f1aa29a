"""Where the ground under a pad and its banks is asked for: small equal triangles, each by its middle."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from spadework.earthwork.bank_shape import bank_elements, distance_out
from spadework.earthwork.parts import convex_parts
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["NODES", "bank_nodes", "pad_nodes"]

NODES = 288
"""About so many: a pad of 4 m by 5 m is then asked every quarter of a metre."""
ROWS, ALONG = 16, 0.5
"""Rows of points in a bank, and how far apart they stand along it. [m]"""
MINE = 0.99
"""A point whose distance is a smaller share of that from its side is nearer to another: facets lie within it."""


def pad_nodes(pad: Pad, placement: Placement, *, count: int = NODES) -> tuple[FloatArray, FloatArray]:
    """Return points of a pad with the area that each stands for.

    The outline is cut into triangles and each of these into small equal ones. A plane is summed without error, any
    smooth ground with an error that falls with the square of their size.

    Parameters
    ----------
    pad : Pad
        Its outline.
    placement : Placement
        Where it is.
    count : int
        Number of points, roughly.

    Returns
    -------
    points : array, shape (k, 2)
        Site east and north. [m]
    area : array, shape (k,)
        Sums to the pad's area. [m²]
    """
    points, areas = _nodes(pad.outline, count / pad.area)
    return placement.to_site(points), areas


def bank_nodes(pad: Pad, placement: Placement, reach: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return points of the plan beyond a pad with banks, the areas they stand for, and how far out they lie.

    They lie in rows along each side and about each round corner, ever nearer together towards the pad,
    ``d = reach x²`` with ``x`` in even steps: low banks are narrow. A point that is nearer to another side, about an
    inward corner, is that one's.

    Parameters
    ----------
    pad : Pad
        A pad with banks.
    placement : Placement
        Where it is.
    reach : array, shape (m,)
        How far out beyond each of its `bank_elements`, facets for cones. [m]

    Returns
    -------
    points : array, shape (k, 2)
        Site east and north. [m]
    area : array, shape (k,)
        [m²]
    out : array, shape (k,)
        Distance from the pad, as its banks count it. [m]
    """
    points, areas, out = [], [], []
    ends = np.linspace(0.0, 1.0, ROWS + 1) ** 2
    for element, far in zip(bank_elements(pad, 1.0, faceted=True), reach.tolist(), strict=True):
        first, way_first, last, way_last = element.rows
        long_out = far * math.hypot(*(way_last - way_first))
        count = max(2, math.ceil((math.dist(first, last) + 0.5 * long_out * element.corner) / ALONG))
        share, limits = (np.arange(count) + 0.5) / count, far * ends
        middle = (limits[:-1] + limits[1:]) / 2
        starts, stops = first + middle[:, None] * way_first, last + middle[:, None] * way_last
        places = starts[:, None, :] + share[None, :, None] * (stops - starts)[:, None, :]
        # A facet leans by less than its plane says: rows of it stand nearer together than d.
        apart = np.diff(limits) / math.hypot(*element.plane[:2])
        long = np.hypot(*(stops - starts).T) * apart / count
        points.append(places.reshape(-1, 2))
        areas.append(np.repeat(long, count))
        out.append(np.repeat(middle, count))
    places, area, far_out = np.vstack(points), np.concatenate(areas), np.concatenate(out)
    mine = distance_out(pad, places) >= far_out * MINE - 1e-9
    return placement.to_site(places[mine]), area[mine], far_out[mine]


def _nodes(outline: FloatArray, per_area: float) -> tuple[FloatArray, FloatArray]:
    """Return the middles of small equal triangles of an outline in its own frame, and their areas."""
    parts = convex_parts(outline)
    points, areas = [], []
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        corners = parts.corners[first:last]
        for one, two in pairwise(corners[1:]):
            triangle = np.array([corners[0], one, two])
            area = 0.5 * abs(float(np.linalg.det(np.column_stack([triangle, np.ones(3)]))))
            rows = max(1, math.ceil(math.sqrt(per_area * area)))
            small = _middles(rows) @ triangle
            points.append(small)
            areas.append(np.full(len(small), area / len(small)))
    return np.vstack(points), np.concatenate(areas)


def _middles(rows: int) -> FloatArray:
    """Return the middles of the ``rows²`` small triangles of a triangle as shares of its corners, shape (rows², 3)."""
    i, j = (axis.ravel() for axis in np.meshgrid(np.arange(rows), np.arange(rows)))
    upright = i + j < rows
    turned = i + j < rows - 1
    first = np.concatenate([i[upright] + 1 / 3, i[turned] + 2 / 3]) / rows
    second = np.concatenate([j[upright] + 1 / 3, j[turned] + 2 / 3]) / rows
    shares: FloatArray = np.column_stack([first, second, 1 - first - second])
    return shares
