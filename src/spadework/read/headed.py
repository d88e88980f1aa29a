"""A table whose columns have meanings: cells under headings, their units, and the lengths in them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.headings import ColumnUnit, Heading
from spadework.read.table import EMPTY
from spadework.readings import FloatArray, IntArray
from spadework.units import LengthUnit, looks_ambiguous_column, parse_lengths, reading_step

__all__ = ["Column", "HeadedTable", "cells_to_metres", "find_decimal_comma", "no_unit"]

PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
PLAIN_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
WITH_POINT = re.compile(r"[+-]?\d*\.\d+", re.ASCII)
FEET_MARKS = re.compile(
    r"['\"\u2032\u2033\u2018\u2019\u201c\u201d]|(?:\b|\d)(?:ft|foot|feet|ins?|inch|inches)\b", re.IGNORECASE
)
METRIC_MARKS = re.compile(r"(?:\b|\d)(?:[mck]?m|(?:milli|centi)?met(?:re|er)s?)\.?$", re.IGNORECASE)
SIGHTS = frozenset(("rod", "backsight", "intermediate", "foresight"))
INCH_MARKS = re.compile(r"[\"\u2033\u201d]|''|(?:\b|\d)(?:ins?|inch|inches)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Column:
    """One column and what it means.

    Parameters
    ----------
    heading : Heading
        As written and as understood.
    cells : sequence of str, length n
        As written.
    unit : ColumnUnit, optional
        Unit of its plain numbers.
    from_heading : bool
        Whether the unit was named in the file, so that a cell in another unit contradicts it.
    why : str
        How meaning and unit were found.
    """

    heading: Heading
    cells: Sequence[str]
    unit: ColumnUnit | None = None
    from_heading: bool = False
    why: str = ""


@dataclass
class HeadedTable:
    """Columns by meaning, with a list that gathers the faults of all of them.

    Parameters
    ----------
    file : str
        Name of the file.
    line : array of int, shape (n,)
        Line of each row.
    columns : dict of str to Column
        By meaning.
    heading_line : int, optional
        Line of the headings.
    decimal_comma : bool
        Whether numbers are written with commas.
    notes : list of str
        What is worth saying.
    faults : list of Fault
        Found so far.
    spoilt : set of str
        Columns without one sound length: what their rows lack is not worth a fault of its own.
    """

    file: str
    line: IntArray
    columns: dict[str, Column]
    heading_line: int | None = None
    decimal_comma: bool = False
    notes: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    spoilt: set[str] = field(default_factory=set)

    def __len__(self) -> int:
        return len(self.line)

    def source(self, row: int, meaning: str = "") -> Source:
        """Return where a cell was written."""
        column = self.columns.get(meaning)
        return Source(self.file, int(self.line[row]), column.heading.text if column else None)

    def fault(self, row: int, meaning: str, what: str, rule: str = "", remedy: str = "") -> None:
        """Add a fault of one row."""
        cells = self.columns[meaning].cells if meaning in self.columns else ()
        value = cells[row] if cells else ""
        self.faults.append(Fault(what, rule, remedy, self.source(row, meaning), value))

    def texts(self, meaning: str) -> tuple[str, ...]:
        """Return the cells of a column of words; empty ones where there is no such column."""
        column = self.columns.get(meaning)
        return ("",) * len(self) if column is None else tuple(column.cells)

    def lengths(self, meaning: str) -> FloatArray:
        """Return a column in metres, NaN where a cell is empty or at fault; NaN where there is no such column. [m]"""
        column = self.columns.get(meaning)
        if column is None:
            return np.full(len(self), np.nan)
        if meaning in SIGHTS and any(cell.count("/") == 2 for cell in column.cells):
            from spadework.read.wires import cells_of_wires, rods_of_wires  # noqa: PLC0415 - it reads such tables

            if wires := cells_of_wires(column.cells):
                return rods_of_wires(self, meaning, wires)
        values, faults = cells_to_metres(
            column.cells,
            self.line,
            file=self.file,
            heading=column.heading.text,
            unit=column.unit,
            from_heading=column.from_heading,
            decimal_comma=self.decimal_comma,
        )
        self.faults.extend(faults)
        if faults and not np.isfinite(values).any():
            self.spoilt.add(meaning)
        return values

    def step(self, *meanings: str) -> float:
        """Return the finest step to which some columns are written. [m]"""
        steps = [
            written_step([cell for cell in self.columns[name].cells if cell.count("/") != 2], self.columns[name].unit)
            for name in meanings
            if name in self.columns
        ]
        return min((step for step in steps if step is not None), default=0.001)

    def unit_said(self, *meanings: str) -> str:
        """Return the units of some columns as words: ``decimal feet``, or ``metres and millimetres``."""
        labels: list[str] = []
        for name in meanings:
            column = self.columns.get(name)
            if column is not None and any(cell not in EMPTY for cell in column.cells):
                labels.append(column.unit.label if column.unit else "units in the cells")
        return " and ".join(dict.fromkeys(labels))

    def units_said(self, readings: tuple[str, ...], positions: tuple[str, ...], name: str) -> str:
        """Return the units of readings and positions: ``metres``, or ``rods in inches, positions in metres``."""
        first, second = self.unit_said(*readings), self.unit_said(*positions)
        if first and second and first != second:
            return f"{name} in {first}, positions in {second}"
        return first or second

    def raise_faults(self) -> None:
        """Raise all that was gathered, in the order of the lines."""
        if self.faults:
            raise InputError(sorted(dict.fromkeys(self.faults), key=lambda fault: fault.source.line or 0))


def find_decimal_comma(columns: Iterable[Column], line: IntArray, file: str) -> bool:
    """Say whether numbers are written with decimal commas; raise where both commas and points are.

    Raises
    ------
    InputError
        One column or another has both ``1,25`` and ``1.25``.
    """
    comma = point = None
    for column in columns:
        for row, cell in enumerate(column.cells):
            if comma is None and "," in cell and PLAIN_COMMA.fullmatch(cell):
                comma = (int(line[row]), column.heading.text, cell)
            elif point is None and "." in cell and WITH_POINT.fullmatch(cell):
                point = (int(line[row]), column.heading.text, cell)
            if comma and point:
                later, earlier = max(comma, point), min(comma, point)
                what = f"{later[2]} and {earlier[2]} (line {earlier[0]}) have different decimal marks"
                rule = "a file uses decimal points or decimal commas, not both: 1,250 could be a thousand"
                raise InputError(
                    Fault(what, rule, "write all numbers the same way", Source(file, *later[:2]), later[2])
                )
    return comma is not None


def no_unit(columns: Iterable[Column], line: IntArray | Sequence[int], file: str) -> Fault | None:
    """Return the fault of columns whose plain numbers have no unit anywhere, or None."""
    first: tuple[int, str, str] | None = None
    names: list[str] = []
    for column in columns:
        for row, cell in enumerate(column.cells) if column.unit is None else ():
            if cell.strip("+-0.,") and (PLAIN.fullmatch(cell) or PLAIN_COMMA.fullmatch(cell)):
                here = (row, column.heading.text, cell)
                first = here if first is None or row < first[0] else first
                names.append(column.heading.text)
                break
    if first is None:
        return None
    what = f"{first[2]} has no unit, nor has its column"
    if len(names) > 1:
        what = f"no unit is said for {', '.join(names[:-1])} and {names[-1]}: {first[2]} of what?"
    remedy = "write the unit into the heading, as (m), (ft) or (ft-in), or say the units of the whole site"
    return Fault(what, "a number needs a unit", remedy, Source(file, int(line[first[0]]), first[1]), first[2])


def written_step(cells: Sequence[str], unit: ColumnUnit | None) -> float | None:
    """Return the finest step of a column, None where it is empty. [m]"""
    texts = {cell for cell in cells if cell not in EMPTY}
    if not texts:
        return None
    scale = unit.times / unit.over / (0.3048 if unit.length_unit is LengthUnit.FOOT else 1.0) if unit else 1.0
    if unit is None or unit.bare_inches is not None:
        scale = 1.0
    return reading_step(texts, unit.length_unit if unit else LengthUnit.METRE) * scale


def cells_to_metres(
    cells: Sequence[str],
    line: IntArray | Sequence[int],
    *,
    file: str,
    heading: str | Sequence[str],
    unit: ColumnUnit | None,
    from_heading: bool,
    decimal_comma: bool,
) -> tuple[FloatArray, list[Fault]]:
    """Return a column of cells in metres, and every fault in it.

    Each different text is read once, so a long column costs little more than a look-up per row.

    Parameters
    ----------
    cells : sequence of str, length n
        As written.
    line : sequence of int, length n
        Line of each cell.
    file : str
        Name of the file, for the faults.
    heading : str or sequence of str, length n
        Heading of the column, or what each cell stands under.
    unit : ColumnUnit, optional
        Unit of plain numbers; without one they are refused.
    from_heading : bool
        Whether a cell in another system of units contradicts the file's own word.
    decimal_comma : bool
        Whether ``1,25`` is one and a quarter.

    Returns
    -------
    values : array, shape (n,)
        NaN where a cell is empty or at fault. [m]
    faults : list of Fault
        One for each cell at fault, or one for the whole column.
    """
    first_row: dict[str, int] = {}
    for row, cell in enumerate(cells):
        first_row.setdefault(cell, row)
    texts = [cell for cell in first_row if cell not in EMPTY]
    values = np.full(len(cells), np.nan)
    if not texts:
        return values, []

    def place(row: int) -> Source:
        return Source(file, int(line[row]), heading if isinstance(heading, str) else heading[row])

    def source(text: str) -> Source:
        return place(first_row[text])

    points = {text: text.replace(",", ".") if decimal_comma and PLAIN_COMMA.fullmatch(text) else text for text in texts}
    if fault := column_fault(points, unit):
        what, rule, remedy, text = fault
        return values, [Fault(what, rule, remedy, source(text), text)]
    known: dict[str, float] = dict.fromkeys(EMPTY, float("nan"))
    wrong: dict[str, Fault] = {}
    for text in texts:
        if not PLAIN.fullmatch(points[text]) and (marked := check_marks(text, unit, from_heading=from_heading)):
            wrong[text] = marked
    for comma in (False, True):
        part = [text for text in texts if text not in wrong and (decimal_comma and points[text] == text) is comma]
        read, faults = read_texts([points[text] for text in part], unit, decimal_comma=comma)
        known.update(zip(part, read, strict=True))
        wrong.update({part[number]: fault for number, fault in faults.items()})
    for text in wrong:
        known[text] = float("nan")
    values = np.array([known[cell] for cell in cells], dtype=np.float64)
    found = [
        Fault(wrong[cell].what, wrong[cell].rule, wrong[cell].remedy, place(row), cell)
        for row, cell in enumerate(cells)
        if cell in wrong
    ]
    return values, found


def read_texts(
    texts: Sequence[str], unit: ColumnUnit | None, *, decimal_comma: bool
) -> tuple[FloatArray, dict[int, Fault]]:
    """Return different texts in metres, and the fault of each that is no length by its place among them."""
    length_unit = unit.length_unit if unit else None
    scaled = unit is not None and unit.bare_inches is None and unit.times / unit.over not in (1.0, 0.3048)
    plain = np.array([scaled and PLAIN.fullmatch(text) is not None for text in texts], dtype=bool)
    values, faults = parse_lengths(
        texts,
        length_unit,
        lines=range(len(texts)),
        bare_inches=unit.bare_inches if unit else None,
        decimal_comma=decimal_comma,
    )
    if unit is not None and plain.any():
        rows = np.flatnonzero(plain).tolist()
        values[rows] = [float(texts[row]) * unit.times / unit.over for row in rows]
    return values, {fault.source.line or 0: fault for fault in faults}


def column_fault(points: dict[str, str], unit: ColumnUnit | None) -> tuple[str, str, str, str] | None:
    """Return the fault of a whole column (what, rule, remedy, example), or None."""
    plain = [text for text, point in points.items() if PLAIN.fullmatch(point)]
    amounts = [text for text in plain if points[text].strip("+-0.") != ""]
    if unit is None:
        return None
    if unit.length_unit is LengthUnit.FOOT_INCH and unit.bare_inches is None and amounts:
        if len(plain) == len(points) or any("." in points[text] for text in amounts):
            what = f"{amounts[0]} is a plain number in a column of feet and inches: are these feet, or inches?"
            rule = "feet and inches are written as 3' 6 1/2\" or 3 6 1/2; a number alone could be either"
            remedy = "head the column (ft) for decimal feet or (in) for inches, or write the marks"
            return what, rule, remedy, amounts[0]
        return None
    if unit.length_unit is LengthUnit.FOOT and not unit.said_decimal:
        question = looks_ambiguous_column(points.values())
        if question:
            example = next((text for text in plain if "." in points[text]), plain[0])
            remedy = "head the column (decimal ft), or write feet and inches with their marks"
            return question, "decimal feet and feet.inches are never guessed apart", remedy, example
    return None


def check_marks(text: str, unit: ColumnUnit | None, *, from_heading: bool) -> Fault | None:
    """Return the fault of a cell whose own unit contradicts its column."""
    if unit is None:
        return None
    feet, metric = FEET_MARKS.search(text), METRIC_MARKS.search(text)
    if from_heading and ((feet and not unit.feet) or (metric and unit.feet)):
        what = f"{text} names another unit than its column, which is in {unit.label}"
        return Fault(what, "a column has one unit", "correct the cell or the heading")
    if unit.length_unit is LengthUnit.FOOT and feet and INCH_MARKS.search(text):
        what = f"{text} is in feet and inches in a column of decimal feet"
        remedy = "write the cell in decimal feet, or head the column (ft-in)"
        return Fault(what, "decimal feet and feet-and-inches do not mix in a column: 5.2 ft is not 5' 2\"", remedy)
    return None
