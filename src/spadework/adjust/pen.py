"""What a written number may have been meant to be: the usual slips of the pen, each with how often it is made."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations
from typing import Literal

from spadework.units import FOOT, LengthUnit

__all__ = [
    "HABIT",
    "PenSlip",
    "decimal_step",
    "exchanged_digits",
    "meant_angles",
    "meant_distances",
    "meant_readings",
    "unit_of_step",
]

PenSlip = Literal[
    "exchanged", "whole", "ten", "tenth", "minus", "inches", "columns", "dropped", "doubled", "turned", "side", "other"
]

# How often each slip is made, before anything is known of the book: our own judgement, common practice, no source. Only
# the ratios matter, and only between slips that explain the readings equally well.
HABIT: dict[PenSlip, float] = {
    "exchanged": 0.30,
    "whole": 0.30,
    "ten": 0.10,
    "tenth": 0.10,
    "minus": 0.03,
    "inches": 0.10,
    "columns": 0.12,
    "dropped": 0.06,
    "doubled": 0.04,
    "turned": 0.10,
    "side": 0.12,
    "other": 0.05,
}
NEIGHBOURS = 5.0
"""Two digits beside each other are exchanged so many times as often as two that are not."""
INCH = FOOT / 12


def _power_of_ten(value: float) -> bool:
    exponent = math.log10(value)
    return math.isclose(exponent, round(exponent), abs_tol=1e-6)


def unit_of_step(step: float) -> LengthUnit:
    """Return the unit in which a book is written, from the finest step of its readings.

    Parameters
    ----------
    step : float
        0.001 for a book in millimetres, 0.003048 for one in hundredths of a foot, 0.003175 for eighths of an inch. [m]

    Returns
    -------
    LengthUnit
        Metres where the step is nothing known.
    """
    if not (math.isfinite(step) and step > 0) or _power_of_ten(step):
        return LengthUnit.METRE
    if _power_of_ten(step / FOOT):
        return LengthUnit.FOOT
    parts = INCH / step
    return LengthUnit.FOOT_INCH if 0.999 < parts < 64.001 and abs(parts - round(parts)) < 1e-6 else LengthUnit.METRE


def decimal_step(step: float) -> float | None:
    """Return the step when the book is written in decimals of its unit, ``None`` for fractions of an inch. [m]"""
    return None if unit_of_step(step) is LengthUnit.FOOT_INCH else step


def exchanged_digits(digits: int) -> dict[int, float]:
    """Return the numbers that two digits of a number make when they change places, neighbours with more weight."""
    text = str(digits).zfill(4)
    numbers: dict[int, float] = {}
    for i, j in combinations(range(len(text)), 2):
        swapped = list(text)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        number = int("".join(swapped))
        if number != digits:
            numbers[number] = max(numbers.get(number, 0.0), NEIGHBOURS if j == i + 1 else 1.0)
    return numbers


def _inches(value: float, step: float) -> Iterator[float]:
    """Give what a decimal of a foot is when it was read as inches: 5.4 as 5 ft 4 in, 5.11 as 5 ft 11 in."""
    digits = round(value / step)
    per_foot = round(FOOT / step)
    feet, part = divmod(digits, per_foot)
    written = str(part).zfill(len(str(per_foot)) - 1)
    inches = {int(written)} | ({int(written.rstrip("0"))} if written.rstrip("0") else set())
    for count in sorted(inches):
        if 0 < count < 12:
            yield feet * FOOT + count * FOOT / 12


def meant_readings(value: float, step: float) -> Iterator[tuple[PenSlip, list[tuple[float, float]]]]:
    """Give each kind of slip of a rod reading with the readings that may have been meant, and their weights.

    Parameters
    ----------
    value : float
        As written. [m]
    step : float
        Finest step to which the book is written. [m]
    """
    decimal = decimal_step(step)
    unit = unit_of_step(step)
    sign = -1.0 if value < 0 else 1.0
    size = abs(value)
    if decimal is not None:
        numbers = exchanged_digits(round(size / decimal))
        yield "exchanged", [(sign * number * decimal, weight) for number, weight in numbers.items()]
    whole = 1.0 if unit is LengthUnit.METRE else FOOT
    parts = 10 if unit is not LengthUnit.FOOT_INCH else 12
    yield "whole", [(value + change, 1.0) for change in (whole, -whole)]
    yield "tenth", [(value + change / parts, 1.0) for change in (whole, -whole)]
    yield "minus", [(-value, 1.0)]
    if unit is LengthUnit.FOOT and value > 0:
        yield "inches", [(meant, 1.0) for meant in _inches(value, step) if abs(meant - value) > step / 2]


def meant_distances(value: float, step: float) -> Iterator[tuple[PenSlip, list[tuple[float, float]]]]:
    """Give the same for a distance along a tape, which has no minus and more digits before the point.

    Besides the slips of a rod reading: ten metres or feet out, a digit before the point left out, one written twice.
    """
    for kind, choices in meant_readings(value, step):
        if kind != "minus":
            yield kind, [(meant, weight) for meant, weight in choices if meant > 0]
    unit = unit_of_step(step)
    whole = 1.0 if unit is LengthUnit.METRE else FOOT
    yield "ten", [(value + change, 1.0) for change in (10.0 * whole, -10.0 * whole) if value + change > 0]
    decimal = decimal_step(step)
    if decimal is None:
        return
    per_whole = round(whole / decimal)
    count, part = divmod(round(value / decimal), per_whole)
    text = str(count) if count else ""
    longer = {int(text[:at] + digit + text[at:]) for at in range(len(text) + 1) for digit in "0123456789"} - {count}
    if len(text) < 4:
        yield "dropped", [((number * per_whole + part) * decimal, 1.0) for number in sorted(longer)]
    shorter = {int((text[:at] + text[at + 1 :]) or "0") for at in range(len(text))} - {count}
    yield "doubled", [((number * per_whole + part) * decimal, 1.0) for number in sorted(shorter) if number or part]


def meant_angles(value: float, step: float) -> Iterator[tuple[PenSlip, list[tuple[float, float]]]]:
    """Give each kind of slip of a horizontal angle with the angles that may have been meant, and their weights.

    Besides exchanged digits: read from the wrong end (half a turn), a whole degree or ten out, ten minutes out.

    Parameters
    ----------
    value : float
        As written. [deg]
    step : float
        Finest step to which it is written: a power of ten for decimal degrees, a minute, a second or part of it. [deg]
    """
    yield "turned", [((value + 180.0) % 360.0, 1.0)]
    yield "whole", [((value + change) % 360.0, 1.0) for change in (1.0, -1.0)]
    yield "ten", [((value + change) % 360.0, 1.0) for change in (10.0, -10.0)]
    if _power_of_ten(step):
        numbers = exchanged_digits(round(value / step))
        yield "exchanged", [(number * step, weight) for number, weight in numbers.items() if number * step < 360.0]
        return
    yield "tenth", [((value + change / 6.0) % 360.0, 1.0) for change in (1.0, -1.0)]
    seconds = round(value * 3600.0)
    minutes, second = divmod(seconds, 60)
    degree, minute = divmod(minutes, 60)
    meant: dict[float, float] = {}
    for number, weight in exchanged_digits(degree * 10_000 + minute * 100 + second).items():
        high, rest = divmod(number, 10_000)
        middle, low = divmod(rest, 100)
        if high < 360 and middle < 60 and low < 60:
            meant[value + (high * 3600 + middle * 60 + low - seconds) / 3600.0] = weight
    yield "exchanged", list(meant.items())
