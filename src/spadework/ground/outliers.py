"""Shots whose level is far off their neighbours: refused where it cannot be ground, mentioned where it may be.

A bank, a wall or a lone mound also stands off the plane of what is around it. A shot is refused only if it is metres
off that plane, and if the ground to every neighbour would have to stand steeper than loose soil can.
The thresholds are a judgement, without a published source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spadework.errors import GroundError
from spadework.readings import FloatArray, IntArray
from spadework.shots import Shots

__all__ = ["far_off", "off_plane"]

REFUSED_FROM = 3.0
"""No shot less than this off its neighbours' plane is refused. [m]"""

STEEPEST = 1.0
"""Rise over run to every neighbour beyond which a shot that far off is no bank of soil."""

MENTIONED_FROM = 0.25
"""No shot less than this off its neighbours' plane is mentioned. [m]"""

TIMES_USUAL = 5.0
"""How many times its neighbours' usual distance from the plane a shot must be off to be worth a word."""

FEWEST_TO_JUDGE = 4
LARGEST_GROUP = 3
ROUNDS = 25


def far_off(  # noqa: PLR0917 -- the columns of a table of places
    shots: Shots, row: IntArray, east: FloatArray, north: FloatArray, level: FloatArray, accept: Sequence[str]
) -> list[str]:
    """Return sentences about shots that stand off their neighbours' plane; raise if some cannot be ground.

    Parameters
    ----------
    shots : Shots
        For names and lines.
    row : array of int, shape (n,)
        Row of ``shots`` of each place.
    east, north, level : array, shape (n,)
        The places. [m]
    accept : sequence of str
        Names of shots that are right as they are.

    Raises
    ------
    GroundError
        Naming every shot that cannot be ground, its level, what its neighbours say, and what to do.
    """
    if len(row) < FEWEST_TO_JUDGE:
        return []
    neighbours = _neighbours(east, north)
    off, usual = off_plane(east, north, level, neighbours)
    wanted = {name.strip().casefold() for name in accept}
    accepted = np.array([shots.point[i].casefold() in wanted for i in row])
    suspect = np.abs(off) > np.maximum(MENTIONED_FROM, TIMES_USUAL * usual)
    refused = _isolated(east, north, level, off, neighbours) & ~accepted

    def sentence(i: int) -> str:
        return (
            f"{shots.point[row[i]]} ({shots.source(int(row[i]))}) has level {level[i]:.3f} m, {abs(off[i]):.3f} m "
            f"{'above' if off[i] > 0 else 'below'} the plane of its neighbours ({level[i] - off[i]:.3f} m there)"
        )

    if refused.any():
        lines = [
            f"{sentence(int(i))}; the ground to each of them would be steeper than 1 in 1."
            for i in np.flatnonzero(refused)
        ]
        remedy = "Correct the level or the position; if it is right, name the shot in accept-outliers."
        raise GroundError("\n".join([*lines, remedy]))
    return [
        f"{sentence(int(i))}: {'accepted as it is' if accepted[i] else 'look at it again'}."
        for i in np.flatnonzero(suspect | (accepted & (np.abs(off) > REFUSED_FROM)))
    ]


def off_plane(
    east: FloatArray, north: FloatArray, level: FloatArray, neighbours: list[npt.NDArray[np.int64]]
) -> tuple[FloatArray, FloatArray]:
    """Return how far each level is above the plane through its neighbours, and their own usual distance from it.

    The plane is that of least absolute distances (by iterated weights), which one bad neighbour hardly moves.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Places. [m]
    neighbours : list of array of int
        For each place, its neighbours and theirs, without itself.

    Returns
    -------
    off : array, shape (n,)
        Level less plane. [m]
    usual : array, shape (n,)
        Median distance of the neighbours from the plane. [m]
    """
    off, usual = np.zeros(len(level)), np.zeros(len(level))
    for i, near in enumerate(neighbours):
        matrix = np.column_stack([np.ones(len(near)), east[near] - east[i], north[near] - north[i]])
        value = level[near] - level[i]
        distance = np.hypot(matrix[:, 1], matrix[:, 2])
        base = 1.0 / np.maximum(distance, 1e-3)
        weight = base
        plane = np.zeros(3)
        for _ in range(ROUNDS):
            root = np.sqrt(weight)
            plane = np.linalg.lstsq(matrix * root[:, None], value * root, rcond=None)[0]
            rest = np.abs(value - matrix @ plane)
            weight = base / np.maximum(rest, 1e-4)
        off[i], usual[i] = -plane[0], float(np.median(np.abs(value - matrix @ plane)))
    return off, usual


def _isolated(
    east: FloatArray, north: FloatArray, level: FloatArray, off: FloatArray, neighbours: list[npt.NDArray[np.int64]]
) -> npt.NDArray[np.bool_]:
    """Return which places stand apart: up to three together, all others around steeply below or steeply above."""
    far = np.abs(off) > REFUSED_FROM
    alone = np.zeros(len(level), dtype=bool)
    for i in np.flatnonzero(far):
        near = neighbours[i]
        like = near[
            far[near] & (np.sign(off[near]) == np.sign(off[i])) & (np.abs(level[near] - level[i]) < abs(off[i]) / 2)
        ]
        others = np.setdiff1d(near, like)
        run = np.hypot(east[others] - east[i], north[others] - north[i])
        steep = (level[i] - level[others]) * np.sign(off[i]) > STEEPEST * run
        alone[i] = len(like) < LARGEST_GROUP and len(others) > 1 and bool(steep.all())
    return alone


def _neighbours(east: FloatArray, north: FloatArray) -> list[npt.NDArray[np.int64]]:
    """Return for each place those joined to it by a triangle's side, and those joined to these."""
    from scipy.sparse import coo_array, csr_array  # noqa: PLC0415 -- 0.3 s of import that a level book does not need
    from scipy.spatial import Delaunay  # noqa: PLC0415 -- the same

    place = np.column_stack([east - east.mean(), north - north.mean()])
    sides = Delaunay(place).simplices[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    both = np.concatenate([sides, sides[:, ::-1]])
    one = csr_array(coo_array((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(len(east), len(east))))
    ring = csr_array(one + one @ one)
    return [near[near != i] for i, near in enumerate(np.split(ring.indices.astype(np.int64), ring.indptr[1:-1]))]
