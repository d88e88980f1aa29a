"""The mean slope of the ground under many poses of a pad."""

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import COMPILED
from spadework.earthwork.arrays import ground_arrays, pad_arrays
from spadework.earthwork.edges import mean_slope
from spadework.earthwork.kernel import COVERED
from spadework.earthwork.parts import convex_parts
from spadework.earthwork.pieces import local_poses
from spadework.earthwork.slope_kernel import mean_gradients
from spadework.errors import PlacementError
from spadework.ground.surface import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["pad_slopes"]


def pad_slopes(ground: Ground, pad: Pad, poses: FloatArray, *, use_compiled: bool | None = None) -> FloatArray:
    """Return the slope of the ground under each pose: the length of the mean of its gradient over the pad.

    Bumps cancel: it is the slope of the plane that best says which way the ground under the pad falls, not that of the
    steepest triangle.

    Parameters
    ----------
    ground : Ground
    pad : Pad
    poses : array, shape (k, 3)
        Site east, north [m] and bearing [deg] of the pad's origin.
    use_compiled : bool, optional
        Whether to use the compiled kernel; by default if there is one. Without it the mean follows from the ground
        along the edge: see `spadework.earthwork.edges.mean_slope`.

    Returns
    -------
    array, shape (k,)
        Rise over run; NaN where the pad is not covered by ground.
    """
    if not (COMPILED if use_compiled is None else use_compiled):
        return np.array([_by_the_edge(ground, pad, pose) for pose in poses], dtype=np.float64)
    parts = convex_parts(pad.outline)
    result = np.full((len(poses), 3), np.nan)
    mean_gradients(ground_arrays(ground), pad_arrays(parts), local_poses(ground, poses), _gradients(ground), result)
    covered = result[:, 2] >= parts.area * (1.0 - COVERED)
    slopes: FloatArray = np.where(covered, np.hypot(result[:, 0], result[:, 1]), np.nan)
    return slopes


def _by_the_edge(ground: Ground, pad: Pad, pose: FloatArray) -> float:
    """Return the slope under one pose by Green's theorem."""
    try:
        return mean_slope(ground, pad, Placement(float(pose[0]), float(pose[1]), float(pose[2]), 0.0))[0]
    except PlacementError:
        return math.nan


def _gradients(ground: Ground) -> FloatArray:
    """Return rise eastwards and northwards of each triangle, shape (t, 2); zero for one without area."""
    a, b, c = ground.triangles.T
    e1, n1, z1 = (values[b] - values[a] for values in (ground.east, ground.north, ground.height))
    e2, n2, z2 = (values[c] - values[a] for values in (ground.east, ground.north, ground.height))
    double = e1 * n2 - e2 * n1
    flat = np.where(double == 0, 1.0, double)
    rises: FloatArray = np.column_stack([(z1 * n2 - z2 * n1) / flat, (e1 * z2 - e2 * z1) / flat])
    rises[double == 0] = 0.0
    return rises
