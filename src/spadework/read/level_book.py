"""Level books: backsights, intermediate sights and foresights in the order in which they were taken."""

from __future__ import annotations

import dataclasses
import re

import numpy as np

from spadework.read.arrange import WIRE_COLUMNS
from spadework.read.headed import Column, HeadedTable
from spadework.read.plausible import check_levels, check_rods
from spadework.read.sight_lengths import sight_lengths
from spadework.read.table import EMPTY, counted
from spadework.readings import FloatArray, LevelBook

__all__ = ["read_level_book"]

SIGHTS = ("backsight", "intermediate", "foresight")
TOTALS = re.compile(r"(?:sums?|totals?|checks?|difference|diff\.?|σ|∑)\b.*|[σ∑].*", re.IGNORECASE)


def read_level_book(table: HeadedTable) -> tuple[LevelBook, str]:
    """Return a level book, and what it holds in words.

    Known levels are those of a column of known levels. Without one, the reduced level that the book prints on the row
    of its first backsight is taken as known, because a book can only start from a given level.

    Parameters
    ----------
    table : HeadedTable
        Columns point, backsight and foresight or intermediate; others where there are.

    Returns
    -------
    book : LevelBook
        Lengths in metres.
    summary : str
        ``10 rows, 5 set-ups, metres``.

    Raises
    ------
    InputError
        Every row at fault, and every gap in the book.
    """
    table = without_totals(table)
    sights = {meaning: table.lengths(meaning) for meaning in SIGHTS}
    lengths = sight_lengths(table, sights)
    printed, known = table.lengths("level"), table.lengths("known")
    others = {meaning: table.lengths(meaning) for meaning in ("rise", "fall", "hi", "distance")}
    sound = not table.faults
    for meaning, values in sights.items():
        check_rods(table, meaning if meaning in table.columns else f"{meaning[0]}supper", values)
    for meaning, values in (("level", printed), ("known", known)):
        check_levels(table, meaning, values)
    check_names(table)
    if sound:
        check_order(table, sights)
    check_benches(table, known)
    table.raise_faults()
    said = known_from_print(table, sights, printed, known)
    book = LevelBook(
        point=table.texts("point"),
        backsight=sights["backsight"],
        intermediate=sights["intermediate"],
        foresight=sights["foresight"],
        known=known,
        distance=others["distance"],
        note=table.texts("note"),
        line=table.line,
        file=table.file,
        printed=printed if "level" in table.columns else None,
        printed_rise=others["rise"] if "rise" in table.columns else None,
        printed_fall=others["fall"] if "fall" in table.columns else None,
        printed_hi=others["hi"] if "hi" in table.columns else None,
        reading_resolution=table.step(*SIGHTS, *WIRE_COLUMNS),
        backsight_length=lengths.back,
        sight_length=lengths.fore,
        by_wires=lengths.by_wires,
    )
    setups = int(np.isfinite(sights["backsight"]).sum())
    parts = [
        counted(len(book), "row"),
        counted(setups, "set-up"),
        table.unit_said(*SIGHTS, *WIRE_COLUMNS),
        lengths.said,
        said,
    ]
    return book, ", ".join(filter(None, parts))


def without_totals(table: HeadedTable) -> HeadedTable:
    """Return the table without the book's own totals at its foot, compared with the sums of the columns."""
    names = table.texts("point")
    last = len(names)
    while last > 1 and len(names) - last < 4 and TOTALS.fullmatch(names[last - 1]):
        last -= 1
    if last == len(names):
        return table
    columns = {
        meaning: dataclasses.replace(column, cells=column.cells[:last]) for meaning, column in table.columns.items()
    }
    shorter = dataclasses.replace(table, line=table.line[:last], columns=columns)
    for row in range(last, len(names)):
        shorter.notes.append(total_said(table, shorter, row))
    return shorter


