"""Cut and fill of many poses on many grounds of one grid: the ground is asked at points of the pad, not cut along it.

The poses are the same on every ground, so that where their points lie in the grid is worked out once, and the grounds
are worked through side by side. Sums over points are not exact as those of `spadework.earthwork.kernel` are: they are
for grounds that are drawn by chance.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.earthwork._compile import COMPILED, compiled
from spadework.earthwork.batch import cores
from spadework.earthwork.rule import KINDS, LevelRule
from spadework.readings import FloatArray, IntArray

__all__ = ["ManyGrounds", "ManyLevels", "PadPoints"]

SIDE_BY_SIDE = 32
"""Grounds worked through at once: their heights at all points of a pad stay in the nearest cache."""
BALANCED, FIXED, FLUSH, GOAL, FLUSH_LOW = (
    KINDS.index(kind) for kind in ("balanced", "fixed", "flush", "goal", "flush-low")
)
ROUNDS, HALVINGS = 20, 26
FEWEST_FOR_THREADS = 4000
POSES_AT_A_TIME = 200


@dataclass(frozen=True)
class PadPoints:
    """Points of a pad, its origin at the middle and its length to the north.

    Parameters
    ----------
    inner : array, shape (k, 2)
        Points that stand for the area. [m]
    area : array, shape (k,)
        Area that each stands for. [m²]
    edge : array, shape (e, 2)
        Points of the outline. [m]
    """

    inner: FloatArray
    area: FloatArray
    edge: FloatArray

    def at(self, poses: FloatArray) -> FloatArray:
        """Return the points of each pose, those of the edge last, shape (p, k + e, 2): east, north. [m]"""
        points = np.vstack([self.inner, self.edge])
        sine, cosine = np.sin(np.radians(poses[:, 2, None])), np.cos(np.radians(poses[:, 2, None]))
        east, north = points[None, :, 0], points[None, :, 1]
        return np.stack(
            [poses[:, 0, None] + east * cosine + north * sine, poses[:, 1, None] - east * sine + north * cosine],
            axis=-1,
        )


@dataclass(frozen=True)
class ManyLevels:
    """What comes back: an array for each number, shape (p, w) for poses and the grounds that each was asked on.

    ``formation``, ``cut`` and ``fill`` as in `PadLevels`, NaN where no level keeps the limits; ``ground_low``,
    ``ground_high``, ``edge_low`` and ``edge_high`` at the points; ``held`` where a limit holds the level.
    """

    formation: FloatArray
    cut: FloatArray
    fill: FloatArray
    ground_low: FloatArray
    ground_high: FloatArray
    edge_low: FloatArray
    edge_high: FloatArray
    held: FloatArray


@dataclass(frozen=True)
class ManyGrounds:
    """Grounds of one square grid.

    Parameters
    ----------
    west, south, step : float
        First point of the grid and distance between points. [m]
    columns, rows : int
        Points eastwards and northwards.
    levels : array, shape (rows · columns, m)
        Levels, a column for each ground. [m]
    """

    west: float
    south: float
    step: float
    columns: int
    rows: int
    levels: FloatArray

    def work_out(
        self,
        points: PadPoints,
        poses: FloatArray,
        first: IntArray,
        width: int,
        rule: LevelRule,
        *,
        thickness: float,
        strip: float,
        use_compiled: bool | None = None,
    ) -> ManyLevels:
        """Return the level that a rule gives at each pose on each of its grounds, with cut and fill.

        Parameters
        ----------
        points : PadPoints
            The pad.
        poses : array, shape (p, 3)
            ``east, north`` [m], ``bearing`` [deg]; all of a pad lies on the grid.
        first : array of int, shape (p,)
            First ground that each pose is asked on.
        width : int
            Number of grounds from there on.
        rule : LevelRule
            Any but ``"weights"``, of which ``"goal"`` is the general case.
        thickness, strip : float
            Build-up, and turf and topsoil taken off first. [m]
        use_compiled : bool, optional
            Whether to use the compiled kernel; by default if there is one.
        """
        places = points.at(poses)
        across, up = (places[..., 0] - self.west) / self.step, (places[..., 1] - self.south) / self.step
        column = np.clip(across.astype(np.int64), 0, self.columns - 2)
        row = np.clip(up.astype(np.int64), 0, self.rows - 2)
        near, right, above = row * self.columns + column, across - column, up - row
        numbers = rule.numbers(thickness, strip, 0.0)
        result = np.empty((len(poses), 8, width))
        first = np.ascontiguousarray(first, dtype=np.int64)

        def work(some: slice) -> None:
            solve_many(
                self.levels, near[some], right[some], above[some], self.columns, points.area, first[some], width,
                rule.code, numbers, result[some],
            )  # fmt: skip

        def work_with_numpy(some: slice) -> None:
            _solve_with_numpy(
                self.levels, near[some], right[some], above[some], self.columns, points.area, first[some], width,
                rule.code, numbers, result[some],
            )  # fmt: skip

        if not (COMPILED if use_compiled is None else use_compiled):
            for start in range(0, len(poses), POSES_AT_A_TIME):
                work_with_numpy(slice(start, start + POSES_AT_A_TIME))
        elif len(poses) * width < FEWEST_FOR_THREADS or cores() == 1:
            work(slice(None))
        else:
            ends = np.linspace(0, len(poses), 4 * min(cores(), 8) + 1).astype(int).tolist()
            with ThreadPoolExecutor(min(cores(), 8)) as pool:
                list(pool.map(work, [slice(*pair) for pair in pairwise(ends)]))
        return ManyLevels(*np.ascontiguousarray(result.transpose(1, 0, 2)))


@compiled
def solve_many(  # noqa: PLR0917 -- one kernel
    levels: FloatArray,
    near: IntArray,
    right: FloatArray,
    above: FloatArray,
    columns: int,
    area: FloatArray,
    first: IntArray,
    width: int,
    kind: int,
    numbers: FloatArray,
    result: FloatArray,
) -> None:
    """Fill ``result``, (p, 8, w), in the order of `ManyLevels`; ``near`` is the south-west point about each place."""
    keep, bought, cut_weight, fill_weight, finish = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    thickness, strip, exposed = numbers[5], numbers[6], numbers[7]
    deepest, highest, lowest, top = numbers[8], numbers[9], numbers[10], numbers[11]
    over_weight, short_weight, wall_weight = numbers[12], numbers[13], numbers[14]
    most_short, at_hand, most_over = numbers[15], numbers[16], numbers[17]
    bounded = kind == GOAL and most_short < np.inf
    wanted = bought if kind == BALANCED else at_hand + (most_short if bounded else 0.0)
    inner, every = len(area), near.shape[1]
    whole = area.sum()
    height = np.empty((every, SIDE_BY_SIDE))
    level, wrong, slope = np.empty(SIDE_BY_SIDE), np.empty(SIDE_BY_SIDE), np.empty(SIDE_BY_SIDE)
    low, high = np.empty(SIDE_BY_SIDE), np.empty(SIDE_BY_SIDE)
    edge_low, edge_high = np.empty(SIDE_BY_SIDE), np.empty(SIDE_BY_SIDE)
    bottom, roof = np.empty(SIDE_BY_SIDE), np.empty(SIDE_BY_SIDE)
    for p in range(near.shape[0]):
        for start in range(0, width, SIDE_BY_SIDE):
            count = min(SIDE_BY_SIDE, width - start)
            base = first[p] + start
            for i in range(every):
                u, v, n = right[p, i], above[p, i], near[p, i]
                a, b, c, d = (1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v
                for s in range(count):
                    g = base + s
                    height[i, s] = (
                        a * levels[n, g]
                        + b * levels[n + 1, g]
                        + c * levels[n + columns, g]
                        + d * levels[n + columns + 1, g]
                    )
            for s in range(count):
                low[s], high[s] = np.inf, -np.inf
                edge_low[s], edge_high[s] = np.inf, -np.inf
                level[s] = 0.0
            for i in range(every):
                for s in range(count):
                    low[s] = min(low[s], height[i, s])
                    high[s] = max(high[s], height[i, s])
            for i in range(inner, every):
                for s in range(count):
                    edge_low[s] = min(edge_low[s], height[i, s])
                    edge_high[s] = max(edge_high[s], height[i, s])
            if kind == BALANCED or bounded:
                for i in range(inner):
                    for s in range(count):
                        level[s] += area[i] / whole * (height[i, s] - strip)
                for _ in range(ROUNDS):
                    for s in range(count):
                        wrong[s], slope[s] = wanted, 0.0
                    for i in range(inner):
                        for s in range(count):
                            over = height[i, s] - strip - level[s]
                            weight = area[i] * (keep if over > 0 else 1.0)
                            wrong[s] += weight * over
                            slope[s] += weight
                    most = 0.0
                    for s in range(count):
                        level[s] += wrong[s] / slope[s]
                        most = max(most, abs(wrong[s] / slope[s]))
                    if most < 1e-9:
                        break
            if kind == GOAL:
                for s in range(count):
                    bottom[s] = min(low[s] - strip, edge_low[s] - thickness)
                    roof[s] = max(high[s] - strip, edge_high[s] - thickness) + wanted / whole
                    if bounded:
                        roof[s] = level[s]
                        bottom[s] = min(bottom[s], level[s])
                for _ in range(HALVINGS):
                    for s in range(count):
                        level[s] = 0.5 * (bottom[s] + roof[s])
                        wrong[s], slope[s] = at_hand, 0.0
                    for i in range(inner):
                        for s in range(count):
                            over = height[i, s] - strip - level[s]
                            wrong[s] += area[i] * (keep if over > 0 else 1.0) * over
                            slope[s] += area[i] if over > 0 else 0.0
                    for s in range(count):
                        dug = slope[s]
                        rise = fill_weight * (whole - dug) - cut_weight * dug
                        rise += short_weight * (keep * dug + whole - dug) if wrong[s] < 0 else 0.0
                        rise -= over_weight * (dug + (whole - dug) / keep) if wrong[s] > 0 else 0.0
                        up = 2 * (level[s] + thickness) > edge_low[s] + edge_high[s]
                        rise += wall_weight if up else -wall_weight
                        if rise < 0 or wrong[s] > keep * most_over:
                            bottom[s] = level[s]
                        else:
                            roof[s] = level[s]
                for s in range(count):
                    level[s] = roof[s] if bounded else 0.5 * (bottom[s] + roof[s])
            elif kind == FIXED:
                for s in range(count):
                    level[s] = finish - thickness
            elif kind == FLUSH:
                for s in range(count):
                    level[s] = edge_high[s] - thickness
            elif kind == FLUSH_LOW:
                for s in range(count):
                    level[s] = edge_low[s] - thickness
            for s in range(count):
                least = max(high[s] - strip - deepest, lowest - thickness)
                most = min(edge_low[s] + exposed - thickness, low[s] - strip + highest, top - thickness)
                held = level[s] < least or level[s] > most
                if least > most or (held and kind not in (BALANCED, GOAL)):
                    level[s] = np.nan
                else:
                    level[s] = min(max(level[s], least), most)
                result[p, 0, start + s] = level[s]
                result[p, 7, start + s] = 1.0 if held else 0.0
                wrong[s], slope[s] = 0.0, 0.0
            for i in range(inner):
                for s in range(count):
                    over = height[i, s] - strip - level[s]
                    wrong[s] += area[i] * max(over, 0.0)
                    slope[s] -= area[i] * min(over, 0.0)
            for s in range(count):
                allowed = level[s] == level[s]
                result[p, 1, start + s] = wrong[s] if allowed else np.nan
                result[p, 2, start + s] = slope[s] if allowed else np.nan
                result[p, 3, start + s], result[p, 4, start + s] = low[s], high[s]
                result[p, 5, start + s], result[p, 6, start + s] = edge_low[s], edge_high[s]


def _solve_with_numpy(  # noqa: PLR0917 -- as the kernel
    levels: FloatArray,
    near: IntArray,
    right: FloatArray,
    above: FloatArray,
    columns: int,
    area: FloatArray,
    first: IntArray,
    width: int,
    kind: int,
    numbers: FloatArray,
    result: FloatArray,
) -> None:
    """Fill ``result`` as `solve_many` does; the twin where nothing is compiled."""
    keep, bought, cut_weight, fill_weight, finish, thickness, strip, exposed, deepest, highest = numbers[:10]
    lowest, top, over_weight, short_weight, wall_weight, most_short, at_hand, most_over = numbers[10:]
    if not len(near):
        return
    ground = first[:, None, None] + np.arange(width)
    u, v, n = right[..., None], above[..., None], near[..., None]
    height = (
        (1 - u) * (1 - v) * levels[n, ground]
        + u * (1 - v) * levels[n + 1, ground]
        + (1 - u) * v * levels[n + columns, ground]
        + u * v * levels[n + columns + 1, ground]
    )
    low, high = height.min(axis=1), height.max(axis=1)
    edge_low, edge_high = height[:, len(area) :].min(axis=1), height[:, len(area) :].max(axis=1)
    stripped, share = height[:, : len(area)] - strip, area[:, None]
    whole = area.sum()
    bounded = kind == GOAL and most_short < np.inf
    wanted = bought if kind == BALANCED else at_hand + (most_short if bounded else 0.0)
    level = np.full(low.shape, finish - thickness)
    if kind == BALANCED or bounded:
        level = np.einsum("pkw,k->pw", stripped, area / whole)
        for _ in range(ROUNDS):
            over = stripped - level[:, None]
            weight = share * np.where(over > 0, keep, 1.0)
            move = (wanted + (weight * over).sum(axis=1)) / weight.sum(axis=1)
            level += move
            if np.abs(move).max() < 1e-9:
                break
    if kind == GOAL:
        bottom = np.minimum(low - strip, edge_low - thickness)
        roof = np.maximum(high - strip, edge_high - thickness) + wanted / whole
        if bounded:
            bottom, roof = np.minimum(bottom, level), level
        for _ in range(HALVINGS):
            level = (bottom + roof) / 2
            over = stripped - level[:, None]
            spare = at_hand + (share * np.where(over > 0, keep, 1.0) * over).sum(axis=1)
            dug = (share * (over > 0)).sum(axis=1)
            rise = fill_weight * (whole - dug) - cut_weight * dug
            rise += np.where(spare < 0, short_weight * (keep * dug + whole - dug), 0.0)
            rise -= np.where(spare > 0, over_weight * (dug + (whole - dug) / keep), 0.0)
            rise += np.where(2 * (level + thickness) > edge_low + edge_high, wall_weight, -wall_weight)
            raised = (rise < 0) | (spare > keep * most_over)
            bottom, roof = np.where(raised, level, bottom), np.where(raised, roof, level)
        level = roof if bounded else (bottom + roof) / 2
    elif kind in {FLUSH, FLUSH_LOW}:
        level = (edge_high if kind == FLUSH else edge_low) - thickness
    least = np.maximum(high - strip - deepest, lowest - thickness)
    most = np.minimum(np.minimum(edge_low + exposed - thickness, low - strip + highest), top - thickness)
    held = (level < least) | (level > most)
    wrong = (least > most) | (held & (kind not in {BALANCED, GOAL}))
    level = np.where(wrong, np.nan, np.minimum(np.maximum(level, least), most))
    over = stripped - level[:, None]
    cut, fill = (share * np.maximum(over, 0.0)).sum(axis=1), (share * np.maximum(-over, 0.0)).sum(axis=1)
    result[:] = np.stack([level, cut, fill, low, high, edge_low, edge_high, held], axis=1)
