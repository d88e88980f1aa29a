"""Turn drops below a level line over a taped grid into shots."""

from __future__ import annotations

import string

import numpy as np

from spadework.errors import Fault, InputError
from spadework.levels.wording import Wording
from spadework.readings import DropGrid
from spadework.shots import Shots
from spadework.units import LengthUnit

__all__ = ["LEVEL_LINE", "grid_label", "reduce_drop_grid"]

LEVEL_LINE = "the level line"
"""What the string, water level or laser that drops are measured from is called, where a bench mark would be."""

GREATEST_DROP = 5.0
"""A drop is taped with the rod or tape held upright. [m]"""


def _column_letters(column: int) -> str:
    """Return ``A`` to ``Z``, then ``AA``, ``AB`` and so on."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, len(string.ascii_uppercase))
        letters = string.ascii_uppercase[rest] + letters
    return letters


def grid_label(row: int, column: int) -> str:
    """Return the name of a grid point: column letter and row number, ``A1`` at the corner, ``B1`` to its right."""
    return f"{_column_letters(column)}{row + 1}"


def reduce_drop_grid(
    grid: DropGrid,
    *,
    line_level: float,
    origin: tuple[float, float] = (0.0, 0.0),
    bearing: float = 0.0,
    greatest_drop: float = GREATEST_DROP,
    unit: LengthUnit | None = None,
) -> Shots:
    """Return the shots of a drop grid: ``level = line level - drop``.

    Parameters
    ----------
    grid : DropGrid
        Drops, shape (r, c), positive downwards.
    line_level : float
        Level of the string, water level or laser. [m]
    origin : tuple of float
        East and north of the grid's corner, where distance across and along are zero. [m]
    bearing : float
        Bearing in which the rows go on (the direction of ``along``), clockwise from site north; ``across`` is to the
        right of it. [degrees]
    greatest_drop : float
        No drop may be greater, nor the ground more than that above the line. [m]
    unit : LengthUnit, optional
        Unit of the messages; that of the grid unless given.

    Returns
    -------
    Shots
        One for each cell with a drop, row by row, called ``A1``, ``B1``, ... after their column and row.

    Raises
    ------
    InputError
        When nothing was measured, or a drop is not plausible.
    """
    words = Wording.of_book(grid.reading_resolution, unit)
    rows, columns = np.nonzero(np.isfinite(grid.drop))
    if not len(rows):
        raise InputError(
            Fault(
                what=f"the drop grid {grid.file} has no drop".replace("  ", " "),
                rule="a cell of the grid holds how far the ground lies below the line",
                remedy="Check that the block of drops was recognised",
            )
        )
    drop = grid.drop[rows, columns]
    faults = []
    for at in np.flatnonzero(np.abs(drop) > greatest_drop + 1e-9).tolist():
        label = grid_label(int(rows[at]), int(columns[at]))
        close = next((drop[at] / ten for ten in (10, 100, 1000) if abs(drop[at] / ten) <= greatest_drop), None)
        question = f" Did you mean {words.number(float(close))}?" if close is not None else ""
        faults.append(
            Fault(
                what=f"the drop {words.length(float(drop[at]))} at {label} is out of reach",
                rule=f"a drop lies within {words.length(greatest_drop)} of the line.{question}",
                remedy="Correct the cell, or give the greatest drop",
                source=grid.source(int(rows[at]), f"{words.length(float(grid.across[columns[at]]))} across"),
            )
        )
    if faults:
        raise InputError(faults)
    turn = np.deg2rad(bearing)
    across, along = grid.across[columns], grid.along[rows]
    return Shots(
        point=tuple(grid_label(row, column) for row, column in zip(rows.tolist(), columns.tolist(), strict=True)),
        east=origin[0] + across * np.cos(turn) + along * np.sin(turn),
        north=origin[1] - across * np.sin(turn) + along * np.cos(turn),
        level=line_level - drop,
        note=("",) * len(rows),
        line=grid.line[rows],
        file=(grid.file,) * len(rows),
    )
