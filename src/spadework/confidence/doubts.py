"""Shots that the others do not believe: ranked by how far they stand off, with the slip that would explain it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from spadework.confidence.objects import DoubtfulShot
from spadework.ground.process import FEWEST_SHOTS, GroundProcess, fit_process
from spadework.levels import ReducedLevels
from spadework.levels.wording import decimal_step, name_key, unit_of_step
from spadework.shots import Shots
from spadework.units import FOOT, LengthUnit, format_length

__all__ = ["Written", "WrittenAt", "doubtful_shots", "likely_slip", "standing_out"]

ONE_SURVEY_IN = 20
"""Among shots that are all right, one survey in so many has one that is called doubtful."""
MOST = 5
NEAR = 2.0
"""A slip explains an error that it meets within so many standard deviations."""
MUST_STAND_OUT = 4.0
"""A slip is only looked for where the error is so many times larger than the doubt about it."""


@dataclass(frozen=True, slots=True)
class Written:
    """The number that the level of a shot was worked out from, as it stands in the file.

    Parameters
    ----------
    what : str
        ``"drop"`` or ``"level"``.
    value : float
        As written. [m]
    step : float
        The step to which it is written: one unit of the last decimal, or the fraction of an inch. [m]
    """

    what: str
    value: float
    step: float


WrittenAt = Mapping[tuple[str, int, str], Written]
"""What was written, by file, line and the name of the point."""


def standing_out(count: int) -> float:
    """Return how many standard deviations off a shot is called doubtful, among so many shots.

    The bound of Bonferroni for a normal error: ``Φ⁻¹(1 - 1 / (2 · 20 · count))``, 3.2 among 40 shots, 3.7 among 200.
    """
    return NormalDist().inv_cdf(1.0 - 1.0 / (2.0 * ONE_SURVEY_IN * count))


def doubtful_shots(
    process: GroundProcess,
    shots: Shots,
    levels: Sequence[ReducedLevels] = (),
    unit: LengthUnit = LengthUnit.METRE,
    written: WrittenAt | None = None,
) -> tuple[DoubtfulShot, ...]:
    """Return the shots that do not agree with all the others, the worst first.

    The worst is set aside and the rest is fitted anew before the next is judged, so that one blunder neither hides
    another nor throws doubt on its neighbours.

    Parameters
    ----------
    process : GroundProcess
        Fitted to the shots.
    shots : Shots
        The same, in the same order.
    levels : sequence of ReducedLevels
        Level books in which their rod readings stand.
    unit : LengthUnit
        The user's unit, for suggestions.
    written : mapping, optional
        The drops and levels that stand in other files. A shot whose level nobody wrote gets no suggestion: there are no
        digits of it that somebody might have exchanged.
    """
    found: list[DoubtfulShot] = []
    left, fitted = np.arange(len(shots)), process
    while len(found) < MOST:
        errors = fitted.leave_one_out()
        worst = int(np.argmax(np.abs(errors.standardised)))
        if abs(errors.standardised[worst]) < standing_out(len(left)):
            break
        row = int(left[worst])
        error, sd = float(errors.error[worst]), float(errors.sd[worst])
        found.append(
            DoubtfulShot(
                name=shots.point[row],
                east=float(shots.east[row]),
                north=float(shots.north[row]),
                level=float(shots.level[row]),
                predicted=float(shots.level[row]) - error,
                sd=sd,
                where=str(shots.source(row)),
                suggestion=_suggestion(shots, row, error, sd, levels, unit, written or {}),
            )
        )
        left = np.delete(left, worst)
        if len(left) < FEWEST_SHOTS:
            break
        covariance = fitted.covariance
        fitted = fit_process(shots.take(left), smoothness=covariance.smoothness, roughness=covariance.roughness)
    return tuple(sorted(found, key=lambda shot: -abs(shot.standardised)))


def _suggestion(  # noqa: PLR0917 -- a shot, its error, and where its reading may stand
    shots: Shots,
    row: int,
    error: float,
    sd: float,
    levels: Sequence[ReducedLevels],
    unit: LengthUnit,
    written: WrittenAt,
) -> str:
    """Return what the rod reading, the drop or the level may have been; empty where no common slip fits."""
    if abs(error) < MUST_STAND_OUT * sd:
        return ""
    name = shots.point[row].casefold()
    for reduced in levels:
        book = reduced.book
        step = book.reading_resolution
        for i, point in enumerate(book.point):
            reading = book.intermediate[i] if np.isfinite(book.intermediate[i]) else book.foresight[i]
            if point.casefold() != name or not np.isfinite(reading):
                continue
            # A level is the height of instrument less the reading: too high a level was too small a reading.
            slip = likely_slip(float(reading), float(reading) + error, NEAR * sd, step)
            if slip is not None:
                return _question("rod", float(reading), slip, unit)
    number = written.get((shots.file[row], int(shots.line[row]), name_key(shots.point[row])))
    if number is None:
        return ""
    wanted = number.value + (error if number.what == "drop" else -error)
    slip = likely_slip(number.value, wanted, NEAR * sd, number.step)
    return "" if slip is None else _question(number.what, number.value, slip, unit)


def _question(what: str, read: float, slip: tuple[float, str], unit: LengthUnit) -> str:
    meant, how = slip
    return f"Did you mean {what} {format_length(meant, unit)} for {format_length(read, unit)} ({how})?"


def likely_slip(read: float, wanted: float, slack: float, step: float) -> tuple[float, str] | None:
    """Return the number that was meant, if one common slip of reading or writing leads from it to what was read.

    Parameters
    ----------
    read, wanted : float
        What was written, and what would agree with the other shots. [m]
    slack : float
        How far what was meant may be from what is wanted. [m]
    step : float
        One unit of the last written decimal, or the fraction of an inch. [m]

    Returns
    -------
    (float, str) or None
        What was meant [m], and the slip in words; the nearest where several fit.
    """
    fitting = [(abs(meant - wanted), meant, how) for meant, how in _slips(read, step) if abs(meant - wanted) <= slack]
    if not fitting:
        return None
    _, meant, how = min(fitting)
    return meant, how


def _slips(read: float, step: float) -> Iterator[tuple[float, str]]:
    """Yield numbers that a common slip turns into what was read. Common practice, no source."""
    decimal, unit = decimal_step(step), unit_of_step(step)
    sign = -1.0 if read < 0 else 1.0
    digits = "" if decimal is None else str(round(abs(read) / decimal))
    for i, (one, two) in enumerate(pairwise(digits)):
        if one != two:
            swapped = digits[:i] + two + one + digits[i + 2 :]
            yield sign * int(swapped) * step, "two digits exchanged"
    marks = {
        LengthUnit.METRE: ((1.0, "one metre"), (0.1, "one decimetre")),
        LengthUnit.FOOT: ((FOOT, "one foot"), (FOOT / 10, "a tenth")),
        LengthUnit.FOOT_INCH: ((FOOT, "one foot"), (FOOT / 12, "one inch")),
    }
    for size, words in marks[unit]:
        for turn in (1.0, -1.0):
            yield read + turn * size, f"{words} misread"
    if read < 0:
        yield -read, "a minus that does not belong there"
    if decimal is not None:
        yield read / 10, "the decimal point one place off"
        yield read * 10, "the decimal point one place off"
