"""Level books and rod lists typed into tests as they would stand on paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from spadework.levels import ReducedLevels, Tolerance, reduce_level_book, tolerance_rule
from spadework.readings import FloatArray, LevelBook, RodList

Cell = float | None
FIRST_LINE = 2  # line 1 of a file is its heading
FOOT = 0.3048
LOOSE = Tolerance("loose", 1000.0, "fixed")


def column(cells: Iterable[Cell], unit: float = 1.0) -> FloatArray:
    """Cells as metres, an empty one as NaN."""
    return np.array([np.nan if cell is None else cell * unit for cell in cells], dtype=np.float64)


def level_book(
    rows: Sequence[tuple[str, Cell, Cell, Cell]],
    *,
    unit: float = 1.0,
    step: float = 0.001,
    known: Sequence[Cell] | None = None,
    distance: Sequence[Cell] | None = None,
    printed: Mapping[str, Sequence[Cell]] | None = None,
    file: str = "book.csv",
) -> LevelBook:
    """Rows of point, BS, IS, FS in the unit given; ``printed`` by the names of LevelBook's fields; step in the unit."""
    count = len(rows)
    blank: list[Cell] = [None] * count
    return LevelBook(
        point=tuple(row[0] for row in rows),
        backsight=column((row[1] for row in rows), unit),
        intermediate=column((row[2] for row in rows), unit),
        foresight=column((row[3] for row in rows), unit),
        known=column(known or blank, unit),
        distance=column(distance or blank, unit),
        note=("",) * count,
        line=np.arange(FIRST_LINE, FIRST_LINE + count),
        file=file,
        reading_resolution=step * unit,
        **{name: column(cells, unit) for name, cells in (printed or {}).items()},
    )


def rod_list(
    rows: Sequence[tuple[str, str, Cell, Cell, Cell]], *, unit: float = 1.0, step: float = 0.001, file: str = "rods.csv"
) -> RodList:
    """Rows of set-up, point, east, north, rod in the unit given."""
    return RodList(
        setup=tuple(row[0] for row in rows),
        point=tuple(row[1] for row in rows),
        east=column((row[2] for row in rows), unit),
        north=column((row[3] for row in rows), unit),
        rod=column((row[4] for row in rows), unit),
        note=("",) * len(rows),
        line=np.arange(FIRST_LINE, FIRST_LINE + len(rows)),
        file=file,
        reading_resolution=step * unit,
    )


def reduced(
    book: LevelBook, known: Mapping[str, float], rule: str = "construction", **options: object
) -> ReducedLevels:
    """The book reduced by the rule of that name."""
    return reduce_level_book(book, known, tolerance=tolerance_rule(rule), **options)  # type: ignore[arg-type]
