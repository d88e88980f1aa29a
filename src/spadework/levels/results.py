"""What comes out of a reduction: the levels row by row, the runs with their misclosures, the checks."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from spadework.errors import Fault, InputError
from spadework.levels.tolerance import Tolerance
from spadework.levels.wording import did_you_mean, name_key
from spadework.readings import FloatArray, IntArray, LevelBook
from spadework.units import LengthUnit

if TYPE_CHECKING:
    from spadework.levels.fit import NetFit

__all__ = ["Adjustment", "ArithmeticCheck", "ReducedLevels", "Run", "RunKind"]

Adjustment = Literal["set-ups", "distance", "least-squares", "none"]
RunKind = Literal["closed", "check", "repeat", "open"]


@dataclass(frozen=True, slots=True)
class Run:
    """A chain of set-ups from one point to another, and how well it came out.

    Parameters
    ----------
    kind : str
        ``"closed"``: ends on a known level and is adjusted to it. ``"check"``: an intermediate sight on a known level,
        compared but not adjusted to. ``"repeat"``: a point levelled twice whose level is not known. ``"open"``:
        ends on nothing known, so that nothing checks it.
    start, end : str
        Names of the first and the last point.
    first_row, last_row : int
        Rows of the book between which it lies.
    setups : int
        Set-ups from start to end.
    distance : float
        Length of the run, NaN where the book has none. [m]
    observed, known : float
        Level of the end as observed and as known (for a repeat: as levelled the first time); NaN for an open run. [m]
    allowed : float
        Largest misclosure that the rule allows; NaN for an open run. [m]
    rule : str
        The rule, with its formula.
    """

    kind: RunKind
    start: str
    end: str
    first_row: int
    last_row: int
    setups: int
    distance: float = math.nan
    observed: float = math.nan
    known: float = math.nan
    allowed: float = math.nan
    rule: str = ""

    @property
    def misclosure(self) -> float:
        """Observed minus known: positive when the run came out too high. NaN for an open run. [m]"""
        return self.observed - self.known

    @property
    def within(self) -> bool | None:
        """Whether the misclosure keeps the tolerance; None where nothing was there to compare with."""
        if math.isnan(self.misclosure) or math.isnan(self.allowed):
            return None
        # Readings are decimals kept as binary fractions: a misclosure of exactly the allowed 10 mm has to pass.
        return abs(self.misclosure) <= self.allowed + 1e-9


@dataclass(frozen=True, slots=True)
class ArithmeticCheck:
    """The page check: backsights less closing sights, rises less falls, and last less first level are one number.

    Parameters
    ----------
    sum_bs, sum_fs : float
        Sums of the backsights and of the foresights. [m]
    sum_last_is : float
        Sum of the last sights of chains that end without a foresight, which stand for one: the last intermediate
        sight, or the backsight itself where a set-up read nothing else. [m]
    sum_rise, sum_fall : float
        Sums of the rises and of the falls. [m]
    difference : float
        ``sum_bs - sum_fs - sum_last_is``. [m]
    last_less_first : float
        Last level less first level before adjustment, summed over the chains of the book. [m]
    disagreement : float
        Largest difference between the levels by height of instrument and by rise and fall. [m]
    """

    sum_bs: float
    sum_fs: float
    sum_last_is: float
    sum_rise: float
    sum_fall: float
    difference: float
    last_less_first: float
    disagreement: float

    @property
    def agrees(self) -> bool:
        """Whether all three agree, and the two ways of reducing, but for rounding in the computer."""
        size = 1e-9 * max(1.0, abs(self.sum_bs), abs(self.sum_fs), abs(self.last_less_first))
        return (
            abs(self.difference - (self.sum_rise - self.sum_fall)) <= size
            and abs(self.difference - self.last_less_first) <= size
            and self.disagreement <= size
        )


@dataclass(frozen=True)
class ReducedLevels:
    """A level book with its levels: all that a printed book needs.

    Parameters
    ----------
    book : LevelBook
        The book as it was written, n rows.
    setup : array of int, shape (n,)
        Set-up from which each row's IS or FS was read, counted from 0; -1 where the row has neither.
    hi : array, shape (n,)
        Height of instrument that the row's backsight gives, before adjustment; NaN without a backsight. [m]
    rise, fall : array, shape (n,)
        Rise or fall from the sight before it in the same set-up; NaN where it is the other one, or neither. [m]
    initial : array, shape (n,)
        Level before adjustment; NaN where the row has no reading. [m]
    correction : array, shape (n,)
        What the adjustment adds. [m]
    level : array, shape (n,)
        Adjusted level, ``initial + correction``. [m]
    known : mapping of str to float
        Known levels that the book touches, by point name as compared (case folded). [m]
    runs : tuple of Run
        In the order of the book.
    checks : ArithmeticCheck
        The page check.
    tolerance : Tolerance
        The rule that was asked for.
    adjust : str
        How misclosures were shared: ``"set-ups"``, ``"distance"``, ``"least-squares"`` or ``"none"``.
    unit : LengthUnit
        The unit of the sentences.
    suspects : tuple of str
        What looks wrong, a plain sentence each.
    notices : tuple of str
        What the reader of these levels has to know.
    explanation : str
        Where to look when a run does not close and that was let pass; empty otherwise.
    overridden : bool
        Whether a misclosure over the tolerance was let pass by the user's option; to be printed on every sheet.
    level_sd : array, shape (n,), optional
        Standard deviation of each level, from that of a reading along all the chains that lead to it; NaN where the row
        has no level. [m]
    fit : NetFit, optional
        How well the readings agree with each other.
    """

    book: LevelBook
    setup: IntArray
    hi: FloatArray
    rise: FloatArray
    fall: FloatArray
    initial: FloatArray
    correction: FloatArray
    level: FloatArray
    known: Mapping[str, float]
    runs: tuple[Run, ...]
    checks: ArithmeticCheck
    tolerance: Tolerance
    adjust: Adjustment
    unit: LengthUnit
    suspects: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    explanation: str = ""
    overridden: bool = False
    level_sd: FloatArray | None = None
    fit: NetFit | None = None

    @property
    def failing(self) -> tuple[Run, ...]:
        """The runs that are out by more than their tolerance."""
        return tuple(run for run in self.runs if run.within is False)

    @property
    def closed(self) -> bool:
        """Whether something checks every level: no run is open."""
        return all(run.kind != "open" for run in self.runs)

    @property
    def setup_count(self) -> int:
        """How often the instrument was set up."""
        return int(np.isfinite(self.hi).sum())

    def level_of(self, name: str) -> float:
        """Return the adjusted level of a point. [m]

        Parameters
        ----------
        name : str
            Compared without regard to case; a point levelled several times has the level of the first time.

        Raises
        ------
        InputError
            When the book has no level for that name.
        """
        wanted = name_key(name)
        if wanted in self.known:
            return self.known[wanted]
        for row, point in enumerate(self.book.point):
            if name_key(point) == wanted and math.isfinite(self.level[row]):
                return float(self.level[row])
        raise InputError(
            Fault(
                what=f"the level book {self.book.file} has no level for {name!r}".replace("  ", " "),
                remedy=did_you_mean(name, [point for point in self.book.point if point]) or "Check the point's name",
                value=name,
            )
        )
