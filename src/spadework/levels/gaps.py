"""Find what is missing from a level book, or stands twice in it, before anything is computed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault
from spadework.levels.setups import NAMELESS, sight_set_ups
from spadework.levels.wording import Wording, did_you_mean, line_range, name_key
from spadework.readings import FloatArray, IntArray, LevelBook

__all__ = ["find_gaps", "known_levels"]

SAME_LEVEL = 1e-6
"""Two known levels closer than this are one. [m]"""


def _conflict(book: LevelBook, first: int, row: int, told: float, words: Wording) -> Fault:
    elsewhere = (
        "the levels given for this job" if first < 0 else line_range(int(book.line[first]), int(book.line[first]))
    )
    return Fault(
        what=f"{book.point[row]} has the known level {words.length(float(book.known[row]))} here "
        f"and {words.length(told)} in {elsewhere}",
        rule="a bench mark has one level",
        remedy="Correct the one that is wrong, or give the two marks different names",
        source=book.source(row, "known"),
    )


def known_levels(
    book: LevelBook, identity: IntArray, given: Mapping[str, float], words: Wording
) -> tuple[FloatArray, list[Fault]]:
    """Return the known level of each row's point, from the book's own column and from what is given besides.

    Parameters
    ----------
    book : LevelBook
        The book.
    identity : array of int, shape (n,)
        Number of each row's point.
    given : mapping of str to float
        Known levels by point name, compared without regard to case. [m]
    words : Wording
        For the messages.

    Returns
    -------
    known : array, shape (n,)
        NaN where the point's level is not known. [m]
    faults : list of Fault
        Marks with two different levels.
    """
    faults: list[Fault] = []
    by_key: dict[str, float] = {}
    for name, level in given.items():
        told = by_key.setdefault(name_key(name), float(level))
        if not abs(told - level) <= SAME_LEVEL:
            faults.append(
                Fault(
                    what=f"the known levels give {name} both {words.length(told)} and {words.length(level)}",
                    rule="a bench mark has one level, and names compare without regard to case",
                    remedy="Keep the right one",
                )
            )
    known = book.known.astype(np.float64).copy()
    levels: dict[int, tuple[float, int]] = {}
    if by_key:
        first_rows: dict[int, int] = {}
        for row, number in enumerate(identity.tolist()):
            first_rows.setdefault(number, row)
        for number, row in first_rows.items():
            named = by_key.get(name_key(book.point[row])) if number != NAMELESS else None
            if named is not None:
                levels[number] = (named, -1)
    for row in np.flatnonzero(np.isfinite(book.known)).tolist():
        number = int(identity[row])
        if number == NAMELESS:
            continue
        told, first = levels.setdefault(number, (float(book.known[row]), row))
        if abs(told - book.known[row]) > SAME_LEVEL:
            faults.append(_conflict(book, first, row, told, words))
    if levels:
        table = np.full(int(identity.max()) + 2, np.nan)  # the last place is that of rows without a name
        for number, (level, _) in levels.items():
            table[number] = level
        known = np.where(identity == NAMELESS, known, table[identity])
    return known, faults


def _two_sights(book: LevelBook) -> Iterator[Fault]:
    """Rows with an intermediate sight beside another reading."""
    has_is = np.isfinite(book.intermediate)
    for row in np.flatnonzero(has_is & np.isfinite(book.foresight)).tolist():
        yield Fault(
            what=f"{_called(book, row)} has an intermediate sight and a foresight in one row",
            rule="one set-up reads a point once in a row",
            remedy="Keep the foresight if the instrument was moved after it, else the intermediate sight",
            source=book.source(row, "IS"),
        )
    for row in np.flatnonzero(has_is & np.isfinite(book.backsight) & ~np.isfinite(book.foresight)).tolist():
        yield Fault(
            what=f"{_called(book, row)} has an intermediate sight and a backsight in one row",
            rule="at a turning point the last reading before the instrument moves is its foresight",
            remedy="Write that reading under FS",
            source=book.source(row, "IS"),
        )


def _called(book: LevelBook, row: int) -> str:
    return book.point[row] or "this point"


def _no_set_up(book: LevelBook) -> Iterator[Fault]:
    """Sights before the first backsight, or after a foresight that ended the set-up."""
    rows = np.arange(len(book))
    has_bs = np.isfinite(book.backsight)
    has_fs = np.isfinite(book.foresight)
    has_sight = has_fs | np.isfinite(book.intermediate)

    def last_before(marked: npt.NDArray[np.bool_]) -> IntArray:
        latest = np.maximum.accumulate(np.where(marked, rows, -1))
        return np.concatenate([[-1], latest[:-1]])

    backsight, ended = last_before(has_bs), last_before(has_fs & ~has_bs)
    orphans = np.flatnonzero(has_sight & ((backsight < 0) | (ended > backsight)))
    # One message for each gap, however many rows follow it.
    gaps = np.split(orphans, np.flatnonzero(np.diff(backsight[orphans]) != 0) + 1) if len(orphans) else []
    for gap in gaps:
        row, last = int(gap[0]), int(gap[-1])
        column = "FS" if has_fs[row] else "IS"
        span = f" ({line_range(int(book.line[row]), int(book.line[last]))} hang in the air)" if last > row else ""
        if backsight[row] < 0:
            yield Fault(
                what=f"{_called(book, row)} is read from no set-up: the book does not begin with a backsight{span}",
                rule="the first reading of a book is a backsight on a point whose level is known",
                remedy="Write the first reading under BS, or add the row of the bench mark before it",
                source=book.source(row, column),
            )
            continue
        end = int(ended[row])
        yield Fault(
            what=f"{_called(book, row)} is read from no set-up: the foresight on {_called(book, end)} "
            f"(line {int(book.line[end])}) ended the one before, and no backsight begins another{span}",
            rule="after a foresight the instrument moves and reads a backsight",
            remedy=f"Add the backsight on {_called(book, end)}, or write that foresight under IS",
            source=book.source(row, column),
        )


def _lone_backsights(book: LevelBook, identity: IntArray, known: FloatArray) -> Iterator[Fault]:
    """Backsights on points that nothing gives a level to."""
    has_bs = np.isfinite(book.backsight)
    setup = sight_set_ups(book)
    sighted = setup >= 0
    first_sight: dict[int, int] = {}
    for row in np.flatnonzero(sighted).tolist():
        first_sight.setdefault(int(identity[row]), row)
    backsights = np.flatnonzero(has_bs)
    for row in backsights[1:].tolist():
        number = int(identity[row])
        has_level = np.isfinite(known[row]) or sighted[row]
        if has_level or (number != NAMELESS and first_sight.get(number, row) < row):
            continue
        before = int(backsights[np.searchsorted(backsights, row) - 1])
        names = [book.point[other] for other in np.flatnonzero(sighted[:row]).tolist()]
        nearest = did_you_mean(book.point[row], names) if book.point[row] else ""
        remedy = (
            f"Write the foresight on {_called(book, row)} in the same line"
            " (read before the instrument moved), or give its level"
        )
        yield Fault(
            what=f"the instrument was set up again on {_called(book, row)}, which has no foresight and no known level "
            f"(the backsight before is on line {int(book.line[before])})",
            rule="two backsights follow each other only when the second is on a point already levelled",
            remedy=f"{remedy}. {nearest}".strip(),
            source=book.source(row, "BS"),
        )


def _no_datum(book: LevelBook, known: FloatArray, given: Mapping[str, float]) -> Iterator[Fault]:
    """No point of the book has a known level."""
    read = np.isfinite(book.backsight) | np.isfinite(book.intermediate) | np.isfinite(book.foresight)
    if np.isfinite(known[read]).any():
        return
    start = int(np.flatnonzero(read)[0])
    names = [name for name in book.point if name]
    hints = [hint for name in given if (hint := did_you_mean(name, names))]
    if given:
        what = f"no point of the book has a known level: {', '.join(given)} is not read in it"
    else:
        what = "no point of the book has a known level"
    remedy = f"Give the level of a bench mark, known or assumed: {_called(book, start)} = 100 for example"
    yield Fault(
        what=what,
        rule="levels are counted from a bench mark",
        remedy=f"{remedy}. {hints[0]}" if hints else remedy,
        source=book.source(start, "point"),
    )


def find_gaps(book: LevelBook, identity: IntArray, known: FloatArray, given: Mapping[str, float]) -> list[Fault]:
    """Return every gap of a book: readings without a set-up, set-ups without a level, no datum.

    Parameters
    ----------
    book : LevelBook
        The book.
    identity : array of int, shape (n,)
        Number of each row's point.
    known : array, shape (n,)
        From `known_levels`. [m]
    given : mapping of str to float
        The known levels given besides the book's own, for the message. [m]

    Returns
    -------
    list of Fault
        In the order of the lines; empty when the book can be reduced.
    """
    if not (np.isfinite(book.backsight) | np.isfinite(book.intermediate) | np.isfinite(book.foresight)).any():
        return [
            Fault(
                what=f"the level book {book.file} has no reading".replace("  ", " "),
                rule="a level book has a backsight and at least one other sight",
                remedy="Check that the columns BS, IS and FS were recognised",
            )
        ]
    faults = [
        *_two_sights(book),
        *_no_set_up(book),
        *_lone_backsights(book, identity, known),
        *_no_datum(book, known, given),
    ]
    return sorted(faults, key=lambda fault: fault.source.line or 0)
