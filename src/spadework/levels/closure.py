"""Split a book into runs from known level to known level, and say by how much each misses."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spadework.levels.reduction import Heights
from spadework.levels.results import Run
from spadework.levels.setups import NAMELESS, SetUps
from spadework.levels.tolerance import Tolerance
from spadework.readings import FloatArray, IntArray, LevelBook

__all__ = [
    "Closing",
    "check_runs",
    "closings",
    "judged",
    "open_runs",
    "repeat_runs",
    "run_distance",
    "set_up_lengths",
]

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Closing:
    """A sight on a known level, and the set-ups that lead to it.

    Parameters
    ----------
    row : int
        Row of the sight.
    path : tuple of int
        Set-ups from the start to the sight, in order.
    start_row : int
        Row whose point the first of them began on.
    through : tuple of int
        Row by which each of them hands on to the next; the last is ``row``.
    """

    row: int
    path: tuple[int, ...]
    start_row: int
    through: tuple[int, ...]


def _closing_rows(book: LevelBook, setups: SetUps, heights: Heights) -> list[int]:
    """Rows whose sight closes a run: foresights on known levels; where a set-up leads no further, its last sight."""
    is_known = np.isfinite(setups.known) & setups.has_sight
    if heights.datum_row >= 0:
        is_known[heights.datum_row] = False
    by_foresight = np.flatnonzero(is_known & np.isfinite(book.foresight))
    leads_on = np.zeros(len(setups), dtype=np.bool_)
    leads_on[setups.parent[setups.parent >= 0]] = True
    leads_on[setups.setup[by_foresight]] = True
    by_intermediate = np.flatnonzero(is_known & ~np.isfinite(book.foresight))
    last: dict[int, int] = {int(setups.setup[row]): int(row) for row in by_intermediate}
    ends = [row for k, row in last.items() if not leads_on[k]]
    return sorted([*by_foresight.tolist(), *ends])


def closings(book: LevelBook, setups: SetUps, heights: Heights) -> list[Closing]:
    """Return the closings of a book in order; each set-up belongs to one of them at most.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        Its set-ups.
    heights : Heights
        Its levels before adjustment.

    Returns
    -------
    list of Closing
        A closing whose set-ups all belong to earlier ones is left out; `check_runs` reports it.
    """
    taken = np.zeros(len(setups), dtype=np.bool_)
    taken[list(heights.worked_back)] = True
    found: list[Closing] = []
    for row in _closing_rows(book, setups, heights):
        k = int(setups.setup[row])
        path: list[int] = []
        through = [row]
        while k >= 0 and not taken[k]:
            path.append(k)
            through.append(int(setups.parent_row[k]))
            k = int(setups.parent[k])
        if not path:
            continue
        taken[path] = True
        start_row = through.pop()
        if start_row < 0:
            start_row = int(setups.backsight_row[path[-1]])
        found.append(Closing(row, tuple(reversed(path)), start_row, tuple(reversed(through))))
    return found


def distance_at(book: LevelBook, setups: SetUps, row: int) -> float:
    """Return the distance along the run at a row; 0 at the first reading of the book where it has none. [m]"""
    distance = float(book.distance[row])
    if math.isnan(distance) and len(setups.backsight_row) and row == setups.backsight_row[0]:
        return 0.0
    if math.isnan(distance) and setups.identity[row] != NAMELESS and setups.setup[row] < 0:
        # A lone backsight on a point whose distance stands beside an earlier sight of it.
        same = np.flatnonzero((setups.identity[:row] == setups.identity[row]) & np.isfinite(book.distance[:row]))
        if len(same):
            return float(book.distance[same[-1]])
    return distance


def run_distance(book: LevelBook, setups: SetUps, first: int, last: int) -> float:
    """Return the length of a run between two rows; NaN where the book does not tell. [m]"""
    length = distance_at(book, setups, last) - distance_at(book, setups, first)
    return length if length >= 0 else math.nan


def set_up_lengths(book: LevelBook, setups: SetUps) -> FloatArray:
    """Return the distance from the backsight of each set-up to its last sight; NaN where the book does not tell. [m]"""
    length = np.full(len(setups), math.nan)
    if np.isfinite(book.distance).any():
        last = {int(setups.setup[row]): row for row in np.flatnonzero(setups.has_sight).tolist()}
        for k, row in last.items():
            length[k] = distance_at(book, setups, row) - distance_at(book, setups, int(setups.backsight_row[k]))
    return length


def judged(run: Run, tolerance: Tolerance) -> Run:
    """Return a run with what the rule allows for it."""
    return replace(run, allowed=tolerance.allowed(run.setups, run.distance), rule=str(tolerance))


def _depths(setups: SetUps) -> tuple[IntArray, IntArray]:
    """Set-ups from the known start to each set-up, and the row of that start."""
    depth: list[int] = []
    origin: list[int] = []
    for row, above in zip(setups.backsight_row.tolist(), setups.parent.tolist(), strict=True):
        depth.append(1 if above < 0 else depth[above] + 1)
        origin.append(row if above < 0 else origin[above])
    return np.array(depth, dtype=np.int64), np.array(origin, dtype=np.int64)


def check_runs(book: LevelBook, setups: SetUps, heights: Heights, found: list[Closing]) -> list[Run]:
    """Return the sights on known levels that no run is adjusted to, compared with what is known."""
    used = {closing.row for closing in found}
    if heights.datum_row >= 0:
        used.add(heights.datum_row)
    rows = np.flatnonzero(np.isfinite(setups.known) & setups.has_sight)
    if len(rows) == len(used):
        return []
    depth, origin = _depths(setups)
    runs = []
    for row in sorted(set(rows.tolist()) - used):
        start, count = int(origin[setups.setup[row]]), int(depth[setups.setup[row]])
        if not np.isfinite(setups.known[start]):
            start = heights.datum_row
            count = abs(count - int(depth[setups.setup[start]])) + 1
        runs.append(
            Run(
                "check",
                book.point[start],
                book.point[row],
                start,
                row,
                count,
                run_distance(book, setups, start, row),
                float(heights.initial[row]),
                float(setups.known[row]),
            )
        )
    return runs


def repeat_runs(book: LevelBook, setups: SetUps, level: FloatArray) -> list[Run]:
    """Return the sights of points already levelled from another set-up whose level is not known.

    Parameters
    ----------
    book : LevelBook
        The book.
    setups : SetUps
        Its set-ups.
    level : array, shape (n,)
        Levels to compare. [m]

    Returns
    -------
    list of Run
        ``known`` is the level of the first time.
    """
    rows = np.flatnonzero(setups.has_sight & (setups.identity != NAMELESS) & ~np.isfinite(setups.known))
    _, first_of, number = np.unique(setups.identity[rows], return_index=True, return_inverse=True)
    first = rows[first_of][number]
    again = np.flatnonzero((rows != first) & (setups.setup[rows] != setups.setup[first]))
    if not len(again):
        return []
    depth, origin = _depths(setups)
    runs = []
    for row, earlier in zip(rows[again].tolist(), first[again].tolist(), strict=True):
        k, j = int(setups.setup[row]), int(setups.setup[earlier])
        joined = origin[k] == origin[j]
        count = abs(int(depth[k] - depth[j])) + 1 if joined else int(depth[k] + depth[j])
        length = run_distance(book, setups, earlier, row)
        runs.append(
            Run(
                "repeat",
                book.point[earlier],
                book.point[row],
                earlier,
                row,
                count,
                length,
                float(level[row]),
                float(level[earlier]),
            )
        )
    return runs


def open_runs(book: LevelBook, setups: SetUps, found: list[Closing], checks: list[Run]) -> list[Run]:
    """Return the set-ups that lead to nothing known, neighbours in the book taken together."""
    checked = np.zeros(len(setups), dtype=np.bool_)
    for closing in found:
        checked[list(closing.path)] = True
    for run in checks:
        k = int(setups.setup[run.last_row])
        while k >= 0 and not checked[k]:
            checked[k] = True
            k = int(setups.parent[k])
    unchecked = np.flatnonzero(~checked)
    if not len(unchecked):
        return []
    read = np.flatnonzero(setups.has_sight | np.isfinite(book.backsight))
    runs = []
    for group in np.split(unchecked, np.flatnonzero(np.diff(unchecked) > 1) + 1):
        first = int(setups.backsight_row[group[0]])
        sights = read[np.isin(setups.setup[read], group)]
        last = int(sights[-1]) if len(sights) else first
        runs.append(
            Run(
                "open",
                book.point[first],
                book.point[last],
                first,
                last,
                len(group),
                run_distance(book, setups, first, last),
            )
        )
    return runs
