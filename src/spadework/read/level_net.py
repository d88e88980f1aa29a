"""Lines of a level net: from, to, rise, with set-ups, length or standard deviation where they are written."""

from __future__ import annotations

import numpy as np

from spadework.read.headed import HeadedTable
from spadework.read.table import EMPTY, counted
from spadework.readings import FloatArray, LevelNetLines

__all__ = ["read_level_net"]

STEEPEST = 200.0
"""A line of levels that rises more than this was not read with a rod: is its unit right? [m]"""


def read_level_net(table: HeadedTable) -> tuple[LevelNetLines, str]:
    """Return levelled lines, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns from and to, and a rise (or a difference of level; a fall counts downwards); set-ups, distance,
        standard deviation and note where there are.

    Raises
    ------
    InputError
        Every row at fault.
    """
    rise = _rises(table)
    sd, distance = (table.lengths(name) if name in table.columns else None for name in ("sd", "distance"))
    starts, ends = table.texts("from"), table.texts("to")
    faulty = {fault.source.line for fault in table.faults}
    setups = _counts(table) if "setups" in table.columns else None
    column = next(name for name in ("rise", "difference", "fall") if name in table.columns)
    for row, line in enumerate(table.line.tolist()):
        if line in faulty or table.spoilt:
            continue
        name = f"the line from {starts[row]} to {ends[row]}"
        if starts[row] in EMPTY or ends[row] in EMPTY:
            side = "from" if starts[row] in EMPTY else "to"
            table.fault(row, side, f"the line has no {side}", "a line goes from one point to another", "fill it in")
        elif starts[row].strip().casefold() == ends[row].strip().casefold():
            table.fault(row, "to", f"{name} ends where it begins", "a line goes from one point to another", "split it")
        elif np.isnan(rise[row]):
            table.fault(row, column, f"{name} has no difference of level", "every line rises or falls", "fill it in")
        elif abs(rise[row]) > STEEPEST:
            rule = f"a line of levels rises {STEEPEST:.0f} m at most"
            table.fault(row, column, f"{name} rises {rise[row]:g} m", rule, "is the unit right?")
        for meaning, values, least in (("sd", sd, "above 0"), ("distance", distance, "above 0")):
            if values is not None and not values[row] > 0:
                what = (
                    f"{name} has no {meaning}" if np.isnan(values[row]) else f"{name} has {meaning} {values[row]:g} m"
                )
                remedy = "fill it in, or leave the whole column out"
                table.fault(row, meaning, what, f"every line has its {meaning}, {least}, or none has", remedy)
    table.raise_faults()
    lines = LevelNetLines(
        starts,
        ends,
        rise,
        setups,
        distance,
        sd,
        table.texts("note"),
        table.line,
        table.file,
        table.step("rise", "difference", "fall"),
    )
    points = {name.strip().casefold() for name in (*starts, *ends)}
    given = [name for name, values in (("set-ups", setups), ("lengths", distance), ("sd", sd)) if values is not None]
    parts = [
        f"{counted(len(lines), 'line')} between {counted(len(points), 'point')}",
        f"with {' and '.join(given)}" if given else "",
        table.unit_said("rise", "difference", "fall"),
    ]
    return lines, ", ".join(filter(None, parts))


def _rises(table: HeadedTable) -> FloatArray:
    """Return what each line rises, from one column or from a rise and a fall. [m]"""
    if "difference" in table.columns and not {"rise", "fall"} & table.columns.keys():
        return table.lengths("difference")
    rise = table.lengths("rise") if "rise" in table.columns else np.full(len(table), np.nan)
    fall = table.lengths("fall") if "fall" in table.columns else np.full(len(table), np.nan)
    for row in np.flatnonzero(np.isfinite(rise) & np.isfinite(fall) & (rise != 0) & (fall != 0)).tolist():
        table.fault(row, "fall", "the line has both a rise and a fall", "a line rises or falls", "keep one of them")
    found: FloatArray = np.where(np.isfinite(rise) & ~((rise == 0) & np.isfinite(fall)), rise, -fall)
    return found


def _counts(table: HeadedTable) -> FloatArray:
    """Return the numbers of set-ups, with a fault for each that is none."""
    values = np.full(len(table), np.nan)
    for row, cell in enumerate(table.texts("setups")):
        if cell.strip().isascii() and cell.strip().isdigit() and 0 < int(cell) < 10_000:
            values[row] = int(cell)
        else:
            what = "the line has no number of set-ups" if cell in EMPTY else f"{cell!r} is no number of set-ups"
            remedy = "correct it, or leave the whole column out"
            table.fault(row, "setups", what, "set-ups are counted: 1, 2, 3, ...", remedy)
    return values
