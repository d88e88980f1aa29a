"""Many local searches side by side, so that each round is one batch for the kernel.

A pattern search: every seed tries the 26 directions of a cube, and the same cube turned a new way each round; where
nothing is better its step is halved. The turned cubes matter where the best spot lies on a setback line that runs
askew to the axes: a pose that breaks a limit counts as infinitely bad, and only a direction along the line is left.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spadework.pad import Pad
from spadework.placement.limits import Limits
from spadework.readings import FloatArray

__all__ = ["SPREAD", "Freedom", "polish"]

GAIN = 1e-11
"""A value must fall by this share, and as many cubic metres, to count as better: less is rounding."""

MOST_ROUNDS = 400
SPREAD = np.array([0.8191725133961645, 0.6710436067037893, 0.5497004779019703])
"""Multiples of these, less their whole parts, fill a cube evenly: powers of the root of ``1 / r⁴ = 1 / r + 1``."""
CUBE = np.array(
    sorted(
        (step for step in itertools.product((-1.0, 0.0, 1.0), repeat=3) if any(step)),
        key=lambda step: (sum(map(abs, step)), -abs(step[2]), step),
    )
)


@dataclass(frozen=True)
class Freedom:
    """Which of position and bearing may move, and how a turn compares with a shift.

    Parameters
    ----------
    pad : Pad
        The pad.
    limits : Limits
        With the fixed position or bearing.
    reach : float
        Distance of the farthest corner from the pad's centre: a turn moves it by ``reach`` for each radian. [m]
    """

    pad: Pad
    limits: Limits
    reach: float

    @property
    def moves(self) -> FloatArray:
        """Return 1 or 0 for each of east, north and bearing."""
        position, bearing = self.limits.position is None, self.limits.bearing.turns
        return np.array([position, position, bearing], dtype=np.float64)

    def held(self, poses: FloatArray) -> FloatArray:
        """Return poses with their bearing held within its limits, and a fixed position put where it belongs for it."""
        if not self.limits.bearing.free and len(poses):
            poses[:, 2] = self.limits.bearing.held(poses[:, 2])
        if self.limits.position is not None and len(poses):
            poses[:, :2] = self.limits.position.centres(self.pad, poses[:, 2])
        return poses

    def directions(self, cubes: int, turn: int) -> FloatArray:
        """Return the unit steps of a round, shape (d, 3): a cube along the axes, then cubes turned anew each round."""
        moves = self.moves
        if not moves.any():
            return np.zeros((0, 3))
        if moves.sum() == 1:
            return np.vstack([moves, -moves])
        cube = CUBE[(CUBE * (1 - moves) == 0).all(axis=1)]
        return np.vstack([cube, *(_turned(cube, moves, turn * cubes + number) for number in range(1, cubes))])


def _turned(cube: FloatArray, moves: FloatArray, number: int) -> FloatArray:
    """Turn a cube the ``number``-th way of a fixed sequence that covers all turns evenly.

    The turn is that of a uniform quaternion (K. Shoemake, "Uniform random rotations", Graphics Gems III, 1992, from
    memory).
    """
    first, second, third = np.mod(0.5 + number * SPREAD, 1)
    free = np.flatnonzero(moves)
    result = np.zeros_like(cube)
    if len(free) == 2:
        sine, cosine = np.sin(2 * np.pi * first), np.cos(2 * np.pi * first)
        result[:, free] = cube[:, free] @ np.array([[cosine, -sine], [sine, cosine]])
        return result
    i, j = np.sqrt(1 - first) * np.array([np.sin(2 * np.pi * second), np.cos(2 * np.pi * second)])
    k, w = np.sqrt(first) * np.array([np.sin(2 * np.pi * third), np.cos(2 * np.pi * third)])
    turn = np.array(
        [
            [1 - 2 * (j * j + k * k), 2 * (i * j - k * w), 2 * (i * k + j * w)],
            [2 * (i * j + k * w), 1 - 2 * (i * i + k * k), 2 * (j * k - i * w)],
            [2 * (i * k - j * w), 2 * (j * k + i * w), 1 - 2 * (i * i + j * j)],
        ]
    )
    result[:] = cube @ turn
    return result


def polish(
    value_of: Callable[[FloatArray], FloatArray],
    freedom: Freedom,
    seeds: FloatArray,
    *,
    step: float,
    finest: float,
    cubes: int = 2,
) -> tuple[FloatArray, FloatArray, int]:
    """Move each seed downhill until no step is better.

    Parameters
    ----------
    value_of : callable
        Values of poses, shape (k, 3) to (k,); infinite where a limit is broken.
    freedom : Freedom
        What may move.
    seeds : array, shape (m, 3)
        ``east, north`` [m], ``bearing`` [deg].
    step, finest : float
        First and last length of a step, measured at the pad's farthest corner. [m]
    cubes : int
        Sets of directions tried in a round.

    Returns
    -------
    poses : array, shape (m, 3)
        Where each seed came to rest.
    values : array, shape (m,)
        Their values.
    tried : int
        Poses evaluated.
    """
    poses, steps = np.array(seeds, dtype=np.float64), np.full(len(seeds), float(step))
    values, tried = value_of(poses), len(poses)
    degrees = np.array([1.0, 1.0, np.degrees(1.0 / freedom.reach)])
    last = np.zeros_like(poses)
    for turn in range(MOST_ROUNDS):
        live = np.flatnonzero(steps > finest)
        directions = freedom.directions(cubes, turn)
        if len(live) == 0 or len(directions) == 0:
            break
        # The move that last helped is tried again at twice its length.
        ways = np.concatenate([np.tile(directions, (len(live), 1, 1)), 2 * last[live, None]], axis=1)
        trial = poses[live, None] + ways * (steps[live, None, None] * degrees)
        found = value_of(freedom.held(trial.reshape(-1, 3))).reshape(len(live), -1)
        tried += found.size
        # The first of equals: steps along the axes, and turns before shifts, so that a tie does not wander.
        least = found.min(axis=1)
        with np.errstate(invalid="ignore"):
            choice = np.argmax(found <= (least + GAIN * (1 + np.abs(least)))[:, None], axis=1)
            better = least < values[live] - GAIN * (1 + np.abs(least))
        moved, rows = live[better], np.flatnonzero(better)
        poses[moved] = trial[rows, choice[rows]]
        values[moved] = found[rows, choice[rows]]
        last[moved] = (
            ways[rows, choice[rows]] / np.maximum(1.0, np.linalg.norm(ways[rows, choice[rows]], axis=1))[:, None]
        )
        steps[live[~better]] *= 0.5
        last[live[~better]] = 0.0
    return poses, values, tried
