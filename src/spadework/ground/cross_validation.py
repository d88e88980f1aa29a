"""Triangles or a smooth ground: each shot is left out in turn, and both are asked for its level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.ground.process import GroundProcess
from spadework.ground.process_fit import one_thread
from spadework.ground.surface import Ground
from spadework.readings import FloatArray

__all__ = ["CrossValidation", "compare_surfaces", "triangles_left_out"]

CLEARLY = 0.9
"""The smooth ground is taken where its errors are less than this share of those of the triangles: a judgement."""
FEWEST_COMPARED = 8
INSIDE = -1e-9


@dataclass(frozen=True, slots=True)
class CrossValidation:
    """How far triangles and the smooth ground are from shots that they have not seen.

    Parameters
    ----------
    triangles, smooth : float
        Root mean square error of each. [m]
    count : int
        Shots that both could be asked for: those inside the outline of the others.
    """

    triangles: float
    smooth: float
    count: int

    @property
    def prefers(self) -> str:
        """``"smooth"`` where it is clearly nearer, else ``"triangles"``."""
        enough = self.count >= FEWEST_COMPARED
        return "smooth" if enough and self.smooth < CLEARLY * self.triangles else "triangles"


def compare_surfaces(ground: Ground, process: GroundProcess) -> CrossValidation:
    """Return how triangles and a process fare at each shot, left out in turn.

    Parameters
    ----------
    ground : Ground
        The shots, triangulated.
    process : GroundProcess
        Fitted to the same shots in the same order.
    """
    straight = triangles_left_out(ground)
    smooth = process.leave_one_out().error
    both = np.isfinite(straight)
    if not both.any():
        return CrossValidation(math.nan, math.nan, 0)
    return CrossValidation(
        triangles=float(np.sqrt(np.mean(straight[both] ** 2))),
        smooth=float(np.sqrt(np.mean(smooth[both] ** 2))),
        count=int(both.sum()),
    )


def triangles_left_out(ground: Ground) -> FloatArray:
    """Return each shot's level less that of the triangles which close over its place when it is left out.

    Taking a corner out of a triangulation of Delaunay's opens only the triangles at that corner, and those which close
    the gap are among those of its neighbours alone.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.

    Returns
    -------
    array, shape (n,)
        NaN for shots on the rim, for whose place the others describe no ground. [m]
    """
    from scipy.spatial import Delaunay, QhullError  # noqa: PLC0415 -- only here

    neighbours: list[set[int]] = [set() for _ in ground.level]
    for corners in ground.triangles.tolist():
        for corner in corners:
            neighbours[corner].update(corners)
    error = np.full(len(ground.level), np.nan)
    places = np.column_stack([ground.east, ground.north])
    with one_thread(0):
        for row, near in enumerate(neighbours):
            others = np.array(sorted(near - {row}), dtype=np.int64)
            if len(others) < 3:
                continue
            about = places[others] - places[row]
            try:
                net = Delaunay(about)
            except QhullError:  # all on a line: a shot on the rim
                continue
            at = int(net.find_simplex(np.zeros((1, 2)), tol=1e-12)[0])
            if at < 0:
                continue
            turn = net.transform[at]
            two = turn[:2] @ -turn[2]
            share = np.array([*two, 1 - two.sum()])
            if share.min() > INSIDE:
                error[row] = ground.level[row] - share @ ground.level[others[net.simplices[at]]]
    return error[: ground.shot_count]
