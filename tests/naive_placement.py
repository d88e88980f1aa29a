"""Slow and obvious twins of the search for a placement: shapely clips, levels are searched, every pose is tried."""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from scipy.spatial import Delaunay

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.placement import Goal, Limits

GOLDEN = (np.sqrt(5) - 1) / 2


def ground_of(points: np.ndarray, level: np.ndarray) -> Ground:
    """Return the triangulation of points, shape (n, 2), with levels."""
    origin = np.round(points.mean(axis=0))
    local = points - origin
    triangles = Delaunay(local).simplices.astype(np.int32)
    corner = local[triangles]
    one, other = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    back = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] < 0
    triangles[back] = triangles[back][:, ::-1]
    return Ground(origin, local[:, 0], local[:, 1], np.asarray(level, dtype=float), triangles, "triangulated shots")


def random_yard(seed: int, shots: int = 60, size: tuple[float, float] = (24.0, 20.0)) -> Ground:
    """Return a bumpy, sloping yard from the origin to ``size``, with a rim of shots a metre outside it."""
    rng = np.random.default_rng(seed)
    rim = np.array(list(itertools.product((-1.0, size[0] + 1), (-1.0, size[1] + 1))))
    points = np.vstack([rim, rng.uniform(0, size, (shots, 2))])
    waves, phases = rng.normal(size=(5, 2)) * 0.3, rng.uniform(0, 6, 5)
    level = 100 + points @ (rng.normal(size=2) * 0.03) + rng.normal(size=len(points)) * 0.02
    level += (rng.uniform(0.05, 0.2, 5)[:, None] * np.sin(waves @ points.T + phases[:, None])).sum(axis=0)
    return ground_of(points, level)


def pad_polygon(pad: Pad, pose: np.ndarray) -> shapely.Polygon:
    """Return the pad's outline at a pose."""
    return shapely.Polygon(Placement(*pose, 0.0).corners(pad))


def measured_area(ground: Ground) -> shapely.Geometry:
    """Return the union of the triangles."""
    corners = np.column_stack([ground.east, ground.north]) + ground.origin
    return shapely.union_all([shapely.Polygon(corners[triangle]) for triangle in ground.triangles]).buffer(1e-9)


def naive_allowed(limits: Limits, measured: shapely.Geometry, pad: Pad, pose: np.ndarray) -> bool:
    """Return whether a pose keeps the limits on position, by shapely."""
    polygon = pad_polygon(pad, pose)
    if not measured.contains(polygon):
        return False
    if limits.boundary:
        land = shapely.Polygon(limits.boundary[0], limits.boundary[1:])
        if not land.contains(polygon) or land.boundary.distance(polygon) < limits.setback:
            return False
    for keep_out in limits.keep_outs:
        thing = shapely.Point(keep_out.outline[0]) if keep_out.is_circle else shapely.Polygon(keep_out.outline)
        if thing.distance(polygon) < keep_out.clearance or thing.intersection(polygon).area > 0:
            return False
    return True


def naive_pieces(ground: Ground, pad: Pad, pose: np.ndarray) -> list[tuple[float, np.ndarray]]:
    """Return area and three corner levels of every bit of ground under the pad, stripped."""
    polygon = pad_polygon(pad, pose)
    pieces = []
    for triangle in ground.triangles:
        corners = np.column_stack([ground.east[triangle], ground.north[triangle]]) + ground.origin
        plane = np.linalg.solve(np.column_stack([corners - ground.origin, np.ones(3)]), ground.level[triangle])
        shared = polygon.intersection(shapely.Polygon(corners))
        if shared.geom_type != "Polygon" or shared.is_empty:
            continue
        ring = np.array(shared.exterior.coords)[:-1]
        for i in range(1, len(ring) - 1):
            bit = ring[[0, i, i + 1]]
            area = 0.5 * abs(np.linalg.det(bit[1:] - bit[0]))
            pieces.append((area, np.column_stack([bit - ground.origin, np.ones(3)]) @ plane - pad.strip))
    return pieces


def naive_cut_fill(pieces: list[tuple[float, np.ndarray]], level: float) -> tuple[float, float]:
    """Return the volume above a level and below it."""
    return sum(_above(area, z - level) for area, z in pieces), sum(_above(area, level - z) for area, z in pieces)


def _above(area: float, height: np.ndarray) -> float:
    """Return the volume above zero under three corner heights, the polygon above cut out corner by corner."""
    share = np.eye(3)
    kept = []
    for i in range(3):
        j = (i + 1) % 3
        if height[i] >= 0:
            kept.append((share[i], height[i]))
        if height[i] * height[j] < 0:
            at = height[i] / (height[i] - height[j])
            kept.append(((1 - at) * share[i] + at * share[j], 0.0))
    volume = 0.0
    for i in range(1, len(kept) - 1):
        bit = [kept[0], kept[i], kept[i + 1]]
        volume += area * abs(np.linalg.det([corner for corner, _ in bit])) * sum(h for _, h in bit) / 3
    return volume


def naive_value(
    ground: Ground, pad: Pad, pose: np.ndarray, goal: Goal, keep: float, reserve: float = 0.0
) -> tuple[float, float]:
    """Return the least value over all levels at a pose, and the level; ``reserve`` is soil besides the cut.

    Where soil may be bought, by golden section; where not, the highest level that needs none, by halving.
    """
    pieces = naive_pieces(ground, pad, pose)

    def value(level: float) -> float:
        cut, fill = naive_cut_fill(pieces, level)
        had = cut + reserve
        over, short = max(had - fill / keep, 0.0), max(fill - keep * had, 0.0)
        return goal.cut * cut + goal.fill * fill + goal.over * over + goal.short * short

    low = min(z.min() for _, z in pieces)
    high = max(z.max() for _, z in pieces) + reserve / pad.area
    for _ in range(70):
        if goal.buys:
            left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
            low, high = (low, right) if value(left) < value(right) else (left, high)
        else:
            middle = (low + high) / 2
            cut, fill = naive_cut_fill(pieces, middle)
            low, high = (middle, high) if keep * (cut + reserve) >= fill else (low, middle)
    return value(low), low


def naive_search(
    ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float, *, step: float, turn: float
) -> tuple[float, np.ndarray]:
    """Return the least value over a grid of poses, and its pose: every pose tried, one by one."""
    west, south, east, north = ground.bounds
    measured = measured_area(ground)
    best, where = np.inf, np.full(3, np.nan)
    for pose in itertools.product(np.arange(west, east, step), np.arange(south, north, step), np.arange(0, 180, turn)):
        if naive_allowed(limits, measured, pad, np.array(pose)):
            value, _ = naive_value(ground, pad, np.array(pose), goal, keep)
            if value < best:
                best, where = value, np.array(pose)
    return best, where
