"""A smooth ground as plane triangles: the expected ground of a process, on a grid fine enough to follow it."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from spadework.ground.constrained import constrained_triangles
from spadework.ground.index import TriangleArray
from spadework.ground.line_shots import along_sides
from spadework.ground.process import GroundProcess
from spadework.ground.rim import rim_sides
from spadework.ground.sides import counter_clockwise, is_kept
from spadework.ground.surface import Ground, local_origin
from spadework.readings import FloatArray

__all__ = ["smooth_ground"]

MOST_CORNERS = 20_000
FINER = 4.0
"""Grid lines to the usual distance between shots."""


def smooth_ground(ground: Ground, process: GroundProcess, *, spacing: float | None = None) -> Ground:
    """Return the expected ground inside the outline of the triangulated shots.

    Its corners are the shots and a grid between them, their levels the expected ones: a shot's own level is not kept
    where the others and the doubt of its reading say otherwise. Breaklines are sides of its triangles and keep their
    own levels, so that the ground bends at them; beside them it is as smooth as the covariance says. The rim of the
    triangulated shots is its rim.

    Parameters
    ----------
    ground : Ground
        The shots, triangulated: says how far there is ground, and where lines bend it.
    process : GroundProcess
        Says how high it is.
    spacing : float, optional
        Between grid lines; a quarter of the usual distance between shots where not given. [m]
    """
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- 0.5 s of import that reading a level book does not need

    if spacing is None:
        spacing = math.sqrt(ground.area / len(ground.level)) / FINER
    spacing = max(spacing, math.sqrt(ground.area / MOST_CORNERS))
    line, line_level, kept = _parted(ground, spacing)
    inner = _grid_inside(ground, spacing)
    if len(inner):
        inner = inner[cKDTree(line).query(inner)[0] > spacing / 2]
    points = np.vstack([line, inner])
    level = np.concatenate([line_level, np.full(len(inner), np.nan)])
    free = np.isnan(level)
    level[free] = process.mean(points[free])
    origin = local_origin(points[:, 0], points[:, 1])
    local = points - origin
    rim = rim_sides(ground.triangles, len(ground.level))[0]
    if len(kept):
        rim = rim[~is_kept(len(ground.level), rim, ground.kept)]
    sides = np.concatenate([kept, rim])
    _, corners = constrained_triangles(local[:, 0], local[:, 1], sides)
    corners = counter_clockwise(local[:, 0], local[:, 1], corners)
    corners = corners[np.isfinite(ground.level_at(points[corners].mean(axis=1)))]
    names = (*ground.names, *("",) * (len(points) - len(ground.names))) if ground.names else ()
    shot_count = len(ground.level) if ground.shot_count is None else ground.shot_count
    return Ground(
        *(origin, local[:, 0], local[:, 1], level, corners, "smoothed shots", names, ground.notices),
        kept=kept,
        shot_count=shot_count,
    )


def _parted(ground: Ground, spacing: float) -> tuple[FloatArray, FloatArray, TriangleArray]:
    """Return the corners of a ground and places along its breaklines, their levels, and the sides between them.

    The level is NaN where no line holds it.
    """
    corners = np.column_stack([ground.east, ground.north]) + ground.origin
    level = np.full(len(corners), np.nan)
    if not len(ground.kept):
        return corners, level, ground.kept
    level[ground.kept.ravel()] = ground.level[ground.kept.ravel()]
    start, end = corners[ground.kept[:, 0]], corners[ground.kept[:, 1]]
    side, share = along_sides(np.hypot(*(end - start).T), spacing)
    a, b = ground.kept[side].T
    more = corners[a] + share[:, None] * (corners[b] - corners[a])
    more_level = ground.level[a] + share * (ground.level[b] - ground.level[a])
    chains = []
    for number, (first, last) in enumerate(ground.kept.tolist()):
        between = (np.flatnonzero(side == number) + len(corners)).tolist()
        chains += list(pairwise([first, *between, last]))
    return np.vstack([corners, more]), np.concatenate([level, more_level]), np.array(chains, dtype=np.int32)


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
