"""Time and memory of a large level book, reduced and adjusted: ``python tests/studies/large_book.py``.

Each size runs in a process of its own, so that its greatest memory is its own too. The book has a turning point in
every ninth row, a bench mark at every fiftieth turning point, and in each set-up one shot of that before is read again.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time

import numpy as np

from spadework.levels import ReducedLevels, reduce_level_book, tolerance_rule
from spadework.readings import LevelBook

SIZES = (1_000, 10_000, 100_000, 200_000)
ROWS_PER_SET_UP = 9
SET_UPS_PER_MARK = 50


def large_book(rows: int, seed: int = 1) -> tuple[LevelBook, dict[str, float]]:
    """A level ground read over so many rows, with honest errors of 1.5 mm; and its bench marks."""
    chance = np.random.default_rng(seed)
    backsight, intermediate, foresight = (np.full(rows, np.nan) for _ in range(3))
    names: list[str] = []
    known: dict[str, float] = {}
    for row in range(rows):
        set_up, place = divmod(row, ROWS_PER_SET_UP)
        if row in {0, rows - 1} or (place == 0 and set_up % SET_UPS_PER_MARK == 0):
            names.append("BM0" if row in {0, rows - 1} else f"BM{row}")
            known[names[-1]] = 100.0
        elif place == 1 and set_up:
            names.append(f"p{row - ROWS_PER_SET_UP + 1}")
        else:
            names.append(f"T{row}" if place == 0 else f"p{row}")
        if place == 0 and row != rows - 1:
            backsight[row] = 1.5
        if row == rows - 1 or (place == 0 and row):
            foresight[row] = 1.5
        elif place:
            intermediate[row] = 1.5
    columns = [np.round(column + chance.normal(0, 0.0015, rows), 3) for column in (backsight, intermediate, foresight)]
    blank = np.full(rows, np.nan)
    book = LevelBook(tuple(names), *columns, blank, blank, ("",) * rows, np.arange(2, rows + 2))
    return book, known


def adjusted(rows: int) -> ReducedLevels:
    """The book by least squares."""
    book, known = large_book(rows)
    return reduce_level_book(book, known, tolerance=tolerance_rule(), adjust="least-squares", allow_misclosure=True)


def main() -> None:
    """Print a line for each size, or for the one that is named."""
    if len(sys.argv) == 1:
        print("| rows | seconds | memory [MB] | readings more than needed |")
        for size in SIZES:
            call = [sys.executable, __file__, str(size)]
            print(subprocess.run(call, check=True, capture_output=True, text=True).stdout, end="")
        return
    rows = int(sys.argv[1])
    adjusted(50)  # the libraries are loaded before the clock starts
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = time.perf_counter()
    levels = adjusted(rows)
    seconds = time.perf_counter() - started
    memory = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert levels.fit is not None
    print(f"| {rows:,} | {seconds:.1f} | {memory:.0f} | {levels.fit.solution.degrees_of_freedom:,} |")


if __name__ == "__main__":
    main()
