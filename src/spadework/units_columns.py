"""Read whole columns of lengths: fast where they are plain decimals, with all faults at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from spadework.errors import Fault, Source
from spadework.units_length import read_length, written_step
from spadework.units_printing import format_feet_inches, length_step
from spadework.units_words import EXACT_FOOT, EXACT_INCH, LengthUnit

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_PLAIN = {
    False: re.compile(r"([+-]?[0-9]{1,15})(?:\.([0-9]{1,15}))?"),
    True: re.compile(r"([+-]?[0-9]{1,15})(?:,([0-9]{1,15}))?"),
}
_FEET_POINT_INCHES = re.compile(r"[+-]?[0-9]{1,9}(?:\.([0-9]{1,9}))?")
_FEWEST_TO_ASK = 3


def _bare_scale(unit: LengthUnit | None, bare_inches: bool | None) -> Fraction | None:
    """Return what a bare decimal is multiplied by, or None where it must be asked about. [m]"""
    if unit is LengthUnit.METRE:
        return Fraction(1)
    if unit is LengthUnit.FOOT or (unit is LengthUnit.FOOT_INCH and bare_inches is False):
        return EXACT_FOOT
    return EXACT_INCH if unit is LengthUnit.FOOT_INCH and bare_inches else None


def parse_lengths(
    texts: Sequence[str],
    unit: LengthUnit | None = None,
    *,
    file: str = "",
    lines: Sequence[int] | None = None,
    column: str | None = None,
    bare_inches: bool | None = None,
    decimal_comma: bool = False,
) -> tuple[npt.NDArray[np.float64], list[Fault]]:
    """Read a column of lengths and report every cell that is not one.

    Parameters
    ----------
    texts : sequence of str, length n
        The cells. One that is empty or blank is not a fault: it becomes NaN.
    unit, bare_inches, decimal_comma
        As in `parse_length`.
    file : str
        Name of the file, for the faults.
    lines : sequence of int, length n, optional
        Line of each cell in the file.
    column : str, optional
        Heading of the column.

    Returns
    -------
    lengths : array, shape (n,)
        NaN where a cell is blank or at fault; the same to the last bit as `parse_length` elsewhere. [m]
    faults : list of Fault
        One for each cell at fault, in their order.
    """
    import numpy as np  # noqa: PLC0415 - numpy is not needed to print or parse one length

    scale = _bare_scale(unit, bare_inches)
    plain_decimal = _PLAIN[decimal_comma]
    lengths = np.full(len(texts), np.nan)
    faults: list[Fault] = []
    above, below = (scale.numerator, scale.denominator) if scale is not None else (0, 1)
    for row, text in enumerate(texts):
        cell = text.strip()
        plain = plain_decimal.fullmatch(cell) if scale is not None else None
        if plain:
            whole, decimals = plain[1], plain[2] or ""
            # The quotient of two whole numbers is rounded once, as in the exact parser.
            value = int(whole + decimals) * above / (below * 10 ** len(decimals))
            if -1e8 < value < 1e8:
                lengths[row] = value
                continue
        elif not cell:
            continue
        length = read_length(text, unit, bare_inches, decimal_comma)
        if isinstance(length, Fault):
            line = None if lines is None else int(lines[row])
            faults.append(replace(length, source=Source(file, line, column)))
        else:
            lengths[row] = float(length)
    return lengths, faults


def looks_ambiguous_column(texts: Iterable[str]) -> str | None:
    """Return the question to ask when a column in feet may have been written as feet, point, inches.

    ``5.02, 5.11, 4.10`` may be decimal feet, or 5 ft 2 in, 5 ft 11 in and 4 ft 10 in. It is asked about when at least
    three numbers are plain, all that stands after their points is 00 to 11, written with two digits at least once,
    and at least two different amounts other than 0 are among them. In decimal feet three such numbers come together
    by chance less than once in 500 columns (0.12 cubed).

    Returns
    -------
    str or None
        The question, with examples from the column.
    """
    examples: dict[str, int] = {}
    count = 0
    two_digits = False
    for text in texts:
        cell = text.strip()
        if not cell:
            continue
        match = _FEET_POINT_INCHES.fullmatch(cell)
        if not match:
            return None
        decimals = match[1] or ""
        if len(decimals) > 2 or (decimals and int(decimals) > 11):
            return None
        count += 1
        two_digits = two_digits or len(decimals) == 2
        if decimals and int(decimals):
            examples.setdefault(cell, int(decimals))
    if count < _FEWEST_TO_ASK or not two_digits or len(set(examples.values())) < 2:
        return None
    first, inches = next(iter(examples.items()))
    feet = first.partition(".")[0]
    read_as = format_feet_inches(float(Fraction(first) * EXACT_FOOT))
    return (
        f"Are {', '.join(list(examples)[:3])} decimal feet ({first} ft is {read_as}), "
        f"or feet and inches ({feet}' {inches}\")? Nothing after a point is above 11, so they could be either."
    )


def reading_step(texts: Iterable[str], unit: LengthUnit, *, bare_inches: bool | None = None) -> float:
    """Return the finest step to which readings are written: 0.001 for ``1.083 m``, 1/8 in for ``3' 6 1/8"``. [m]

    Parameters
    ----------
    texts : iterable of str
        The readings. Blank cells and what is not a length count for nothing.
    unit, bare_inches
        As in `parse_length`; for feet and inches a single bare number is inches unless `bare_inches` is False.

    Returns
    -------
    float
        The step; that of printed lengths where no reading has one. [m]
    """
    steps: set[Fraction] = set()
    bare_decimals: set[int] = set()
    for text in texts:
        plain = _PLAIN[False].fullmatch(text)
        if plain:
            bare_decimals.add(len(plain[2] or ""))
        else:
            step = written_step(text, unit, bare_inches)
            if step is not None:
                steps.add(step)
    if bare_decimals:
        scale = _bare_scale(unit, bare_inches is not False) or EXACT_INCH
        steps.add(scale / 10 ** max(bare_decimals))
    return float(min(steps)) if steps else length_step(unit)
