"""The plan beyond a pad's edge, cut into convex parts in each of which one side, or one corner, is the nearest.

The banks rise and fall with the distance ``d`` from the pad. With mitred corners that distance is counted from the
lines of the sides, which run on at outward corners until they meet at the mitre; with round corners it is the plain
distance, so that a cone stands about each outward corner. At an inward corner the nearer of the two sides counts: both
banks are cut back, and they meet in a valley along the bisector. So do banks of sides that face one another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from spadework.earthwork.parts import convex_parts
from spadework.errors import PlacementError
from spadework.pad import Pad
from spadework.pad_rings import BoolArray
from spadework.readings import FloatArray, IntArray

__all__ = ["BankElement", "BankShape", "bank_elements", "bank_shape", "distance_out", "reach_of_each"]

STRAIGHT = 1e-12
"""Sine of the bend below which the outline runs straight on."""
SLIVER = 1e-9
"""Parts of less are rounding. [m²]"""
WIDEST_CONE, FACET = math.pi / 2, math.pi / 16
TOUCH = 1e-6
"""A point nearer to another element by less lies between the two. [m]"""
CHORD = 0.002
"""How far the polygon of a curve between a cone and a facing side lies off it at most. [m]"""


@dataclass(frozen=True)
class BankShape:
    """Convex parts of the plan beyond a pad, in the pad's frame, each with how ``d`` grows in it.

    Parameters
    ----------
    sides : array, shape (s, 3)
        Half planes ``a u + b v <= c`` of each part with unit normals, part after part.
    corners : array, shape (s, 2)
        Where each side begins, ``u, v``, counter-clockwise in them. [m]
    part : array of int, shape (p + 1,)
        Where the sides of each part begin.
    plane : array, shape (p, 3)
        ``a, b, c`` of ``d = a u + b v - c``. In a part of a cone, a distance that ``d`` nowhere falls short of.
    cone : array of int, shape (p,)
        1 where the distance is that from the corner `apex`.
    apex : array, shape (p, 2)
        The corner, where there is one. [m]
    owner : array of int, shape (p,)
        Number of the side of the pad, or of the corner, that is nearest.
    corner : array of bool, shape (p,)
        Whether that is a corner.
    reach : float
        Least ``d`` on the outer rim of all parts. [m]
    """

    sides: FloatArray
    corners: FloatArray
    part: IntArray
    plane: FloatArray
    cone: IntArray
    apex: FloatArray
    owner: IntArray
    corner: BoolArray
    reach: float

    def __len__(self) -> int:
        return len(self.plane)

    def outline(self, number: int) -> FloatArray:
        """Return the corners of one part, shape (k, 2). [m]"""
        return self.corners[self.part[number] : self.part[number + 1]]

    def distance(self, number: int, points: FloatArray) -> FloatArray:
        """Return ``d`` at points of one part, shape (n, 2) to (n,). [m]"""
        if self.cone[number]:
            far: FloatArray = np.hypot(*(points - self.apex[number]).T)
            return far
        plane: FloatArray = points @ self.plane[number, :2] - self.plane[number, 2]
        return plane


@dataclass(frozen=True)
class BankElement:
    """What one side, or one corner with its cone, would make of the plan if it were alone.

    Parameters
    ----------
    outline : array, shape (4, 2)
        Of a side: its first corner, out from there, out from its last corner, that corner. Of a cone or a facet of
        one: the corner, out along one end, out to the mitre, out along the other end. [m]
    plane : array, shape (3,)
        As in `BankShape`.
    apex : array, shape (2,), optional
        The corner of a cone.
    owner : int
        Number of the side or of the corner.
    corner : bool
        Whether it belongs to a corner.
    """

    outline: FloatArray
    plane: FloatArray
    apex: FloatArray | None
    owner: int
    corner: bool = False

    @property
    def rows(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Ends of the line ``d = 0``, and how far they move along for each metre of ``d``, for an element of reach 1.

        Each of shape (2,): first end, its way, last end, its way.
        """
        first, out, beyond, last = self.outline
        if self.corner:
            return first, out - first, first, last - first
        return first, out - first, last, beyond - last


