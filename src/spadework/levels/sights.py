"""Lengths of sights put to use: readings corrected, distances along the run, unequal sights named."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spadework.levels.pegs import FIELD_LIMIT, correct_sights
from spadework.levels.setups import NAMELESS, point_identity
from spadework.levels.wording import Wording, plural
from spadework.readings import FloatArray, LevelBook

__all__ = ["SightRules", "balance_notices", "corrected_book", "with_distances", "with_stadia"]

MOST_UNEQUAL = 10.0
"""Backsight and foresight of one set-up differ by 10 m of sight at most: 30 intervals of a rod read at 1 in 300.

US Army, Engineer Course EN0593, precise levelling by three wires. [m]
"""
STADIA = 100.0
MOST_NAMED = 6


@dataclass(frozen=True)
class SightRules:
    """What is to be taken off readings for the length of their sights.

    Parameters
    ----------
    collimation : float
        Rise of the line of sight for each metre, from a two-peg test. [m/m]
    words : str
        Where that comes from; empty where only the curve of the earth and the bend of the air are taken off.
    """

    collimation: float = 0.0
    words: str = ""


def with_stadia(book: LevelBook, multiplier: float) -> LevelBook:
    """Return a book with the lengths that stadia wires give at another constant than 100."""
    if not book.by_wires or multiplier == STADIA or book.backsight_length is None or book.sight_length is None:
        return book
    share = multiplier / STADIA
    return replace(book, backsight_length=book.backsight_length * share, sight_length=book.sight_length * share)


def _length(book: LevelBook, column: FloatArray | None) -> FloatArray:
    return np.full(len(book), np.nan) if column is None else column


def with_distances(book: LevelBook) -> LevelBook:
    """Return a book that has lengths of sights with the distance along the run at every sight, if it has none written.

    A set-up is as long as its backsight and its foresight together. Where a length is missing the distance is unknown
    from there to the next point whose distance is known.
    """
    if book.sight_length is None or np.isfinite(book.distance).any():
        return book
    identity = point_identity(book.point)
    back, fore = _length(book, book.backsight_length), book.sight_length
    distance = np.full(len(book), np.nan)
    at: dict[int, float] = {}
    base = last = 0.0
    for row in range(len(book)):
        sighted = np.isfinite(book.intermediate[row]) or np.isfinite(book.foresight[row])
        if sighted:
            distance[row] = base + float(fore[row])
            if identity[row] != NAMELESS:
                at.setdefault(int(identity[row]), float(distance[row]))
            last = float(distance[row]) if np.isfinite(book.foresight[row]) else last
        if np.isfinite(book.backsight[row]):
            if not sighted:
                distance[row] = at.get(int(identity[row]), last)
            base = float(distance[row]) + float(back[row])
    return replace(book, distance=distance)


def corrected_book(book: LevelBook, rules: SightRules, words: Wording) -> tuple[LevelBook, list[str], list[str]]:
    """Return a book with its readings as a line that is level all the way would have given them.

    ``reading - collimation d - (1 - 0.14) d^2 / 2 R``, see `correct_sights`.

    Parameters
    ----------
    book : LevelBook
        With lengths of sights.
    rules : SightRules
        What to take off.
    words : Wording
        For the sentences.

    Returns
    -------
    book : LevelBook
        Corrected; levels that were worked by hand from the readings as written are no longer compared.
    sentences, notices : list of str
        What was done; which readings have no length, and so were left.
    """
    back, fore = _length(book, book.backsight_length), _length(book, book.sight_length)
    columns = {"backsight": back, "intermediate": fore, "foresight": fore}
    corrected = {
        name: correct_sights(getattr(book, name), length, collimation=rules.collimation)
        for name, length in columns.items()
    }
    taken = {name: getattr(book, name) - corrected[name] for name in columns}
    bare = np.zeros(len(book), dtype=np.bool_)
    for name, length in columns.items():
        bare |= np.isfinite(getattr(book, name)) & ~np.isfinite(length)
    sight = np.where(np.isfinite(book.foresight), taken["foresight"], taken["intermediate"])
    largest = max(float(np.nanmax(np.abs(part), initial=0.0)) for part in taken.values())
    what = f"{rules.words}, and for the curve of the earth" if rules.words else "the curve of the earth and the air"
    sentences = [f"Readings corrected for {what}: by {words.fine(largest)} at most."]
    notices = []
    if bare.any():
        notices.append(
            f"Readings without a length of sight are not corrected: line {_lines(book.line[bare].tolist())}."
        )
    if any(part is not None for part in (book.printed, book.printed_rise, book.printed_fall, book.printed_hi)):
        notices.append("Levels worked by hand are not compared, because the readings were corrected.")
    return (
        replace(
            book,
            backsight=corrected["backsight"],
            intermediate=corrected["intermediate"],
            foresight=corrected["foresight"],
            printed=None,
            printed_rise=None,
            printed_fall=None,
            printed_hi=None,
            backsight_correction=np.nan_to_num(taken["backsight"]),
            sight_correction=np.nan_to_num(sight),
        ),
        sentences,
        notices,
    )


def _lines(numbers: Sequence[int]) -> str:
    """Return the first of some line numbers, and how many more there are."""
    some = ", ".join(str(number) for number in numbers[:MOST_NAMED])
    return some + (f" and {len(numbers) - MOST_NAMED} more" if len(numbers) > MOST_NAMED else "")


def balance_notices(book: LevelBook, words: Wording) -> Iterator[str]:
    """Give what unequal sights may do, where the book has their lengths and nothing was corrected for them.

    Each set-up by the rule of 10 m, and the whole run: what a line of sight at the limit of 0.003 in 100 makes of it.
    """
    if book.backsight_length is None or book.sight_length is None or book.backsight_correction is not None:
        return
    unequal, excess, back = [], 0.0, np.nan
    for row in range(len(book)):
        if np.isfinite(book.foresight[row]):
            difference = float(back - book.sight_length[row])
            if abs(difference) > MOST_UNEQUAL:
                unequal.append((int(book.line[row]), difference))
            excess += difference if np.isfinite(difference) else 0.0
        if np.isfinite(book.backsight[row]):
            back = float(book.backsight_length[row])
    if unequal:
        lines = _lines([line for line, _ in unequal])
        worst = max(abs(difference) for _, difference in unequal)
        yield (
            f"{plural(len(unequal), 'set-up')} (ending in line {lines}) with backsight and foresight more than "
            f"{words.length(MOST_UNEQUAL)} unlike, by up to {words.length(worst)}: a line of sight that is not level "
            "does not fall out of them. Give the two-peg test as peg-test to have it taken off."
        )
    drift = abs(excess) * FIELD_LIMIT
    if drift > 0.5 * book.reading_resolution:
        longer = "longer" if excess > 0 else "shorter"
        yield (
            f"The backsights are {words.length(abs(excess))} {longer} than the foresights in all: a line of sight just "
            f"within the limit of 0.003 in 100 makes {words.fine(drift)} of it."
        )
