"""A smooth ground as plane triangles: the expected ground of a process, on a grid fine enough to follow it."""

from __future__ import annotations

import math

import numpy as np

from spadework.ground.process import GroundProcess
from spadework.ground.surface import Ground, local_origin
from spadework.readings import FloatArray

__all__ = ["smooth_ground"]

MOST_CORNERS = 20_000
FINER = 4.0
"""Grid lines to the usual distance between shots."""


def smooth_ground(ground: Ground, process: GroundProcess, *, spacing: float | None = None) -> Ground:
    """Return the expected ground inside the outline of the triangulated shots.

    Its corners are the shots and a grid between them, their levels the expected ones: a shot's own level is not kept
    where the others and the doubt of its reading say otherwise.

    Parameters
    ----------
    ground : Ground
        The shots, triangulated: says how far there is ground.
    process : GroundProcess
        Says how high it is.
    spacing : float, optional
        Between grid lines; a quarter of the usual distance between shots where not given. [m]
    """
    from scipy.spatial import Delaunay, cKDTree  # noqa: PLC0415 -- 0.5 s of import that reading a level book does not need

    if spacing is None:
        spacing = math.sqrt(ground.area / len(ground.level)) / FINER
    spacing = max(spacing, math.sqrt(ground.area / MOST_CORNERS))
    shots = np.column_stack([ground.east, ground.north]) + ground.origin
    inner = _grid_inside(ground, spacing)
    if len(inner):
        inner = inner[cKDTree(shots).query(inner)[0] > spacing / 2]
    points = np.vstack([shots, inner])
    origin = local_origin(points[:, 0], points[:, 1])
    local = points - origin
    corners = Delaunay(local).simplices.astype(np.int32)
    a, b, c = (local[corners[:, i]] for i in range(3))
    double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    corners = np.where((double < 0)[:, None], corners[:, [0, 2, 1]], corners)[np.abs(double) > 1e-9 * spacing**2]
    middle = points[corners].mean(axis=1)
    corners = corners[np.isfinite(ground.level_at(middle))]
    names = (*ground.names, *("",) * len(inner)) if ground.names else ()
    return Ground(
        origin, local[:, 0], local[:, 1], process.mean(points), corners, "smoothed shots", names, ground.notices
    )


def _grid_inside(ground: Ground, spacing: float) -> FloatArray:
    """Return the points of a grid in site axes where there is ground, off its rim."""
    west, south, east, north = ground.bounds
    columns = np.arange(math.ceil(west / spacing), math.floor(east / spacing) + 1) * spacing
    rows = np.arange(math.ceil(south / spacing), math.floor(north / spacing) + 1) * spacing
    points = np.column_stack([axis.ravel() for axis in np.meshgrid(columns, rows)])
    inside = np.isfinite(ground.level_at(points))
    reach = spacing / 3
    for turn in np.radians(np.arange(0.0, 360.0, 45.0)):
        inside &= np.isfinite(ground.level_at(points + reach * np.array([math.sin(turn), math.cos(turn)])))
    kept: FloatArray = points[inside]
    return kept
