"""Reduce a level book: from readings to adjusted levels with every check on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from spadework.errors import Fault, InputError, MisclosureError
from spadework.levels.adjustment import distance_faults, share_misclosures
from spadework.levels.blunders import explain_misclosure
from spadework.levels.closure import Closing, check_runs, closings, judged, open_runs, repeat_runs
from spadework.levels.doubts import find_doubts
from spadework.levels.fit import DEFAULT_PRECISION, Precision, fit_readings
from spadework.levels.gaps import find_gaps, known_levels
from spadework.levels.notices import book_notices
from spadework.levels.reduction import Heights, page_check, reduce_by_hi, reduce_by_rise_and_fall
from spadework.levels.results import Adjustment, ReducedLevels
from spadework.levels.rod_range import ROD_LENGTH, rods_out_of_range
from spadework.levels.setups import SetUps, point_identity, stand_set_ups
from spadework.levels.slip_words import slip_sentences
from spadework.levels.tolerance import Tolerance
from spadework.levels.wording import Wording, name_key, unit_of_step
from spadework.readings import FloatArray, IntArray, LevelBook
from spadework.units import LengthUnit

__all__ = ["ReductionOptions", "reduce_identified", "reduce_level_book"]


class ReductionOptions(NamedTuple):
    """How a book is to be reduced."""

    tolerance: Tolerance
    adjust: Adjustment
    allow_misclosure: bool
    unit: LengthUnit
    precision: Precision = DEFAULT_PRECISION


def reduce_level_book(
    book: LevelBook,
    known: Mapping[str, float],
    *,
    tolerance: Tolerance,
    adjust: Adjustment = "set-ups",
    allow_misclosure: bool = False,
    rod_length: float = ROD_LENGTH,
    unit: LengthUnit | None = None,
    precision: Precision = DEFAULT_PRECISION,
) -> ReducedLevels:
    """Return the levels of a book, reduced by height of instrument and by rise and fall, closed and adjusted.

    Misclosure is observed minus known; a correction has the opposite sign. Known bench marks split the book into runs,
    and each is closed and adjusted on its own. A sight takes the correction of the set-up that it was read from. A run
    that closes on nothing known is left as it is, and a notice says so.

    Parameters
    ----------
    book : LevelBook
        The book, n rows. A turning point carries its foresight and the next backsight in one row, or in two rows one
        after the other; a set-up may also begin on any point already levelled.
    known : mapping of str to float
        Known or assumed levels by point name, compared without regard to case, besides the book's own column. [m]
    tolerance : Tolerance
        What misclosure is allowed, from `tolerance_rule`.
    adjust : str
        ``"set-ups"``, ``"distance"`` (cumulative, from the book), ``"least-squares"`` (every reading at once, each
        point one level, however often and over however many runs it was levelled) or ``"none"``.
    allow_misclosure : bool
        Whether to go on with a misclosure over the tolerance; this is recorded, to be printed.
    rod_length : float
        Length of the rod; no reading may be longer. [m]
    unit : LengthUnit, optional
        Unit of the sentences; that of the book unless given.
    precision : Precision
        How sure one reading is, and what that goes by.

    Returns
    -------
    ReducedLevels
        Levels, runs, checks, and what looks wrong.

    Raises
    ------
    InputError
        When the book has gaps, readings beyond the rod, a mark with two known levels, or no known level at all.
    MisclosureError
        When a run is out by more than the tolerance and that was not allowed.
    """
    own = unit or unit_of_step(book.reading_resolution)
    options = ReductionOptions(tolerance, adjust, allow_misclosure, own, precision)
    words = Wording.of_book(book.reading_resolution, options.unit)
    faults = [
        fault
        for column, what, rods in (
            ("BS", "backsight", book.backsight),
            ("IS", "intermediate sight", book.intermediate),
            ("FS", "foresight", book.foresight),
        )
        for fault in rods_out_of_range(rods, lambda row, c=column: book.source(row, c), what, words, rod_length)  # type: ignore[misc]
    ]
    return reduce_identified(book, point_identity(book.point), known, options, faults)


def reduce_identified(
    book: LevelBook,
    identity: IntArray,
    given: Mapping[str, float],
    options: ReductionOptions,
    faults: list[Fault],
    *,
    compare_repeats: bool = False,
) -> ReducedLevels:
    """Return the levels of a book whose rows are matched to points already.

    Parameters
    ----------
    book : LevelBook
        The book, n rows.
    identity : array of int, shape (n,)
        Number of each row's point, -1 for one that is no other row's.
    given : mapping of str to float
        Known levels by name. [m]
    options : ReductionOptions
        How to reduce.
    faults : list of Fault
        Found so far; raised together with the gaps.
    compare_repeats : bool
        Whether a point levelled from two set-ups has to agree within the tolerance: only where a name is sure to mean
        one point.
    """
    words = Wording.of_book(book.reading_resolution, options.unit)
    known, conflicts = known_levels(book, identity, given, words)
    faults = [*faults, *conflicts, *find_gaps(book, identity, known, given)]
    if faults:
        raise InputError(sorted(faults, key=lambda fault: fault.source.line or 0))
    setups = stand_set_ups(book, identity, known)
    heights = reduce_by_hi(book, setups)
    found = closings(book, setups, heights)
    _demand_distances(book, setups, found, options)

    step, by_rise_and_fall = reduce_by_rise_and_fall(book, setups, heights)
    shared = share_misclosures(book, setups, heights, found, options.adjust)
    fit = fit_readings(book, setups, heights, options.tolerance, options.precision, names_are_sure=compare_repeats)
    correction = fit.correction(heights.initial) if options.adjust == "least-squares" else shared.correction
    checks = check_runs(book, setups, heights, found)
    repeats = repeat_runs(book, setups, heights.initial)
    to_judge = [*shared.runs, *checks, *(repeats if compare_repeats else ())]
    runs = [*(judged(run, options.tolerance) for run in to_judge), *open_runs(book, setups, found, checks)]
    runs.sort(key=lambda run: (run.last_row, run.first_row))
    levels = ReducedLevels(
        book=book,
        setup=setups.setup,
        hi=_hi_by_row(book, setups, heights),
        rise=np.where(step >= 0, step, np.nan),
        fall=np.where(step < 0, -step, np.nan),
        initial=heights.initial,
        correction=correction,
        level=heights.initial + correction,
        known=_known_by_name(book, known, options),
        runs=tuple(runs),
        checks=page_check(book, setups, heights, step, by_rise_and_fall),
        tolerance=options.tolerance,
        adjust=options.adjust,
        unit=options.unit,
        level_sd=fit.level_sd(heights.initial),
        fit=fit,
    )
    failing = levels.failing
    meant = tuple(slip_sentences(fit.slips, book, words, is_book=not compare_repeats))
    explanation = explain_misclosure(book.as_written(), setups, failing, found, words, meant)
    if failing and not options.allow_misclosure:
        raise MisclosureError(explanation)
    doubtful = [] if compare_repeats else [judged(run, options.tolerance) for run in repeats]
    return replace(
        levels,
        suspects=(*find_doubts(levels, setups, step, doubtful, words), *meant),
        notices=tuple(book_notices(levels, setups, heights, words)),
        overridden=bool(failing),
        explanation=explanation,
    )


def _demand_distances(book: LevelBook, setups: SetUps, found: list[Closing], options: ReductionOptions) -> None:
    """Refuse a book that lacks the distances which the adjustment or the rule asks for."""
    faults: list[Fault] = []
    if options.adjust == "distance":
        faults += distance_faults(
            book,
            setups,
            found,
            each_set_up=True,
            why="the adjustment by distance",
            remedy="or adjust by set-ups",
        )
    if options.adjust == "least-squares" and options.precision.weights == "distance":
        faults += distance_faults(
            book, setups, found, each_set_up=True, why="weighting by distance", remedy="or weight by set-ups"
        )
    if options.tolerance.needs_distance and not faults:
        faults += distance_faults(
            book,
            setups,
            found,
            each_set_up=False,
            why=f"the tolerance {options.tolerance}",
            remedy='or give a rule that goes by set-ups, such as "construction"',
        )
    if faults:
        raise InputError(faults)


def _hi_by_row(book: LevelBook, setups: SetUps, heights: Heights) -> FloatArray:
    hi = np.full(len(book), np.nan)
    hi[setups.backsight_row] = heights.instrument
    return hi


def _known_by_name(book: LevelBook, known: FloatArray, options: ReductionOptions) -> dict[str, float]:
    """Return the levels that are held: not those with a standard deviation of their own under least squares."""
    loose = {name_key(name) for name in options.precision.bench_sd} if options.adjust == "least-squares" else set()
    return {
        name_key(book.point[row]): float(known[row])
        for row in np.flatnonzero(np.isfinite(known)).tolist()
        if book.point[row] and name_key(book.point[row]) not in loose
    }
