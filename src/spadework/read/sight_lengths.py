"""How far the rod stood for each sight of a level book: from columns of distances, or from stadia wires."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spadework.read.headed import HeadedTable
from spadework.read.wires import intervals_of_cells, wire_columns
from spadework.readings import FloatArray

__all__ = ["LONGEST_SIGHT", "SightLengths", "sight_lengths"]

LONGEST_SIGHT = 400.0
"""Nobody reads a rod farther off than this; a distance beyond it has another unit. Common practice, no source. [m]"""
STADIA = 100.0
BoolArray = npt.NDArray[np.bool_]


class SightLengths(NamedTuple):
    """The lengths of the sights of a book.

    Parameters
    ----------
    back, fore : array, shape (n,), optional
        Of the backsights, and of the intermediate sights and foresights; None where the book has none. [m]
    by_wires : bool
        Whether they come from stadia wires.
    said : str
        What was found, in words; empty without any.
    """

    back: FloatArray | None = None
    fore: FloatArray | None = None
    by_wires: bool = False
    said: str = ""


def sight_lengths(table: HeadedTable, sights: dict[str, FloatArray]) -> SightLengths:
    """Return the lengths of the sights, and put readings taken at three wires into ``sights``.

    Parameters
    ----------
    table : HeadedTable
        Takes the faults: a length without its sight, one that is no length, one that could belong to two sights.
    sights : dict of str to array, shape (n,)
        Backsights, intermediate sights and foresights; changed where the book has columns of wires. [m]
    """
    intervals: list[FloatArray] = []
    for meaning, prefix in (("backsight", "bs"), ("foresight", "fs")):
        names = (f"{prefix}upper", f"{prefix}middle", f"{prefix}lower")
        if {names[0], names[2]} <= table.columns.keys():
            reading, interval = wire_columns(table, names)
            sights[meaning] = np.where(np.isfinite(sights[meaning]), sights[meaning], reading)
        else:
            interval = intervals_of_cells(table, meaning)
        intervals.append(interval)
    between = intervals_of_cells(table, "intermediate")
    intervals[1] = np.where(np.isfinite(intervals[1]), intervals[1], between)
    has_columns = {"backsightlength", "sightlength"} & table.columns.keys()
    has_back = np.isfinite(sights["backsight"])
    has_fore = np.isfinite(sights["foresight"]) | np.isfinite(sights["intermediate"])
    if not has_columns and {"upper", "lower"} <= table.columns.keys():
        # Two more columns beside the readings: the outer wires of the one sight of each row.
        length = STADIA * np.abs(table.lengths("upper") - table.lengths("lower"))
        _one_column(table, length, has_back, has_fore, "upper", "BS upper, BS lower, FS upper and FS lower")
        back, fore = np.where(has_back & ~has_fore, length, np.nan), np.where(has_fore, length, np.nan)
        return SightLengths(back, fore, True, "lengths of sights from the wires")
    if not has_columns:
        if not any(np.isfinite(interval).any() for interval in intervals):
            return SightLengths()
        back, fore = (STADIA * np.abs(interval) for interval in intervals)
        return SightLengths(back, fore, True, "lengths of sights from the wires")
    back, fore = table.lengths("backsightlength"), table.lengths("sightlength")
    if "backsightlength" not in table.columns:
        _one_column(table, fore, has_back, has_fore)
        back, fore = np.where(has_back & ~has_fore, fore, np.nan), np.where(has_fore, fore, np.nan)
    _check(table, "backsightlength", back, has_back, "backsight")
    _check(table, "sightlength", fore, has_fore, "foresight or intermediate sight")
    return SightLengths(back, fore, False, "with lengths of sights")


def _one_column(  # noqa: PLR0917 - a cell is named by table and column
    table: HeadedTable,
    length: FloatArray,
    has_back: BoolArray,
    has_fore: BoolArray,
    meaning: str = "sightlength",
    columns: str = "BS distance and FS distance",
) -> None:
    """Add a fault where the only column of lengths stands beside two sights of one row."""
    both = np.flatnonzero(np.isfinite(length) & has_back & has_fore).tolist()
    for row in both[:20]:
        what = f"{table.texts('point')[row]} has a backsight and a foresight, and one length"
        table.fault(row, meaning, what, "each sight has its own length", f"head columns {columns}")


def _check(table: HeadedTable, meaning: str, length: FloatArray, has: BoolArray, sight: str) -> None:
    """Add a fault for each length that is none, or that no sight belongs to."""
    if meaning not in table.columns:
        return
    faulty = {fault.source.line for fault in table.faults}
    for row in np.flatnonzero(np.isfinite(length)).tolist():
        if int(table.line[row]) in faulty:
            continue
        cell = table.columns[meaning].cells[row]
        if not has[row]:
            table.fault(row, meaning, f"{cell} is the length of a sight, and the row has no {sight}", "", "move it")
        elif length[row] < 0:
            table.fault(row, meaning, f"{cell} is less than nothing", "a sight is longer than nothing", "correct it")
        elif length[row] > LONGEST_SIGHT:
            rule = f"nobody reads a rod farther off than {LONGEST_SIGHT:.0f} m"
            table.fault(row, meaning, f"a sight of {cell}", rule, "correct it, or the unit in its heading")
