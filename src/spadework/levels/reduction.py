"""Reduce a level book twice, by height of instrument and by rise and fall, so that each checks the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError
from spadework.levels.results import ArithmeticCheck
from spadework.levels.setups import SetUps
from spadework.levels.wording import line_range
from spadework.readings import FloatArray, IntArray, LevelBook

__all__ = ["Heights", "page_check", "reduce_by_hi", "reduce_by_rise_and_fall"]

NO_ROW = -1


@dataclass(frozen=True)
class Heights:
    """Levels before adjustment.

    Parameters
    ----------
    instrument : array, shape (m,)
        Height of instrument of each set-up. [m]
    initial : array, shape (n,)
        Level of each row's point as observed; NaN where the row has no reading. [m]
    datum_row : int
        Row of the first known sight, when the book begins on a point whose level is not known and everything before
        that row is worked backwards from it; -1 otherwise.
    worked_back : tuple of int
        Set-ups whose levels are worked backwards.
    """

    instrument: FloatArray
    initial: FloatArray
    datum_row: int = NO_ROW
    worked_back: tuple[int, ...] = ()


def reduce_by_hi(book: LevelBook, setups: SetUps) -> Heights:
    """Return the levels by height of instrument.

    ``HI = level + BS`` at each set-up, ``level = HI - IS`` or ``HI - FS`` at each sight.
    Source: Army and Navy manuals of differential levelling; the rule is the same in every one of them.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        From `stand_set_ups`.

    Returns
    -------
    Heights
        A set-up on a known point counts from its known level, so that a misclosure is not carried past it.

    Raises
    ------
    InputError
        When the book begins on an unknown point and nothing ties that to a known one.
    """
    backsight = book.backsight[setups.backsight_row].tolist()
    anchor = setups.known[setups.backsight_row].tolist()
    parent, parent_row, sight = setups.parent.tolist(), setups.parent_row.tolist(), setups.sight.tolist()
    instrument: list[float] = []
    floating: list[bool] = []
    for k, (reading, level) in enumerate(zip(backsight, anchor, strict=True)):
        above = parent[k]
        if above >= 0:
            instrument.append(instrument[above] - sight[parent_row[k]] + reading)
            floating.append(floating[above])
        else:
            unknown = level != level  # noqa: PLR0124 - NaN is the one number that differs from itself
            instrument.append(reading if unknown else level + reading)
            floating.append(unknown)
    hi = np.array(instrument)
    datum_row = NO_ROW
    worked_back: tuple[int, ...] = ()
    if any(floating):
        afloat = np.array(floating)
        seen = np.flatnonzero(setups.has_sight & np.isfinite(setups.known))
        reached = seen[afloat[setups.setup[seen]]]
        if not len(reached):
            raise InputError(_reaches_nothing(book, setups, afloat))
        datum_row = int(reached[0])
        hi[afloat] += setups.known[datum_row] - (hi[setups.setup[datum_row]] - setups.sight[datum_row])
        worked_back = tuple(_back_to_start(setups, int(setups.setup[datum_row])))
    initial = np.full(len(book), np.nan)
    has_sight = setups.has_sight
    lone = setups.backsight_row[~has_sight[setups.backsight_row]]
    standing = np.cumsum(np.isfinite(book.backsight)) - 1
    initial[lone] = hi[standing[lone]] - book.backsight[lone]
    initial[has_sight] = hi[setups.setup[has_sight]] - setups.sight[has_sight]
    return Heights(hi, initial, datum_row, worked_back)


def _reaches_nothing(book: LevelBook, setups: SetUps, afloat: npt.NDArray[np.bool_]) -> Fault:
    start = int(setups.backsight_row[0])
    hanging = np.flatnonzero(setups.has_sight & afloat[setups.setup])
    last = int(hanging[-1]) if len(hanging) else start
    lines = line_range(int(book.line[start]), int(book.line[last]))
    return Fault(
        what=f"the level of {book.point[start] or 'the first point'} is not known, and nothing read from there "
        f"({lines}) reaches a point whose level is",
        rule="levels are counted from a bench mark",
        remedy="Give its level, or add the reading that ties it to a bench mark",
        source=book.source(start, "BS"),
    )


def _back_to_start(setups: SetUps, k: int) -> list[int]:
    path = [k]
    while setups.parent[k] >= 0:
        k = int(setups.parent[k])
        path.append(k)
    return path


def _chain_starts(setups: SetUps) -> IntArray:
    """Rows at which a chain of rises and falls begins: set-ups that do not go on from their own row's sight."""
    starts: IntArray = setups.backsight_row[setups.parent_row != setups.backsight_row]
    return starts


