"""Triangles that keep given sides: the one door to the library of constrained Delaunay triangulation."""

from __future__ import annotations

from typing import Any

import numpy as np

from spadework.errors import GroundError
from spadework.ground.index import TriangleArray
from spadework.readings import FloatArray

__all__ = ["constrained_triangles"]

FARTHEST = 1e8
"""Local coordinates beyond this are no yard's. [m]"""


def constrained_triangles(
    east: FloatArray, north: FloatArray, sides: TriangleArray, *, split_crossings: bool = False
) -> tuple[FloatArray, TriangleArray]:
    """Return the Delaunay triangles of places that keep given sides, out to the convex hull.

    No place lies inside the circle through the corners of a triangle, unless a kept side stands between. Source:
    L. P. Chew, "Constrained Delaunay triangulations", *Algorithmica* 4 (1989).

    Parameters
    ----------
    east, north : array, shape (n,)
        Places, all different, from an origin near by. [m]
    sides : array of int32, shape (s, 2)
        Pairs of places.
    split_crossings : bool
        Whether sides may cross: each crossing becomes a place more. Otherwise it is a fault.

    Returns
    -------
    places : array, shape (n + m, 2)
        The places given, then the crossings. [m]
    triangles : array of int32, shape (t, 3)
        Counter-clockwise.

    Raises
    ------
    GroundError
        If two places are the same, or two sides cross and may not.
    """
    cdt: Any
    import pythoncdt as cdt  # noqa: PLC0415 -- 0.1 s of import that only breaklines and holes need

    places = np.ascontiguousarray(np.column_stack([east, north]), dtype=np.float64)
    # What is no number has been seen to eat all memory in the library: it never gets there.
    if not np.isfinite(places).all() or (np.abs(places) > FARTHEST).any():
        raise GroundError("A place of the ground has a coordinate that is no distance in a yard. Correct it.")
    edges = np.ascontiguousarray(np.unique(np.sort(sides, axis=1), axis=0)).reshape(-1, 2)
    if len(edges) and (edges.min() < 0 or edges.max() >= len(places)):
        raise IndexError("a side names a place that is not there")
    if len(edges) and (edges[:, 0] == edges[:, 1]).any():
        raise IndexError("a side ends where it begins")
    crossings = cdt.IntersectingConstraintEdges
    net = cdt.Triangulation(
        cdt.VertexInsertionOrder.AUTO, crossings.TRY_RESOLVE if split_crossings else crossings.NOT_ALLOWED, 0.0
    )
    try:
        net.insert_vertices(places)
        if len(edges):
            net.insert_edges(edges.astype(np.uintc))
    except RuntimeError as error:
        raise GroundError(
            f"The lines along which the ground bends cannot be kept together ({str(error).splitlines()[0]}). Take one "
            "of them out to find which."
        ) from error
    net.erase_super_triangle()
    found = net.vertices_array()
    corners = net.triangles_array()["vertices"].astype(np.int32).reshape(-1, 3)
    return np.column_stack([found["x"], found["y"]]).astype(np.float64), corners
