"""The next best shots: where one more reading takes most off the doubt about the volume."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from spadework.confidence.objects import NextShot
from spadework.ground import Ground
from spadework.ground.sure import SureGround
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["candidates", "next_best_shots"]

ROUND_STEPS = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0)
ROUNDS = 8
ACROSS = 26
"""Places along the wider side of the region that is looked at, at most."""


def candidates(ground: Ground, pad: Pad, placement: Placement) -> FloatArray:
    """Return places about a pad where a shot could be taken: on ground that is measured, at round distances.

    Parameters
    ----------
    ground : Ground
        Says where there is ground.
    pad : Pad
    placement : Placement

    Returns
    -------
    array, shape (c, 2)
        Site east and north. [m]
    """
    corners = placement.corners(pad)
    margin = 0.25 * float(pad.sides.min())
    low, high = corners.min(axis=0) - margin, corners.max(axis=0) + margin
    across = float((high - low).max())
    step = next((size for size in ROUND_STEPS if across / size <= ACROSS), across / ACROSS)
    east, north = (np.arange(math.ceil(low[i] / step), math.floor(high[i] / step) + 1) * step for i in (0, 1))
    points = np.column_stack([axis.ravel() for axis in np.meshgrid(east, north)])
    inside: FloatArray = points[np.isfinite(ground.level_at(points))]
    return inside


def next_best_shots(  # noqa: PLR0917 -- what the formula needs
    process: SureGround,
    places: FloatArray,
    points: FloatArray,
    weight: FloatArray,
    sd: float,
    count: int,
    worth: float,
) -> tuple[NextShot, ...]:
    """Choose the places that together take most off the variance of a weighted sum of levels.

    Readings at places ``x`` take ``c' S⁻¹ c`` off ``var V``, ``c`` the covariances of ``V`` with the levels there and
    ``S`` their own, noise added; one reading takes ``cov(V, z(x))² / (var z(x) + noise)``. Places are taken one after
    another, then each is moved to where it helps most beside the others. Source of the formula: Rasmussen and Williams
    (2006), equation 2.24.

    Parameters
    ----------
    process : SureGround
        The ground as it is known.
    places : array, shape (c, 2)
        Where shots could be taken. [m]
    points : array, shape (k, 2)
        Where the ground under the pad is asked for. [m]
    weight : array, shape (k,)
        Weight of each in the volume: area times the probability that there is something to dig. [m²]
    sd : float
        Standard deviation of the volume as printed. [m³]
    count : int
        How many at most.
    worth : float
        A shot is worth its trouble while it takes so much off the standard deviation. [m³]

    Returns
    -------
    tuple of NextShot
        In the order in which to take them.
    """
    if len(places) == 0 or sd <= 0:
        return ()
    noise = process.reading_variance
    every, count_places = np.vstack([places, points]), len(places)
    joint = process.between(every)
    summed = joint[:, count_places:] @ weight
    shared, variance = summed[:count_places], float(weight @ summed[count_places:])
    spread = joint[:count_places, :count_places].copy()
    spread[np.diag_indices_from(spread)] += noise
    chosen = _exchanged(shared, spread, _greedy(shared, spread, count))
    found, left = [], variance
    for taken, at in enumerate(chosen):
        before, left = left, max(variance - _explained(shared, spread, chosen[: taken + 1]), 0.0)
        first, second = (sd * math.sqrt(share / variance) for share in (before, left))
        found.append(NextShot(float(places[at, 0]), float(places[at, 1]), first, second, first - second >= worth))
    return tuple(found)


def _explained(shared: FloatArray, spread: FloatArray, rows: Sequence[int]) -> float:
    """Return what readings at some places take off the variance together: ``c' S⁻¹ c``."""
    some = shared[list(rows)]
    return float(some @ np.linalg.solve(spread[np.ix_(rows, rows)], some))


def _gains(shared: FloatArray, spread: FloatArray, known: Sequence[int]) -> FloatArray:
    """Return what one more reading at each place takes off the variance, those at some places known, shape (c,)."""
    left, own = shared, np.diag(spread)
    if known:
        column = spread[:, list(known)]
        solved = np.linalg.solve(spread[np.ix_(known, known)], np.column_stack([column.T, shared[list(known)]]))
        left = shared - column @ solved[:, -1]
        own = own - np.einsum("ij,ji->i", column, solved[:, :-1])
    gain: FloatArray = left**2 / np.maximum(own, 1e-3 * np.diag(spread))
    return gain


def _greedy(shared: FloatArray, spread: FloatArray, count: int) -> list[int]:
    """Return places taken one after another, each the best when those before it are known."""
    chosen: list[int] = []
    for _ in range(min(count, len(shared))):
        chosen.append(int(np.argmax(_gains(shared, spread, chosen))))
    return chosen


def _exchanged(shared: FloatArray, spread: FloatArray, chosen: list[int]) -> list[int]:
    """Move each place to where it helps most beside the others until none moves, and put the set in its best order."""
    moving = list(chosen)
    for _ in range(ROUNDS):
        before = list(moving)
        for i in range(len(moving)):
            others = moving[:i] + moving[i + 1 :]
            gain = _gains(shared, spread, others)
            best = int(np.argmax(gain))
            if gain[best] > gain[moving[i]] * (1 + 1e-9):
                moving[i] = best
        if moving == before:
            break
    order: list[int] = []
    while moving:
        gain = _gains(shared, spread, order)
        best = max(moving, key=lambda row: gain[row])
        order.append(best)
        moving.remove(best)
    return order
