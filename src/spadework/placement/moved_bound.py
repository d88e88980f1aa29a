"""A bound of the barrowing over a box of placements, from prices of the pad's cells.

At the middle of the box prices ``φ`` are chosen from those that are known, and their zero so that
``S = Σ φ_i (k A⁺_i + A⁻_i) = 0``, with ``A⁺, A⁻`` the areas of a cell that are dug and made up there. For any pose
``Moved >= Σ φ_i m_i - p``, where ``p`` is what soil over or short may take off. What a cell has to spare is
``m = ∫ g(d)``, ``d`` the height of the ground above the formation and ``g(d) = k d`` where it is dug, ``d`` where it is
made up. With the areas held fixed, ``G = Σ φ_i (k ∫_{A⁺} d + ∫_{A⁻} d)`` is linear in the ground and, since ``S = 0``,
does not know of the level. It differs from ``Σ φ_i m_i`` only where dug and made up change places, by no more than
``|1 - k| |φ_i| δ`` for each square metre of cells within ``δ`` of the formation, and only where ``φ_i (1 - k) > 0``;
``δ`` is as far as ``d`` may move.

How far ``G`` may fall is what `bound_kernel` says of digging, with ``φ`` for its weights. With ``g`` the mean rise of
the ground swept, ``D`` the farthest that a point of the pad moves, ``d`` the half turn and ``α = ∫ s q``: no more than
``2 |g| |α| sin(d / 2) + s D ∫ |∇z - g|`` (first order), nor than ``|∂G| Δ + d² (|g| |α| + s ρ ∫ |∇z - g|) / 2 +
Σ s |J| ∫ (v n)² dl / 2`` (second order), where edges bend the slope by ``J``, the pad crosses them with ``v n``, and
``s`` is the largest weight of the sign that counts.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.earthwork import kernel
from spadework.earthwork.arrays import GroundArrays, PadArrays
from spadework.earthwork.cell_kernel import TURN, measure_cells
from spadework.earthwork.cells import PadCells
from spadework.placement.carrying import BALANCED, Carrying
from spadework.placement.limits import BoolArray
from spadework.placement.mesh import Mesh
from spadework.placement.moved_kernel import swept_ground
from spadework.placement.objective import Objective
from spadework.readings import FloatArray

__all__ = ["BoxBarrowing", "MovedBound"]

SOME = 256
"""Boxes worked on at once."""
MOST_WORKERS = 8
NEXT = 3
"""Prices that are tried on a box: those of the highest value at its middle."""


@dataclass(frozen=True)
class BoxBarrowing:
    """What is known of the barrowing in boxes, k of them.

    Parameters
    ----------
    lower : array, shape (k,)
        No pose of the box has less. [m]
    middle : array, shape (k,)
        What the prices say of its middle, without the box: as high as the bound can become. [m]
    """

    lower: FloatArray
    middle: FloatArray


@dataclass(frozen=True, eq=False)
class MovedBound:
    """Bounds of barrowing over boxes of poses.

    Parameters
    ----------
    objective : Objective
        With its carrying.
    mesh : Mesh
        The ground, carried on.
    pad : PadArrays
        Convex parts of the pad.
    cells : PadCells
        Its cells, about the same origin as ``pad``.
    """

    objective: Objective
    mesh: Mesh
    pad: PadArrays
    cells: PadCells

    @property
    def carrying(self) -> Carrying:
        """The barrowing at a pose."""
        assert self.objective.carrying is not None  # noqa: S101 -- the search refuses such a goal without
        return self.objective.carrying

    def of(self, boxes: FloatArray) -> BoxBarrowing:
        """Return the bounds of boxes.

        Parameters
        ----------
        boxes : array, shape (k, 6)
            Local east and north [m] and bearing [rad] of the middle, half widths of the same.
        """
        lower, middle = np.zeros(len(boxes)), np.zeros(len(boxes))
        prices = np.array(self.carrying.prices).reshape(-1, len(self.cells))

        def work(some: slice) -> None:
            lower[some], middle[some] = self._some(boxes[some], prices)

        ends = np.append(np.arange(0, len(boxes), SOME), len(boxes)).tolist()
        with ThreadPoolExecutor(max(min(_cores(), MOST_WORKERS), 1)) as pool:
            list(pool.map(work, [slice(*pair) for pair in pairwise(ends)]))
        return BoxBarrowing(lower, middle)

    def _some(self, boxes: FloatArray, prices: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return bounds and values at the middle of a few boxes. [m]"""
        count, objective, cells = len(boxes), self.objective, self.cells
        keep = objective.keep
        poses = np.column_stack([boxes[:, :2], np.sin(boxes[:, 2]), np.cos(boxes[:, 2])])
        level, spare_room = self._levels(poses)
        swept = self._swept(boxes, poses)
        known = np.isfinite(level) & self._within_hull(poses, swept)
        ground = np.zeros((count, 7))
        swept_ground(self.mesh, poses, np.column_stack([poses[:, 2:], boxes[:, 3:]]), swept, ground)
        soil = np.zeros((count, len(cells), 2, 7))
        tables = GroundArrays(*self.mesh[:11])
        measure_cells(tables, cells.pieces, poses, np.where(known, level, 0.0), soil)
        known &= soil[..., 0].sum(axis=(1, 2)) >= self.pad.area * (1.0 - 1e-7)
        spare = keep * soil[:, :, 0, 1] + soil[:, :, 1, 1] + keep * objective.reserve * cells.rim
        pull = keep * soil[:, :, 0, 0] + soil[:, :, 1, 0]
        net = spare.sum(axis=1)
        moves = self._moves(boxes, ground)
        low, high, never = self._net(net, moves, spare_room)
        value, zero = np.empty((count, len(prices) + 1)), np.empty((count, len(prices) + 1))
        zero[:, :-1] = (pull @ prices.T) / pull.sum(axis=1, keepdims=True)
        value[:, :-1] = spare @ prices.T - zero[:, :-1] * net[:, None]
        value[:, :-1] -= self._taken(prices, zero[:, :-1], low, high)
        moment = spare @ cells.centre
        unit = moment / np.maximum(np.hypot(*moment.T), 1e-300)[:, None]
        plane = unit @ cells.centre.T
        zero[:, -1] = (pull * plane).sum(axis=1) / pull.sum(axis=1)
        value[:, -1] = (spare * plane).sum(axis=1) - zero[:, -1] * net
        value[:, -1] -= self._taken_of(plane - zero[:, -1:], low, high)
        lower, rows = np.zeros(count), np.arange(count)
        table = np.vstack([prices, np.zeros(len(cells))])
        for chosen in np.argsort(-value, axis=1, kind="stable")[:, :NEXT].T:
            price = np.where((chosen == len(prices))[:, None], plane, table[chosen]) - zero[rows, chosen][:, None]
            fall = self._fall(price, soil, boxes, ground) + self._bent(price, soil, ground, moves)
            lower = np.maximum(lower, value[rows, chosen] - fall)
        loads = self.carrying.carrier.loads
        middle = np.where(known, np.maximum(value.max(axis=1), 0.0), 0.0)
        return np.where(known, np.where(never, np.inf, lower * loads), 0.0), middle * loads

    def _levels(self, poses: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the formation at the middle of boxes, strip added, above the datum; NaN where no ground is.

        And by how much no limit holds it there. Where the limits cross, one of them is kept: the level still goes with
        the ground, and poses of the box that have a level have that one.
        """
        objective = self.objective
        rule, strip = objective.rule(), objective.pad.strip
        numbers = rule.numbers(objective.pad.build_up.thickness, strip, objective.ground.datum)
        tables = GroundArrays(*self.mesh[:11])
        free = numbers.copy()
        free[7:12] = np.inf, np.inf, np.inf, -np.inf, np.inf
        found = []
        for some in (numbers, free):
            result, status = np.full((len(poses), 11), np.nan), np.zeros(len(poses), dtype=np.int64)
            kernel.solve(tables, self.pad, poses, rule.code, some, result, status)
            found.append(result)
        level, least, most = found[1][:, 0], found[0][:, 9], found[0][:, 10]
        room = np.minimum(level - least, most - level)
        if objective.limits.finish.kind == "free":
            level = np.minimum(np.maximum(level, least), most)
        return level + strip, room

    def _swept(self, boxes: FloatArray, poses: FloatArray) -> FloatArray:
        """Return the rectangle of the pad's frame that the pad stays in within each box, shape (k, 4). [m]"""
        a, b, turn = boxes[:, 3], boxes[:, 4], np.minimum(boxes[:, 5], 0.5 * np.pi)
        sine, cosine = np.abs(poses[:, 2]), np.abs(poses[:, 3])
        shift_u, shift_v = a * sine + b * cosine, a * cosine + b * sine
        low, high = self.pad.corners.min(axis=0), self.pad.corners.max(axis=0)
        wide_u, wide_v = np.maximum(np.abs(low), np.abs(high))
        less, more = np.cos(turn), np.sin(turn)
        return np.column_stack(
            [
                np.minimum(low[0], low[0] * less) - shift_u - wide_v * more,
                np.maximum(high[0], high[0] * less) + shift_u + wide_v * more,
                np.minimum(low[1], low[1] * less) - shift_v - wide_u * more,
                np.maximum(high[1], high[1] * less) + shift_v + wide_u * more,
            ]
        )

    def _within_hull(self, poses: FloatArray, swept: FloatArray) -> BoolArray:
        """Tell which swept rectangles lie on the ground as it was carried on."""
        sine, cosine = poses[:, 2], poses[:, 3]
        within = np.ones(len(poses), dtype=np.bool_)
        for u, v in ((0, 2), (0, 3), (1, 2), (1, 3)):
            east = poses[:, 0] + swept[:, u] * sine + swept[:, v] * cosine
            north = poses[:, 1] + swept[:, u] * cosine - swept[:, v] * sine
            within &= (np.column_stack([east, north]) @ self.mesh.hull[:, :2].T <= self.mesh.hull[:, 2]).all(axis=1)
        return within

    def _moves(self, boxes: FloatArray, ground: FloatArray) -> FloatArray:
        """Return how far the ground above the formation may move anywhere under the pad, shape (k,). [m]

        Where the level goes with the ground, what the whole pad rises or falls by takes it along.
        """
        shift = np.hypot(boxes[:, 3], boxes[:, 4]) + boxes[:, 5] * self.pad.reach
        finish = self.objective.limits.finish
        if finish.kind == "fixed" or finish.lowest is not None or finish.highest is not None:
            moved: FloatArray = (1.0 if finish.kind == "fixed" else 2.0) * ground[:, 4] * shift
            return moved
        steep, half_turn = np.hypot(ground[:, 0], ground[:, 1]), np.minimum(boxes[:, 5], np.pi) / 2
        turned = steep * self.pad.reach * 2.0 * np.sin(half_turn)
        with_level: FloatArray = 2.0 * (ground[:, 3] * shift + turned)
        return with_level

    def _net(self, net: FloatArray, moves: FloatArray, room: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Return between what the soil over lies in each box, below zero where it is short, and where none is allowed.

        Where digging alone sets the level and no limit comes near it, nothing is over or short but what may be bought.
        """
        objective, goal = self.objective, self.objective.goal.without_moved
        bought, carted = objective.most_bought + 1e-6, objective.limits.carted
        change = max(objective.keep, 1.0) * self.pad.area * moves
        low, high = net - change, net + change
        never = high < -bought
        if carted is not None:
            never |= low > objective.keep * carted + 1e-6
            high = np.minimum(high, objective.keep * carted + 1e-6)
        low = np.maximum(low, -bought)
        plain = not goal.buys and goal.cut > 0 and goal.fill == goal.wall == 0
        if objective.limits.finish.kind == "free" and plain:
            held = room <= moves
            low = np.where(held, low, -objective.most_bought)
            high = np.where(held, high, 0.0)
        return low, np.maximum(low, high), never

    def _taken(self, prices: FloatArray, zero: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return what soil over or short may take off, shape (k, p). [m³ m]"""
        away, near = self.cells.away, np.hypot(*(self.cells.centre - self._middle).T)
        gap = self.carrying.carrier.clear
        return _taken(
            (prices - away).max(axis=1) - gap - zero,
            (prices + away).min(axis=1) + gap - zero,
            (prices - near).max(axis=1) - zero,
            (prices + near).min(axis=1) - zero,
            low[:, None],
            high[:, None],
        )

    def _taken_of(self, price: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Return the same where every box has prices of its own, shape (k, n) to (k,)."""
        away, near = self.cells.away, np.hypot(*(self.cells.centre - self._middle).T)
        gap = self.carrying.carrier.clear
        return _taken(
            (price - away).max(axis=1) - gap,
            (price + away).min(axis=1) + gap,
            (price - near).max(axis=1),
            (price + near).min(axis=1),
            low,
            high,
        )

    @property
    def _middle(self) -> FloatArray:
        """The pad's own origin in the frame of the cells."""
        middle: FloatArray = self.cells.centre[0] - self.carrying.cells.centre[0]
        return middle

    def _fall(self, price: FloatArray, soil: FloatArray, boxes: FloatArray, ground: FloatArray) -> FloatArray:
        """Return how far ``G`` may fall within each box, shape (k,). [m³ m]"""
        keep, reach = self.objective.keep, self.pad.reach
        sums = np.einsum("kn,s,knsq->kq", price, np.array([keep, 1.0]), soil[..., 2 : TURN + 1])
        arm = np.hypot(sums[:, 0], sums[:, 1])
        largest = np.abs(price).max(axis=1) * max(keep, 1.0)
        sine, cosine = np.sin(boxes[:, 2]), np.cos(boxes[:, 2])
        slope = (sums[:, 2] * sine + sums[:, 3] * cosine, sums[:, 2] * cosine - sums[:, 3] * sine, sums[:, 4])
        a, b, d = boxes[:, 3], boxes[:, 4], boxes[:, 5]
        steep, rest = np.hypot(ground[:, 0], ground[:, 1]), ground[:, 2]
        # Only a valley under prices below zero takes anything off, or a ridge under prices above.
        most, least = (np.maximum(sign * price, 0.0).max(axis=1) * max(keep, 1.0) for sign in (1.0, -1.0))
        bends = least * ground[:, 5] + most * ground[:, 6]
        shift = np.hypot(a, b) + d * reach
        first = 2.0 * steep * arm * np.sin(np.minimum(d, np.pi) / 2) + largest * shift * rest
        second = np.abs(slope[0]) * a + np.abs(slope[1]) * b + np.abs(slope[2]) * d
        second += 0.5 * d * d * (steep * arm + largest * reach * rest) + 0.5 * bends
        fall: FloatArray = np.minimum(first, second)
        return fall

    def _bent(self, price: FloatArray, soil: FloatArray, ground: FloatArray, moves: FloatArray) -> FloatArray:
        """Return what dug and made up may differ by where they change places within each box, shape (k,). [m³ m]"""
        keep = self.objective.keep
        if keep == 1.0:
            return np.zeros(len(price))
        side = np.maximum(price, 0.0) if keep < 1.0 else np.maximum(-price, 0.0)
        area = soil[..., 0].sum(axis=2)
        mean = np.abs(soil[..., 1].sum(axis=2)) / np.maximum(area, 1e-12)
        # Within a cell the ground lies no farther from its mean than the cell is wide.
        spread = (ground[:, 4] * np.sqrt(2.0) * self.cells.size)[:, None]
        mixed = (soil[..., 0].min(axis=2) > 0.0) | (mean <= moves[:, None] + spread)
        bent: FloatArray = abs(1.0 - keep) * moves * (side * np.where(mixed, area, 0.0)).sum(axis=1)
        return bent


def _taken(  # noqa: PLR0917 -- the ends of what soil may count
    most: FloatArray,
    least: FloatArray,
    most_near: FloatArray,
    least_near: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Return what soil over or short may take off, with prices between these ends. [m³ m]"""
    over, short = np.maximum(high, 0.0), np.maximum(-low, 0.0)
    # A little soil, which makes no heap, is counted to the middle.
    up = np.maximum(most, 0.0) * over + np.maximum(most_near, 0.0) * np.minimum(over, BALANCED)
    down = np.maximum(-least, 0.0) * short + np.maximum(-least_near, 0.0) * np.minimum(short, BALANCED)
    # Where there is soil over at every pose, or short at every pose, what carrying it asks for counts for the bound.
    sure = np.minimum(most, 0.0) * np.where(low > BALANCED, low, 0.0)
    sure += np.minimum(-least, 0.0) * np.where(high < -BALANCED, -high, 0.0)
    taken: FloatArray = np.maximum(up, down) + sure
    return taken


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
