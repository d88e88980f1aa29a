"""The ground as the bounds of the proof need it: carried on beyond its rim, with the bend across every edge."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spadework.ground import Ground
from spadework.ground.index import TriangleArray
from spadework.ground.lines import rim_rings
from spadework.readings import FloatArray, IntArray

__all__ = ["Mesh", "RimError", "bound_mesh"]

GAPS = 1e-7
"""Share of the area that gaps and overlaps may be by rounding."""
CONVEX = 1e-9
"""Sine of the bend at a corner of the rim, inward, up to which the rim counts as convex."""


class RimError(ValueError):
    """The rim of the ground could not be carried on."""


class Mesh(NamedTuple):
    """Triangles, buckets, slopes and bends as plain tables.

    The first eleven fields are those of `GroundArrays`. ``slope`` is ``(t, 2)``: rise eastwards and northwards of each
    triangle. ``bend`` is ``(t, 3)``: for the edge from each corner to the next, the jump of the slope across it, more
    than nothing where the ground bends up (a valley), less where it bends down (a ridge); both triangles of an edge
    hold it. ``mine`` is ``(t, 3)``: 1 for one of the two. ``hull`` is ``(h, 3)``: the frame about all of it as half
    planes ``a east + b north <= c``.
    """

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
    slope: FloatArray
    bend: FloatArray
    mine: IntArray
    hull: FloatArray


def bound_mesh(ground: Ground, margin: float) -> Mesh:
    """Return the ground with its rim carried on outward, so that a box of placements near the rim has a bound.

    The ground itself is not changed. What is added beyond it enters no value of an allowed placement, which stands on
    measured ground only: any ground may stand there, and level lines outward from the rim are the simplest.

    Parameters
    ----------
    ground : Ground
        The surface.
    margin : float
        How far beyond the rim the added ground reaches at least. [m]

    Raises
    ------
    RimError
        If the rim touches itself in a way that leaves gaps or overlaps outside it.
    """
    wider = _carried_on(ground, margin)
    slope = _slopes(wider)
    bend, mine = _bends(wider, slope)
    index = wider.index
    height = wider.level - ground.datum
    height.setflags(write=False)  # the kernels of the search take it too, and are compiled for one kind of array
    return Mesh(
        east=wider.east,
        north=wider.north,
        height=height,
        triangles=wider.triangles,
        start=index.start,
        entry=index.entry,
        first_east=index.east,
        first_north=index.north,
        per_metre=index.per_metre,
        columns=index.columns,
        rows=index.rows,
        slope=slope,
        bend=bend,
        mine=mine,
        hull=_half_planes(wider),
    )


def _carried_on(ground: Ground, margin: float) -> Ground:
    """Return the ground with triangles added around it and in its holes."""
    local = np.column_stack([ground.east, ground.north])
    rings = list(rim_rings(ground.east, ground.north, ground.triangles, np.zeros(2)))
    number = {place: i for i, place in reversed(list(enumerate(map(tuple, local.tolist()))))}
    rim = [np.array([number[place] for place in map(tuple, ring.tolist())]) for ring in rings]
    if len(rim) == 1 and _is_convex(rings[0]):
        ring, inner = rings[0], rim[0]
        middle = ring.mean(axis=0)
        sides = np.roll(ring, -1, axis=0) - ring
        out = np.abs(sides[:, 0] * (ring - middle)[:, 1] - sides[:, 1] * (ring - middle)[:, 0]) / np.hypot(*sides.T)
        outer_ring = middle + (ring - middle) * (1.0 + margin / out.min())
        outer = len(local) + np.arange(len(ring))
        level = ground.level[inner]
        after_inner, after_outer = np.roll(inner, -1), np.roll(outer, -1)
        added = np.concatenate(
            [np.column_stack([inner, outer, after_outer]), np.column_stack([inner, after_outer, after_inner])]
        )
    else:
        import shapely  # noqa: PLC0415 -- only a ground with bays or holes needs it

        try:
            outer_ring, level, added = _around_bays(ground, local, rings, number, margin)
        except (KeyError, AttributeError, shapely.errors.ShapelyError) as error:
            raise RimError("the rim of the measured ground touches itself") from error
    east, north = np.vstack([local, outer_ring]).T
    triangles = np.concatenate([ground.triangles.astype(np.int64), added])
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    turned = double < 0
    triangles[turned] = triangles[turned][:, ::-1]
    triangles = triangles[np.abs(double) > 0]
    whole = 0.5 * float(np.abs(double).sum())
    hull = np.vstack([local, outer_ring])[_around(np.vstack([local, outer_ring]))]
    if abs(whole - 0.5 * abs(_signed(hull))) > GAPS * whole:
        raise RimError("the ground beyond the rim has gaps or overlaps")
    levels = np.concatenate([ground.level, level])
    return Ground(ground.origin, east, north, levels, triangles.astype(np.int32), ground.kind)


def _around(points: FloatArray) -> IntArray:
    """Return the corners of the convex hull of points in order."""
    from scipy.spatial import ConvexHull  # noqa: PLC0415 -- scipy is slow to import

    corners: IntArray = ConvexHull(points).vertices.astype(np.int64)
    return corners


def _is_convex(ring: FloatArray) -> bool:
    """Tell whether a counter-clockwise ring nowhere bends inward."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    bend = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return bool((bend >= -CONVEX * np.hypot(*before.T) * np.hypot(*after.T)).all())


