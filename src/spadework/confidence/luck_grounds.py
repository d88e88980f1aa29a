"""The objective of a search on many grounds that the shots allow, and the best spot of each of them.

Spots are sought on grounds drawn on a grid, which smooths what lies between its points. What is told of a spot is
worked out on others, drawn at the points of that spot alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.confidence.luck_raster import RasterGrounds
from spadework.confidence.nodes import pad_nodes
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.many_grounds import ManyGrounds, PadPoints
from spadework.ground.process import GroundProcess
from spadework.ground.simulate import Lattice, draw_at, simulate
from spadework.pad import Pad, Placement
from spadework.placement.objective import Objective
from spadework.placement.polish import Freedom
from spadework.placement.start import middle_of, search_region
from spadework.readings import FloatArray, IntArray

__all__ = ["KnownGround", "LuckGrounds", "cover_of", "luck_grounds", "mean_of", "region_of", "spot_grounds"]

KnownGround = GroundProcess | RasterGrounds
"""What grounds are drawn of."""
POINTS = 64
EDGE_POINTS = 24
"""Points that a pad is asked at, about: over its area and along its edge."""
SPOT_POINTS = 128
"""Points over its area that a spot is asked at by itself."""
ACROSS_PAD, ACROSS_LENGTH = 9, 8
"""Steps of the grid across the pad's short side and the length scale of the ground, at least."""
MOST_POINTS, COARSEST = 16_000, 2.5
"""Points of the grid at most, and steps across the pad below which nothing is said."""
COVER_TURN = 30.0
"""Between bearings of the placements that are tried on every ground: they are turned later. [deg]"""
MOST_COVERED = 2000
FEWER_UNCOMPILED = 0.15
ENOUGH = 0.8
"""A spot has a mean cost where a finish level keeps the limits on such a share of the grounds."""
LACK = 1e-6
"""Soil short by less is rounding. [m³ per m² of pad]"""
HALVINGS, MOST_ROUNDS = 3, 10


