"""Ground and pad as the plain tables that kernels read."""

from __future__ import annotations

from typing import NamedTuple

from spadework.earthwork.parts import ConvexParts
from spadework.ground.index import TriangleArray
from spadework.ground.surface import Ground
from spadework.readings import FloatArray, IntArray

__all__ = ["GroundArrays", "PadArrays", "Room", "ground_arrays", "pad_arrays"]


class GroundArrays(NamedTuple):
    """Triangles in local coordinates, heights above the datum, and the buckets of `BucketIndex`."""

    east: FloatArray
    north: FloatArray
    height: FloatArray
    triangles: TriangleArray
    start: IntArray
    entry: TriangleArray
    first_east: float
    first_north: float
    per_metre: float
    columns: int
    rows: int


class PadArrays(NamedTuple):
    """Convex parts as half planes; the fields of `ConvexParts`."""

    sides: FloatArray
    corners: FloatArray
    outer: IntArray
    part: IntArray
    area: float
    reach: float


class Room(NamedTuple):
    """Two polygons to work on in turn.

    ``polygon`` is ``(2, w, 4)``: u, v, height and distance inside the half plane of each corner; ``on_side`` is
    ``(2, w)``: a bit for each side of the part that the corner lies on. ``w`` is three more than the sides of a part.
    """

    polygon: FloatArray
    on_side: IntArray


def ground_arrays(ground: Ground) -> GroundArrays:
    """Return the tables of a ground, which are its own arrays and not copies."""
    index = ground.index
    return GroundArrays(
        east=ground.east,
        north=ground.north,
        height=ground.height,
        triangles=ground.triangles,
        start=index.start,
        entry=index.entry,
        first_east=index.east,
        first_north=index.north,
        per_metre=index.per_metre,
        columns=index.columns,
        rows=index.rows,
    )


def pad_arrays(parts: ConvexParts) -> PadArrays:
    """Return the tables of a pad."""
    return PadArrays(parts.sides, parts.corners, parts.outer, parts.part, parts.area, parts.reach)
