"""Boundary and keep-outs as shapes of a geometry library, for whatever is not searched."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.placement.limits import KeepOut, Limits
from spadework.readings import FloatArray

__all__ = ["keep_out_shape", "land_rings", "land_shape", "what_forbids"]


TOUCHES = 1e-6
"""A place nearer to something than this lies in it. [m]"""


def land_shape(rings: Sequence[FloatArray]) -> BaseGeometry:
    """Return what lies in an odd number of rings.

    Parameters
    ----------
    rings : sequence of array, shape (n, 2)
        East and north of their corners. [m]
    """
    land: BaseGeometry = shapely.Polygon()
    for ring in rings:
        land = shapely.symmetric_difference(land, shapely.Polygon(ring))
    return land


def land_rings(lands: Sequence[Sequence[FloatArray]]) -> tuple[FloatArray, ...]:
    """Return the rings of all that lies in one land at least: outlines first that do not overlap, then holes.

    Parameters
    ----------
    lands : sequence of sequence of array, shape (n, 2)
        The rings of each land. [m]
    """
    if len(lands) == 1:
        return tuple(lands[0])
    joined = shapely.union_all([land_shape(rings) for rings in lands])
    # Where two lands share a side no hair of a gap is left between them.
    parts = [part for part in shapely.get_parts(shapely.normalize(joined)) if part.geom_type == "Polygon"]
    outer = [part.exterior for part in parts]
    inner = [ring for part in parts for ring in part.interiors]
    return tuple(np.asarray(ring.coords, dtype=np.float64)[:-1] for ring in (*outer, *inner))


def keep_out_shape(keep_out: KeepOut) -> BaseGeometry:
    """Return what is kept clear of, without its clearance: a point, a line or an area."""
    if keep_out.is_circle:
        return shapely.Point(keep_out.outline[0])
    if keep_out.open:
        return shapely.LineString(keep_out.outline)
    return shapely.Polygon(keep_out.outline, keep_out.holes)


def what_forbids(limits: Limits, places: FloatArray) -> list[str]:
    """Return what each place lies in that is kept clear of, in words after "would stand"; nothing where it is free.

    Parameters
    ----------
    limits : Limits
        Boundary and keep-outs; its setback is the pad's, not that of a stake.
    places : array, shape (n, 2)
        East and north. [m]
    """
    points = shapely.points(places)
    found = np.full(len(places), "", dtype=object)
    for keep_out in limits.keep_outs:
        shape = keep_out_shape(keep_out)
        found[shapely.distance(shape, points) < max(keep_out.clearance, TOUCHES)] = (
            f"where {keep_out.name} is kept clear of"
        )
    if limits.boundary:
        found[~shapely.intersects(land_shape(limits.boundary), points)] = "beyond the boundary"
    return [str(words) for words in found]
