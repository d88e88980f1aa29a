"""Columns of angles and slopes to degrees: decimal, degrees-minutes-seconds, gon, quadrants, percent and ratios."""

from __future__ import annotations

import math
import re

import numpy as np

from spadework.errors import Fault, UnitError
from spadework.read.headed import PLAIN, PLAIN_COMMA, HeadedTable
from spadework.read.table import EMPTY
from spadework.readings import FloatArray
from spadework.units import parse_angle, parse_slope

__all__ = ["ANGLE_UNITS", "angle_label", "angle_step", "column_angles", "column_slopes"]

ANGLES = frozenset(("direction", "bearing", "vertical", "zenith", "slope", "latitude", "longitude"))
INSIDE = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
ANGLE_UNITS = {
    **dict.fromkeys(("deg", "degrees", "degree", "°", "d", "decimal degrees", "dd", "deg decimal"), "degrees"),
    **dict.fromkeys(("dms", "d-m-s", "d m s", "deg-min-sec", "ddd-mm-ss", "d ' \"", "deg min sec"), "dms"),
    **dict.fromkeys(("gon", "grad", "grads", "g"), "gon"),
    **dict.fromkeys(("%", "percent", "pct", "per cent"), "percent"),
    **dict.fromkeys(("ratio", "v:h", "rise/run"), "ratio"),
}


def angle_label(meaning: str, heading: str) -> str:
    """Return the unit of a column of angles as it is said; empty where its cells must name it, or it holds none."""
    if meaning not in ANGLES:
        return ""
    unit = heading_unit(heading)
    return {"dms": "degrees, minutes, seconds", "": "" if meaning == "slope" else "degrees"}.get(unit, unit)


def heading_unit(heading: str) -> str:
    """Return the unit of angle that a heading names in brackets or at its end, or nothing."""
    text = heading.casefold()
    for inside in INSIDE.findall(text):
        if inside.strip() in ANGLE_UNITS:
            return ANGLE_UNITS[inside.strip()]
    last = re.split(r"[\s_,]+", text.strip())[-1]
    if last in ("percent", "pct", "%") or text.strip() in ("percent", "slopepercent"):
        return "percent"
    return ANGLE_UNITS.get(last, "") if " " in text.strip() or "_" in text else ""


def column_angles(table: HeadedTable, meaning: str) -> FloatArray:
    """Return a column of angles, NaN where a cell is empty or at fault, or there is no such column. [deg]

    A number alone is in the unit that the heading names, degrees where it names none.

    Parameters
    ----------
    table : HeadedTable
        Takes the faults.
    meaning : str
        Column.
    """
    column = table.columns.get(meaning)
    values = np.full(len(table), np.nan)
    if column is None:
        return values
    unit = heading_unit(column.heading.text)
    known: dict[str, float | Fault] = {}
    for row, cell in enumerate(column.cells):
        if cell in EMPTY:
            continue
        if cell not in known:
            known[cell] = _angle(cell, unit, table.decimal_comma)
        _keep(table, meaning, row, cell, known[cell], values)
    return values


def angle_step(table: HeadedTable, meaning: str, *, usual: float) -> float:
    """Return the finest step to which a column of angles is written, ``usual`` where it has none. [deg]"""
    column = table.columns.get(meaning)
    cells = [] if column is None else [cell for cell in column.cells if cell not in EMPTY]
    gon = column is not None and heading_unit(column.heading.text) == "gon"
    steps = []
    for cell in cells:
        parts = re.findall(r"\d+(?:[.,](\d+))?", cell)
        unit = 0.9 if gon or "g" in cell.casefold() else 1.0
        steps += [unit / 60.0 ** (len(parts) - 1) / 10.0 ** len(parts[-1])] if parts else []
    return min(steps, default=usual)


def _keep(  # noqa: PLR0917 - a cell is named by table, column and row
    table: HeadedTable, meaning: str, row: int, cell: str, found: float | Fault, values: FloatArray
) -> None:
    """Put a value into its row, or a fault into the table."""
    if isinstance(found, Fault):
        table.faults.append(Fault(found.what, found.rule, found.remedy, table.source(row, meaning), cell))
    else:
        values[row] = found


def _angle(cell: str, unit: str, comma: bool) -> float | Fault:
    """Return one angle. [deg]"""
    plain = PLAIN.fullmatch(cell) or (comma and PLAIN_COMMA.fullmatch(cell))
    text = f"{cell} gon" if unit == "gon" and plain else cell
    if unit == "dms" and plain and re.search(r"[.,]\d", cell):
        what = f"{cell} stands under degrees, minutes and seconds, and is a decimal number"
        return Fault(what, "117.2240 could be 117.2240° or 117° 22' 40\"", "write 117-22-40, or head the column (deg)")
    try:
        angle = parse_angle(text, decimal_comma=comma)
    except UnitError as error:
        return error.faults[0]
    if not -720.0 <= angle <= 720.0:
        return Fault(f"{cell} is more than two turns", "an angle lies within 720°", "correct it")
    return angle


def column_slopes(table: HeadedTable, meaning: str) -> FloatArray:
    """Return a column of slopes as inclinations, NaN where a cell is empty or at fault. [deg]

    A number alone needs a heading that says percent or degrees: 5 could be either.

    Parameters
    ----------
    table : HeadedTable
        Takes the faults.
    meaning : str
        Column.
    """
    column = table.columns.get(meaning)
    values = np.full(len(table), np.nan)
    if column is None:
        return values
    unit = heading_unit(column.heading.text)
    known: dict[str, float | Fault] = {}
    for row, cell in enumerate(column.cells):
        if cell in EMPTY:
            continue
        if cell not in known:
            known[cell] = _slope(cell, unit, table.decimal_comma)
            if isinstance(known[cell], Fault) and _asks(known[cell]):
                _keep(table, meaning, row, cell, known[cell], values)
                return values
        _keep(table, meaning, row, cell, known[cell], values)
    return values


def _asks(found: float | Fault) -> bool:
    """Say whether a fault is that of the whole column."""
    return isinstance(found, Fault) and "percent or degrees" in found.what


def _slope(cell: str, unit: str, comma: bool) -> float | Fault:
    """Return one inclination. [deg]"""
    plain = PLAIN.fullmatch(cell) or (comma and PLAIN_COMMA.fullmatch(cell))
    if plain and not unit and cell.strip("+-0.,"):
        what = f"{cell} is a number alone: percent or degrees?"
        return Fault(what, "a slope of 5 could be 5 % or 5°", "head the column (%) or (deg), or write the sign")
    try:
        if unit in ("degrees", "dms", "gon") or (not plain and re.search(r"[°'\"]|\d-\d", cell)):
            angle = _angle(cell, unit, comma)
        else:
            words = f"{cell} %" if plain and unit == "percent" else cell
            sign = -1.0 if words.startswith("-") else 1.0
            angle = 0.0
            if not plain or cell.strip("+-0.,"):
                angle = sign * math.degrees(math.atan(parse_slope(words.lstrip("+-").strip(), decimal_comma=comma)))
    except UnitError as error:
        return error.faults[0]
    if isinstance(angle, float) and not -89.0 < angle < 89.0:
        return Fault(f"{cell} is no slope that one can walk", "a slope lies within 89°", "correct it")
    return angle