def bank_shape(pad: Pad, reach: float, *, faceted: bool = False) -> BankShape:
    """Return the parts beyond a pad as far as banks may reach.

    Parameters
    ----------
    pad : Pad
        Any simple outline; how its edge treats the corners counts.
    reach : float
        How far out. [m]
    faceted : bool
        Whether planes stand in for cones, every one nowhere nearer than the cone: less is dug and made up.

    Raises
    ------
    PlacementError
        If the outline has no area or crosses itself.
    """
    corners = np.ascontiguousarray(pad.outline, dtype=np.float64)
    kind = "mitred" if pad.edge.corners != "round" else "faceted" if faceted else "round"
    return _bank_shape(corners.tobytes(), len(corners), kind, float(reach))


@lru_cache(maxsize=64)
def _bank_shape(raw: bytes, count: int, kind: str, reach: float) -> BankShape:
    ring = np.frombuffer(raw, dtype=np.float64).reshape(count, 2)
    convex_parts(ring)  # refuses an outline that crosses itself
    elements, inward = _elements(ring, kind, reach)
    cells = _nearest(ring, elements) if inward else [[element.outline] for element in elements]
    sides, corners, part, rows = [], [], [0], []
    for element, polygons in zip(elements, cells, strict=True):
        for polygon in polygons:
            found = convex_parts(polygon)
            for first, last in zip(found.part[:-1], found.part[1:], strict=True):
                sides.append(found.sides[first:last])
                corners.append(found.corners[first:last])
                part.append(part[-1] + int(last - first))
                rows.append(element)
    return BankShape(
        np.ascontiguousarray(np.vstack(sides)),
        np.ascontiguousarray(np.vstack(corners)),
        np.array(part, dtype=np.int64),
        np.array([row.plane for row in rows]),
        np.array([row.apex is not None for row in rows], dtype=np.int64),
        np.array([np.zeros(2) if row.apex is None else row.apex for row in rows]),
        np.array([row.owner for row in rows], dtype=np.int64),
        np.array([row.corner for row in rows], dtype=np.bool_),
        reach,
    )


def distance_out(pad: Pad, points: FloatArray) -> FloatArray:
    """Return the distance ``d`` of points of the pad's frame from the pad, as its banks count it; 0 inside.

    Parameters
    ----------
    pad : Pad
        Any simple outline.
    points : array, shape (n, 2)
        ``u, v``. [m]

    Returns
    -------
    array, shape (n,)
        [m]
    """
    ring = np.asarray(pad.outline, dtype=np.float64)
    within = shapely.covers(shapely.Polygon(ring), shapely.points(points))
    return np.where(within, 0.0, _each(pad, points, faceted=False).min(axis=1))


def reach_of_each(pad: Pad, points: FloatArray) -> FloatArray:
    """Return how far out points lie beyond each of the faceted elements of a pad: the farthest of those nearest to it.

    Parameters
    ----------
    pad : Pad
        Any simple outline.
    points : array, shape (n, 2)
        ``u, v``. [m]

    Returns
    -------
    array, shape (e,)
        0 for an element that no point belongs to. [m]
    """
    each = _each(pad, points, faceted=True)
    mine = each <= each.min(axis=1, keepdims=True) + TOUCH
    farthest: FloatArray = np.where(mine & np.isfinite(each), each, 0.0).max(axis=0, initial=0.0)
    return farthest


