"""Shots whose level is far off their neighbours: refused where it cannot be ground, mentioned where it may be.

A bank, a wall or a lone mound also stands off the plane of what is around it. A shot is refused only if it is metres
off that plane, and if the ground to each of its nearest neighbours would have to stand steeper than loose soil can.
The thresholds are a judgement, without a published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from spadework.errors import GroundError
from spadework.readings import FloatArray, IntArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_length

__all__ = ["Around", "far_off", "off_plane"]

REFUSED_FROM = 3.0
"""No shot less than this off its neighbours' plane is refused. [m]"""

STEEPEST = 1.0
"""Rise over run to each of the nearest neighbours beyond which a shot that far off is no bank of soil."""

MENTIONED_FROM = 0.25
"""No shot less than this off its neighbours' plane is mentioned. [m]"""

TIMES_USUAL = 5.0
"""How many times its neighbours' usual distance from the plane a shot must be off to be worth a word."""

NEAREST = 5
"""So many neighbours must all be steeply below, or all steeply above."""

FEWEST_TO_JUDGE = 4
LARGEST_GROUP = 3
ROUNDS = 12
SMALLEST_REST = 1e-4
"""Distances from the plane below this weigh alike. [m]"""


def far_off(  # noqa: PLR0917 -- the columns of a table of places
    shots: Shots,
    row: IntArray,
    east: FloatArray,
    north: FloatArray,
    level: FloatArray,
    accept: Sequence[str],
    unit: LengthUnit,
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
    unit : LengthUnit
        The user's unit, for messages.

    Raises
    ------
    GroundError
        Naming every shot that cannot be ground, its level, what its neighbours say, and what to do.
    """
    if len(row) < FEWEST_TO_JUDGE:
        return []
    around = Around.of(east, north)
    off, usual = off_plane(east, north, level, around)
    wanted = {name.strip().casefold() for name in accept}
    accepted = np.array([shots.point[i].casefold() in wanted for i in row])
    suspect = np.abs(off) > np.maximum(MENTIONED_FROM, TIMES_USUAL * usual)
    refused = _isolated(east, north, level, off, around) & ~accepted

    def sentence(i: int) -> str:
        return (
            f"{shots.point[row[i]]} ({shots.source(int(row[i]))}) has level {format_length(level[i], unit)}, "
            f"{format_length(abs(off[i]), unit)} {'above' if off[i] > 0 else 'below'} the plane of its neighbours "
            f"({format_length(level[i] - off[i], unit)} there)"
        )

    if refused.any():
        lines = [
            f"{sentence(int(i))}; the ground to the nearest of them would be steeper than 1 in 1."
            for i in np.flatnonzero(refused)
        ]
        remedy = 'Correct the level or the position; if it is right, name it in accept = ["..."] of its [[readings]].'
        raise GroundError("\n".join([*lines, remedy]))
    return [
        f"{sentence(int(i))}: {'accepted as it is' if accepted[i] else 'look at it again'}."
        for i in np.flatnonzero(suspect | (accepted & (np.abs(off) > REFUSED_FROM)))
    ]


def off_plane(east: FloatArray, north: FloatArray, level: FloatArray, around: Around) -> tuple[FloatArray, FloatArray]:
    """Return how far each level is above the plane through its neighbours, and their own usual distance from it.

    The plane is that of least absolute distances (by iterated weights), which one bad neighbour hardly moves.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        Places. [m]
    around : Around
        Neighbours of each place.

    Returns
    -------
    off : array, shape (n,)
        Level less plane. [m]
    usual : array, shape (n,)
        Median distance of the neighbours from the plane. [m]
    """
    place, near = around.place, around.near
    distance = np.hypot(east[near] - east[place], north[near] - north[place])
    scale = around.median(distance)
    terms = np.stack(
        [np.ones(len(near)), (east[near] - east[place]) / scale[place], (north[near] - north[place]) / scale[place]]
    )
    value = level[near] - level[place]
    base = 1.0 / np.maximum(distance / scale[place], 1.0)
    weight = base
    plane = np.zeros((len(level), 3))
    rest = np.abs(value)
    for _ in range(ROUNDS):
        sums = [[around.sum(weight * one * other) for other in terms] for one in terms]
        right = np.stack([around.sum(weight * one * value) for one in terms], axis=1)
        matrix = np.moveaxis(np.array(sums), 2, 0)
        # Neighbours on one line leave the plane free to turn about it: hold it level across the line.
        matrix += 1e-9 * np.trace(matrix, axis1=1, axis2=2)[:, None, None] * np.eye(3)
        plane = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
        rest = np.abs(value - (plane[place] * terms.T).sum(axis=1))
        weight = base / np.maximum(rest, SMALLEST_REST)
    return -plane[:, 0], around.median(rest)


def _isolated(
    east: FloatArray, north: FloatArray, level: FloatArray, off: FloatArray, around: Around
) -> npt.NDArray[np.bool_]:
    """Return which places stand apart: up to three together, the nearest others all steeply below or steeply above."""
    far = np.abs(off) > REFUSED_FROM
    alone = np.zeros(len(level), dtype=bool)
    for i in np.flatnonzero(far):
        near = around.near[around.start[i] : around.start[i + 1]]
        like = far[near] & (np.sign(off[near]) == np.sign(off[i]))
        like &= np.abs(level[near] - level[i]) < abs(off[i]) / 2
        others = near[~like]
        run = np.hypot(east[others] - east[i], north[others] - north[i])
        nearest = np.argsort(run, kind="stable")[:NEAREST]
        steep = (level[i] - level[others[nearest]]) * np.sign(off[i]) > STEEPEST * run[nearest]
        alone[i] = like.sum() < LARGEST_GROUP and len(others) > 1 and bool(steep.all())
    return alone


@dataclass(frozen=True)
class Around:
    """Neighbours of each place: those joined to it by a triangle's side, and those joined to these.

    Parameters
    ----------
    start : array of int, shape (n + 1,)
        Where the list of each place begins.
    near : array of int, shape (p,)
        The lists, one after another.
    """

    start: IntArray
    near: IntArray

    @cached_property
    def place(self) -> IntArray:
        """Place of each neighbour, shape (p,)."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))

    def sum(self, values: FloatArray) -> FloatArray:
        """Add up a value of each neighbour for each place."""
        total: FloatArray = np.add.reduceat(values, self.start[:-1])
        return total

    def median(self, values: FloatArray) -> FloatArray:
        """Return the median over the neighbours of each place, the lower one of two."""
        middle = self.start[:-1] + (np.diff(self.start) - 1) // 2
        median: FloatArray = values[np.lexsort((values, self.place))][middle]
        return median

    @classmethod
    def of(cls, east: FloatArray, north: FloatArray) -> Around:
        """Find the neighbours of each place; every place has at least two."""
        from scipy.sparse import coo_array, csr_array  # noqa: PLC0415 -- 0.3 s of import that a level book does not need
        from scipy.spatial import Delaunay  # noqa: PLC0415 -- the same

        sides = Delaunay(np.column_stack([east - east.mean(), north - north.mean()])).simplices
        ends = np.concatenate(
            [sides[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), sides[:, [1, 0, 2, 1, 0, 2]].reshape(-1, 2)]
        )
        joined = csr_array(coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(east), len(east))))
        ring = coo_array(joined + joined @ joined)
        place, near = ring.row.astype(np.int64), ring.col.astype(np.int64)
        order = np.lexsort((near, place))
        order = order[place[order] != near[order]]
        start = np.concatenate([[0], np.cumsum(np.bincount(place[order], minlength=len(east)))])
        return cls(start, near[order])
