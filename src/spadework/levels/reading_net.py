"""The readings of a level book as a net: every one ties a point to the height of instrument it was read from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from spadework.adjust.least_squares import LeastSquares
from spadework.levels.closure import set_up_lengths
from spadework.levels.net import reached_nodes, solve_nodes
from spadework.levels.reduction import Heights
from spadework.levels.setups import NAMELESS, SetUps
from spadework.levels.tolerance import Tolerance
from spadework.levels.wording import name_key
from spadework.readings import FloatArray, IntArray, LevelBook

__all__ = ["COMMON_NAMES", "NetReadings", "ReadingNet", "readings_of_book", "solve_readings"]

BoolArray = npt.NDArray[np.bool_]

COMMON_NAMES = {"tp", "cp", "t.p.", "c.p.", "t.p", "c.p", "turning point", "change point", "peg", "spot", "ground"}
"""Names that say what a point is and not which."""

LARGE_STEP = 0.02
"""Points further apart than this are two, where the rule does not say. [m]"""


@dataclass(frozen=True)
class NetReadings:
    """The m readings of a book of n rows and k set-ups.

    Parameters
    ----------
    row : array of int, shape (m,)
        Row of each reading: first the backsights, then the sights.
    is_backsight : array of bool, shape (m,)
        Which are backsights.
    set_up : array of int, shape (m,)
        Set-up from which each was read.
    value : array, shape (m,)
        As written. [m]
    sd : array, shape (m,)
        Standard deviation of each, its rounding included. [m]
    node : array of int, shape (n,)
        Point of each row, rows that are one point together; set-up i is node ``points + i``.
    points : int
        Number of points.
    known : array, shape (points + k,)
        Known levels, NaN elsewhere. [m]
    near : array, shape (points + k,)
        Levels and heights of instrument before adjustment. [m]
    taken : array, shape (m,)
        What was taken off each as written, for a line of sight that is not level. [m]
    loose : array of int, shape (b,)
        Points of bench marks that are not held, each one more observation.
    loose_level, loose_sd : array, shape (b,)
        Their levels as given, and how sure those are. [m]
    """

    row: IntArray
    is_backsight: BoolArray
    set_up: IntArray
    value: FloatArray
    sd: FloatArray
    node: IntArray
    points: int
    known: FloatArray
    near: FloatArray
    taken: FloatArray
    loose: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    loose_level: FloatArray = field(default_factory=lambda: np.empty(0))
    loose_sd: FloatArray = field(default_factory=lambda: np.empty(0))

    def __len__(self) -> int:
        return len(self.row)


@dataclass(frozen=True)
class ReadingNet:
    """The readings adjusted.

    Parameters
    ----------
    readings : NetReadings
        What was adjusted.
    value : array, shape (m,)
        The readings that were used: as written, or as somebody may have meant them. [m]
    solution : LeastSquares
        Residuals (adjusted less observed) and the rest, of the readings and then of the bench marks not held. [m]
    level : array, shape (points + k,)
        Adjusted levels and heights of instrument. [m]
    sd : array, shape (points + k,)
        Their standard deviations, if those of the readings are true; 0 where known. [m]
    design : scipy sparse array, shape (m, unknowns)
        Change of each reading with each unknown.
    column : array of int, shape (points + k,)
        Unknown that stands for each node; -1 for a known one.
    """

    readings: NetReadings
    value: FloatArray
    solution: LeastSquares
    level: FloatArray
    sd: FloatArray
    design: Any
    column: IntArray


def _ambiguous(book: LevelBook, identity: IntArray, heights: Heights, tolerance: Tolerance) -> IntArray:
    """Return the identities with those names taken out that more than one point may well have.

    A word such as TP never says which. Plain numbers do, unless most of those that come again lie elsewhere, each by an
    amount of its own: then they were counted anew. Several that are off by one amount are one slip between.
    """
    kept = identity.copy()
    used = np.flatnonzero(np.isfinite(heights.initial) & (identity != NAMELESS))
    common = [row for row in used.tolist() if name_key(book.point[row]) in COMMON_NAMES]
    kept[common] = NAMELESS
    plain = np.array([row for row in used.tolist() if book.point[row].strip().isdigit()], dtype=np.int64)
    if len(plain):
        _, first, number = np.unique(identity[plain], return_index=True, return_inverse=True)
        again = plain[first[number]] != plain
        apart = np.sort((heights.initial[plain] - heights.initial[plain[first[number]]])[again])
        allowed = tolerance.allowed(4, 1000.0)
        limit = allowed if math.isfinite(allowed) else LARGE_STEP
        gaps = np.concatenate([[math.inf], np.diff(apart), [math.inf]])
        alone = (np.abs(apart) > limit) & (gaps[:-1] > limit) & (gaps[1:] > limit)
        if len(apart) and np.mean(alone) > 0.5:
            kept[plain] = NAMELESS
    return kept


def _nodes(book: LevelBook, setups: SetUps, identity: IntArray) -> tuple[IntArray, int]:
    """Return the point of each row: one for each name, and one for a turning point's two rows."""
    from scipy.sparse import coo_array  # noqa: PLC0415 - keeps the start of every command short
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    count = len(book)
    named = np.flatnonzero(identity != NAMELESS)
    _, first, number = np.unique(identity[named], return_index=True, return_inverse=True)
    chained = np.flatnonzero(setups.parent_row >= 0)
    one = np.concatenate([named, setups.backsight_row[chained]])
    other = np.concatenate([named[first[number]], setups.parent_row[chained]])
    joined = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    points, node = connected_components(joined, directed=False)
    return node.astype(np.int64), int(points)