def _each(pad: Pad, points: FloatArray, *, faceted: bool) -> FloatArray:
    """Return how far points lie beyond each element, infinite outside it, shape (n, e). [m]"""
    reach = 2.0 * (1.0 + float(np.abs(points).max(initial=0.0)) + float(np.abs(pad.outline).max()))
    found = []
    for element in bank_elements(pad, reach, faceted=faceted):
        sides = convex_parts(element.outline).sides
        inside = (points @ sides[:, :2].T - sides[:, 2] <= 1e-9 * reach).all(axis=1)
        if element.apex is None:
            far = points @ element.plane[:2] - element.plane[2]
        else:
            far = np.hypot(*(points - element.apex).T)
        found.append(np.where(inside, np.maximum(far, 0.0), np.inf))
    return np.column_stack(found)


def bank_elements(pad: Pad, reach: float, *, faceted: bool = False) -> list[BankElement]:
    """Return what each side, and each corner with a cone, makes of the plan alone: they overlap at inward corners.

    Parameters
    ----------
    pad, reach, faceted
        As in `bank_shape`.
    """
    kind = "mitred" if pad.edge.corners != "round" else "faceted" if faceted else "round"
    return _elements(np.asarray(pad.outline, dtype=np.float64), kind, reach)[0]


def _elements(ring: FloatArray, kind: str, reach: float) -> tuple[list[BankElement], bool]:
    """Return what each side and each corner makes of the plan alone, and whether the outline turns inward anywhere."""
    along = np.roll(ring, -1, axis=0) - ring
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    # The outline runs counter-clockwise in (u, v): outward is to the right of the way.
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    before = np.roll(normal, 1, axis=0)
    turn = before[:, 0] * normal[:, 1] - before[:, 1] * normal[:, 0]
    level = (before * normal).sum(axis=1)
    outward = turn > STRAIGHT
    inward = turn < -STRAIGHT
    rounded = kind != "mitred"
    mitre = (before + normal) / np.maximum(1.0 + level, 1e-9)[:, None]
    elements = []
    for i in range(len(ring)):
        j = (i + 1) % len(ring)
        start, end = (mitre[k] if outward[k] and not rounded else normal[i] for k in (i, j))
        outline = np.array([ring[i], ring[i] + reach * start, ring[j] + reach * end, ring[j]])
        elements.append(BankElement(outline, np.append(normal[i], normal[i] @ ring[i]), None, i))
    for i in np.flatnonzero(outward).tolist() if rounded else []:
        angle = math.atan2(turn[i], level[i])
        pieces = max(math.ceil(angle / (FACET if kind == "faceted" else WIDEST_CONE) - 1e-9), 1)
        for k in range(pieces):
            one, other = (_turned(before[i], angle * share / pieces) for share in (k, k + 1))
            middle = (one + other) / (1.0 + float(one @ other))
            outline = ring[i] + reach * np.array([np.zeros(2), one, middle, other])
            # The mitre m of two unit vectors has m · one = 1 with both: a plane that meets the cone at both ends.
            far = math.hypot(*middle)
            if kind == "faceted":
                elements.append(BankElement(outline, np.append(middle, middle @ ring[i]), None, i, True))
            else:
                elements.append(BankElement(outline, np.append(middle, middle @ ring[i]) / far, ring[i], i, True))
    return elements, bool(inward.any())


def _turned(way: FloatArray, angle: float) -> FloatArray:
    """Return a direction turned counter-clockwise in (u, v)."""
    sine, cosine = math.sin(angle), math.cos(angle)
    return np.array([cosine * way[0] - sine * way[1], sine * way[0] + cosine * way[1]])


def _nearest(ring: FloatArray, elements: list[BankElement]) -> list[list[FloatArray]]:
    """Return for each element the polygons in which no other is nearer, outside the pad."""
    pad = shapely.Polygon(ring)
    shapes = [shapely.Polygon(element.outline) for element in elements]
    cells = []
    for k, element in enumerate(elements):
        taken: list[shapely.Geometry] = [pad]
        for j, other in enumerate(elements):
            shared = shapely.intersection(shapes[j], shapes[k])
            if j != k and isinstance(shared, shapely.Polygon) and shared.area > SLIVER:
                corners = np.asarray(shared.exterior.coords)[:-1]
                taken.append(_nearer(corners, other, element, first=j < k))
        left = shapely.difference(shapes[k], shapely.union_all(taken))
        cells.append([polygon for part in shapely.get_parts(left) for polygon in _rings(part)])
    return cells


