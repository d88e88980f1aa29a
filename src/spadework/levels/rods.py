"""Reduce a rod list: its set-ups as a level book, and the book's levels back to shots with positions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from spadework.levels.book import ReductionOptions, reduce_identified
from spadework.levels.fit import DEFAULT_PRECISION, Precision
from spadework.levels.results import Adjustment, ReducedLevels
from spadework.levels.rod_book import ArrangedRods, arrange_rods
from spadework.levels.rod_range import ROD_LENGTH
from spadework.levels.setups import NAMELESS
from spadework.levels.tolerance import Tolerance
from spadework.levels.wording import Wording, name_key, unit_of_step
from spadework.readings import IntArray, LevelBook, RodList
from spadework.shots import Shots
from spadework.units import LengthUnit

__all__ = ["level_book_from_rods", "reduce_rod_list"]

MOST_NAMED = 8
MOST_EXCUSED = 0.3
"""Two rods on one point from one set-up that differ by more are refused, whatever their sds (our judgement). [m]"""


def level_book_from_rods(
    rods: RodList, known: Mapping[str, float], *, rod_length: float = ROD_LENGTH, unit: LengthUnit | None = None
) -> LevelBook:
    """Return the level book of a rod list: each set-up opens on a point already levelled, and ends on the next one's.

    Parameters
    ----------
    rods : RodList
        The list, n rows.
    known : mapping of str to float
        Known or assumed levels by point name, compared without regard to case. [m]
    rod_length : float
        Length of the rod. [m]
    unit : LengthUnit, optional
        Unit of the messages; that of the list unless given.

    Returns
    -------
    LevelBook
        In each set-up the first reading on a known point or on a point of another set-up is the backsight; the reading
        on the point where the next set-up opens is the foresight, or in a last set-up the last reading on a known
        point; the others are intermediate sights. Rows without a rod reading are not in it.

    Raises
    ------
    InputError
        When a set-up is tied to nothing, a reading is beyond the rod, or a known point stands at two places.
    """
    words = Wording.of_book(rods.reading_resolution, unit)
    return arrange_rods(rods, known, rod_length, words).book


def _separate_rows(rods: RodList) -> Iterator[str]:
    """Set-ups whose rows do not stand together."""
    keys = [name_key(setup) for setup, rod in zip(rods.setup, rods.rod.tolist(), strict=True) if np.isfinite(rod)]
    seen: set[str] = set()
    told: set[str] = set()
    before = None
    for key in keys:
        if key != before and key in seen and key not in told:
            told.add(key)
            yield f"The rows of set-up {key or 'without a name'} do not stand together: taken as one standing."
        seen.add(key)
        before = key


def _shots(
    rods: RodList, arranged: ArrangedRods, levels: ReducedLevels, known: Mapping[str, float]
) -> tuple[Shots, IntArray]:
    """Shots of a rod list in its own order, one for each point, and the row of each."""
    identity, book_row = arranged.points.identity, arranged.book_row
    level = np.where(book_row >= 0, levels.level[book_row], np.nan)
    sd = np.full(len(levels.book), np.nan) if levels.level_sd is None else levels.level_sd
    spread = np.where(book_row >= 0, sd[book_row], np.nan)
    known_keys = {name_key(name) for name in known}
    east, north = rods.east.copy(), rods.north.copy()
    note = list(rods.note)
    keep = np.isfinite(east)
    several = np.flatnonzero(np.bincount(identity + 1)[identity + 1] > 1)
    first_of: dict[int, int] = {}
    for row in several.tolist():
        number = int(identity[row])
        if number == NAMELESS:
            continue
        first = first_of.setdefault(number, row)
        if first == row:
            continue
        if not np.isfinite(east[first]):
            east[first], north[first] = east[row], north[row]
            keep[first] = np.isfinite(east[first])
        if not np.isfinite(level[first]):
            level[first], spread[first] = level[row], spread[row]
        same_set_up = name_key(rods.setup[row]) == name_key(rods.setup[first])
        both_read = book_row[row] >= 0 and book_row[first] >= 0
        is_known = name_key(rods.point[row]) in known_keys
        # A point read twice from one set-up stays twice: whether the two agree is for the ground to judge.
        keep[row] &= same_set_up and both_read and not is_known
        if keep[row] and abs(level[row] - level[first]) > MOST_EXCUSED:
            # Their own disagreement widened every standard deviation, which must not excuse it.
            spread[[first, row]] = 0.0
        if not keep[row]:
            note[first] = note[first] or note[row]
    rows = np.flatnonzero(keep)
    shots = Shots(
        point=tuple(rods.point[row] for row in rows),
        east=east[rows],
        north=north[rows],
        level=level[rows],
        note=tuple(note[row] for row in rows),
        line=rods.line[rows],
        file=(rods.file,) * len(rows),
        level_sd=spread[rows],
    )
    return shots, rows


def _off_the_plan(rods: RodList, identity: IntArray, shot_rows: IntArray) -> Iterator[str]:
    """Points that have a level and no position."""
    unplaced = ~np.isfinite(rods.east) & np.isfinite(rods.rod)
    rows = np.flatnonzero(unplaced & ((identity == NAMELESS) | ~np.isin(identity, identity[shot_rows]))).tolist()
    names = list(dict.fromkeys(rods.point[row] or f"line {int(rods.line[row])}" for row in rows))
    if names:
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        verb = "has" if len(names) == 1 else "have"
        yield f"{', '.join(names[:MOST_NAMED])}{more} {verb} a level but no position: no shot of the ground."


def reduce_rod_list(
    rods: RodList,
    known: Mapping[str, float],
    *,
    tolerance: Tolerance,
    adjust: Adjustment = "set-ups",
    allow_misclosure: bool = False,
    rod_length: float = ROD_LENGTH,
    unit: LengthUnit | None = None,
    precision: Precision = DEFAULT_PRECISION,
) -> tuple[Shots, ReducedLevels]:
    """Return the shots of a rod list with their adjusted levels, and the book behind them.

    Parameters
    ----------
    rods : RodList
        The list, n rows, from any number of set-ups that share points.
    known : mapping of str to float
        Known or assumed levels by point name, compared without regard to case. [m]
    tolerance : Tolerance
        What misclosure is allowed, from `tolerance_rule`. A point read from two set-ups has to agree within it too.
    adjust : str
        ``"set-ups"``, ``"least-squares"`` or ``"none"``; ``"distance"`` needs distances, which a rod list has
        not.
    allow_misclosure : bool
        Whether to go on with a misclosure over the tolerance; this is recorded, to be printed.
    rod_length : float
        Length of the rod. [m]
    unit : LengthUnit, optional
        Unit of the messages; that of the list unless given.
    precision : Precision
        How sure one reading is.

    Returns
    -------
    shots : Shots
        One for each point with a position, in the order of the list. A point read from several set-ups has the level of
        the first; one without a rod reading has no level and only marks a place.
    levels : ReducedLevels
        The book, its runs and checks.

    Raises
    ------
    InputError
        As `level_book_from_rods` and `reduce_level_book`.
    MisclosureError
        When a run, or a point read twice, is out by more than the tolerance and that was not allowed.
    """
    chosen = unit or unit_of_step(rods.reading_resolution)
    words = Wording.of_book(rods.reading_resolution, chosen)
    arranged = arrange_rods(rods, known, rod_length, words)
    options = ReductionOptions(tolerance, adjust, allow_misclosure, chosen, precision)
    levels = reduce_identified(arranged.book, arranged.identity, known, options, [], compare_repeats=True)
    shots, shot_rows = _shots(rods, arranged, levels, known)
    notices = (
        *levels.notices,
        *arranged.points.notices,
        *_separate_rows(rods),
        *_off_the_plan(rods, arranged.points.identity, shot_rows),
    )
    return shots, replace(levels, notices=notices)
