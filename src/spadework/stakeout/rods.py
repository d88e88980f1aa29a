"""Rod readings and marks: what the rod must read at a level, and what is written on the stake."""

from __future__ import annotations

import math

from spadework.units import FOOT, LengthUnit, format_inches, format_length

__all__ = ["depth_mark", "grade_rod", "height_of_instrument"]

# How finely a mark is written, as `format_length` takes it, and that step. [m] Soil is not dug to a millimetre.
MARK_STEPS = {LengthUnit.METRE: (2, 0.01), LengthUnit.FOOT: (2, FOOT / 100), LengthUnit.FOOT_INCH: (8, FOOT / 96)}


def grade_rod(hi: float, level: float) -> float:
    """Return what the rod must read when its foot is at the wanted level. [m]

    ``grade rod = HI - level``; ``grade rod - ground rod`` is then cut when positive, fill when negative. A negative
    grade rod means that the line of sight is below the wanted level.

    Parameters
    ----------
    hi : float
        Height of instrument. [m]
    level : float
        Wanted level. [m]

    References
    ----------
    USDA Soil Conservation Service, Technical Release 62, January 1979; NAVEDTRA 14069, Engineering Aid 3,
    figure 14-36, https://engineeringtraining.tpub.com/14069/css/14069_503.htm
    """
    return hi - level


def height_of_instrument(bench_level: float, reading: float) -> float:
    """Return the level of the line of sight, ``bench mark + backsight``. [m]

    Parameters
    ----------
    bench_level : float
        Level of the bench mark. [m]
    reading : float
        What the rod reads with its foot on the bench mark. [m]
    """
    return bench_level + reading


def depth_mark(depth: float, unit: LengthUnit) -> str:
    """Return what is written on a stake: ``C 0.35``, ``F 0.20`` or ``GRADE``.

    The letter says cut or fill, the numerals follow it, and GRADE stands where the depth is within half the printed
    step: 0.01 m, 0.01 ft or 1/8 in. Feet and inches keep their marks, and less than a foot is written in inches.

    Parameters
    ----------
    depth : float
        Ground minus wanted level; nothing is written where it is not known. [m]
    unit : LengthUnit
        Unit of the numerals.

    References
    ----------
    NAVEDTRA 14069, Engineering Aid 3, pages 14-35 and 14-36, "Setting grade stakes",
    https://engineeringtraining.tpub.com/14069/css/Setting-Grade-Stakes-502.htm
    """
    if math.isnan(depth):
        return ""
    printed, step = MARK_STEPS[unit]
    if abs(depth) <= step / 2:
        return "GRADE"
    letter = "C" if depth > 0 else "F"
    numerals = format_length(abs(depth), unit, step=printed, with_unit=False)
    if numerals.startswith("0'"):
        numerals = format_inches(abs(depth), parts=printed)
    return f"{letter} {numerals}"