@dataclass(frozen=True, eq=False)
class LuckGrounds:
    """Grounds drawn on a grid, with the objective of the search.

    Parameters
    ----------
    objective : Objective
        The exact objective on the drawn surface: limits, goal, pad.
    grounds : ManyGrounds
        A column of levels for each ground.
    points : PadPoints
        Where a pad is asked.
    """

    objective: Objective
    grounds: ManyGrounds
    points: PadPoints

    def __len__(self) -> int:
        return int(self.grounds.levels.shape[1])

    @property
    def short(self) -> float:
        """The pad's short side. [m]"""
        return self.objective.clearance.shape.short_side

    def values(self, poses: FloatArray, first: IntArray | None = None, width: int | None = None) -> FloatArray:
        """Return the value of poses on grounds, shape (p, w); infinite where a limit is broken.

        Parameters
        ----------
        poses : array, shape (p, 3)
            ``east, north`` [m], ``bearing`` [deg].
        first : array of int, shape (p,), optional
            First ground of each; the very first where not given.
        width : int, optional
            Grounds from there on; all of them where not given.
        """
        return self.values_held(poses, first, width)[0]

    def values_held(
        self, poses: FloatArray, first: IntArray | None = None, width: int | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Return `values`, and 1 where a limit holds the level, shape (p, w) each."""
        width = len(self) if width is None else width
        first = np.zeros(len(poses), dtype=np.int64) if first is None else first
        value, held = np.full((len(poses), width), np.inf), np.zeros((len(poses), width))
        clear = np.flatnonzero(self.objective.clearance.allowed(poses)) if len(poses) else np.zeros(0, dtype=np.int64)
        if len(clear) == 0:
            return value, held
        objective, pad, goal = self.objective, self.objective.pad, self.objective.goal
        found = self.grounds.work_out(
            self.points,
            poses[clear],
            first[clear],
            width,
            objective.rule(),
            thickness=pad.build_up.thickness,
            strip=pad.strip,
        )
        finish = found.formation + pad.build_up.thickness
        wall = np.maximum(found.edge_high - finish, finish - found.edge_low)
        soil = (found.cut, found.fill, objective.keep, objective.reserve)
        each = goal.values(*soil, wall=wall, strip=objective.strip_volume)
        with np.errstate(invalid="ignore"):
            lacking = goal.over_and_short(*soil)[1] > objective.most_bought + LACK * pad.area
        forbidden = np.isnan(each) | lacking
        value[clear] = np.where(forbidden, np.inf, each)
        held[clear] = found.held
        return value, held

    def best_of_each(self, starts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the best pose of each ground near a start, shape (m, 3), and its value, shape (m,).

        A pattern search for all grounds side by side: the 26 directions of a cube about each pose, the step halved
        where none is better.

        Parameters
        ----------
        starts : array, shape (m, 3)
            A pose for each ground.
        """
        return self._descended(starts, np.arange(len(self)), 1)

    def best_of_some(self, starts: FloatArray, some: int) -> tuple[FloatArray, FloatArray]:
        """Return poses of least mean value on the first grounds, each near a start, shape (k, 3), and those means."""
        return self._descended(starts, np.zeros(len(starts), dtype=np.int64), some)

    def _descended(self, starts: FloatArray, first: IntArray, width: int) -> tuple[FloatArray, FloatArray]:
        shape = self.objective.clearance.shape
        freedom = Freedom(self.objective.pad, self.objective.limits, shape.reach)
        ways = freedom.directions(1, 0) * np.array([1.0, 1.0, math.degrees(1.0 / shape.reach)])
        poses, value = np.array(starts), mean_of(self.values(starts, first, width))
        step, halved = np.full(len(poses), self.short / 4), np.zeros(len(poses), dtype=np.int64)
        for _ in range(MOST_ROUNDS):
            live = np.flatnonzero((halved < HALVINGS) & np.isfinite(value))
            if len(live) == 0 or len(ways) == 0:
                break
            trial = freedom.held((poses[live, None] + ways * step[live, None, None]).reshape(-1, 3))
            found = mean_of(self.values(trial, np.repeat(first[live], len(ways)), width)).reshape(len(live), -1)
            choice = found.argmin(axis=1)
            least = found[np.arange(len(live)), choice]
            better = least < value[live] - 1e-12
            moved = live[better]
            poses[moved] = trial.reshape(len(live), -1, 3)[better, choice[better]]
            value[moved] = least[better]
            step[live[~better]] /= 2
            halved[live[~better]] += 1
        return poses, value


def mean_of(values: FloatArray) -> FloatArray:
    """Return the mean of each row over the grounds on which the limits can be kept; infinite where these are few."""
    finite = np.isfinite(values)
    count = finite.sum(axis=1)
    mean = np.where(finite, values, 0.0).sum(axis=1) / np.maximum(count, 1)
    return np.where(count >= ENOUGH * values.shape[1], mean, np.inf)


def luck_grounds(process: KnownGround, objective: Objective, count: int, seed: int) -> LuckGrounds | None:
    """Return grounds that shots or a raster allow; ``None`` where the site is too large for a grid as fine as is asked.

    Parameters
    ----------
    process : GroundProcess or RasterGrounds
        The ground with how sure it is.
    objective : Objective
        The search.
    count, seed : int
        How many grounds, and which.
    """
    short = objective.clearance.shape.short_side
    shots = process.cells if isinstance(process, RasterGrounds) else process
    west, south, east, north = objective.ground.bounds
    low, high = np.array([west, south]), np.array([east, north])
    if isinstance(process, RasterGrounds):
        low, high = region_of(objective)
    places = shots.best.places + shots.origin
    low, high = np.minimum(places.min(axis=0), low), np.maximum(places.max(axis=0), high)
    fine = min(short / ACROSS_PAD, shots.covariance.length / ACROSS_LENGTH)
    step = max(fine, math.sqrt(float(np.prod(high - low)) / MOST_POINTS))
    if step > short / COARSEST:
        return None
    lattice = Lattice.over((*low.tolist(), *high.tolist()), step)
    if isinstance(process, RasterGrounds):
        levels = process.drawn_on(lattice, count, seed=seed)
    else:
        levels = simulate(process, lattice, count, seed=seed)
    # The covariances of the process take turns, so that the first grounds stand for all.
    levels = np.ascontiguousarray(levels[np.random.default_rng(seed).permutation(count)].T)
    grounds = ManyGrounds(lattice.west, lattice.south, lattice.step, lattice.columns, lattice.rows, levels)
    return LuckGrounds(objective, grounds, pad_points(objective.pad))


def region_of(objective: Objective) -> tuple[FloatArray, FloatArray]:
    """Return the corners of the ground that an allowed pad may lie on: a raster reaches farther than the site. [m]"""
    west, south, east, north = objective.ground.bounds
    reach = objective.clearance.shape.reach
    low, high = search_region(objective.limits, objective.ground.outline())
    if objective.limits.position is not None:
        at = objective.limits.position
        low, high = np.array([at.east, at.north]) - reach, np.array([at.east, at.north]) + reach
    return np.maximum([west, south], low - reach), np.minimum([east, north], high + reach)


@dataclass(frozen=True)
class _OneSpot(PadPoints):
    """The points of a spot as places in a list of levels, a grid of two rows whose second holds nothing."""

    def at(self, poses: FloatArray) -> FloatArray:
        """Return the place of each point in the list, shape (p, k + e, 2)."""
        place = np.arange(len(self.inner) + len(self.edge), dtype=np.float64)
        return np.tile(np.column_stack([place, np.zeros_like(place)]), (len(poses), 1, 1))


def spot_grounds(process: KnownGround, objective: Objective, pose: FloatArray, count: int, seed: int) -> LuckGrounds:
    """Return grounds drawn at the points of one spot: right for that pose alone, with no grid to smooth them.

    Parameters
    ----------
    process, objective, count, seed
        As for `luck_grounds`.
    pose : array, shape (3,)
        ``east, north`` [m], ``bearing`` [deg].
    """
    points = pad_points(objective.pad, SPOT_POINTS)
    places = points.at(pose[None])[0]
    if isinstance(process, RasterGrounds):
        drawn = process.drawn_at(places, count, seed=seed)
    else:
        drawn = draw_at(process, places, count, seed=seed)
    # Neighbours to the east and north are read with no weight: there must be some.
    levels = np.zeros((2 * (drawn.shape[1] + 1), count))
    levels[: drawn.shape[1]] = drawn.T
    grounds = ManyGrounds(0.0, 0.0, 1.0, drawn.shape[1] + 1, 2, levels)
    return LuckGrounds(objective, grounds, _OneSpot(points.inner, points.area, points.edge))


def pad_points(pad: Pad, count: int = POINTS) -> PadPoints:
    """Return the points of a pad that it is asked at, about so many over its area."""
    inner, area = pad_nodes(pad, Placement(0.0, 0.0, 0.0, 0.0), count=count)
    corners = Placement(0.0, 0.0, 0.0, 0.0).corners(pad)
    after = np.roll(corners, -1, axis=0)
    length = np.hypot(*(after - corners).T)
    counts = np.maximum(np.rint(EDGE_POINTS * length / length.sum()), 1).astype(int)
    edge = [a + (b - a) * np.arange(n)[:, None] / n for a, b, n in zip(corners, after, counts, strict=True)]
    return PadPoints(inner, area, np.vstack(edge))


def cover_of(objective: Objective, outline: Sequence[FloatArray]) -> FloatArray:
    """Return placements all over the site, clear of every limit on position, shape (k, 3).

    Parameters
    ----------
    objective : Objective
        The search.
    outline : sequence of arrays, shape (n, 2)
        Rings of the measured ground. [m]
    """
    limits, shape, turn = objective.limits, objective.clearance.shape, objective.turn
    count = 36 if limits.position is not None else math.ceil(turn / COVER_TURN)
    bearings = np.arange(count) * turn / count
    if not limits.bearing.free:
        spans = limits.bearing.spans(turn)
        bearings = np.concatenate(
            [start + np.linspace(0.0, width, 1 + math.ceil(width * count / turn)) for start, width in spans]
        )
    if limits.position is not None:
        return np.column_stack([limits.position.centres(objective.pad, bearings), bearings])
    low, high = search_region(limits, tuple(outline))
    middle = middle_of(limits, tuple(outline))
    most = MOST_COVERED if COMPILED else MOST_COVERED * FEWER_UNCOMPILED
    step = shape.short_side / 2
    while True:
        axes = [
            m + step * np.arange(math.ceil((a - m) / step), math.floor((b - m) / step) + 1)
            for a, b, m in zip(low, high, middle, strict=True)
        ]
        poses = np.stack([axis.ravel() for axis in np.meshgrid(*axes, bearings, indexing="ij")], axis=-1)
        poses = poses[objective.clearance.allowed(poses)] if len(poses) else poses
        if len(poses) <= most:
            return poses
        step *= 1.02 * math.sqrt(len(poses) / most)