def _rings(part: shapely.Geometry) -> list[FloatArray]:
    """Return a polygon as rings without holes; nothing for a sliver."""
    if not isinstance(part, shapely.Polygon) or part.area <= SLIVER:
        return []
    if not len(part.interiors):
        return [np.asarray(part.exterior.coords)[:-1]]
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(part))
    return [ring for one in triangles for ring in _rings(one)]


def _nearer(shared: FloatArray, one: BankElement, other: BankElement, *, first: bool) -> shapely.Geometry:
    """Return the part of a convex polygon in which one element is nearer than another."""
    if one.apex is None and other.apex is None:
        line = one.plane - other.plane
        if np.abs(line).max() <= STRAIGHT:
            return shapely.Polygon(shared) if first else shapely.Polygon()
        return _polygon(_half(shared, line))
    if one.apex is not None and other.apex is not None:
        # |q - p|² < |q - r|²: 2 q (r - p) < r² - p².
        line = np.append(2 * (other.apex - one.apex), other.apex @ other.apex - one.apex @ one.apex)
        if np.abs(line).max() <= STRAIGHT:
            return shapely.Polygon()  # two cones of one corner
        return _polygon(_half(shared, line))
    corner, side = (one, other) if one.apex is not None else (other, one)
    within = _round_a_corner(shared, corner, side)
    whole = shapely.Polygon(shared)
    near = shapely.intersection(whole, within)
    return near if one is corner else shapely.difference(whole, near)


def _half(ring: FloatArray, line: FloatArray) -> FloatArray:
    """Return the part of a convex ring in which ``a u + b v - c < 0``."""
    depth = ring @ line[:2] - line[2]
    kept: list[FloatArray] = []
    for i in range(len(ring)):
        k = (i + 1) % len(ring)
        if depth[i] <= 0:
            kept.append(ring[i])
        if depth[i] * depth[k] < 0:
            kept.append(ring[i] + depth[i] / (depth[i] - depth[k]) * (ring[k] - ring[i]))
    return np.array(kept).reshape(-1, 2)


def _polygon(ring: FloatArray) -> shapely.Polygon:
    return shapely.Polygon(ring) if len(ring) > 2 else shapely.Polygon()


def _round_a_corner(shared: FloatArray, corner: BankElement, side: BankElement) -> shapely.Polygon:
    """Return the polygon of the points nearer to a corner than to the line of a side: the inside of a parabola.

    With ``x`` along the line and ``y`` out from it, counted from below the corner at height ``f``:
    ``y = (x² + f²) / (2 f)``. Chords of it that lie off it by no more than `CHORD`.
    """
    if corner.apex is None:
        raise PlacementError("a corner has a place")
    normal, along = side.plane[:2], np.array([-side.plane[1], side.plane[0]])
    height = float(corner.apex @ normal - side.plane[2])
    if height <= STRAIGHT:
        return shapely.Polygon()
    foot = corner.apex - height * normal
    x = (shared - foot) @ along
    far = float(np.abs((shared - foot) @ normal).max()) + 1.0
    count = max(math.ceil(float(np.ptp(x)) / math.sqrt(8.0 * height * CHORD)), 1)
    at = np.linspace(x.min(), x.max(), count + 1)
    curve = foot + at[:, None] * along + ((at**2 + height**2) / (2 * height))[:, None] * normal
    top = far + float((curve @ normal).max() - foot @ normal)
    ends = foot + np.array([at[-1], at[0]])[:, None] * along + top * normal
    return shapely.Polygon(np.vstack([curve, ends]))
