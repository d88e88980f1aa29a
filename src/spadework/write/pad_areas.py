"""Where the pad is cut and where it is filled, as outlines, and the zero line between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["PadAreas", "pad_areas"]

GRID = 1e-6  # corners that rounding parts by less than this are one [m]


@dataclass(frozen=True)
class PadAreas:
    """Parts of the pad, in site axes.

    Parameters
    ----------
    cut, fill : shapely geometry
        Where stripped ground lies above and below the formation.
    zero : shapely geometry
        Line between the two.
    """

    cut: Any
    fill: Any
    zero: Any


def pad_areas(ground: Ground, pad: Pad, placement: Placement) -> PadAreas:
    """Return the cut and the fill area of a pad, exactly, triangle by triangle.

    Parameters
    ----------
    ground : Ground
        Surface that was measured.
    pad : Pad
        What is to be built.
    placement : Placement
        Where it is put.
    """
    outline = placement.corners(pad) - ground.origin
    corners = _triangles_near(ground, outline)
    above = corners[:, :, 2] - pad.strip - placement.formation(pad)
    whole = shapely.Polygon(outline)
    cut, fill = (
        _surface(shapely.intersection(_higher(corners, side), whole, grid_size=GRID)) for side in (above, -above)
    )
    zero = shapely.intersection(cut.boundary, whole.buffer(-1e-4))
    origin = ground.origin
    return PadAreas(*(shapely.transform(part, lambda points: points + origin) for part in (cut, fill, zero)))


def _higher(corners: FloatArray, height: FloatArray) -> Any:
    """Return the union of what stands above zero height; ground at zero to a nanometre is neither cut nor fill."""
    parts = [_clipped(corner, up) for corner, up in zip(corners, height, strict=True) if up.max() > 1e-9]
    return shapely.union_all([part for part in parts if part is not None], grid_size=GRID)


def _triangles_near(ground: Ground, outline: FloatArray) -> FloatArray:
    """Return the corners ``east, north, level`` of the triangles whose boxes touch the pad's box, local. [m]"""
    corners = np.stack([ground.east, ground.north, ground.level], axis=-1)[ground.triangles]
    low, high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)
    near = (low <= outline.max(axis=0)).all(axis=1) & (high >= outline.min(axis=0)).all(axis=1)
    chosen: FloatArray = corners[near]
    return chosen


def _clipped(corner: FloatArray, height: FloatArray) -> Any:
    """Return the part of a triangle that stands above zero height, or nothing."""
    points = []
    for i in range(3):
        j = (i + 1) % 3
        if height[i] >= 0:
            points.append(corner[i, :2])
        if (height[i] > 0 > height[j]) or (height[i] < 0 < height[j]):
            share = height[i] / (height[i] - height[j])
            points.append(corner[i, :2] + share * (corner[j, :2] - corner[i, :2]))
    return shapely.Polygon(points) if len(points) >= 3 else None


def _surface(shape: Any) -> Any:
    """Return only the surfaces of a shape, without slivers, lines and points."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > GRID]
    return shapely.MultiPolygon(parts)
