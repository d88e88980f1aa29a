"""A proof checked by sampling: placements drawn at large and about the best spot, each worked out another way.

Nothing here is shared with the search or the bounds but the data: a geometry library clips the triangles and judges
the limits, volumes come from corner averages of clipped solids, and the level is searched by golden sections. Slow and
obvious on purpose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.placement.check_banked import BanksAgain, BankSoil, mean_above
from spadework.placement.check_moved import CellsAgain
from spadework.placement.goals import Goal
from spadework.placement.land import keep_out_shape, land_shape
from spadework.placement.limits import Limits
from spadework.placement.pose_rules import side_of
from spadework.placement.spots import SearchResult
from spadework.readings import FloatArray

__all__ = ["ProofCheck", "check_proof"]

GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
EVENLY = np.array([0.8191725133961645, 0.6710436067037893, 0.5497004779019703])
"""Multiples of these, less their whole parts, fill a cube evenly: powers of the root of ``1 / r⁴ = 1 / r + 1``."""
SLOWER = 5
"""One sample in so many is drawn where barrowing counts, for each is a linear program."""
LEVELS = 121
"""Levels looked at where the value may have several lowest places."""
SAME = 1e-6
"""Values that differ by less agree: the level is searched, not solved. [share, and m³ per m²]"""


@dataclass(frozen=True, slots=True)
class ProofCheck:
    """What a check of a proof found.

    Parameters
    ----------
    tried, allowed : int
        Placements drawn, and those of them that keep every limit.
    lowest : float
        Lowest value among them; infinite where none is allowed.
    best_again : float
        Value of the best spot, worked out the slow way.
    holds : bool
        Whether no value lies below the bound, and the best spot has the value that the proof says.
    sentence : str
        The same in words.
    """

    tried: int
    allowed: int
    lowest: float
    best_again: float
    holds: bool
    sentence: str


def check_proof(  # noqa: PLR0917 -- the problem as the search takes it
    ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float, result: SearchResult, *, samples: int = 400
) -> ProofCheck:
    """Check the proof of a search on sampled placements.

    Half of the samples are spread evenly over the site, half about the best spot, ever nearer. The same samples are
    drawn in every run.

    Parameters
    ----------
    ground, pad, limits, goal
        As in `spadework.placement.search.find_placement`.
    keep : float
        Compacted volume that one volume in the bank makes.
    result : SearchResult
        With a proof.
    samples : int
        Placements drawn.

    Raises
    ------
    ValueError
        If the result has no proof.
    """
    proof = result.proof
    if proof is None:
        raise ValueError("the result has no proof to check")
    twin = _Twin(ground, pad, limits, goal, keep, result.reserve)
    if goal.moved:
        assert result.objective is not None and result.objective.carrying is not None  # noqa: S101, PT018
        twin.cells = CellsAgain(result.objective.carrying, pad, keep, result.reserve)
        samples = max(samples // SLOWER, 1)
    best = result.best.placement
    here = np.array([best.east, best.north, best.bearing])
    values = [twin.value(pose) for pose in _samples(ground, pad, limits, here, samples)]
    found = np.array([value for value in values if value is not None])
    again = twin.value(here)
    best_again = math.inf if again is None else again
    lowest = float(found.min(initial=np.inf))
    slack = SAME * (abs(proof.best) + pad.area)
    holds = lowest >= proof.lower_bound - slack and abs(best_again - proof.best) <= slack
    verdict = "none is better than the bound" if lowest >= proof.lower_bound - slack else "one is better than the bound"
    sentence = (
        f"Checked another way on {len(values)} sampled placements, {len(found)} of them allowed: {verdict}, and the "
        f"best spot {'has the value given' if abs(best_again - proof.best) <= slack else 'has another value'}."
    )
    return ProofCheck(len(values), len(found), lowest, best_again, holds, sentence)


def _samples(ground: Ground, pad: Pad, limits: Limits, best: FloatArray, count: int) -> FloatArray:
    """Return poses spread over the site, then poses about the best one, shape (count, 3)."""
    west, south, east, north = ground.bounds
    if limits.boundary:
        corners = np.vstack(limits.boundary)
        west, south = np.maximum(corners.min(axis=0), [west, south])
        east, north = np.minimum(corners.max(axis=0), [east, north])
    share = np.mod(0.5 + np.arange(1, count + 1)[:, None] * EVENLY, 1.0)
    poses = np.array([west, south, 0.0]) + share * np.array([east - west, north - south, 360.0])
    near = count // 2
    reach = float(np.hypot(*pad.outline.T).max())
    width = reach * 10.0 ** -(3.0 * np.arange(near) / max(near, 1))
    poses[:near] = best + (2 * share[:near] - 1) * width[:, None] * np.array([1.0, 1.0, math.degrees(1.0 / reach)])
    if not limits.bearing.free:
        spans = np.array(limits.bearing.spans(360.0))[np.arange(count) % len(limits.bearing.spans(360.0))]
        poses[near:, 2] = spans[near:, 0] + share[near:, 2] * spans[near:, 1]
        poses[:near, 2] = limits.bearing.held(poses[:near, 2])
    if limits.position is not None:
        poses[:, :2] = limits.position.centres(pad, poses[:, 2])
    drawn: FloatArray = poses
    return drawn


@dataclass(frozen=True)
class _Soil:
    """The ground under a placement, and about it where the edge is a bank.

    Parameters
    ----------
    area : array, shape (k,)
        Of each triangle under the pad. [m²]
    levels : array, shape (k, 3)
        Its corners. [m]
    edge : list of float
        Levels along the edge. [m]
    banks : BankSoil, optional
        Of the banks.
    """

    area: FloatArray
    levels: FloatArray
    edge: list[float]
    banks: BankSoil | None = None


class _Twin:
    """The objective by a geometry library."""

    def __init__(  # noqa: PLR0917 -- the problem as the search takes it
        self, ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float, reserve: float
    ) -> None:
        import shapely  # noqa: PLC0415 -- only a check needs it

        self.shapely: Any = shapely
        self.pad, self.limits, self.goal, self.keep, self.reserve = pad, limits, goal, keep, reserve
        self.origin, self.datum = ground.origin, ground.datum
        self.cells: CellsAgain | None = None
        corners = np.column_stack([ground.east, ground.north])[ground.triangles]
        self.corners, self.levels = corners, ground.height[ground.triangles]
        self.faces: Any = shapely.polygons(corners)
        self.tree: Any = self.shapely.STRtree(self.faces)
        self.above = 1.0 + reserve / pad.area
        self.banks: BanksAgain | None = None
        if not pad.edge.retained:
            below, above = 1.0 + pad.strip, self.above
            for finish in (limits.finish.level, limits.finish.lowest, limits.finish.highest):
                if finish is not None:
                    formation = finish - ground.datum - pad.build_up.thickness + pad.strip
                    below = max(below, float(self.levels.min()) - formation)
                    above = max(above, formation - float(self.levels.max()))
            self.banks = BanksAgain(ground, pad, limits, below, above)

    def value(self, pose: FloatArray) -> float | None:
        """Return the least value at a pose, or ``None`` where it is not allowed."""
        placed = Placement(float(pose[0] - self.origin[0]), float(pose[1] - self.origin[1]), float(pose[2]), 0.0)
        outline = self.shapely.Polygon(placed.corners(self.pad))
        if not self._clear(outline, placed) or not self._near_and_facing(outline, placed):
            return None
        soil, slope = self._pieces(outline)
        if soil.area.sum() < self.pad.area * (1 - 1e-7):
            return None
        if self.limits.ground_slope is not None and slope > self.limits.ground_slope + 1e-9:
            return None
        levels, edge = soil.levels, soil.edge
        strip, thickness, limits = self.pad.strip, self.pad.build_up.thickness, self.limits
        least = -math.inf if limits.cut_depth is None else levels.max() - strip - limits.cut_depth
        most = math.inf if limits.fill_depth is None else levels.min() - strip + limits.fill_depth
        if self.banks is not None:
            banks = self.banks.at(placed)
            soil = replace(soil, banks=banks)
            least, most = max(least, banks.least - strip), min(most, banks.most - strip)
        if limits.exposed_edge is not None:
            most = min(most, min(edge) + limits.exposed_edge - thickness)
        if limits.finish.lowest is not None:
            least = max(least, limits.finish.lowest - self.datum - thickness)
        if limits.finish.highest is not None:
            most = min(most, limits.finish.highest - self.datum - thickness)
        if limits.finish.kind != "free":
            flush = min(edge) if limits.finish.kind == "flush-low" else max(edge)
            finish = flush if limits.finish.level is None else limits.finish.level - self.datum
            level = finish - thickness
            return self._told(pose, soil, level) if least - 1e-9 <= level <= most + 1e-9 else None
        if least > most:
            return None
        low = max(least, min(levels.min() - strip - 1.0, most))
        high = min(most, max(levels.max() - strip + self.above, least))
        return self._told(pose, soil, self._best_level(soil, low, high))

    def _told(self, pose: FloatArray, soil: _Soil, level: float) -> float | None:
        """Return the value at the level of a pose, barrowing and all."""
        if soil.banks is not None and soil.banks.met_again(level + self.pad.strip):
            return None
        plain = self._at(soil, level, self.goal)
        if plain is None or self.cells is None:
            return plain
        east, north, bearing = (float(number) for number in pose)
        local = Placement(east - self.origin[0], north - self.origin[1], bearing, 0.0)

        def measure(ring: FloatArray) -> tuple[float, float]:
            return self._cut_fill(self._pieces(self.shapely.Polygon(local.to_site(ring)))[0], level)

        at = Placement(east, north, bearing, level + self.datum + self.pad.build_up.thickness)
        return plain + self.goal.moved * self.cells.barrowing(at, measure)

    def _clear(self, outline: Any, placed: Placement) -> bool:
        """Tell whether a pad keeps boundary and keep-outs; a round one as the circle that it is."""
        shapely, limits, radius = self.shapely, self.limits, self.pad.radius or 0.0
        pad = shapely.Point(placed.east, placed.north) if radius else outline
        if limits.boundary or limits.setback > 0:
            if limits.boundary:
                land = shapely.transform(land_shape(limits.boundary), lambda places: places - self.origin)
            else:
                land = shapely.union_all(self.faces)
            if not land.buffer(1e-9).contains(pad) or land.boundary.distance(pad) < limits.setback + radius - 1e-9:
                return False
        for keep_out in limits.keep_outs:
            thing = shapely.transform(keep_out_shape(keep_out), lambda places: places - self.origin)
            touches = thing.distance(pad) < keep_out.clearance + radius - 1e-9
            if touches or thing.intersection(pad).area > 1e-9 or shapely.crosses(thing, pad):
                return False
        return True

    def _near_and_facing(self, outline: Any, placed: Placement) -> bool:
        """Tell whether a pad lies near enough to what it must reach, and faces what it must face."""
        shapely, radius = self.shapely, self.pad.radius or 0.0
        middle = shapely.Point(placed.east, placed.north)
        pad = middle.buffer(radius, quad_segs=256) if radius else outline
        for reach in self.limits.reaches:
            point = shapely.Point(reach.east - self.origin[0], reach.north - self.origin[1])
            away = {
                "nearest": point.distance(pad),
                "middle": point.distance(middle),
                "farthest": shapely.hausdorff_distance(point, pad),
            }[reach.to]
            if away > reach.distance + 1e-9:
                return False
        for facing in self.limits.facings:
            half = side_of(self.pad, facing.side, facing.source)
            start, end = placed.to_site(np.array([half[:2], half[:2] + half[2:]]))
            to = np.array([facing.east, facing.north]) - self.origin - start
            cosine = float((end - start) @ to) / max(float(np.hypot(*to)), 1e-12)
            if math.degrees(math.acos(min(max(cosine, -1.0), 1.0))) > facing.within + 1e-6:
                return False
        return True

    def _pieces(self, outline: Any) -> tuple[_Soil, float]:
        """Return every triangle under an outline, levels along its edge, the mean slope."""
        shapely = self.shapely
        areas: list[float] = []
        levels: list[FloatArray] = []
        edge: list[float] = []
        rise: FloatArray = np.zeros(2)
        for number in self.tree.query(outline):
            corners = self.corners[number]
            middle = corners.mean(axis=0)
            plane = np.linalg.solve(np.column_stack([corners - middle, np.ones(3)]), self.levels[number])
            for part in shapely.get_parts(shapely.intersection(outline, self.faces[number])):
                if part.geom_type != "Polygon":
                    continue
                rise = rise + part.area * plane[:2]
                ring = np.array(part.exterior.coords)[:-1]
                z = np.column_stack([ring - middle, np.ones(len(ring))]) @ plane
                on_edge = shapely.distance(outline.exterior, shapely.points(ring)) < 1e-9
                edge.extend(z[on_edge].tolist())
                for face in shapely.get_parts(shapely.constrained_delaunay_triangles(part)):
                    bit = np.array(face.exterior.coords)[:3]
                    areas.append(face.area)
                    levels.append(np.column_stack([bit - middle, np.ones(3)]) @ plane)
        return _Soil(np.array(areas), np.array(levels).reshape(-1, 3), edge), float(np.hypot(*rise)) / outline.area

    def _cut_fill(self, soil: _Soil, level: float) -> tuple[float, float]:
        """Return cut and fill at a formation level, those of banks included."""
        depth = soil.levels - (level + self.pad.strip)
        cut, fill = float(soil.area @ mean_above(depth)), float(soil.area @ mean_above(-depth))
        if soil.banks is None:
            return cut, fill
        more = soil.banks.cut_fill(level + self.pad.strip)
        return cut + more[0], fill + more[1]

    def _at(self, soil: _Soil, level: float, goal: Goal) -> float | None:
        """Return the value at a level but for barrowing, or ``None`` where more soil is short than may be bought."""
        cut, fill = self._cut_fill(soil, level)
        had = cut + self.reserve
        over, short = max(had - fill / self.keep, 0.0), max(fill - self.keep * had, 0.0)
        slack = SAME * self.pad.area
        if short > self.limits.most_bought(buys=goal.buys) + slack:
            return None
        if self.limits.carted is not None and over > self.limits.carted + slack:
            return None
        finish = level + self.pad.build_up.thickness
        wall = max(max(soil.edge) - finish, finish - min(soil.edge))
        stripped = self.pad.area + (0.0 if soil.banks is None else soil.banks.taken(level + self.pad.strip))
        value = goal.cut * cut + goal.fill * fill + goal.over * over + goal.short * short
        return value + goal.wall * wall + goal.strip * stripped * self.pad.strip

    def _best_level(self, soil: _Soil, low: float, high: float) -> float:
        """Return the level of least value between two, and between those that the limits on soil leave."""
        goal = self.goal.without_moved
        most_short, most_over = self.limits.most_bought(buys=self.goal.buys), self.limits.carted
        if most_short < math.inf:
            high = self._level_of(soil, low, high, most_short)
        if most_over is not None:
            low = self._level_of(soil, low, high, -self.keep * most_over)
        if soil.banks is not None and goal.strip * self.pad.strip > 0:
            # The turf under banks has more than one lowest place: look at many levels, then about the best.
            tried = np.linspace(low, high, LEVELS)
            values = [self._at(soil, float(level), goal) for level in tried]
            best = int(np.argmin([math.inf if value is None else value for value in values]))
            low, high = float(tried[max(best - 1, 0)]), float(tried[min(best + 1, LEVELS - 1)])
        for _ in range(60):
            left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
            one, other = self._at(soil, left, goal), self._at(soil, right, goal)
            low, high = (low, right) if other is None or (one is not None and one < other) else (left, high)
        return 0.5 * (low + high)

    def _level_of(self, soil: _Soil, low: float, high: float, most: float) -> float:
        """Return by halves the level up to which no more soil is short than ``most``; below zero, soil is over."""
        for _ in range(60):
            middle = 0.5 * (low + high)
            cut, fill = self._cut_fill(soil, middle)
            low, high = (middle, high) if fill - self.keep * (cut + self.reserve) <= most else (low, middle)
        return low if most >= 0 else high