def _by_distance(book: LevelBook, setups: SetUps, per_root_km: float) -> FloatArray:
    """Return the standard deviation of one reading of each set-up from its length; NaN where the book has none. [m]"""
    sd: FloatArray = per_root_km * np.sqrt(np.abs(set_up_lengths(book, setups)) / 2000.0)
    return sd


def _by_reading(
    back: FloatArray | None, fore: FloatArray | None, opens: IntArray, sights: IntArray, otherwise: float
) -> FloatArray:
    """Return what two columns of a book say of each reading, in the order of the readings."""
    one = np.full(len(opens), otherwise) if back is None else back[opens]
    two = np.full(len(sights), otherwise) if fore is None else fore[sights]
    return np.concatenate([one, two])


def readings_of_book(
    book: LevelBook,
    setups: SetUps,
    heights: Heights,
    tolerance: Tolerance,
    reading_sd: float,
    *,
    per_root_km: float = math.nan,
    names_are_sure: bool = True,
    bench_sd: Mapping[str, float] | None = None,
) -> NetReadings:
    """Return the readings of a book as observations of a net.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        Its set-ups.
    heights : Heights
        Its levels before adjustment.
    tolerance : Tolerance
        Its rule.
    reading_sd : float
        Standard deviation of one reading. [m]
    per_root_km : float
        Standard deviation of a kilometre of levelling, for weights by distance: a set-up of length L has two
        readings of variance ``per_root_km**2 L / 2``, and one whose sight has a length of its own goes by that. NaN for
        weights by set-ups. [m]
    names_are_sure : bool
        Whether one name is one point for certain.
    bench_sd : mapping of str to float, optional
        Standard deviation of each known level that is not to be held, by name. [m]
    """
    identity = setups.identity if names_are_sure else _ambiguous(book, setups.identity, heights, tolerance)
    node, points = _nodes(book, setups, identity)
    opens = setups.backsight_row
    sights = np.flatnonzero(setups.has_sight)
    row = np.concatenate([opens, sights])
    set_up = np.concatenate([np.arange(len(opens)), setups.setup[sights]])
    known = np.full(points + len(setups), math.nan)
    given = np.flatnonzero(np.isfinite(setups.known))
    known[node[given]] = setups.known[given]
    spread = {name_key(name): sd for name, sd in (bench_sd or {}).items() if sd > 0}
    marks = {int(node[row]): spread[key] for row in given.tolist() if (key := name_key(book.point[row])) in spread}
    loose = np.array(list(marks), dtype=np.int64)
    loose_level = known[loose]
    known[loose] = math.nan
    near = np.zeros(points + len(setups))
    levelled = np.flatnonzero(np.isfinite(heights.initial))[::-1]
    near[node[levelled]] = heights.initial[levelled]
    near[points:] = heights.instrument
    rounding = book.reading_resolution / math.sqrt(12.0)
    sd = np.full(len(row), math.hypot(reading_sd, rounding))
    if math.isfinite(per_root_km):
        by_length = _by_distance(book, setups, per_root_km)[set_up]
        own = _by_reading(book.backsight_length, book.sight_length, opens, sights, math.nan)
        by_length = np.where(own > 0, per_root_km * np.sqrt(np.abs(own) / 1000.0), by_length)
        sd = np.where(by_length > 0, np.hypot(by_length, rounding), sd)
    return NetReadings(
        row=row,
        is_backsight=np.arange(len(row)) < len(opens),
        set_up=set_up,
        value=np.concatenate([book.backsight[opens], setups.sight[sights]]),
        sd=sd,
        node=node,
        points=points,
        known=known,
        near=near,
        taken=_by_reading(book.backsight_correction, book.sight_correction, opens, sights, 0.0),
        loose=loose,
        loose_level=loose_level,
        loose_sd=np.array(list(marks.values()), dtype=np.float64),
    )


def solve_readings(readings: NetReadings, value: FloatArray | None = None) -> ReadingNet:
    """Return the readings adjusted by least squares: ``HI - level = reading``.

    Parameters
    ----------
    readings : NetReadings
        Of a book in which every set-up is tied to a known level.
    value : array, shape (m,), optional
        Readings to use in place of those written. [m]
    """
    used = readings.value if value is None else value
    start, end = readings.node[readings.row], readings.points + readings.set_up
    count, datum = len(readings.known), len(readings.known)
    # A bench mark that is not held hangs on the datum itself, whose level is 0, by one more observation.
    start = np.concatenate([start, np.full(len(readings.loose), datum)])
    end = np.concatenate([end, readings.loose])
    known, near = np.append(readings.known, 0.0), np.append(readings.near, 0.0)
    touched = np.zeros(count + 1, dtype=np.bool_)
    touched[start] = touched[end] = True
    reached = reached_nodes(count + 1, start, end, known)
    # A row without a reading, and what hangs on nothing known, stay as they are.
    held = np.where(touched & reached, known, near)
    rise = np.concatenate([used, readings.loose_level])
    spread = np.concatenate([readings.sd, readings.loose_sd])
    solution, column, design = solve_nodes(start, end, rise, spread, held, near)
    held, touched, reached, column = held[:count], touched[:count], reached[:count], column[:count]
    free = column >= 0
    level, sd = held.copy(), np.where(touched & ~reached, math.nan, 0.0)
    level[free] = readings.near[free] + solution.estimate[column[free]]
    sd[free] = solution.expected_sd[column[free]]
    return ReadingNet(readings, used, solution, level, sd, design, column)
