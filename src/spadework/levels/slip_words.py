"""Ask about a reading that is probably wrong, in the words and the unit of its book."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from spadework.adjust.slips import one_question, pen_reasons
from spadework.levels.slips import Slip
from spadework.levels.wording import Wording, line_range, unit_of_step
from spadework.readings import LevelBook

__all__ = ["slip_sentences"]


def _why(slip: Slip, book: LevelBook) -> str:
    return {
        **pen_reasons(unit_of_step(book.reading_resolution)),
        "minus": "its minus lost: the rod was held upside down"
        if slip.meant < 0
        else "a minus that does not belong there",
        "other": "no slip of the pen that we know; read it again",
    }[slip.kind]


def _reading(slip: Slip, book: LevelBook, words: Wording, *, is_book: bool) -> str:
    where = f"line {int(book.line[slip.row])}"
    name = book.point[slip.row] or "this point"
    if not is_book:
        return f"{where}: the reading {words.number(slip.was)} on {name}"
    sight = "foresight" if math.isfinite(book.foresight[slip.row]) else "intermediate sight"
    column = "backsight" if slip.is_backsight else sight
    return f"{where}: the {column} {words.number(slip.was)} on {name}"


def _question(slip: Slip, book: LevelBook, words: Wording, *, is_book: bool) -> str:
    if slip.kind == "columns":
        lines = line_range(int(book.line[slip.row]), int(book.line[slip.other_row]))
        how = "change columns, BS for FS" if is_book else "change places"
        return f"{lines}: did {words.number(slip.was)} and {words.number(slip.meant)} {how}?"
    head = _reading(slip, book, words, is_book=is_book)
    return f"{head}: did you mean {words.number(slip.meant)} ({_why(slip, book)})?"


def slip_sentences(
    slips: Sequence[Sequence[Slip]], book: LevelBook, words: Wording, *, is_book: bool = True
) -> Iterator[str]:
    """Give a sentence for each slip: the likeliest reading with what it may have been, then the others.

    Parameters
    ----------
    slips : sequence of sequence of Slip
        From `find_slips`.
    book : LevelBook
        The book.
    words : Wording
        Unit and decimals.
    is_book : bool
        Whether its columns are BS, IS and FS on paper too; a rod list has one column.
    """
    for alternatives in slips:
        yield one_question([_question(slip, book, words, is_book=is_book) for slip in alternatives])
