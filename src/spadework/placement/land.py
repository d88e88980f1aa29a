"""Boundary and keep-outs as shapes of a geometry library, for whatever is not searched."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.placement.limits import KeepOut
from spadework.readings import FloatArray

__all__ = ["keep_out_shape", "land_rings", "land_shape"]


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
    return shapely.LineString(keep_out.outline) if keep_out.open else shapely.Polygon(keep_out.outline)
