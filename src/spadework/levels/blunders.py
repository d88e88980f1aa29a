"""When a run does not close: the slips that would explain the amount, and where to look for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import NamedTuple

import numpy as np

from spadework.levels.closure import Closing
from spadework.levels.results import Run
from spadework.levels.setups import SetUps
from spadework.levels.wording import Wording, decimal_step, line_range, plural, unit_of_step
from spadework.readings import LevelBook
from spadework.units import FOOT, LengthUnit

__all__ = ["explain_misclosure"]

MOST_NAMED = 4
MOST_RUNS = 20
LONGEST_SEARCH = 2000
OVERRIDE = "To go on all the same, give allow-misclosure: it is then printed on every sheet."


class _Sight(NamedTuple):
    """A reading that carries the level along a run: +1 for a backsight, which raises it, -1 for the one that closes."""

    row: int
    value: float
    sign: int
    column: str


def _carrying(book: LevelBook, setups: SetUps, closing: Closing) -> list[tuple[_Sight, _Sight]]:
    """Backsight and closing sight of each set-up of a run."""
    pairs = []
    for k, row in zip(closing.path, closing.through, strict=True):
        first = int(setups.backsight_row[k])
        column = "foresight" if np.isfinite(book.foresight[row]) else "intermediate sight"
        pairs.append(
            (
                _Sight(first, float(book.backsight[first]), 1, "backsight"),
                _Sight(row, float(setups.sight[row]), -1, column),
            )
        )
    return pairs


def _exchanged(digits: int) -> set[int]:
    """Return the numbers that two digits of a number make when they change places."""
    text = str(digits).zfill(4)
    numbers = set()
    for i, j in combinations(range(len(text)), 2):
        swapped = list(text)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        numbers.add(int("".join(swapped)))
    return numbers - {digits}


def _transposed(
    book: LevelBook, sights: Sequence[_Sight], misclosure: float, slack: float, words: Wording
) -> list[str]:
    step = decimal_step(book.reading_resolution)
    if step is None:
        return []
    found = []
    for sight in sights:
        digits = round(abs(sight.value) / step)
        for other in sorted(_exchanged(digits)):
            effect = sight.sign * (digits - other) * step
            if abs(misclosure - effect) <= slack:
                found.append(
                    f"line {int(book.line[sight.row])}: {sight.column} {words.number(sight.value)} "
                    f"with two digits exchanged is {words.number(other * step)}"
                )
    return found


def _changed_columns(
    book: LevelBook, pairs: Sequence[tuple[_Sight, _Sight]], misclosure: float, slack: float, words: Wording
) -> list[str]:
    # Those of one set-up, and those of a turning point, which stand in one row.
    of_row = [
        (back, ahead)
        for (_, ahead), (back, _) in pairwise(pairs)
        if back.row == ahead.row and ahead.column == "foresight"
    ]
    return [
        f"{line_range(int(book.line[back.row]), int(book.line[ahead.row]))}: {words.number(back.value)} and "
        f"{words.number(ahead.value)} may have changed columns, BS for FS"
        for back, ahead in [*pairs, *of_row]
        if abs(misclosure - 2 * (back.value - ahead.value)) <= slack
    ]


def _upside_down(
    book: LevelBook, sights: Sequence[_Sight], misclosure: float, slack: float, words: Wording
) -> list[str]:
    return [
        f"line {int(book.line[sight.row])}: {sight.column} {words.number(sight.value)} may be missing its minus "
        "(rod held upside down)"
        for sight in sights
        if sight.value > slack and abs(misclosure - 2 * sight.sign * sight.value) <= slack
    ]


def _other_mark(run: Run, setups: SetUps, book: LevelBook, slack: float) -> list[str]:
    rows = np.flatnonzero(np.isfinite(setups.known) & (np.abs(setups.known - run.observed) <= slack))
    names = {book.point[row] for row in rows.tolist()} - {run.end}
    return [f"{run.end} comes out at the level of {name}: was the rod held on {name}?" for name in sorted(names)]


def _whole_marks(book: LevelBook, misclosure: float, slack: float) -> list[str]:
    if unit_of_step(book.reading_resolution) is LengthUnit.METRE:
        marks = ((1.0, "a whole metre"), (0.1, "a whole decimetre"), (0.01, "a whole centimetre"))
    else:
        marks = ((FOOT, "a whole foot"), (FOOT / 10, "a tenth of a foot"), (FOOT / 12, "a whole inch"))
    return [
        f"the amount is about {name}: one reading may be out by that mark of the rod"
        for size, name in marks
        if abs(abs(misclosure) - size) <= min(slack, size / 20)
    ]


def _candidates(
    book: LevelBook, setups: SetUps, run: Run, closing: Closing | None, words: Wording
) -> Iterator[list[str]]:
    # What one slip leaves over is the ordinary misclosure of the run: half of the allowed one, or the last digit.
    slack = max(min(run.allowed / 2, 0.005), 1.5 * book.reading_resolution)
    yield _whole_marks(book, run.misclosure, slack)
    yield _other_mark(run, setups, book, slack)
    if closing is not None and len(closing.path) <= LONGEST_SEARCH:
        pairs = _carrying(book, setups, closing)
        sights = [sight for pair in pairs for sight in pair]
        exact = 0.5 * book.reading_resolution
        yield _transposed(book, sights, run.misclosure, exact, words) or _transposed(
            book, sights, run.misclosure, slack, words
        )
        yield _changed_columns(book, pairs, run.misclosure, slack, words)
        yield _upside_down(book, sights, run.misclosure, slack, words)


def _headline(book: LevelBook, run: Run, words: Wording) -> str:
    lines = line_range(int(book.line[run.first_row]), int(book.line[run.last_row]))
    place = f"{book.file} {lines}" if book.file else lines
    end = run.end or "its last point"
    if run.kind == "repeat":
        return (
            f"{place}: {end} was levelled twice, {words.length(run.known)} and {words.length(run.observed)}: "
            f"{words.length(run.misclosure, sign=True)} apart; {words.fine(run.allowed)} is allowed by {run.rule}."
        )
    return (
        f"{place}: the run from {run.start or 'its first point'} to {end} ({plural(run.setups, 'set-up')}) "
        "does not close: "
        f"{end} comes out at {words.length(run.observed)}, known is {words.length(run.known)}, "
        f"misclosure {words.length(run.misclosure, sign=True)} (observed minus known); "
        f"{words.fine(run.allowed)} is allowed by {run.rule}."
    )


def _advice(run: Run) -> str:
    if run.kind == "repeat":
        return "Look at both readings on it, and whether it is one point; then at the turning points between."
    if run.setups == 1:
        return (
            f"Look at the readings on {run.start} and {run.end}, and at their known levels; was the instrument knocked?"
        )
    return (
        "Look at the turning points first (was the rod on the same spot both times?), then at the known levels; "
        "to find the half that is wrong, level half of the run again."
    )


def explain_misclosure(  # noqa: PLR0917 - a book, its parts, and the words for them
    book: LevelBook,
    setups: SetUps,
    failing: Sequence[Run],
    found: Sequence[Closing],
    words: Wording,
    meant: Sequence[str] = (),
) -> str:
    """Return, in plain words, which runs do not close and where to look.

    Parameters
    ----------
    book : LevelBook
        The book.
    setups : SetUps
        Its set-ups.
    failing : sequence of Run
        The runs that are out by more than their tolerance.
    found : sequence of Closing
        The closings behind them.
    words : Wording
        Unit and decimals of the sentences.
    meant : sequence of str
        The readings that are most likely wrong, and what they may have been.

    Returns
    -------
    str
        Several lines; empty when nothing fails.
    """
    if not failing:
        return ""
    by_row = {closing.row: closing for closing in found}
    lines = []
    for run in failing[:MOST_RUNS]:
        lines.append(_headline(book, run, words))
        closing = by_row.get(run.last_row) if run.kind == "closed" else None
        for kind in _candidates(book, setups, run, closing, words):
            lines += [f"  - {text}" for text in kind[:MOST_NAMED]]
            if len(kind) > MOST_NAMED:
                lines.append(f"  - and {len(kind) - MOST_NAMED} more of that sort")
        lines.append(f"  - {_advice(run)}")
    if len(failing) > MOST_RUNS:
        lines.append(f"... and {len(failing) - MOST_RUNS} more that do not close.")
    if meant:
        lines.append("Tried one by one over all readings, the likeliest:")
        lines += [f"  - {sentence}" for sentence in meant]
    lines.append(OVERRIDE)
    return "\n".join(lines)
