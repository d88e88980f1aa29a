"""Where the ground under a pad is asked for: small equal triangles of its outline, each by its middle."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from spadework.earthwork.parts import convex_parts
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["NODES", "pad_nodes"]

NODES = 288
"""About so many: a pad of 4 m by 5 m is then asked every quarter of a metre."""


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
    parts = convex_parts(pad.outline)
    points, areas = [], []
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        corners = parts.corners[first:last]
        for one, two in pairwise(corners[1:]):
            triangle = np.array([corners[0], one, two])
            area = 0.5 * abs(float(np.linalg.det(np.column_stack([triangle, np.ones(3)]))))
            rows = max(1, math.ceil(math.sqrt(count * area / pad.area)))
            small = _middles(rows) @ triangle
            points.append(small)
            areas.append(np.full(len(small), area / len(small)))
    return placement.to_site(np.vstack(points)), np.concatenate(areas)


def _middles(rows: int) -> FloatArray:
    """Return the middles of the ``rows²`` small triangles of a triangle as shares of its corners, shape (rows², 3)."""
    i, j = (axis.ravel() for axis in np.meshgrid(np.arange(rows), np.arange(rows)))
    upright = i + j < rows
    turned = i + j < rows - 1
    first = np.concatenate([i[upright] + 1 / 3, i[turned] + 2 / 3]) / rows
    second = np.concatenate([j[upright] + 1 / 3, j[turned] + 2 / 3]) / rows
    shares: FloatArray = np.column_stack([first, second, 1 - first - second])
    return shares
