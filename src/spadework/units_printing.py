"""Print lengths, volumes, areas and slopes in the unit of the person who reads them."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Context, Decimal
from typing import TYPE_CHECKING, overload

from spadework.units_words import FOOT, LengthUnit

if TYPE_CHECKING:  # numpy takes a tenth of a second to import, and nothing here needs it
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

INCH = 0.0254
CUBIC_YARD = 0.9144**3
SQUARE_FOOT = FOOT**2
WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
UNKNOWN = "—"

_DECIMALS = {LengthUnit.METRE: 3, LengthUnit.FOOT: 2}
_EIGHTHS = 8
_WIDE = Context(prec=400)


def unit_label(unit: LengthUnit) -> str:
    """Return ``m``, ``ft`` or ``ft-in``, as it stands in the heading of a column."""
    return unit.value


def volume_label(unit: LengthUnit) -> str:
    """Return ``m³`` or ``yd³``."""
    return "m³" if unit is LengthUnit.METRE else "yd³"


def area_label(unit: LengthUnit) -> str:
    """Return ``m²`` or ``ft²``."""
    return "m²" if unit is LengthUnit.METRE else "ft²"


def length_step(unit: LengthUnit) -> float:
    """Return the step to which lengths are printed unless told otherwise: 1 mm, 0.01 ft or 1/8 in. [m]"""
    return {LengthUnit.METRE: 0.001, LengthUnit.FOOT: FOOT / 100, LengthUnit.FOOT_INCH: INCH / _EIGHTHS}[unit]


@overload
def to_length_unit(metres: float, unit: LengthUnit) -> float: ...
@overload
def to_length_unit(metres: FloatArray, unit: LengthUnit) -> FloatArray: ...
def to_length_unit(metres: float | FloatArray, unit: LengthUnit) -> float | FloatArray:
    """Return lengths as plain numbers: metres, or decimal feet for both kinds of feet. [m or ft]"""
    return metres if unit is LengthUnit.METRE else metres / FOOT


@overload
def to_volume_unit(cubic_metres: float, unit: LengthUnit) -> float: ...
@overload
def to_volume_unit(cubic_metres: FloatArray, unit: LengthUnit) -> FloatArray: ...
def to_volume_unit(cubic_metres: float | FloatArray, unit: LengthUnit) -> float | FloatArray:
    """Return volumes as plain numbers. [m³ or yd³]"""
    return cubic_metres if unit is LengthUnit.METRE else cubic_metres / CUBIC_YARD


@overload
def to_area_unit(square_metres: float, unit: LengthUnit) -> float: ...
@overload
def to_area_unit(square_metres: FloatArray, unit: LengthUnit) -> FloatArray: ...
def to_area_unit(square_metres: float | FloatArray, unit: LengthUnit) -> float | FloatArray:
    """Return areas as plain numbers. [m² or ft²]"""
    return square_metres if unit is LengthUnit.METRE else square_metres / SQUARE_FOOT


def _signed(magnitude: str, value: float, always: bool) -> str:
    """Put a sign before a printed magnitude; what prints as zero has none."""
    if not any(character in "123456789" for character in magnitude):
        return magnitude
    return f"-{magnitude}" if value < 0 else f"+{magnitude}" if always else magnitude


def _decimal(value: float, decimals: int, *, sign: bool = False) -> str:
    """Print a number rounded as on paper: what ends in 5 goes up, judged by its decimal digits."""
    rounded = Decimal(repr(abs(float(value)))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP, _WIDE)
    return _signed(f"{rounded:f}", value, sign)


def _nearest_parts(metres: float, parts: int) -> int:
    """Return the number of ``1/parts`` inches in a length, to the nearest, halves upwards."""
    return math.floor(round(abs(metres) / INCH * parts, 9) + 0.5)


def _inches_text(count: int, parts: int, *, keep_zero: bool) -> str:
    """Print a count of ``1/parts`` inches as ``6 1/2``, in lowest terms; ``0 1/2`` where a zero is kept."""
    whole, part = divmod(count, parts)
    if not part:
        return str(whole)
    shared = math.gcd(part, parts)
    fraction = f"{part // shared}/{parts // shared}"
    return f"{whole} {fraction}" if whole or keep_zero else fraction


def format_feet_inches(metres: float, *, parts: int = _EIGHTHS, sign: bool = False) -> str:
    """Print feet and inches to the nearest ``1/parts`` inch, carrying: ``3' 6 1/2"``, ``-0' 3"``, ``4' 0"``.

    Parameters
    ----------
    metres : float
        The length. [m]
    parts : int
        8 for eighths of an inch, 16 for sixteenths.
    sign : bool
        Whether a plus stands before what is above zero.
    """
    if not math.isfinite(metres):
        return UNKNOWN
    feet, rest = divmod(_nearest_parts(metres, parts), 12 * parts)
    return _signed(f"{feet}' {_inches_text(rest, parts, keep_zero=True)}\"", metres, sign)


def format_inches(metres: float, *, parts: int = _EIGHTHS, sign: bool = False) -> str:
    """Print inches only, to the nearest ``1/parts`` inch: ``42 1/2"``."""
    if not math.isfinite(metres):
        return UNKNOWN
    return _signed(f'{_inches_text(_nearest_parts(metres, parts), parts, keep_zero=False)}"', metres, sign)