def _around_bays(
    ground: Ground, local: FloatArray, rings: list[FloatArray], number: dict[tuple[float, ...], int], margin: float
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return corners, their levels, and triangles that fill holes and bays and surround the ground."""
    import shapely  # noqa: PLC0415 -- only a ground with bays or holes needs it

    low, high = local.min(axis=0) - margin, local.max(axis=0) + margin
    frame = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    areas = [shapely.Polygon(ring) for ring in rings]
    counter = [_signed(ring) > 0 for ring in rings]
    lands = shapely.union_all([area for area, land in zip(areas, counter, strict=True) if land])
    holes = [area for area, land in zip(areas, counter, strict=True) if not land]
    outside = shapely.difference(shapely.Polygon(frame), lands)
    number = dict(number)
    number.update({tuple(place): len(local) + i for i, place in enumerate(frame.tolist())})
    faces = []
    for area in [outside, *holes]:
        for part in shapely.get_parts(area):
            for face in shapely.get_parts(shapely.constrained_delaunay_triangles(part)):
                faces += [[number[place] for place in list(face.exterior.coords)[:3]]]
    return frame, np.full(4, float(ground.level.mean())), np.array(faces, dtype=np.int64)


def _signed(ring: FloatArray) -> float:
    east, north = (ring - ring[0]).T
    return float(np.dot(east, np.roll(north, -1)) - np.dot(north, np.roll(east, -1)))


def _slopes(ground: Ground) -> FloatArray:
    """Return rise eastwards and northwards of each triangle, shape (t, 2); zero for one without area."""
    a, b, c = ground.triangles.T
    east, north, level = ground.east, ground.north, ground.level - ground.datum
    e1, n1, z1 = east[b] - east[a], north[b] - north[a], level[b] - level[a]
    e2, n2, z2 = east[c] - east[a], north[c] - north[a], level[c] - level[a]
    double = e1 * n2 - e2 * n1
    with np.errstate(divide="ignore", invalid="ignore"):
        rises = np.column_stack([(z1 * n2 - z2 * n1) / double, (e1 * z2 - e2 * z1) / double])
    slopes: FloatArray = np.where(double[:, None] > 0, rises, 0.0)
    return slopes


def _half_planes(ground: Ground) -> FloatArray:
    """Return the convex hull as half planes ``a east + b north <= c``, shape (h, 3)."""
    points = np.column_stack([ground.east, ground.north])
    ring = points[_around(points)]
    along = np.roll(ring, -1, axis=0) - ring
    out = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    return np.column_stack([out, (out * ring).sum(axis=1)])


def _bends(ground: Ground, slope: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the jump of the slope across each edge, both triangles holding it, and which of the two it belongs to."""
    count, triangles = len(ground.triangles), ground.triangles.astype(np.int64)
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    key = np.minimum(start, end) * len(ground.east) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    pair = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = order[pair], order[pair + 1]
    # Across the edge, from the triangle on its left to the one on its right.
    across = np.column_stack(
        [ground.north[end[one]] - ground.north[start[one]], ground.east[start[one]] - ground.east[end[one]]]
    )
    length = np.hypot(*across.T)
    jump = ((slope[other // 3] - slope[one // 3]) * across).sum(axis=1) / np.where(length > 0, length, 1.0)
    bend, mine = np.zeros(3 * count), np.zeros(3 * count, dtype=np.int64)
    bend[one], bend[other], mine[one] = jump, jump, 1
    return bend.reshape(count, 3), mine.reshape(count, 3)
