"""Formation, cut and fill of many poses of a pad with banks."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.earthwork.arrays import GroundArrays, PadArrays, ground_arrays, pad_arrays
from spadework.earthwork.bank_arrays import BankArrays, bank_arrays
from spadework.earthwork.bank_levels_kernel import WIDER, solve_banked
from spadework.earthwork.bank_shape import bank_shape
from spadework.earthwork.batch import FEWEST_FOR_A_WORKER, MOST_WORKERS, cores
from spadework.earthwork.parts import convex_parts
from spadework.earthwork.pieces import local_poses
from spadework.earthwork.rule import LevelRule, PadLevels, Status
from spadework.errors import PlacementError
from spadework.ground.surface import Ground
from spadework.pad import Pad
from spadework.readings import FloatArray, IntArray

__all__ = ["BankedLevels", "banked_levels_batch", "reach_for", "slopes_of"]

LEAST_REACH = 0.5
MOST_DOUBLED = 12


@dataclass(frozen=True)
class BankedLevels:
    """Formation, volumes and ground of many poses of one pad with banks.

    Parameters
    ----------
    levels : PadLevels
        Cut and fill with the banks; everything else is that of the pad.
    cut_area, fill_area : array, shape (k,)
        Plan area that cut banks and fill banks take beyond the pad. [m²]
    """

    levels: PadLevels
    cut_area: FloatArray
    fill_area: FloatArray


@dataclass(frozen=True)
class _Problem:
    """What the kernel takes besides the poses."""

    ground: GroundArrays
    pad: PadArrays
    bank: BankArrays
    kind: int
    numbers: FloatArray
    turf: float
    ends: FloatArray

    def solved(self, poses: FloatArray) -> tuple[FloatArray, IntArray]:
        """Return result and status of the kernel, on all cores."""
        result, status = np.full((len(poses), 13), np.nan), np.zeros(len(poses), dtype=np.int64)

        def work(some: slice) -> None:
            solve_banked(
                self.ground,
                self.pad,
                self.bank,
                poses[some],
                self.kind,
                self.numbers,
                self.turf,
                self.ends,
                result[some],
                status[some],
            )

        workers = max(min(cores(), MOST_WORKERS, len(poses) // FEWEST_FOR_A_WORKER), 1)
        if workers == 1:
            work(slice(None))
            return result, status
        marks = np.linspace(0, len(poses), 4 * workers + 1).astype(int).tolist()
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(work, [slice(*pair) for pair in pairwise(marks)]))
        return result, status


def slopes_of(pad: Pad) -> tuple[float, float]:
    """Return the slopes of cut and of fill of a pad with banks.

    Raises
    ------
    PlacementError
        If the edge has none.
    """
    slopes = pad.edge.cut_slope, pad.edge.fill_slope
    if not all(0 < slope < math.inf for slope in slopes):
        raise PlacementError(
            f"The edge is a bank with slopes of {slopes[0]:g} in cut and {slopes[1]:g} in fill: give both, such as "
            'edge = { kind = "bank", cut = "1:1.5", fill = "1:2" }.'
        )
    return slopes


def reach_for(ground: Ground, pad: Pad) -> float:
    """Return how far the banks of a formation between the lowest and the highest ground can reach. [m]

    Rounded up to a power of the root of two, so that grounds much alike share one shape.
    """
    relief = float(ground.level.max() - ground.level.min())
    wanted = max((1.02 * relief + 0.1) / min(slopes_of(pad)), LEAST_REACH)
    return float(2.0 ** (math.ceil(2.0 * math.log2(wanted)) / 2.0))


def banked_levels_batch(
    ground: Ground,
    pad: Pad,
    poses: FloatArray,
    rule: LevelRule,
    *,
    turf: float = 0.0,
    land: FloatArray | None = None,
) -> BankedLevels:
    """Return the formation that the rule gives at each pose, with cut and fill, banks included.

    Exact on plane triangles: in closed form with mitred and with round corners. The banks are taken to run out to
    where the ground is first met; where it is as steep as they are and would be met again, `Status.TOO_STEEP` says so.
    Without a compiler the same loops run uncompiled, some hundred times slower.

    Parameters
    ----------
    ground : Ground
    pad : Pad
        With an edge that is a bank.
    poses : array, shape (k, 3)
        Site east, north [m] and bearing [deg] of the pad's origin.
    rule : LevelRule
        Kind ``"goal"``, ``"fixed"``, ``"flush"`` or ``"flush-low"``; the exposed edge and the wall are left out.
    turf : float
        What a square metre of turf under the banks adds to the value of a goal. [1/m²]
    land : array, shape (r, 6), optional
        What the banks must not touch, as `land_stretches` gives it. [m]

    Returns
    -------
    BankedLevels
        No pose raises.

    Raises
    ------
    PlacementError
        If the edge has no slopes.
    """
    local = local_poses(ground, poses)
    numbers = rule.numbers(pad.build_up.thickness, pad.strip, ground.datum)
    slopes, parts = slopes_of(pad), pad_arrays(convex_parts(pad.outline))
    ends = np.array([ground.height.min(), ground.height.max()])
    result, status = np.full((len(local), 13), np.nan), np.full(len(local), WIDER, dtype=np.int64)
    reach = reach_for(ground, pad)
    for _ in range(MOST_DOUBLED):
        rows = np.flatnonzero(status == WIDER)
        if len(rows) == 0:
            break
        bank = bank_arrays(bank_shape(pad, reach), pad.outline, slopes, land)
        problem = _Problem(ground_arrays(ground), parts, bank, rule.code, numbers, turf, ends)
        result[rows], status[rows] = problem.solved(np.ascontiguousarray(local[rows]))
        reach *= 2.0
    status[status == WIDER] = Status.NO_ROOM
    result[:, [0, 4, 5, 6, 7, 8, 9, 10]] += ground.datum
    formation, cut, fill, area, mean, low, high, edge_low, edge_high, least, most, cut_area, fill_area = result.T
    finish = formation + pad.build_up.thickness
    levels = PadLevels(
        formation, finish, cut, fill, area, mean, low, high, edge_low, edge_high, least, most, status
    )  # fmt: skip
    return BankedLevels(levels, cut_area, fill_area)
