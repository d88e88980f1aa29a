"""Compare the rises, falls, heights of instrument and levels that a book prints with what its readings give."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from spadework.levels.results import ReducedLevels
from spadework.levels.setups import SetUps
from spadework.levels.wording import Wording, line_range
from spadework.readings import FloatArray, IntArray
from spadework.units import FOOT, LengthUnit

__all__ = ["printed_doubts", "printed_step"]

EXACT = 1e-6
FINEST = 4


class _Page(NamedTuple):
    """A reduced book beside what it prints itself."""

    levels: ReducedLevels
    setups: SetUps
    step: FloatArray
    printed_step: FloatArray
    words: Wording


def printed_step(values: FloatArray, unit: LengthUnit) -> float:
    """Return the step to which a column was printed: the coarsest power of ten that fits all its figures. [m]

    Parameters
    ----------
    values : array, shape (n,)
        The column; NaN where nothing is printed. [m]
    unit : LengthUnit
        Unit in which it is printed.
    """
    if unit is LengthUnit.FOOT_INCH:
        return FOOT / 12 / 8
    size = FOOT if unit is LengthUnit.FOOT else 1.0
    figures = values[np.isfinite(values)] / size
    for decimals in range(FINEST):
        if np.all(np.abs(figures - np.round(figures, decimals)) < EXACT):
            return float(size * 10.0**-decimals)
    return float(size * 10.0**-FINEST)


def _column(values: FloatArray | None, count: int) -> FloatArray:
    return np.full(count, np.nan) if values is None else values


def _printed_steps(levels: ReducedLevels) -> FloatArray:
    """Rise (positive) or fall (negative) that the book prints; NaN where it prints none. [m]"""
    book = levels.book
    rise, fall = _column(book.printed_rise, len(book)), _column(book.printed_fall, len(book))
    return np.where(np.nan_to_num(rise) != 0, rise, np.where(np.isfinite(fall), -fall, rise))


def _sight_before(levels: ReducedLevels, row: int) -> tuple[int, float, str]:
    """Row, value and kind of the reading before a sight, from the same set-up."""
    book = levels.book
    before = row - 1
    while before > 0 and not (math.isfinite(book.backsight[before]) or levels.setup[before] >= 0):
        before -= 1
    if math.isfinite(book.backsight[before]):
        return before, float(book.backsight[before]), "backsight"
    return before, float(np.nansum([book.intermediate[before], book.foresight[before]])), "reading"


def _named(step: float) -> str:
    return "fall" if step < 0 else "rise"


def _step_doubts(page: _Page) -> Iterator[str]:
    """Name rises and falls that are not the difference of their two readings."""
    levels, setups, step, printed, words = page
    book = levels.book
    slack = printed_step(printed, levels.unit) / 2 + EXACT
    wrong = np.flatnonzero(np.abs(printed - step) > slack)
    for row in wrong.tolist():
        line, said, own = int(book.line[row]), float(printed[row]), float(step[row])
        _, before, _ = _sight_before(levels, row)
        sight = float(setups.sight[row])
        if abs(said + own) <= slack:
            yield (
                f"line {line}: {words.number(abs(said))} at {book.point[row]} is printed as a {_named(said)}, but from "
                f"{words.number(before)} to {words.number(sight)} the ground has a {_named(own)}."
            )
            continue
        yield (
            f"line {line}: the {_named(said)} to {book.point[row]} is printed as {words.number(abs(said))}, but the "
            f"readings {words.number(before)} and {words.number(sight)} give a {_named(own)} of "
            f"{words.number(abs(own))} ({words.length(said - own, sign=True)} on the level)."
        )


def _stretches(rows: IntArray, difference: FloatArray, slack: float) -> Iterator[IntArray]:
    """Rows printed one after the other that are off by the same amount."""
    off = np.abs(difference) > slack
    changes = np.flatnonzero((np.abs(np.diff(difference)) > slack) | (off[1:] != off[:-1])) + 1
    for stretch in np.split(np.arange(len(rows)), changes):
        if len(stretch) and off[stretch[0]]:
            yield stretch


def _reading_behind(page: _Page, row: int, off: float) -> str:
    """Say which reading was written differently from what the book was worked with, where the book tells.

    The printed step and the printed level agree with each other and not with the readings. When the next step from the
    same set-up agrees with its readings, the sight itself stands and the reading before it is the doubtful one.
    """
    levels, setups, step, printed, words = page
    before_row, before, kind = _sight_before(levels, row)
    sight = float(setups.sight[row])
    book = levels.book
    first = (
        f"{kind} {words.number(before)} on line {int(book.line[before_row])} "
        f"would have to be {words.number(before + off)}"
    )
    second = f"{words.number(sight)} on line {int(book.line[row])} would have to be {words.number(sight - off)}"
    following = np.flatnonzero((levels.setup == levels.setup[row]) & np.isfinite(printed))
    following = following[following > row]
    if len(following) and abs(printed[following[0]] - step[following[0]]) <= abs(off) / 2:
        return f"the printed {_named(printed[row])} agrees with it, so look at the reading: {first}"
    return f"the printed {_named(printed[row])} agrees with it, so look at the readings: {first}, or {second}"


def _level_doubts(page: _Page) -> Iterator[str]:
    """Name levels that do not follow from the readings, each stretch of them told once."""
    levels, _, step, steps_printed, words = page
    book = levels.book
    if book.printed is None:
        return
    rows = np.flatnonzero(np.isfinite(book.printed) & np.isfinite(levels.initial))
    if not len(rows):
        return
    printed = book.printed[rows]
    slack = printed_step(printed, levels.unit) / 2 + EXACT
    as_observed, as_adjusted = printed - levels.initial[rows], printed - levels.level[rows]
    # A book prints its levels before or after adjustment: whichever fits more of them is meant.
    adjusted = (np.abs(as_adjusted) <= slack).sum() > (np.abs(as_observed) <= slack).sum()
    difference = as_adjusted if adjusted else as_observed
    own = levels.level if adjusted else levels.initial
    for stretch in _stretches(rows, difference, slack):
        row, last, off = int(rows[stretch[0]]), int(rows[stretch[-1]]), float(difference[stretch[0]])
        side = "high" if off > 0 else "low"
        figure = (
            f"{book.point[row]} is printed as {words.length(float(book.printed[row]))}, but the readings give "
            f"{words.length(float(own[row]))}: {words.length(abs(off))} too {side}"
        )
        behind = ""
        if math.isfinite(steps_printed[row]) and abs(steps_printed[row] - step[row] - off) <= slack:
            behind = f"; {_reading_behind(page, row, off)}"
        if len(stretch) == 1:
            right_again = "; the figures after it are right again" if stretch[0] < len(rows) - 1 else ""
            yield f"line {int(book.line[row])}: {figure}{behind or right_again}."
        else:
            yield (
                f"{line_range(int(book.line[row]), int(book.line[last]))}: {figure}, and all printed levels to "
                f"{book.point[last]} by as much{behind or f'; the slip is at {book.point[row]}'}."
            )


def _hi_doubts(levels: ReducedLevels, words: Wording) -> Iterator[str]:
    """Name heights of instrument that are not level plus backsight."""
    book = levels.book
    if book.printed_hi is None:
        return
    rows = np.flatnonzero(np.isfinite(book.printed_hi) & np.isfinite(levels.hi))
    if not len(rows):
        return
    difference = book.printed_hi[rows] - levels.hi[rows]
    for stretch in _stretches(rows, difference, printed_step(book.printed_hi[rows], levels.unit) / 2 + EXACT):
        row, last, off = int(rows[stretch[0]]), int(rows[stretch[-1]]), float(difference[stretch[0]])
        to = f", and the heights of instrument to {book.point[last]} by as much" if len(stretch) > 1 else ""
        yield (
            f"line {int(book.line[row])}: the height of instrument at {book.point[row]} is printed as "
            f"{words.length(float(book.printed_hi[row]))}, but the readings give "
            f"{words.length(float(levels.hi[row]))}: {words.length(abs(off))} too {'high' if off > 0 else 'low'}{to}."
        )


def printed_doubts(levels: ReducedLevels, setups: SetUps, step: FloatArray, words: Wording) -> Iterator[str]:
    """Give a sentence for each printed figure, or stretch of figures, that the readings do not give.

    Parameters
    ----------
    levels : ReducedLevels
        The levels of a book that prints its own.
    setups : SetUps
        Its set-ups.
    step : array, shape (n,)
        Rise (positive) or fall (negative) of each row. [m]
    words : Wording
        Unit and decimals of the sentences.

    Yields
    ------
    str
        With the line, the printed figure, and the right one.
    """
    page = _Page(levels, setups, step, _printed_steps(levels), words)
    yield from _step_doubts(page)
    yield from _level_doubts(page)
    yield from _hi_doubts(levels, words)
