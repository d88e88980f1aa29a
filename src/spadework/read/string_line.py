"""String lines: drops at distances along strings."""

from __future__ import annotations

import numpy as np

from spadework.read.headed import HeadedTable
from spadework.read.plausible import check_rods
from spadework.read.table import EMPTY, counted
from spadework.readings_positions import StringDrops

__all__ = ["read_string_line"]


def read_string_line(table: HeadedTable) -> tuple[StringDrops, str]:
    """Return drops below strings, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns string, distance and drop; point and note where there are.

    Raises
    ------
    InputError
        Every row at fault.
    """
    along, drop = table.lengths("distance"), table.lengths("drop")
    faulty = {fault.source.line for fault in table.faults}
    check_rods(table, "drop", drop)
    names: list[str] = []
    for row, cell in enumerate(table.texts("string")):
        names.append(names[-1] if cell in EMPTY and names else cell)
        if names[-1] in EMPTY:
            table.fault(row, "string", "the first row names no string", "every drop belongs to a string", "fill it in")
    for meaning, values in () if table.spoilt else (("distance", along), ("drop", drop)):
        for row in np.flatnonzero(np.isnan(values)).tolist():
            if int(table.line[row]) not in faulty:
                what = f"the row has no {meaning}"
                table.fault(row, meaning, what, "a drop stands at a distance along its string", "fill it in")
    table.raise_faults()
    count: dict[str, int] = {}
    made_up = []
    for name in names:
        count[name] = count.get(name, 0) + 1
        made_up.append(f"{name}-{count[name]}")
    given = table.texts("point")
    point = tuple(own if own not in EMPTY else other for own, other in zip(given, made_up, strict=True))
    drops = StringDrops(point, table.texts("note"), table.line, table.file, tuple(names), along, drop)
    said = table.units_said(("drop",), ("distance",), "drops")
    return drops, ", ".join(filter(None, [counted(len(point), "drop"), counted(len(count), "string"), said]))
