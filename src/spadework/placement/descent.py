"""Two ways out of narrow valleys: a finer grid about every start, and shaking what the polish came to rest on.

The cost of a placement has creases: along the lines where another shot becomes the highest on the edge, or where soil
goes from over to short. A polish creeps along a crease and stops too soon; started again a little to the side, many
times, it goes on.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from spadework.placement.polish import SPREAD, Freedom, polish
from spadework.readings import FloatArray

__all__ = ["around", "nearest_of_equals", "shaken"]

Values = Callable[[FloatArray], FloatArray]


def around(values: Values, freedom: Freedom, seeds: FloatArray, steps: FloatArray, count: int) -> FloatArray:
    """Return, for each seed, the best pose of a finer grid about it.

    Parameters
    ----------
    values : callable
        Values of poses, shape (k, 3) to (k,).
    freedom : Freedom
        What may move.
    seeds : array, shape (m, 3)
        ``east, north`` [m], ``bearing`` [deg].
    steps : array, shape (3,)
        Half widths of the grid. [m, m, deg]
    count : int
        Poses along each axis.

    Returns
    -------
    array, shape (m, 3)
        A seed stays where nothing about it is allowed.
    """
    axes = [np.linspace(-1, 1, count) if free else np.zeros(1) for free in freedom.moves]
    offsets = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=-1)
    poses = freedom.held((seeds[:, None] + offsets * steps).reshape(-1, 3))
    found = values(poses).reshape(len(seeds), -1)
    best = poses.reshape(len(seeds), -1, 3)[np.arange(len(seeds)), found.argmin(axis=1)]
    return np.where(np.isfinite(found.min(axis=1))[:, None], best, seeds)


def shaken(
    values: Values,
    freedom: Freedom,
    poses: FloatArray,
    found: FloatArray,
    *,
    width: float,
    rounds: int,
    kept: int,
    copies: int,
) -> tuple[FloatArray, FloatArray, int]:
    """Polish the best poses again from places a little to the side, each round nearer and from the best so far.

    Parameters
    ----------
    values, freedom
        As in `around`.
    poses : array, shape (m, 3)
        Poses already polished.
    found : array, shape (m,)
        Their values.
    width : float
        How far to the side in the first round. [m]
    rounds, kept, copies : int
        Rounds, poses that each starts from, and places about each of them.

    Returns
    -------
    poses : array, shape (n, 3)
    found : array, shape (n,)
    tried : int
        Poses evaluated.
    """
    tried = 0
    degrees = np.array([1.0, 1.0, np.degrees(1.0 / freedom.reach)]) * freedom.moves
    for turn in range(1, rounds + 1):
        order = np.argsort(found, kind="stable")[:kept]
        poses, found = poses[order], found[order]
        count = len(poses) * copies
        aside = 2 * np.mod(0.5 + np.arange(1 + (turn - 1) * count, 1 + turn * count)[:, None] * SPREAD, 1) - 1
        starts = freedom.held(np.repeat(poses, copies, axis=0) + aside * degrees * width / turn)
        more, values_there, cost = polish(values, freedom, starts, step=width / 4 / turn, finest=width / 40)
        poses, found = np.vstack([poses, more]), np.concatenate([found, values_there])
        tried += cost
    return poses, found, tried


def nearest_of_equals(
    values: Values, freedom: Freedom, middle: FloatArray, pose: FloatArray, limit: FloatArray | float
) -> FloatArray:
    """Return the pose of no more than a value nearest a middle: among equals a polish comes to rest anywhere.

    Parameters
    ----------
    values, freedom
        As for `polish`.
    middle : array, shape (2,)
        East and north. [m]
    pose : array, shape (3,)
        Where to begin, unless the middle will do.
    limit : float
        The most that a pose may cost.
    """

    def distance(trial: FloatArray) -> FloatArray:
        return np.where(values(trial) <= limit, np.hypot(*(trial[:, :2] - middle).T), np.inf)

    start = np.array([[*middle, pose[2]], pose])
    start = start[np.isfinite(distance(start))]
    if len(start) == 0:
        return pose
    found, _, _ = polish(distance, freedom, start[:1], step=freedom.reach, finest=1e-4)
    nearest: FloatArray = found[0]
    return nearest
