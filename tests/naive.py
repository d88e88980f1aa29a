"""Slow and obvious twins of the engine, kept only to be compared with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

Point = tuple[Fraction, Fraction, Fraction]


def _kept(ring: list[Point], inside: Sequence[Fraction]) -> list[Point]:
    """The part of a convex polygon where ``inside`` is not negative."""
    kept: list[Point] = []
    for i, here in enumerate(ring):
        k = (i + 1) % len(ring)
        if inside[i] >= 0:
            kept.append(here)
        if inside[i] * inside[k] < 0:
            share = inside[i] / (inside[i] - inside[k])
            kept.append(tuple(a + share * (b - a) for a, b in zip(here, ring[k], strict=True)))  # type: ignore[arg-type]
    return kept


def _area_and_volume(ring: list[Point]) -> tuple[Fraction, Fraction]:
    """Plan area of a plane polygon and the integral of its height, as a fan of triangles."""
    area, volume = Fraction(0), Fraction(0)
    for one, two in pairwise(ring[1:]):
        first = ring[0]
        piece = abs((one[0] - first[0]) * (two[1] - first[1]) - (two[0] - first[0]) * (one[1] - first[1])) / 2
        area += piece
        volume += piece * (first[2] + one[2] + two[2]) / 3
    return area, volume


def rational_cut_fill(
    triangles: Iterable[Sequence[Point]], corners: Sequence[tuple[Fraction, Fraction]], level: Fraction
) -> tuple[Fraction, Fraction, Fraction]:
    """Cut, fill and covered area of a convex pad in exact rational arithmetic; corners counter-clockwise."""
    cut, fill, covered = Fraction(0), Fraction(0), Fraction(0)
    for triangle in triangles:
        ring = list(triangle)
        for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
            ring = _kept(
                ring,
                [(end[0] - start[0]) * (p[1] - start[1]) - (end[1] - start[1]) * (p[0] - start[0]) for p in ring],
            )
        covered += _area_and_volume(ring)[0] if len(ring) > 2 else 0
        above, below = _kept(ring, [p[2] - level for p in ring]), _kept(ring, [level - p[2] for p in ring])
        for part, sign in ((above, 1), (below, -1)):
            if len(part) > 2:
                area, volume = _area_and_volume(part)
                earth = sign * (volume - level * area)
                cut, fill = (cut + earth, fill) if sign > 0 else (cut, fill + earth)
    return cut, fill, covered


def as_fractions(ground: Ground) -> list[list[Point]]:
    """The triangles of a ground in site axes, each binary fraction taken exactly."""
    east = [Fraction(float(value)) + Fraction(float(ground.origin[0])) for value in ground.east]
    north = [Fraction(float(value)) + Fraction(float(ground.origin[1])) for value in ground.north]
    level = [Fraction(float(value)) for value in ground.level]
    return [[(east[i], north[i], level[i]) for i in triangle] for triangle in ground.triangles.tolist()]


def shapely_cut_fill(ground: Ground, corners: FloatArray, level: float) -> tuple[float, float]:
    """Cut and fill by the general geometry library: each triangle cut by the pad and by the line at the level.

    The volume over a plane polygon is its area times the height of the plane at its centroid.
    """
    pad = Polygon(corners)
    corner = np.stack([ground.east, ground.north], axis=1)[ground.triangles] + ground.origin
    faces = shapely.polygons(corner)
    touched = np.flatnonzero(shapely.intersects(faces, pad))
    cut, fill = 0.0, 0.0
    for t in touched:
        piece = faces[t].intersection(pad)
        if piece.area == 0:
            continue
        height = ground.level[ground.triangles[t]] - level
        gradient = np.linalg.solve(corner[t][1:] - corner[t][0], height[1:] - height[0])
        for part, sign in _halves(piece, corner[t][0], height[0], gradient):
            if part.area > 0:
                centre = np.array([part.centroid.x, part.centroid.y]) - corner[t][0]
                volume = part.area * (height[0] + centre @ gradient)
                cut, fill = (cut + volume, fill) if sign > 0 else (cut, fill - volume)
    return cut, fill


def _halves(piece: Polygon, at: FloatArray, height: float, gradient: FloatArray) -> list[tuple[Polygon, int]]:
    """A polygon above the level and below it, cut by a great square along the line where its plane meets it."""
    corner_heights = height + (shapely.get_coordinates(piece) - at) @ gradient
    if corner_heights.min() >= 0:
        return [(piece, 1)]
    if corner_heights.max() <= 0:
        return [(piece, -1)]
    steep = float(np.hypot(*gradient))
    up = gradient / steep
    along = np.array([-up[1], up[0]])
    far = 10 * float(np.ptp(shapely.get_coordinates(piece), axis=0).max())
    middle = np.array([piece.centroid.x, piece.centroid.y])
    line = middle - up * ((height + (middle - at) @ gradient) / steep)
    upper = Polygon([line - far * along, line + far * along, line + far * (along + up), line + far * (up - along)])
    return [(piece.intersection(upper), 1), (piece.difference(upper), -1)]


def midpoint_cut_fill(ground: Ground, pad: Pad, placement: Placement, count: int) -> tuple[float, float]:
    """Cut and fill of a rectangle by the levels at the middles of ``count`` by ``count`` cells."""
    length, width = pad.sides[0], pad.sides[1]
    share = (np.arange(count) + 0.5) / count - 0.5
    u, v = np.meshgrid(share * length, share * width)
    stripped = ground.level_at(placement.to_site(np.stack([u.ravel(), v.ravel()], axis=1))) - pad.strip
    above = stripped - placement.formation(pad)
    cell = length * width / count**2
    return float(np.maximum(above, 0).sum() * cell), float(np.maximum(-above, 0).sum() * cell)


def level_at(ground: Ground, east: float, north: float) -> float:
    """Level at one place by trying every triangle; NaN where there is none."""
    e, n = east - ground.origin[0], north - ground.origin[1]
    for triangle in ground.triangles:
        a, b, c = ([ground.east[i], ground.north[i], 1.0] for i in triangle)
        weight = np.linalg.solve(np.array([a, b, c]).T, np.array([e, n, 1.0]))
        if weight.min() >= -1e-12:
            return float(weight @ ground.level[triangle])
    return float("nan")
