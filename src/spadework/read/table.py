"""Lines to rows of cells: comments and ruled lines set aside, and every one of them accounted for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from spadework.errors import Fault, InputError, Source
from spadework.read.separators import Separator, choose_separator
from spadework.read.text import SourceText

__all__ = ["EMPTY", "NUMBERISH", "RawTable", "counted", "fit_row", "lines_said", "raw_table"]

COMMENT_MARKS = ("#", "//", "%")
RULE_MARKS = frozenset("-=+|:_ \t")
MOST_COLUMNS = 1000
NUMBERISH = re.compile(r"[-+]?[.,]?\d")
# What people write where nothing was measured.
EMPTY = frozenset(("", "-", "--", "---", "–", "—", "n/a", "N/A", "nan", "NaN", "NA"))
SAMPLE = 200


@dataclass(frozen=True)
class RawTable:
    """Rows of cells as text, each with its line.

    Parameters
    ----------
    file : str
        Name of the file.
    rows : list of list of str
        Cells, without the blanks around them; rows may differ in length.
    line : list of int
        Line of each row in the file.
    text : list of str
        Each row as written.
    separator : Separator
        How the rows were cut.
    comments : tuple of (int, str)
        Comment lines, with their lines in the file.
    notes : tuple of str
        What was set aside and what is worth saying about the text.
    """

    file: str
    rows: list[list[str]]
    line: list[int]
    text: list[str]
    separator: Separator
    comments: tuple[tuple[int, str], ...]
    notes: tuple[str, ...]

    def source(self, row: int, column: str | None = None) -> Source:
        """Return where row ``row`` was written."""
        return Source(self.file, self.line[row], column)


def counted(count: int, one: str, many: str = "") -> str:
    """Return ``1 row`` or ``2 rows``."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def lines_said(lines: Sequence[int]) -> str:
    """Return ``line 4`` or ``lines 4, 9 and 12``, the first few of many."""
    shown = [str(line) for line in lines[:5]]
    if len(lines) == 1:
        return f"line {shown[0]}"
    if len(lines) > 5:
        return f"lines {', '.join(shown)} and {len(lines) - 5} more"
    return f"lines {', '.join(shown[:-1])} and {shown[-1]}"


def raw_table(source: SourceText) -> RawTable:
    """Return the rows of a text.

    Raises
    ------
    InputError
        Nothing but comments.
    """
    numbers: list[int] = []
    texts: list[str] = []
    comments: list[tuple[int, str]] = []
    ruled: list[int] = []
    for number, line in enumerate(source.lines, 1):
        bare = line.strip()
        if not bare:
            continue
        if bare.startswith(COMMENT_MARKS):
            comments.append((number, bare.lstrip("#/% \t")))
        elif ("--" in bare or "==" in bare or "__" in bare) and RULE_MARKS.issuperset(bare):
            ruled.append(number)
        else:
            numbers.append(number)
            texts.append(line.rstrip("\n"))
    if not texts:
        what, rule = "the file holds no rows, only comments", "readings need a row of headings and at least one row"
        raise InputError(Fault(what, rule, "remove the comment marks from the rows", Source(source.file, 1)))
    separator = choose_separator(texts[:SAMPLE])
    rows = [separator(text) for text in texts]
    widest = max(range(len(rows)), key=lambda row: len(rows[row]))
    if len(rows[widest]) > MOST_COLUMNS:
        what = f"the line falls into {counted(len(rows[widest]), 'cell')} by {separator.name}"
        rule = f"a table of readings has at most {MOST_COLUMNS:,} columns"
        raise InputError(Fault(what, rule, "give one row per line", Source(source.file, numbers[widest])))
    notes = list(source.notes)
    if comments:
        which = lines_said([number for number, _ in comments])
        notes.append(f"{counted(len(comments), 'comment line')} left out ({which})")
    if ruled:
        notes.append(f"{counted(len(ruled), 'ruled line')} left out ({lines_said(ruled)})")
    refuse_commented_rows(source.file, comments, separator, len(rows[widest]))
    return RawTable(source.file, rows, numbers, texts, separator, tuple(comments), tuple(notes))


def refuse_commented_rows(file: str, comments: Sequence[tuple[int, str]], separator: Separator, width: int) -> None:
    """Raise where a comment may be a point called ``#7``: as many cells as a row, most of them numbers."""
    faults = []
    for number, text in comments:
        cells = separator(text)
        numberish = sum(1 for cell in cells if NUMBERISH.match(cell))
        if len(cells) == width >= 3 and NUMBERISH.match(cells[0]) and 2 * numberish > len(cells):
            what = f"the line starts with a comment mark and yet looks like a row: {text[:60]!r}"
            remedy = "take the mark away if it is a row; write a word after the mark if it is a comment"
            faults.append(Fault(what, "a comment is left out, a row never", remedy, Source(file, number)))
    if faults:
        raise InputError(faults)


def fit_row(row: list[str], text: str, headings: Sequence[str], heading_text: str, *, spare: int) -> list[str] | str:
    """Return a row with as many cells as there are headings, or what is wrong with it.

    Parameters
    ----------
    row : list of str
        Its cells.
    text : str
        The row as written.
    headings : sequence of str
        All headings.
    heading_text : str
        The line of the headings as written; empty where columns must not be told by their alignment.
    spare : int
        How many headings at the end name columns of remarks: their cells may be missing, and the last may hold the
        separator.
    """
    width = len(headings)
    if len(row) > width:
        extra = row[width:]
        if not any(extra):
            return row[:width]
        if spare and not NUMBERISH.match(row[width - 1]):
            return [*row[: width - 1], ", ".join(cell for cell in row[width - 1 :] if cell)]
        return f"the row has {counted(len(row), 'cell')} where the headings are {width}: {extra[0]!r} belongs to none"
    if len(row) < width:
        if heading_text and (aligned := align(text, headings, heading_text)):
            return aligned
        if len(row) >= width - spare:
            return row + [""] * (width - len(row))
        return f"the row has only {counted(len(row), 'cell')} where the headings are {width}"
    return row


def align(text: str, headings: Sequence[str], heading_text: str) -> list[str] | None:
    """Return the cells of a row by the headings they stand under, or None where one stands under no single heading."""
    spans = []
    start = 0
    for heading in headings:
        start = heading_text.find(heading, start)
        if start < 0:
            return None
        spans.append((start, start + len(heading)))
        start += len(heading)
    cells = [""] * len(headings)
    for found in re.finditer(r"\S+(?: \S+)*", text):
        under = [i for i, (left, right) in enumerate(spans) if left < found.end() and found.start() < right]
        if len(under) != 1 or cells[under[0]]:
            return None
        cells[under[0]] = found.group()
    return cells
