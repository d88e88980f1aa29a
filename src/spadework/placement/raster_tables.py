"""Masks, bounds and limits of a scan as the plain tables that its kernels read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from spadework.placement.raster_boxes import SIZES, box_sizes, boxes_of
from spadework.placement.raster_frame import STEP, Lattice
from spadework.placement.raster_goal import LevelCost, bound_factors
from spadework.placement.raster_masks import PadMasks, Runs
from spadework.readings import FloatArray, IntArray

__all__ = ["HeightLimits", "MaskTables", "ScanTables", "mask_tables", "scan_tables"]


@dataclass(frozen=True, slots=True)
class HeightLimits:
    """What the ground under the pad must keep, looked at in the cells under it.

    Parameters
    ----------
    cut_depth, fill_depth : float
        Greatest depth of cut and of fill. [m]
    fall : float
        Greatest difference between the highest and the lowest cell. [m]
    slope : float
        Greatest slope of the plane that fits the cells best, rise over run.
    """

    cut_depth: float = float("inf")
    fill_depth: float = float("inf")
    fall: float = float("inf")
    slope: float = float("inf")

    @property
    def numbers(self) -> FloatArray:
        """The same for kernels, heights in steps, shape (4,)."""
        return np.array([self.cut_depth / STEP, self.fill_depth / STEP, self.fall / STEP, self.slope / STEP])


class MaskTables(NamedTuple):
    """Several sets of cells behind one another; set s has runs ``run_start[s]:run_start[s + 1]``, and so on.

    Its boxes of the k-th size are ``box_start[s, k]:box_start[s, k + 1]``, see `raster_boxes`.
    ``factor`` has n + 1 numbers for a set of n cells, see `raster_goal.bound_factors`. ``scale`` turns steps summed up
    over its cells into cubic metres that no pad with these cells falls short of; ``slope_east`` and ``slope_north`` are
    the weights by which the levels of a set's cells add up to the slope of the plane that fits best. [1/m] ``reads`` is
    how many levels and sums a bound of one position reads.
    """

    run_start: IntArray
    run_row: IntArray
    run_first: IntArray
    run_past: IntArray
    cell_start: IntArray
    cell_row: IntArray
    cell_column: IntArray
    box_start: IntArray
    box_row: IntArray
    box_column: IntArray
    slope_east: FloatArray
    slope_north: FloatArray
    factor_start: IntArray
    factor: FloatArray
    least_factor: FloatArray
    scale: FloatArray
    counted: IntArray
    reads: IntArray


@dataclass(frozen=True)
class ScanTables:
    """All that a kernel needs besides the levels.

    Parameters
    ----------
    under : MaskTables
        A set for each bearing, exact: its scale is that of the pad itself.
    cells : MaskTables
        The same, with the cells themselves for boxes, and all of them counted: bounds from these are the best.
    cores : MaskTables
        A set common to all bearings, then those of groups.
    member_start, member : array of int
        The bearings' numbers of each group.
    touched, corners : MaskTables
        Cells that must not be kept out, and cells that must have a level.
    cost, limits : array of float
        As in `LevelCost.numbers` and `HeightLimits.numbers`.
    """

    under: MaskTables
    cells: MaskTables
    cores: MaskTables
    member_start: IntArray
    member: IntArray
    touched: MaskTables
    corners: MaskTables
    cost: FloatArray
    limits: FloatArray

    @property
    def sizes(self) -> int:
        """How many sizes of boxes are used."""
        used = np.diff(np.vstack([self.under.box_start, self.cores.box_start]), axis=1) > 0
        return int(np.max(np.nonzero(used.any(axis=0))[0], initial=0)) + 1


def scan_tables(masks: PadMasks, lattice: Lattice, cost: LevelCost, limits: HeightLimits) -> ScanTables:
    """Return the tables of a scan.

    Parameters
    ----------
    masks : PadMasks
        Cells at each bearing.
    lattice : Lattice
        The raster.
    cost : LevelCost
        The goal.
    limits : HeightLimits
        Limits on heights and slope.
    """
    counts = np.array([runs.count for runs in masks.under])
    scales = STEP * masks.area / np.maximum(counts, 1)
    # The ground under a part of the pad costs no more than that under the whole of it; which cells weigh least of all
    # depends on the bearing.
    shared = [float(scales[number].min()) for _, number in masks.groups]
    under = mask_tables(masks.under, lattice, cost, scales)
    every = np.minimum(np.arange(len(SIZES) + 1), 1)
    return ScanTables(
        under=under,
        cells=under._replace(
            counted=np.ones_like(under.counted),
            box_start=under.cell_start[:-1, None] + np.diff(under.cell_start)[:, None] * every,
            box_row=under.cell_row,
            box_column=under.cell_column,
        ),
        cores=mask_tables([runs for runs, _ in masks.groups], lattice, cost, shared),
        member_start=np.cumsum([0, *(len(number) for _, number in masks.groups)]),
        member=np.concatenate([number for _, number in masks.groups]),
        touched=mask_tables(masks.touched, lattice, cost, scales),
        corners=mask_tables(masks.corners, lattice, cost, scales),
        cost=cost.numbers,
        limits=limits.numbers,
    )


def mask_tables(
    sets: Sequence[Runs], lattice: Lattice, cost: LevelCost, scales: Sequence[float] | FloatArray
) -> MaskTables:
    """Return the tables of several sets of cells.

    Parameters
    ----------
    sets : sequence of Runs
        The sets.
    lattice : Lattice
        The raster.
    cost : LevelCost
        The goal.
    scales : sequence of float
        Cubic metres for a step of one cell. [m³]
    """
    cells = [runs.cells() for runs in sets]
    boxes = [boxes_of(row, column, SIZES[: box_sizes(len(row))]) for row, column in cells]
    factors = [bound_factors(cost, len(row)) for row, _ in cells]
    slopes = [_slope_weights(lattice, row, column) for row, column in cells]
    worth = [len(parts) > 1 or _worth_counting(factor) for factor, parts in zip(factors, boxes, strict=True)]
    counted = np.array(worth, dtype=np.int64)
    starts = _starts(boxes)
    looks = (starts[:, -1] - starts[:, 0]) * (1 + counted)
    return MaskTables(
        run_start=np.cumsum([0, *(len(runs.row) for runs in sets)]),
        run_row=_joined([runs.row for runs in sets]),
        run_first=_joined([runs.first for runs in sets]),
        run_past=_joined([runs.past for runs in sets]),
        cell_start=np.cumsum([0, *(len(row) for row, _ in cells)]),
        cell_row=_joined([row for row, _ in cells]),
        cell_column=_joined([column for _, column in cells]),
        box_start=starts,
        box_row=_joined([rows for parts in boxes for rows, _ in parts]),
        box_column=_joined([columns for parts in boxes for _, columns in parts]),
        slope_east=np.concatenate([weights[0] for weights in slopes]),
        slope_north=np.concatenate([weights[1] for weights in slopes]),
        factor_start=np.cumsum([0, *(len(factor) for factor in factors)]),
        factor=np.concatenate(factors),
        least_factor=np.array([float(factor[1:-1].min()) if len(factor) > 2 else 0.0 for factor in factors]),
        scale=np.asarray(scales, dtype=np.float64),
        counted=counted,
        reads=looks + 2 * np.array([len(runs.row) for runs in sets], dtype=np.int64),
    )


def _starts(boxes: Sequence[Sequence[tuple[IntArray, IntArray]]]) -> IntArray:
    """Return where the boxes of each set and size begin, and end, shape (sets, sizes + 1)."""
    counts = np.zeros((len(boxes), len(SIZES)), dtype=np.int64)
    for number, parts in enumerate(boxes):
        counts[number, : len(parts)] = [len(rows) for rows, _ in parts]
    past = np.cumsum(counts.ravel()).reshape(counts.shape)
    return np.column_stack([past[:, 0] - counts[:, 0], past])


def _joined(parts: Sequence[IntArray]) -> IntArray:
    return np.concatenate(parts).astype(np.int64)


def _worth_counting(factor: FloatArray) -> bool:
    """Tell whether knowing how many cells lie above the mean level makes the bound much better."""
    return len(factor) > 2 and bool(factor[1:-1].min() < 0.8 * factor[len(factor) // 2])


def _slope_weights(lattice: Lattice, row: IntArray, column: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the weights of least squares for the slope of a plane to east and to north; zero on one line. [1/m]"""
    zero = np.zeros(len(row))
    if len(row) < 3:
        return zero, zero
    place = lattice.offsets(row.astype(np.float64), column.astype(np.float64))
    place -= place.mean(axis=0)
    moments = place.T @ place
    if np.linalg.det(moments) <= 1e-12 * np.trace(moments) ** 2:
        return zero, zero
    weights = np.linalg.solve(moments, place.T)
    return weights[0], weights[1]
