"""How well the readings of a level book agree with each other, and how sure each level is from them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from spadework.adjust.least_squares import LeastSquares, Verdict
from spadework.factors import factor_row
from spadework.levels.reading_net import ReadingNet, readings_of_book, solve_readings
from spadework.levels.reduction import Heights
from spadework.levels.setups import SetUps
from spadework.levels.slips import Slip, find_slips
from spadework.levels.tolerance import Tolerance
from spadework.readings import FloatArray, LevelBook

__all__ = [
    "DEFAULT_INSTRUMENT",
    "DEFAULT_PRECISION",
    "NetFit",
    "Precision",
    "fit_readings",
    "fit_sentence",
    "instrument_precision",
]

DEFAULT_INSTRUMENT = "builders-level"
USUAL_SIGHT = 30.0
"""Sight at which a reading has the standard deviation of its instrument, for weights by distance. [m]"""
LARGEST_LEFT_OUT = 0.02
"""However loose the tolerance, slips above this are asked about, unless the readings are as unsure themselves. [m]"""
MILLIMETRE = 0.001


@dataclass(frozen=True, slots=True)
class Precision:
    """How sure one reading is.

    Parameters
    ----------
    reading_sd : float
        Standard deviation of one rod reading, before it is rounded to the step of the book. [m]
    weights : str
        ``"set-ups"``: the same for every reading; ``"distance"``: its square grows with the length of the set-up,
        and it is as given at sights of 30 m.
    words : str
        Where the figure comes from.
    bench_sd : mapping of str to float
        Standard deviation of each known level that least squares does not hold, by name. [m]
    """

    reading_sd: float
    weights: Literal["set-ups", "distance"] = "set-ups"
    words: str = "given"
    bench_sd: Mapping[str, float] = field(default_factory=dict)


def instrument_precision(
    name: str = DEFAULT_INSTRUMENT, *, weights: Literal["set-ups", "distance"] = "set-ups", assumed: bool = False
) -> Precision:
    """Return how sure one reading of an instrument of the table is.

    Parameters
    ----------
    name : str
        Row of ``factors/instruments.toml``.
    weights : str
        As for `Precision`.
    assumed : bool
        Whether nobody named the instrument.
    """
    row = factor_row("instruments", name)
    return Precision(row.value * MILLIMETRE, weights, f"{row.name}{', assumed' if assumed else ''}")


DEFAULT_PRECISION = instrument_precision(assumed=True)


@dataclass(frozen=True)
class NetFit:
    """The readings of a book, adjusted together.

    Parameters
    ----------
    net : ReadingNet
        Readings, residuals, redundancies.
    precision : Precision
        What a reading was taken for.
    slips : tuple of tuple of Slip
        For each reading that is probably wrong what it may have been, the likeliest first.
    """

    net: ReadingNet
    precision: Precision
    slips: tuple[tuple[Slip, ...], ...]

    @property
    def solution(self) -> LeastSquares:
        """The adjustment itself."""
        return self.net.solution

    @property
    def limits(self) -> tuple[float, float]:
        """Limits between which chi-square lies for 95 in 100 honest books; NaN where nothing is left over."""
        return self.solution.limits

    @property
    def verdict(self) -> Verdict:
        """How the readings agree, by the chi-square test at 95 %."""
        return self.solution.verdict

    @property
    def widening(self) -> float:
        """Factor on every standard deviation: above 1 where the readings agree worse than their instrument promises."""
        return self.solution.widening

    def level_sd(self, initial: FloatArray) -> FloatArray:
        """Return the standard deviation of each row's level, NaN where it has none. [m]"""
        readings = self.net.readings
        sd: FloatArray = np.where(np.isfinite(initial), self.net.sd[readings.node] * self.widening, np.nan)
        return sd

    def correction(self, initial: FloatArray) -> FloatArray:
        """Return what the adjustment adds to each row's level; 0 where it has none. [m]"""
        level = self.net.level[self.net.readings.node]
        change: FloatArray = np.where(np.isfinite(initial), level - initial, 0.0)
        return change

    def by_row(self, values: FloatArray, rows: int, *, backsights: bool) -> FloatArray:
        """Return numbers of the readings, such as residuals, in the rows of the book; NaN where there is no reading."""
        readings = self.net.readings
        of_kind = readings.is_backsight == backsights
        column = np.full(rows, np.nan)
        column[readings.row[of_kind]] = values[: len(readings)][of_kind]
        return column


def fit_readings(
    book: LevelBook,
    setups: SetUps,
    heights: Heights,
    tolerance: Tolerance,
    precision: Precision,
    *,
    names_are_sure: bool,
) -> NetFit:
    """Return how the readings of a book agree, and which are probably wrong.

    Parameters
    ----------
    book : LevelBook
        Without gaps.
    setups : SetUps
        Its set-ups.
    heights : Heights
        Its levels before adjustment.
    tolerance : Tolerance
        A slip smaller than twice what it allows for one set-up is not looked for, nor one under 20 mm where it allows
        more.
    precision : Precision
        How sure one reading is.
    names_are_sure : bool
        Whether one name is one point for certain.
    """
    per_root_km = math.nan
    if precision.weights == "distance":
        per_root_km = precision.reading_sd * math.sqrt(2.0 * 1000.0 / (2.0 * USUAL_SIGHT))
    readings = readings_of_book(
        book,
        setups,
        heights,
        tolerance,
        precision.reading_sd,
        per_root_km=per_root_km,
        names_are_sure=names_are_sure,
        bench_sd=precision.bench_sd,
    )
    net = solve_readings(readings)
    allowed = tolerance.allowed(1, 2.0 * USUAL_SIGHT)
    smallest = min(2.0 * allowed, max(LARGEST_LEFT_OUT, 6.0 * precision.reading_sd))
    return NetFit(net, precision, find_slips(net, book, smallest))


def fit_sentence(fit: NetFit) -> str:
    """Return how well the readings agree, in a sentence: the chi-square test in words."""
    solution = fit.solution
    count, freedom = len(solution.residual), solution.degrees_of_freedom
    sd = f"{1000 * fit.precision.reading_sd:.3g} mm a reading ({fit.precision.words})"
    if fit.verdict == "unchecked":
        return f"{count} readings fix {len(solution.estimate)} levels and nothing is left over to check them; {sd}."
    low, high = fit.limits
    how = {
        "as expected": f"they agree as {sd} lets expect",
        "better": f"they agree better than {sd} lets expect",
        "worse": f"they agree WORSE than {sd} lets expect: a reading is wrong, or they are less sure than that",
    }[fit.verdict]
    return (
        f"{count} readings, {freedom} more than needed: {how} "
        f"(chi-square {solution.chi_square:.1f}, 95 in 100 lie between {low:.1f} and {high:.1f})."
    )
