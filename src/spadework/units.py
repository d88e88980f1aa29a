"""Lengths, volumes, areas, slopes and angles at the edge of the engine: text in, text out, plain SI numbers between.

Inside the engine every length is a float in metres. What people write is read here and nowhere else, exactly and
without guessing; what they read is printed here. The general unit library is used for one thing only, to convert
between the unit words of the list below: it reads ``6 1/2 in`` as three inches, and its acre, chain and rod are
survey-foot units.
"""

from __future__ import annotations

import difflib
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from spadework.errors import Fault, Source, UnitError
from spadework.units_columns import looks_ambiguous_column, parse_lengths, reading_step
from spadework.units_length import parse_length
from spadework.units_printing import (
    area_label,
    barrow_loads,
    format_area,
    format_barrow_loads,
    format_feet_inches,
    format_fine,
    format_inches,
    format_length,
    format_millimetres,
    format_slope,
    format_volume,
    format_wind,
    length_step,
    to_area_unit,
    to_length_unit,
    to_volume_unit,
    unit_label,
    volume_label,
)
from spadework.units_slopes import parse_angle, parse_slope
from spadework.units_volumes import parse_area, parse_volume
from spadework.units_words import FOOT, LengthUnit, shown

if TYPE_CHECKING:
    import pint

__all__ = [
    "FOOT",
    "LengthUnit",
    "area_label",
    "barrow_loads",
    "convert",
    "format_area",
    "format_barrow_loads",
    "format_feet_inches",
    "format_fine",
    "format_inches",
    "format_length",
    "format_millimetres",
    "format_slope",
    "format_volume",
    "format_wind",
    "length_step",
    "looks_ambiguous_column",
    "parse_angle",
    "parse_area",
    "parse_length",
    "parse_lengths",
    "parse_slope",
    "parse_volume",
    "reading_step",
    "to_area_unit",
    "to_length_unit",
    "to_volume_unit",
    "unit_label",
    "volume_label",
]

UNIT_WORDS = {
    **{word: word for word in ("m", "cm", "mm", "km", "ft", "yd", "kg", "lb", "h", "min")},
    "in": "inch",
    "t": "metric_ton",
    "m2": "m**2",
    "ft2": "ft**2",
    "yd2": "yd**2",
    "ha": "hectare",
    "m3": "m**3",
    "ft3": "ft**3",
    "yd3": "yd**3",
    "L": "liter",
    "kg/m3": "kg/m**3",
    "t/m3": "metric_ton/m**3",
    "lb/ft3": "lb/ft**3",
    "lb/yd3": "lb/yd**3",
    "m3/h": "m**3/hour",
    "yd3/h": "yd**3/hour",
}


@cache
def _registry() -> pint.UnitRegistry[Fraction]:
    import pint  # noqa: PLC0415 - half a second to import and build, wanted by few runs

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


@cache
def _exact_factor(word: str, wanted: str) -> Fraction | None:
    """Return how many of ``wanted`` make one of ``word``, or None if they measure different things."""
    registry = _registry()
    one = registry.Quantity(Fraction(1), UNIT_WORDS[word])
    if not one.is_compatible_with(UNIT_WORDS[wanted]):
        return None
    return Fraction(one.to(UNIT_WORDS[wanted]).magnitude)


def convert(value: float, word: str, wanted: str, *, source: Source | None = None) -> float:
    """Convert a number from one unit word to another, both from our own list: 120 lb/ft3 is 1922 kg/m3.

    Parameters
    ----------
    value : float
        The number.
    word, wanted : str
        Its unit and the wanted one. ``²``, ``³`` and ``^`` may be written.
    source : Source, optional
        Where the unit was written, for the error.

    Raises
    ------
    UnitError
        If a word is not in the list, or if the two measure different things.
    """
    names = []
    for text in (word, wanted):
        name = text.strip().replace("²", "2").replace("³", "3").replace("^", "")
        if name not in UNIT_WORDS:
            near = difflib.get_close_matches(name, UNIT_WORDS, n=1)
            remedy = f"did you mean {near[0]}?" if near else f"use one of {', '.join(UNIT_WORDS)}"
            raise UnitError(Fault(f"{shown(text)} is not a unit here", "", remedy, source or Source(), text))
        names.append(name)
    factor = _exact_factor(names[0], names[1])
    if factor is None:
        what = f"{shown(word)} cannot be turned into {shown(wanted)}"
        raise UnitError(Fault(what, "they measure different things", "correct one of them", source or Source(), word))
    return float(value * float(factor))
