"""What the reader of reduced levels has to know, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from spadework.levels.closure import set_up_lengths
from spadework.levels.pegs import curvature, refraction
from spadework.levels.reduction import Heights
from spadework.levels.results import ReducedLevels
from spadework.levels.rod_range import inverted_rods
from spadework.levels.setups import SetUps
from spadework.levels.wording import Wording, first_of_many, line_range, plural
from spadework.readings import LevelBook

__all__ = ["book_notices"]

MOST_NAMED = 8
MOST_RUNS = 20
LEAST_CURVE = 0.001
"""Curvature less refraction from which it is worth a word: sights of 120 m more on one side than on the other. [m]"""


def _unread(book: LevelBook) -> Iterator[str]:
    read = np.isfinite(book.backsight) | np.isfinite(book.intermediate) | np.isfinite(book.foresight)
    rows = np.flatnonzero(~read & ~np.isfinite(book.known)).tolist()
    if rows:
        named = ", ".join(f"{book.point[row]} (line {int(book.line[row])})" for row in rows[:MOST_NAMED])
        more = f" and {len(rows) - MOST_NAMED} more" if len(rows) > MOST_NAMED else ""
        yield f"No reading, so no level: {named}{more}."


def _idle(book: LevelBook, setups: SetUps) -> Iterator[str]:
    counts = np.bincount(setups.setup[setups.has_sight], minlength=len(setups))
    for k in np.flatnonzero(counts == 0).tolist()[:MOST_NAMED]:
        row = int(setups.backsight_row[k])
        yield f"The set-up on {book.point[row]} (line {int(book.line[row])}) reads nothing but its backsight."


def _long(book: LevelBook, setups: SetUps, words: Wording) -> Iterator[str]:
    """Say where sights are so long that the curve of the earth shows in the readings."""
    lengths = set_up_lengths(book, setups)
    earth = np.nan_to_num(curvature(lengths) - refraction(lengths))
    long = np.flatnonzero(earth >= max(LEAST_CURVE, book.reading_resolution))
    if len(long):
        worst = int(long[np.argmax(earth[long])])
        row = int(setups.backsight_row[worst])
        reach, curve = words.length(float(lengths[worst])), words.length(float(earth[worst]))
        yield (
            f"The set-up on {book.point[row]} (line {int(book.line[row])}) reaches over {reach}: the earth curves away "
            f"by up to {curve} there, unless its backsight and foresight were equally long. Keep them alike."
        )


def _open(levels: ReducedLevels) -> Iterator[str]:
    book = levels.book
    for run in levels.runs:
        if run.kind == "open" and run.last_row != run.first_row:
            lines = line_range(int(book.line[run.first_row]), int(book.line[run.last_row]))
            yield (
                f"Nothing checks the levels of {lines} ({plural(run.setups, 'set-up')} from {run.start}); "
                "close on a bench mark: finish with a reading on one, if only on the one you began with."
            )
        elif run.kind in {"check", "repeat"} and run.within is None:
            yield (
                f"{run.end} (line {int(book.line[run.last_row])}) is out by a misclosure that cannot be judged: "
                f"the rule {run.rule} needs a distance and the book has none there."
            )


def _let_pass(levels: ReducedLevels, words: Wording) -> Iterator[str]:
    for run in levels.failing:
        yield (
            f"The misclosure of {words.length(run.misclosure, sign=True)} at {run.end} "
            f"(line {int(levels.book.line[run.last_row])}) is more than the {words.fine(run.allowed)} that {run.rule} "
            "allows, and was let pass by allow-misclosure."
        )


def book_notices(levels: ReducedLevels, setups: SetUps, heights: Heights, words: Wording) -> Iterator[str]:
    """Give a sentence for each thing that the levels do not show by themselves.

    Parameters
    ----------
    levels : ReducedLevels
        The levels.
    setups : SetUps
        Their set-ups.
    heights : Heights
        Their levels before adjustment.
    words : Wording
        Unit and decimals of the sentences.
    """
    book = levels.book
    yield from first_of_many(_let_pass(levels, words), MOST_RUNS)
    yield from first_of_many(_open(levels), MOST_RUNS)
    if heights.datum_row >= 0:
        row = heights.datum_row
        yield (
            f"The book begins on {book.point[setups.backsight_row[0]]}, whose level is not known: levels up to line "
            f"{int(book.line[row])} are worked back from {book.point[row]} = {words.length(float(setups.known[row]))}."
        )
    if levels.adjust == "none" and any(run.kind == "closed" and run.misclosure for run in levels.runs):
        yield "Levels are as observed: the misclosure was not shared out."
    columns = np.column_stack([book.backsight, book.intermediate, book.foresight])
    lowest = np.nanmin(np.where(np.isnan(columns), math.inf, columns), axis=1)
    inverted = inverted_rods(lowest, book.line.tolist())
    if inverted:
        yield inverted
    yield from _long(book, setups, words)
    yield from _unread(book)
    yield from _idle(book, setups)
