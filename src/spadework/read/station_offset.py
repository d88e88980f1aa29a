"""Columns station and offset: distance along a baseline, and to its right or left."""

from __future__ import annotations

import numpy as np

from spadework.errors import Fault, UnitError
from spadework.positions.grid_labels import read_offset, read_station
from spadework.read.headed import PLAIN, HeadedTable
from spadework.read.headings import ColumnUnit, unit_named
from spadework.read.table import EMPTY
from spadework.readings import FloatArray
from spadework.units import parse_length

__all__ = ["has_station", "read_station_offset"]


def has_station(table: HeadedTable) -> bool:
    """Say whether a table gives places by station and offset."""
    return "station" in table.columns and "offset" in table.columns


def read_station_offset(table: HeadedTable) -> tuple[FloatArray, FloatArray]:
    """Return stations and offsets; NaN where a cell is empty or at fault. [m]

    Stations are ``2+40`` or plain lengths, offsets ``L 12``, ``12 R``, ``CL`` or lengths with a sign, right positive.
    Plain numbers are in the unit of their heading, else in that of the other lengths of the table.
    """
    beside = next((column.unit for column in table.columns.values() if column.unit is not None), None)
    found = []
    for meaning, read in (("station", read_station), ("offset", read_offset)):
        column = table.columns[meaning]
        unit = column.heading.unit or _in_brackets(column.heading.text) or beside
        values = np.full(len(table), np.nan)
        for row, cell in enumerate(column.cells):
            if cell in EMPTY:
                continue
            text = cell.replace(",", ".") if table.decimal_comma else cell
            number = float(text) if PLAIN.fullmatch(text) else read(text)
            try:
                if number is not None and unit is not None:
                    values[row] = number * unit.times / unit.over
                elif number is not None:
                    what = f"{cell} has no unit, nor has its column"
                    table.fault(
                        row, meaning, what, "a number needs a unit", "write it into the heading, as (m) or (ft)"
                    )
                else:
                    values[row] = parse_length(text, unit.length_unit if unit else None)
            except UnitError as error:
                fault = error.faults[0]
                table.faults.append(Fault(fault.what, fault.rule, fault.remedy, table.source(row, meaning), cell))
        found.append(values)
    return found[0], found[1]


def _in_brackets(text: str) -> ColumnUnit | None:
    """Return the unit in the brackets of a heading."""
    before, opened, inside = text.partition("(")
    return unit_named(inside.rstrip(") ")) if opened and before.strip() else None
