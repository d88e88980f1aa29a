"""Tape ties: distances from known points, in one column for each of them or one to a row."""

from __future__ import annotations

import numpy as np

from spadework.read.headed import HeadedTable
from spadework.read.position_kinds import MOST_TIES, tie_reference
from spadework.read.table import EMPTY, counted
from spadework.readings_positions import TapeTies

__all__ = ["read_ties"]

SIDES = {
    **dict.fromkeys(("l", "left", "lt", "lhs"), "left"),
    **dict.fromkeys(("r", "right", "rt", "rhs"), "right"),
}


def read_ties(table: HeadedTable) -> tuple[TapeTies, str]:
    """Return tape ties, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns point and ``from A``, ``from B``, ...; or point, from and distance. A side where there is one.

    Raises
    ------
    InputError
        Every row at fault.
    """
    side = _sides(table)
    names = table.texts("point")
    wide = [f"tie{number}" for number in range(1, MOST_TIES + 1) if f"tie{number}" in table.columns]
    rows: list[int] = []
    references: list[str] = []
    distances: list[float] = []
    for meaning in wide or ["distance"]:
        taped = table.lengths(meaning)
        given = table.texts("from")
        own = tie_reference(table.columns[meaning].heading.text) if wide else ""
        for row in np.flatnonzero(np.isfinite(taped)).tolist():
            rows.append(row)
            references.append(own or given[row])
            distances.append(float(taped[row]))
            if distances[-1] <= 0:
                what = f"the distance of {names[row]} is {distances[-1]:g}"
                table.fault(row, meaning, what, "a distance is above 0", "correct it")
            if references[-1] in EMPTY:
                table.fault(row, "from", "the row names no point that it counts from", "", "fill it in")
    kept = set(rows)
    faulty = {fault.source.line for fault in table.faults}
    for row, name in enumerate(names):
        if name in EMPTY:
            table.fault(row, "point", "the row has no point name", "every point has a name", "give it one")
        elif row not in kept and int(table.line[row]) not in faulty and not table.spoilt:
            table.fault(
                row, wide[0] if wide else "distance", f"{name} has no distance", "a tie is a distance", "tape it"
            )
    table.raise_faults()
    order = sorted(range(len(rows)), key=lambda place: rows[place])
    notes = table.texts("note")
    ties = TapeTies(
        tuple(names[rows[place]] for place in order),
        tuple(notes[rows[place]] for place in order),
        np.array([int(table.line[rows[place]]) for place in order], dtype=np.int64),
        table.file,
        tuple(references[place] for place in order),
        np.array([distances[place] for place in order], dtype=np.float64),
        tuple(side[rows[place]] for place in order),
        table.step(*(wide or ["distance"])),
    )
    parts = [
        counted(len(set(ties.point)), "point"),
        f"{counted(len(ties), 'distance')} from {counted(len(set(ties.reference)), 'known point')}",
        table.unit_said(*(wide or ["distance"])),
    ]
    return ties, ", ".join(filter(None, parts))


def _sides(table: HeadedTable) -> list[str]:
    """Return ``left``, ``right`` or nothing for each row."""
    found = []
    for row, cell in enumerate(table.texts("side")):
        side = SIDES.get(cell.strip().casefold(), "")
        if not side and cell not in EMPTY:
            table.fault(row, "side", f"{cell!r} is no side", "a side is left or right", "correct it")
        found.append(side)
    return found
