"""What looks wrong in a level book although it can be reduced: figures to look at again before trusting it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from spadework.levels.printed import printed_doubts
from spadework.levels.results import ReducedLevels, Run
from spadework.levels.setups import SetUps
from spadework.levels.wording import Wording, first_of_many, line_range, name_key
from spadework.readings import FloatArray, LevelBook

__all__ = ["find_doubts"]

MOST_OF_A_KIND = 20
TURNING_POINT_WORDS = {
    "tp",
    "cp",
    "t.p.",
    "c.p.",
    "t.p",
    "c.p",
    "turning point",
    "change point",
    "peg",
    "spot",
    "ground",
}

# A modified z-score above 3.5 marks an outlier: Iglewicz and Hoaglin, How to Detect and Handle Outliers (1993); from
# memory.
OUTLYING = 3.5
NORMAL_QUARTILE = 0.6745
FEWEST_TO_COMPARE = 8
MOST_OUTLYING = 0.05


def _copied(book: LevelBook, setups: SetUps, words: Wording) -> Iterator[str]:
    """Name readings that the backsight right after them repeats to the last digit."""
    has_sight = setups.has_sight
    read = np.flatnonzero(has_sight | np.isfinite(book.backsight))
    opens = setups.backsight_row
    # The sight of the same row at a turning point, else the last reading before the row.
    previous = read[np.maximum(np.searchsorted(read, opens) - 1, 0)]
    before = np.where(has_sight[opens], opens, previous)
    reading = np.where(has_sight[before], setups.sight[before], np.nan)
    many_digits = np.abs(reading) >= 100 * book.reading_resolution
    same = np.flatnonzero(many_digits & (np.abs(reading - book.backsight[opens]) <= book.reading_resolution / 10))
    for row, earlier in zip(opens[same].tolist(), before[same].tolist(), strict=True):
        column = "FS" if np.isfinite(book.foresight[earlier]) else "IS"
        figure = words.number(float(setups.sight[earlier]))
        yield (
            f"{line_range(int(book.line[earlier]), int(book.line[row]))}: the {column} {figure} on "
            f"{book.point[earlier]} and the backsight {words.number(float(book.backsight[row]))} on {book.point[row]} "
            "after it are the same figure: one may have been written twice; look at the field notes or read it again."
        )


def _outlying(levels: ReducedLevels, setups: SetUps, words: Wording) -> Iterator[str]:
    """Name intermediate shots that stand far from the middle of all of them."""
    book = levels.book
    rows = np.flatnonzero(np.isfinite(book.intermediate) & ~np.isfinite(setups.known))
    if len(rows) < FEWEST_TO_COMPARE:
        return
    level = levels.initial[rows]
    middle = float(np.median(level))
    spread = float(np.median(np.abs(level - middle)))
    if spread <= book.reading_resolution:
        return
    score = NORMAL_QUARTILE * (level - middle) / spread
    odd = np.flatnonzero(np.abs(score) > OUTLYING)
    # Several of them are a bank or a ditch, not a slip.
    if len(odd) > max(1, MOST_OUTLYING * len(rows)):
        return
    for row, difference in zip(rows[odd].tolist(), (level[odd] - middle).tolist(), strict=True):
        side = "above" if difference > 0 else "below"
        yield (
            f"line {int(book.line[row])}: {book.point[row]} comes out at {words.length(float(levels.initial[row]))}, "
            f"{words.length(abs(difference))} {side} the middle of the other shots, far more than they differ among "
            f"themselves: was the reading {words.number(float(book.intermediate[row]))} written down right?"
        )


def _twice(levels: ReducedLevels, doubtful: Sequence[Run], words: Wording) -> Iterator[str]:
    """Name points with two levels."""
    book = levels.book
    for run in doubtful:
        if run.within is False and name_key(run.end) not in TURNING_POINT_WORDS:
            yield (
                f"lines {int(book.line[run.first_row])} and {int(book.line[run.last_row])}: {run.end} was levelled "
                f"twice, {words.length(run.known)} and {words.length(run.observed)} before adjustment "
                f"({words.length(run.misclosure, sign=True)}): if it is one point a reading between is wrong; "
                "if there are two, give them two names."
            )


def find_doubts(
    levels: ReducedLevels, setups: SetUps, step: FloatArray, doubtful: Sequence[Run], words: Wording
) -> Iterator[str]:
    """Give a plain sentence for each thing that looks wrong.

    Parameters
    ----------
    levels : ReducedLevels
        The levels.
    setups : SetUps
        Their set-ups.
    step : array, shape (n,)
        Rise (positive) or fall (negative) of each row. [m]
    doubtful : sequence of Run
        Points levelled twice, held against the tolerance.
    words : Wording
        Unit and decimals of the sentences.

    Yields
    ------
    str
        Figures printed in the book that its readings do not give; readings repeated by the next backsight; points with
        two levels; shots far from all others.
    """
    if not levels.checks.agrees:
        yield "The page check does not come out: sums of sights, of rises and falls, and last less first level differ."
    yield from first_of_many(printed_doubts(levels, setups, step, words), MOST_OF_A_KIND)
    yield from first_of_many(_copied(levels.book, setups, words), MOST_OF_A_KIND)
    yield from first_of_many(_twice(levels, doubtful, words), MOST_OF_A_KIND)
    yield from first_of_many(_outlying(levels, setups, words), MOST_OF_A_KIND)
