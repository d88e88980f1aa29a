"""What a rod, a drop or a level can be at all, and which slip explains one that is not."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from spadework.errors import Fault
from spadework.read.headed import PLAIN, HeadedTable
from spadework.read.table import counted
from spadework.readings import FloatArray

__all__ = ["HIGHEST_LEVEL", "LONGEST_ROD", "LOWEST_LEVEL", "check_levels", "check_rods"]

# The longest rods and laser poles sold are 25 to 30 ft, 7.6 to 9.1 m (common practice, no source). [m]
LONGEST_ROD = 10.0
# Wider than the dry ground of the Earth (about -430 m to 8849 m, from memory). [m]
LOWEST_LEVEL, HIGHEST_LEVEL = -1000.0, 10_000.0


def check_rods(table: HeadedTable, meaning: str, rods: FloatArray) -> None:
    """Add a fault for each rod reading that no rod is long enough for; one for all where most are.

    Parameters
    ----------
    table : HeadedTable
        Takes the faults.
    meaning : str
        Column of the readings.
    rods : array, shape (n,)
        The readings. [m]
    """
    measured = np.isfinite(rods)
    outside = np.flatnonzero(measured & (np.abs(rods) > LONGEST_ROD))
    if not len(outside):
        return
    rule = f"a rod reading lies within {LONGEST_ROD:g} m ({LONGEST_ROD / 0.3048:.0f} ft)"
    if len(outside) > 2 and 2 * len(outside) > measured.sum():
        first = int(outside[0])
        cell = table.columns[meaning].cells[first]
        many = f"{counted(len(outside), 'value')} of {int(measured.sum())}"
        what = f"{many} are too large for a rod, the first {cell}"
        table.faults.append(Fault(what, rule, slip(table, rods), table.source(first, meaning), cell))
        return
    for row in outside.tolist():
        cell = table.columns[meaning].cells[row]
        table.fault(row, meaning, f"{cell} is too large for a rod reading", rule, meant(cell, float(rods[row])))


def meant(cell: str, rod: float) -> str:
    """Return the remedy for one reading that is too large: the same digits with the decimal point elsewhere."""
    for places in (1, 2, 3):
        if PLAIN.fullmatch(cell) and abs(rod) / 10**places <= LONGEST_ROD / 2:
            return f"did you mean {Decimal(cell).scaleb(-places):f}? Correct the reading or its unit"
    return "correct the reading or its unit"


def slip(table: HeadedTable, rods: FloatArray) -> str:
    """Return the likeliest cause of a whole column that is too large: swapped columns, or millimetres."""
    whole = np.abs(rods[np.isfinite(rods)])
    if np.all(whole == np.round(whole)) and 100.0 <= np.median(whole) <= LONGEST_ROD * 1000:
        return "are these millimetres? Head the column (mm)"
    for other in ("east", "north", "level"):
        if other in table.columns:
            quiet = HeadedTable(table.file, table.line, table.columns, decimal_comma=table.decimal_comma)
            values = quiet.lengths(other)
            if np.isfinite(values).any() and not np.any(np.abs(values) > LONGEST_ROD):
                return f"are this column and {table.columns[other].heading.text!r} swapped? Correct the headings"
    return "do these values belong to another column, such as east or level? Correct the headings or the unit"


def check_levels(table: HeadedTable, meaning: str, levels: FloatArray) -> None:
    """Add a fault for each level that no ground has."""
    for row in np.flatnonzero((levels < LOWEST_LEVEL) | (levels > HIGHEST_LEVEL)).tolist():
        rule = f"a level lies between {LOWEST_LEVEL:,.0f} and {HIGHEST_LEVEL:,.0f} m"
        remedy = "are columns swapped, or is the unit wrong? Correct the heading or the value"
        cell = table.columns[meaning].cells[row]
        table.fault(row, meaning, f"{cell} is not a level of the ground", rule, remedy)
