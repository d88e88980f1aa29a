"""Rod readings taken at three wires: in one cell as ``4.31/4.16/4.02``, or in three columns."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spadework.positions.stadia import three_wires
from spadework.read.headed import HeadedTable, cells_to_metres
from spadework.read.table import counted, lines_said
from spadework.readings import FloatArray

__all__ = ["MOST_UNEVEN", "cells_of_wires", "intervals_of_cells", "rods_of_wires", "wire_columns"]

WIRES = re.compile(r"\s*(\d+[.,]?\d*)\s*/\s*(\d+[.,]?\d*)\s*/\s*(\d+[.,]?\d*)\s*", re.ASCII)
MOST_UNEVEN = 0.006
"""Half-intervals that differ by more than this point to a misread wire: two hundredths of a foot. [m]

Common practice, no source: three units of the last figure estimated on the rod.
"""


def cells_of_wires(cells: Sequence[str]) -> list[tuple[str, str, str]] | None:
    """Return each cell as three, the same thrice where it holds one reading; None where no cell holds three."""
    if not any(cell.count("/") == 2 for cell in cells):
        return None
    found = [WIRES.fullmatch(cell) for cell in cells]
    if not any(found):
        return None
    return [
        (match.group(1), match.group(2), match.group(3)) if match else (cell, cell, cell)
        for match, cell in zip(found, cells, strict=True)
    ]


def rods_of_wires(table: HeadedTable, meaning: str, wires: Sequence[tuple[str, str, str]]) -> FloatArray:
    """Return the mean of the wires of each cell, with a note of how many and of those that do not agree. [m]"""
    column = table.columns[meaning]
    parts = []
    for place in range(3):
        values, faults = cells_to_metres(
            [cell[place] for cell in wires],
            table.line,
            file=table.file,
            heading=column.heading.text,
            unit=column.unit,
            from_heading=column.from_heading,
            decimal_comma=table.decimal_comma,
        )
        table.faults.extend(fault for fault in faults if place == 0 or fault not in table.faults)
        parts.append(values)
    found = three_wires(*parts)
    several = np.array([len(set(cell)) > 1 for cell in wires])
    _note_wires(table, column.heading.text, several, found.unevenness)
    return np.where(several, found.mean, parts[1])


def intervals_of_cells(table: HeadedTable, meaning: str) -> FloatArray:
    """Return the rod between the outer wires of each cell that holds three; NaN elsewhere. [m]"""
    column = table.columns.get(meaning)
    wires = None if column is None else cells_of_wires(column.cells)
    if column is None or wires is None:
        return np.full(len(table), np.nan)
    upper, lower = (
        cells_to_metres(
            [cell[place] for cell in wires],
            table.line,
            file=table.file,
            heading=column.heading.text,
            unit=column.unit,
            from_heading=column.from_heading,
            decimal_comma=table.decimal_comma,
        )[0]
        for place in (0, 2)
    )
    several = np.array([len(set(cell)) > 1 for cell in wires])
    return np.where(several, np.abs(upper - lower), np.nan)


def wire_columns(
    table: HeadedTable, names: tuple[str, str, str] = ("upper", "middle", "lower")
) -> tuple[FloatArray, FloatArray]:
    """Return the reading and the interval from the columns upper, middle and lower. [m]

    Without a middle wire the reading is the mean of the outer two.
    """
    upper, middle, lower = (table.lengths(name) for name in names)
    filled = np.where(np.isnan(middle), (upper + lower) / 2.0, middle)
    found = three_wires(upper, filled, lower)
    full = np.isfinite(upper) & np.isfinite(middle) & np.isfinite(lower)
    _note_wires(table, ", ".join(names), full, found.unevenness)
    reading = np.where(np.isfinite(upper + lower), found.mean, middle)
    return reading, found.interval


def _note_wires(table: HeadedTable, heading: str, rows: npt.NDArray[np.bool_], unevenness: FloatArray) -> None:
    """Say how many readings are means of three wires, and which of them have halves that disagree."""
    count = int(np.count_nonzero(rows))
    if not count:
        return
    note = f"{counted(count, 'reading')} in {heading} taken at three wires and meaned"
    uneven = np.flatnonzero(rows & (unevenness > MOST_UNEVEN))
    if len(uneven):
        widest = float(unevenness[uneven].max())
        note += (
            f"; the halves of the interval differ by up to {widest * 1000:.0f} mm in "
            f"{lines_said(table.line[uneven].tolist())}: was a wire misread?"
        )
    table.notes.append(note)