def total_said(table: HeadedTable, shorter: HeadedTable, row: int) -> str:
    """Return what one printed row of totals says against the sums of the columns above it."""
    words = []
    for meaning in ("backsight", "foresight", "rise", "fall"):
        column = table.columns.get(meaning)
        if column is None or column.cells[row] in EMPTY:
            continue
        quiet = HeadedTable(
            table.file, table.line[row : row + 1], {meaning: one_cell(column, row)}, decimal_comma=table.decimal_comma
        )
        printed = float(quiet.lengths(meaning)[0])
        total = float(np.nansum(dataclasses.replace(shorter, faults=[]).lengths(meaning)))
        agrees = abs(total - printed) < 0.51 * table.step(meaning)
        words.append(
            f"{column.heading.text} {column.cells[row]} {'agrees' if agrees else f'is not the sum, {total:.4g} m'}"
        )
    name = table.texts("point")[row]
    return f"line {int(table.line[row])} ({name}) is a row of totals" + (f": {', '.join(words)}" if words else "")


def one_cell(column: Column, row: int) -> Column:
    """Return a column of a single cell."""
    return dataclasses.replace(column, cells=column.cells[row : row + 1])


def check_names(table: HeadedTable) -> None:
    """Add a fault for each row without a point name."""
    for row, name in enumerate(table.texts("point")):
        if name in EMPTY:
            remedy = "give the point a name; a turning point needs the same name wherever it is sighted"
            table.fault(row, "point", "the row has no point name", "every sight is on a named point", remedy)


def check_order(table: HeadedTable, sights: dict[str, FloatArray]) -> None:
    """Add a fault for each row that cannot stand where it stands: a sight without a set-up, a row without a sight."""
    has = {meaning: np.isfinite(values).tolist() for meaning, values in sights.items()}
    standing = 0  # line of the backsight of the present set-up
    ended = 0  # line of the foresight that ended the last one
    for row, name in enumerate(table.texts("point")):
        back, inter, fore = (has[meaning][row] for meaning in SIGHTS)
        line = int(table.line[row])
        if not (back or inter or fore):
            what = f"{name} has no reading: there is a gap in the book"
            table.fault(
                row, "point", what, "every row has a backsight, an intermediate sight or a foresight", "fill it in"
            )
            continue
        if inter and (back or fore):
            what = f"{name} has an intermediate sight and {'a backsight' if back else 'a foresight'} in one row"
            remedy = "move one of them to a row or column of its own"
            table.fault(row, "intermediate", what, "an intermediate sight neither starts nor ends a set-up", remedy)
        elif (inter or fore) and not standing:
            kind = "foresight" if fore else "intermediate"
            after = f"after the foresight in line {ended}" if ended else "before any backsight"
            what = f"{name} is sighted {after}: there is a gap in the book"
            remedy = "add the backsight of the set-up from which this was read"
            table.fault(row, kind, what, "a set-up begins with a backsight", remedy)
        if fore:
            standing, ended = 0, line
        if back:
            standing = line


def check_benches(table: HeadedTable, known: FloatArray) -> None:
    """Add a fault for each bench mark that is given two levels."""
    names = table.texts("point")
    first: dict[str, int] = {}
    for row in np.flatnonzero(np.isfinite(known)).tolist():
        earlier = first.setdefault(names[row].casefold(), row)
        if known[earlier] != known[row]:
            cells = table.columns["known"].cells
            there = f"as {cells[earlier]} in line {int(table.line[earlier])}"
            what = f"{names[row]} is given as {cells[row]} here and {there}"
            table.fault(
                row, "known", what, "a bench mark has one level", "correct one, or name them as two bench marks"
            )


def known_from_print(table: HeadedTable, sights: dict[str, FloatArray], printed: FloatArray, known: FloatArray) -> str:
    """Take the level printed on the first row as known where no column gives known levels; return it in words."""
    if np.isfinite(known).any() or not len(known):
        return ""
    starts = np.isfinite(sights["backsight"][0]) and np.isnan(sights["foresight"][0])
    if not starts or np.isnan(printed[0]):
        return ""
    known[0] = printed[0]
    column = table.columns["level"]
    return f"{table.texts('point')[0]} known as {column.cells[0]} from the first {column.heading.text}"
