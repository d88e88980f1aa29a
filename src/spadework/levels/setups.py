"""Which reading was taken from which set-up, and how each set-up hangs on the ones before it."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from spadework.levels.wording import name_key
from spadework.readings import FloatArray, IntArray, LevelBook

__all__ = ["NAMELESS", "SetUps", "point_identity", "stand_set_ups"]

NAMELESS = -1
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class SetUps:
    """The m set-ups of a book of n rows.

    Parameters
    ----------
    identity : array of int, shape (n,)
        Number of the point of each row; -1 for a row without a name, which is no other row's point.
    sight : array, shape (n,)
        The row's IS or FS; NaN without one. [m]
    setup : array of int, shape (n,)
        Set-up from which that sight was read; -1 without one.
    known : array, shape (n,)
        Known level of the row's point; NaN where there is none. [m]
    backsight_row : array of int, shape (m,)
        Row of each set-up's backsight.
    parent_row : array of int, shape (m,)
        Row whose sight gives the level of the backsight's point; -1 where that level is known, or not yet known.
    parent : array of int, shape (m,)
        Set-up of that sight; -1 without one.
    """

    identity: IntArray
    sight: FloatArray
    setup: IntArray
    known: FloatArray
    backsight_row: IntArray
    parent_row: IntArray
    parent: IntArray

    def __len__(self) -> int:
        return len(self.backsight_row)

    @cached_property
    def has_sight(self) -> BoolArray:
        """Rows with an IS or FS."""
        return self.setup >= 0


def point_identity(names: tuple[str, ...]) -> IntArray:
    """Return a number for each name, the same for names that differ only by case; -1 for no name."""
    numbers: dict[str, int] = {"": NAMELESS}
    return np.fromiter(
        (numbers.setdefault(name_key(name), len(numbers) - 1) for name in names), dtype=np.int64, count=len(names)
    )


def sight_set_ups(book: LevelBook) -> IntArray:
    """Return for each row the set-up from which its IS or FS was read; -1 without such a sight, or without a set-up."""
    has_backsight = np.isfinite(book.backsight)
    has_sight = np.isfinite(book.intermediate) | np.isfinite(book.foresight)
    before = np.cumsum(has_backsight) - has_backsight - 1
    return np.where(has_sight, before, -1).astype(np.int64)


def stand_set_ups(book: LevelBook, identity: IntArray, known: FloatArray) -> SetUps:
    """Return the set-ups of a book that has no gaps.

    Parameters
    ----------
    book : LevelBook
        Checked before by `find_gaps`.
    identity : array of int, shape (n,)
        From `point_identity`.
    known : array, shape (n,)
        Known level of each row's point, NaN where there is none. [m]

    Returns
    -------
    SetUps
        A set-up whose backsight stands alone in its row, on a point that was sighted before, hangs on the last sight of
        that point where it is the row just before, else on the first one.
    """
    has_backsight = np.isfinite(book.backsight)
    has_foresight = np.isfinite(book.foresight)
    sight = np.where(has_foresight, book.foresight, book.intermediate)
    setup = sight_set_ups(book)
    backsight_row = np.flatnonzero(has_backsight)
    is_known = np.isfinite(known[backsight_row])
    chained = (setup[backsight_row] >= 0) & ~is_known
    parent_row = np.where(chained, backsight_row, -1)

    lone = np.flatnonzero(~chained & ~is_known)
    if len(lone):
        lone_rows = backsight_row[lone]
        sighted = np.flatnonzero((setup >= 0) & np.isin(identity, identity[lone_rows]))
        sights: dict[int, list[int]] = {}
        for row in sighted.tolist():
            sights.setdefault(int(identity[row]), []).append(row)
        read = np.flatnonzero(has_backsight | (setup >= 0))
        for k, row in zip(lone.tolist(), lone_rows.tolist(), strict=True):
            rows = sights.get(int(identity[row]), [])
            earlier = rows[: bisect_left(rows, row)]
            if earlier:
                before = read[np.searchsorted(read, row) - 1]
                parent_row[k] = earlier[-1] if earlier[-1] == before else earlier[0]
    parent = np.where(parent_row >= 0, setup[parent_row], -1)
    return SetUps(identity, sight, setup, known, backsight_row, parent_row, parent)
