"""Lower bounds of many boxes of placements, on all cores, by the kernel that the rule needs."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np

from spadework.earthwork.arrays import PadArrays
from spadework.placement.bound_kernel import bound_boxes
from spadework.placement.bound_plain import bound_plain
from spadework.placement.bound_rule import is_bare
from spadework.placement.bound_slope import least_slopes
from spadework.placement.mesh import Mesh
from spadework.readings import FloatArray

__all__ = ["box_bounds", "halves", "slope_bounds"]

MOST_WORKERS = 8
TURN = 1.5
"""What a turn counts against a shift where the longest side of a box is looked for: it moves corners and folds both."""


def box_bounds(  # noqa: PLR0917 -- as the kernel takes it
    mesh: Mesh,
    pad: PadArrays,
    boxes: FloatArray,
    rule: FloatArray,
    ways: int = 7,
    enough: float = math.inf,
) -> FloatArray:
    """Return lower bound and centre value of many boxes, on all cores.

    By `bound_plain`, which is quicker and compiled sooner, where the rule allows it, else by `bound_boxes`.

    Parameters
    ----------
    mesh : Mesh
        The ground, carried on.
    pad : PadArrays
        Convex parts of the pad.
    boxes : array, shape (k, 6)
        As in `bound_boxes`.
    rule : array, shape (20,)
        As in `bound_boxes`.
    ways : int
        As in `bound_boxes`.
    enough : float
        As in `bound_boxes`.

    Returns
    -------
    array, shape (k, 3)
    """
    result = np.empty((len(boxes), 3))
    kernel = bound_plain if is_bare(rule) else bound_boxes

    def work(some: slice) -> None:
        kernel(mesh, pad, boxes[some], rule, ways, enough, result[some])

    _on_all_cores(work, len(boxes))
    return result


def slope_bounds(mesh: Mesh, pad: PadArrays, boxes: FloatArray) -> FloatArray:
    """Return a lower bound of the slope of the ground under the pad in many boxes, and the work it took, on all cores.

    Parameters
    ----------
    mesh, pad, boxes
        As in `box_bounds`.

    Returns
    -------
    array, shape (k, 2)
        Rise over run, nothing where no bound is known; triangles looked at.
    """
    result = np.empty((len(boxes), 2))
    _on_all_cores(lambda some: least_slopes(mesh, pad, boxes[some], result[some]), len(boxes))
    return result


def _on_all_cores(work: Callable[[slice], None], count: int) -> None:
    """Do work on slices of so many rows, on all cores."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    workers = max(min(cores, MOST_WORKERS, count // 64), 1)
    if workers == 1:
        work(slice(None))
        return
    ends = np.linspace(0, count, 4 * workers + 1).astype(int).tolist()
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, [slice(*pair) for pair in pairwise(ends)]))


def halves(boxes: FloatArray, reach: float) -> FloatArray:
    """Return both halves of boxes, cut across the side that moves the pad most: first all the one, then the other.

    Parameters
    ----------
    boxes : array, shape (k, 6)
        As in `bound_boxes`.
    reach : float
        Greatest distance of a point of the pad from its origin. [m]

    Returns
    -------
    array, shape (2 k, 6)
    """
    axis, row = np.argmax(boxes[:, 3:] * np.array([1.0, 1.0, TURN * reach]), axis=1), np.arange(len(boxes))
    less = boxes.copy()
    less[row, 3 + axis] *= 0.5
    more = less.copy()
    less[row, axis] -= less[row, 3 + axis]
    more[row, axis] += more[row, 3 + axis]
    return np.vstack([less, more])
