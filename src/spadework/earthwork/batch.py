"""Formation, cut and fill of many poses of a pad."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np

from spadework.earthwork import kernel
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import ground_arrays, pad_arrays
from spadework.earthwork.best_level import best_level
from spadework.earthwork.parts import ConvexParts, convex_parts
from spadework.earthwork.pieces import Pieces, cut_out, local_poses
from spadework.earthwork.rule import LevelRule, PadLevels, Status
from spadework.earthwork.volumes import cut_fill, ground_range, level_for_balance, level_for_weights
from spadework.ground.surface import Ground
from spadework.pad import Pad
from spadework.readings import FloatArray, IntArray

__all__ = ["pad_levels_batch"]

MOST_WORKERS = 8
FEWEST_FOR_A_WORKER = 64
POSES_AT_A_TIME = 2_000


def pad_levels_batch(
    ground: Ground, pad: Pad, poses: FloatArray, rule: LevelRule, *, use_compiled: bool | None = None
) -> PadLevels:
    """Return the formation that the rule gives at each pose, with cut, fill and the ground there.

    Exact for plane triangles: nothing is sampled. The result of a pose does not depend on the poses beside it.

    Parameters
    ----------
    ground : Ground
    pad : Pad
        Retained edges: the sides of the digging are vertical. Its build-up and strip are taken into account.
    poses : array, shape (k, 3)
        Site east, north [m] and bearing, clockwise from north [deg], of the pad's origin.
    rule : LevelRule
    use_compiled : bool, optional
        Whether to use the compiled kernel; by default if there is one.

    Returns
    -------
    PadLevels
        With `Status` for each pose; no pose raises.
    """
    parts, local = convex_parts(pad.outline), local_poses(ground, poses)
    numbers = rule.numbers(pad.build_up.thickness, pad.strip, ground.datum)
    result = np.full((len(local), 11), np.nan)
    status = np.zeros(len(local), dtype=np.int64)
    if COMPILED if use_compiled is None else use_compiled:
        _compiled(ground, parts, local, rule.code, numbers, result, status)
    else:
        for i in range(0, len(local), POSES_AT_A_TIME):
            some = slice(i, i + POSES_AT_A_TIME)
            _batched(ground, parts, local[some], rule.code, numbers, result[some], status[some])
    result[:, [0, 4, 5, 6, 7, 8, 9, 10]] += ground.datum
    formation, cut, fill, area, mean, low, high, edge_low, edge_high, least, most = result.T
    finish = formation + pad.build_up.thickness
    return PadLevels(
        formation, finish, cut, fill, area, mean, low, high, edge_low, edge_high, least, most, status
    )  # fmt: skip


def _compiled(  # noqa: PLR0917 -- the arguments of the kernel, in its order
    ground: Ground,
    parts: ConvexParts,
    poses: FloatArray,
    kind: int,
    numbers: FloatArray,
    result: FloatArray,
    status: IntArray,
) -> None:
    arrays, shape = ground_arrays(ground), pad_arrays(parts)

    def work(some: slice) -> None:
        kernel.solve(arrays, shape, poses[some], kind, numbers, result[some], status[some])

    workers = max(min(cores(), MOST_WORKERS, len(poses) // FEWEST_FOR_A_WORKER), 1)
    if workers == 1:
        work(slice(None))
        return
    ends = np.linspace(0, len(poses), 4 * workers + 1).astype(int).tolist()
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, [slice(*pair) for pair in pairwise(ends)]))


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _batched(  # noqa: PLR0917 -- the arguments of the kernel, in its order
    ground: Ground,
    parts: ConvexParts,
    poses: FloatArray,
    kind: int,
    numbers: FloatArray,
    result: FloatArray,
    status: IntArray,
) -> None:
    """Fill ``result`` and ``status`` as `kernel.solve` does."""
    pieces = cut_out(ground, parts, poses)
    keep, bought, cut_weight, fill_weight, finish, thickness, strip, exposed, deepest, highest, lowest, top = numbers[
        :12
    ]
    area = pieces.sum(pieces.area)
    mean, low, high = (values - ground.datum for values in ground_range(pieces))
    covered = area >= parts.area * (1.0 - kernel.COVERED)
    least = np.maximum(high - strip - deepest, lowest - thickness)
    most = np.minimum(np.minimum(pieces.edge_low + exposed - thickness, low - strip + highest), top - thickness)
    possible = covered & (least <= most)
    status[:] = np.where(covered, np.where(possible, Status.ALLOWED, Status.LIMITS_CROSS), Status.NOT_COVERED)
    result[:, 3] = area
    shown = np.column_stack([mean, low, high, pieces.edge_low, pieces.edge_high, least, most])
    result[covered, 4:] = shown[covered]
    chosen = np.flatnonzero(possible)
    if not len(chosen):
        return
    some = _only(pieces, chosen)
    if kind == kernel.BALANCED:
        level = level_for_balance(some, keep, strip, bought) - ground.datum
    elif kind == kernel.WEIGHTS:
        level = level_for_weights(some, cut_weight, fill_weight, strip) - ground.datum
    elif kind == kernel.FIXED:
        level = np.full(len(chosen), finish - thickness)
    elif kind == kernel.GOAL:
        level = best_level(some, numbers, least[chosen], most[chosen])
    else:
        level = (some.edge_high if kind == kernel.FLUSH else some.edge_low) - thickness
    if kind in {kernel.BALANCED, kernel.WEIGHTS, kernel.GOAL}:
        level = np.minimum(np.maximum(level, least[chosen]), most[chosen])
    else:
        outside = (level < least[chosen] - 1e-9) | (level > most[chosen] + 1e-9)
        status[chosen[outside]] = Status.OUTSIDE_LIMITS
    cut, fill = cut_fill(some, level + ground.datum, strip)
    result[chosen, 0], result[chosen, 1], result[chosen, 2] = level, cut, fill


def _only(pieces: Pieces, chosen: IntArray) -> Pieces:
    """Return the pieces of some poses, numbered anew."""
    number = np.full(len(pieces), -1)
    number[chosen] = np.arange(len(chosen))
    pose = number[pieces.pose]
    keep = pose >= 0
    return Pieces(
        pieces.area[keep],
        pieces.height[keep],
        pose[keep],
        pieces.edge_low[chosen],
        pieces.edge_high[chosen],
        pieces.datum,
    )
