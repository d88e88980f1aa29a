"""Share out the misclosure of each run, by set-ups or by distance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.errors import Fault
from spadework.levels.closure import Closing, distance_at, run_distance
from spadework.levels.reduction import Heights
from spadework.levels.results import Adjustment, Run
from spadework.levels.setups import SetUps
from spadework.readings import FloatArray, LevelBook

__all__ = ["Shared", "distance_faults", "share_misclosures"]

SHARING = ("set-ups", "distance")


@dataclass(frozen=True)
class Shared:
    """What an adjustment gives.

    Parameters
    ----------
    correction : array, shape (n,)
        To be added to the level of each row; 0 where nothing closes. [m]
    runs : tuple of Run
        The closed runs, not yet held against a tolerance.
    """

    correction: FloatArray
    runs: tuple[Run, ...]


def distance_faults(
    book: LevelBook, setups: SetUps, found: list[Closing], *, each_set_up: bool, why: str, remedy: str
) -> list[Fault]:
    """Return the faults of the distance column where an adjustment or a rule needs it.

    Parameters
    ----------
    book : LevelBook
        The book.
    setups : SetUps
        Its set-ups.
    found : list of Closing
        Its closings.
    each_set_up : bool
        Whether every turning point needs a distance, or only the two ends of a run.
    why : str
        What asks for it: ``the adjustment by distance``.
    remedy : str
        What else could be done: ``or adjust by set-ups``.
    """
    if found and not np.isfinite(book.distance).any():
        return [
            Fault(
                what=f"the book {book.file} has no distances, and {why} needs them".replace("  ", " "),
                rule="distances count along the run from its start, at every turning point and at the end",
                remedy=f"Add a column distance, {remedy}",
            )
        ]
    faults = []
    for closing in found:
        rows = (closing.start_row, *(closing.through if each_set_up else (closing.row,)))
        at = [distance_at(book, setups, row) for row in rows]
        faults += [
            Fault(
                what=f"{book.point[row] or 'this point'} has no distance, and {why} needs it",
                rule="distances count along the run from its start, at every turning point and at the end",
                remedy=f"Add the distance, {remedy}",
                source=book.source(row, "distance"),
            )
            for row, distance in zip(rows, at, strict=True)
            if math.isnan(distance)
        ]
        faults += [
            Fault(
                what=f"the distance at {book.point[row] or 'this point'} is less than at the point before it",
                rule="distances count along the run from its start, and grow",
                remedy=f"Correct the distance, {remedy}",
                source=book.source(row, "distance"),
            )
            for row, (before, after) in zip(rows[1:], pairwise(at), strict=True)
            if after < before
        ]
        if at[-1] == at[0]:
            faults.append(
                Fault(
                    what=f"the run to {book.point[closing.row]} has the length zero, and {why} needs its length",
                    rule="distances count along the run from its start, and grow",
                    remedy=f"Correct the distances, {remedy}",
                    source=book.source(closing.row, "distance"),
                )
            )
    return faults


def _shares(book: LevelBook, setups: SetUps, closing: Closing, adjust: Adjustment) -> FloatArray:
    """Part of the misclosure that each set-up of a run has met, the last one all of it."""
    count = len(closing.path)
    if adjust == "distance":
        start = distance_at(book, setups, closing.start_row)
        along = np.array([distance_at(book, setups, row) for row in closing.through]) - start
        shares: FloatArray = along / along[-1]
        return shares
    return np.arange(1, count + 1, dtype=np.float64) / count


def share_misclosures(
    book: LevelBook, setups: SetUps, heights: Heights, found: list[Closing], adjust: Adjustment
) -> Shared:
    """Share out the misclosure of each run over its set-ups.

    ``correction of set-up i = -misclosure * i / number of set-ups``, or ``-misclosure * distance to i / length``, with
    misclosure observed minus known. Every sight takes the correction of the set-up that it was read from, an
    intermediate one too. What branches off an adjusted run starts from the adjusted level.

    Source: by set-ups, equal parts, Universiti Sains Malaysia, on-line levelling course, solution JSSUAE1, and USGS
    TM 3-A19 (Kenney 2010); by distance, NAVEDTRA 14071 chapter 7.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        Its set-ups.
    heights : Heights
        Its levels before adjustment.
    found : list of Closing
        Its closings.
    adjust : str
        ``"set-ups"``, ``"distance"`` or ``"none"``; ``"least-squares"`` shares nothing here, the net does.

    Returns
    -------
    Shared
        The corrections, and the closed runs.
    """
    correction = np.zeros(len(setups))
    settled = np.zeros(len(setups), dtype=np.bool_)
    settled[list(heights.worked_back)] = True
    runs = []

    for closing in found:
        above = int(setups.parent[closing.path[0]])
        begun = float(correction[above]) if above >= 0 else 0.0
        observed = float(heights.initial[closing.row]) + begun
        known = float(setups.known[closing.row])
        path = list(closing.path)
        settled[path] = True
        if adjust in SHARING:
            correction[path] = begun - (observed - known) * _shares(book, setups, closing, adjust)
        runs.append(
            Run(
                "closed",
                book.point[closing.start_row],
                book.point[closing.row],
                closing.start_row,
                closing.row,
                len(path),
                run_distance(book, setups, closing.start_row, closing.row),
                observed,
                known,
            )
        )
    for k in np.flatnonzero(~settled).tolist():
        # What leads to nothing known keeps the correction of the point that it began on; parents come first.
        above = int(setups.parent[k])
        correction[k] = correction[above] if above >= 0 else 0.0
    return Shared(_by_row(book, setups, heights, correction, adjust), tuple(runs))


def _by_row(book: LevelBook, setups: SetUps, heights: Heights, of_setup: FloatArray, adjust: Adjustment) -> FloatArray:
    """Correction of each row's level: that of its set-up, but a known point keeps its known level."""
    correction = np.zeros(len(book))
    correction[setups.has_sight] = of_setup[setups.setup[setups.has_sight]]
    lone = np.flatnonzero(~setups.has_sight[setups.backsight_row])
    parent = setups.parent[lone]
    correction[setups.backsight_row[lone]] = np.where(parent >= 0, of_setup[np.maximum(parent, 0)], 0.0)
    if adjust in SHARING:
        fixed = np.isfinite(setups.known) & np.isfinite(heights.initial)
        correction[fixed] = setups.known[fixed] - heights.initial[fixed]
    return correction