def format_millimetres(metres: float, *, sign: bool = False) -> str:
    """Print whole millimetres: ``1083 mm``."""
    return f"{_decimal(metres * 1000, 0, sign=sign)} mm" if math.isfinite(metres) else UNKNOWN


def format_length(
    metres: float,
    unit: LengthUnit,
    *,
    step: int | None = None,
    sign: bool = False,
    with_unit: bool = True,
) -> str:
    """Print a length in the user's unit: ``1.083 m``, ``3.55 ft`` or ``3' 6 5/8"``.

    Parameters
    ----------
    metres : float
        The length. [m] What is not a finite number prints as a dash.
    unit : LengthUnit
        The user's unit.
    step : int, optional
        For metres and decimal feet the number of decimals (3 and 2 unless given); for feet and inches the parts of an
        inch, 8 or 16 (8 unless given).
    sign : bool
        Whether a plus stands before what is above zero.
    with_unit : bool
        Whether the unit follows. Feet and inches keep their marks in any case: without them they could be misread.
    """
    if not math.isfinite(metres):
        return UNKNOWN
    if unit is LengthUnit.FOOT_INCH:
        return format_feet_inches(metres, parts=_EIGHTHS if step is None else step, sign=sign)
    number = _decimal(to_length_unit(metres, unit), _DECIMALS[unit] if step is None else step, sign=sign)
    return f"{number} {unit.value}" if with_unit else number


def format_fine(metres: float, unit: LengthUnit) -> str:
    """Print a small length finely: ``2.3 mm``, ``0.008 ft`` or ``0' 0 1/16"``.

    Parameters
    ----------
    metres : float
        The length. [m]
    unit : LengthUnit
        The user's unit.
    """
    if unit is LengthUnit.METRE:
        return f"{_decimal(1000 * metres, 1)} mm" if math.isfinite(metres) else UNKNOWN
    return format_length(metres, unit, step=16 if unit is LengthUnit.FOOT_INCH else 3)


def format_volume(cubic_metres: float, unit: LengthUnit, *, decimals: int | None = None) -> str:
    """Print a volume, to two decimals unless told otherwise: ``1.86 m³`` or ``2.43 yd³``."""
    if not math.isfinite(cubic_metres):
        return UNKNOWN
    number = _decimal(to_volume_unit(cubic_metres, unit), 2 if decimals is None else decimals)
    return f"{number} {volume_label(unit)}"


def format_area(square_metres: float, unit: LengthUnit, *, decimals: int | None = None) -> str:
    """Print an area, to 0.01 m² or 0.1 ft² unless told otherwise: ``8.64 m²`` or ``93.0 ft²``."""
    if not math.isfinite(square_metres):
        return UNKNOWN
    usual = 2 if unit is LengthUnit.METRE else 1
    number = _decimal(to_area_unit(square_metres, unit), usual if decimals is None else decimals)
    return f"{number} {area_label(unit)}"


NO_LOAD = 0.0005
"""Less than this is left lying: the dust of a balanced plan. [m³]"""


def barrow_loads(loose: float, tray: float) -> int:
    """Return how many barrow loads carry a loose volume: the last one may be part full, but half a litre is no load.

    Parameters
    ----------
    loose : float
        Loose volume. [m³]
    tray : float
        Loose volume that one load holds. [m³]
    """
    if not (math.isfinite(loose) and math.isfinite(tray) and loose >= 0 and tray > 0):
        raise ValueError(f"barrow loads need a volume of 0 or more and a tray above 0, not {loose} and {tray}")
    # What a balance leaves over is a few drops of rounding.
    return 0 if loose < NO_LOAD else math.ceil(loose / tray - 1e-9)


def format_barrow_loads(loose: float, tray: float) -> str:
    """Print a loose volume as whole barrow loads: ``23 barrow loads``, ``1 barrow load``."""
    count = barrow_loads(loose, tray)
    return f"{count} barrow load" if count == 1 else f"{count} barrow loads"


def format_wind(bearing: float) -> str:
    """Print a bearing as the nearest of the eight winds: ``north-east``.

    Parameters
    ----------
    bearing : float
        Clockwise from north. [deg]
    """
    return WINDS[round(bearing / 45.0) % len(WINDS)]


def format_slope(slope: float) -> str:
    """Print a slope given as rise over run: ``1 in 20 (5.0 %)``; ``level`` when it rounds to 0.0 %.

    A slope steeper than 1 in 10 keeps one decimal of its run: ``1 in 1.5 (66.7 %)``.
    """
    if not math.isfinite(slope):
        return UNKNOWN
    percent = _decimal(slope * 100, 1)
    if percent == "0.0":
        return "level"
    run = 1 / abs(slope)
    number = f"{run:.0f}" if run >= 10 or abs(run - round(run)) < 0.05 else f"{run:.1f}"
    return f"{'-' if slope < 0 else ''}1 in {number} ({percent} %)"