def reduce_by_rise_and_fall(book: LevelBook, setups: SetUps, heights: Heights) -> tuple[FloatArray, FloatArray]:
    """Return the step from each sight's predecessor, and the levels that the steps add up to.

    ``step = reading before - reading``: a rise where positive, a fall where negative; ``level = level before + step``.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        From `stand_set_ups`.
    heights : Heights
        Used only for the level from which a book that begins on an unknown point is worked back.

    Returns
    -------
    step : array, shape (n,)
        NaN where a row has no IS or FS. [m]
    level : array, shape (n,)
        NaN where a row has no reading. [m]
    """
    n = len(book)
    has_sight, has_backsight = setups.has_sight, np.isfinite(book.backsight)
    read = np.flatnonzero(has_sight | has_backsight)
    leaving = np.where(has_backsight, book.backsight, setups.sight)[read]
    step = np.full(n, np.nan)
    arriving = has_sight[read]
    before = np.concatenate([[np.nan], leaving[:-1]])
    step[read[arriving]] = before[arriving] - setups.sight[read[arriving]]

    total = np.cumsum(np.nan_to_num(step))
    starts = _chain_starts(setups)
    is_start = np.zeros(n, dtype=np.bool_)
    is_start[starts] = True
    chain = np.cumsum(is_start) - 1 - (is_start & has_sight)
    base: list[float] = []
    chain_of, total_of, start_total = chain.tolist(), total.tolist(), total[starts].tolist()
    parents = setups.parent_row[setups.parent_row != setups.backsight_row].tolist()
    for start, parent_row in zip(starts.tolist(), parents, strict=True):
        if parent_row >= 0:
            up = chain_of[parent_row]
            base.append(base[up] + total_of[parent_row] - start_total[up])
        elif np.isfinite(setups.known[start]):
            base.append(float(setups.known[start]))
        else:
            base.append(float(heights.initial[start]))
    level = np.full(n, np.nan)
    level[read] = np.array(base)[chain[read]] + total[read] - total[starts][chain[read]]
    return step, level


def page_check(
    book: LevelBook, setups: SetUps, heights: Heights, step: FloatArray, by_rise_and_fall: FloatArray
) -> ArithmeticCheck:
    """Return the sums at the foot of the page.

    ``sum BS - sum FS = sum of rises - sum of falls = last level - first level``, where the last intermediate sight of a
    chain that ends without a foresight counts with the foresights. A known point in the middle ends one chain and
    begins the next. Source: Curtin University, "Virtu-o-Level", series levelling, for the three sums.
    """
    has_backsight = np.isfinite(book.backsight)
    read = np.flatnonzero(setups.has_sight | has_backsight)
    starts = _chain_starts(setups)
    # A known turning point is the last row of one chain and the first of the next.
    following = np.concatenate([starts[1:], [len(book)]])
    ends = np.array(
        [
            stop if stop < len(book) and setups.has_sight[stop] else int(read[np.searchsorted(read, stop) - 1])
            for stop in following.tolist()
        ],
        dtype=np.int64,
    )
    single = ends == starts
    first = np.where(np.isfinite(setups.known[starts]), setups.known[starts], heights.initial[starts])
    last = np.where(single, first, heights.initial[ends])
    closing_is = ends[~single & ~np.isfinite(book.foresight[ends])]
    idle = np.bincount(setups.setup[setups.has_sight], minlength=len(setups)) == 0
    sum_bs = float(np.nansum(book.backsight))
    sum_fs = float(np.nansum(book.foresight))
    sum_last_is = float(book.intermediate[closing_is].sum() + book.backsight[setups.backsight_row[idle]].sum())
    both = np.isfinite(heights.initial) & np.isfinite(by_rise_and_fall)
    return ArithmeticCheck(
        sum_bs=sum_bs,
        sum_fs=sum_fs,
        sum_last_is=sum_last_is,
        sum_rise=float(step[step > 0].sum()),
        sum_fall=float(-step[step < 0].sum()),
        difference=sum_bs - sum_fs - sum_last_is,
        last_less_first=float((last - first).sum()),
        disagreement=float(np.abs(heights.initial[both] - by_rise_and_fall[both]).max(initial=0.0)),
    )
