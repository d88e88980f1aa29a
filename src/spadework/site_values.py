"""How one value of a site file is read, and what is said when it cannot be.

Each type below reads what a person writes (text with a unit, or a plain number in the file's units) and gives metres,
degrees or a plain number. A value that is refused carries its complaint, the rule and the remedy to `site_faults`.
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag, ValidationInfo
from pydantic_core import PydanticCustomError

from spadework.errors import UnitError
from spadework.units import LengthUnit, parse_angle, parse_length, parse_slope, parse_volume

__all__ = [
    "Bearing",
    "Corners",
    "Direction",
    "Finish",
    "Flag",
    "Length",
    "Names",
    "Place",
    "Position",
    "Slope",
    "Spot",
    "Text",
    "Unit",
    "Volume",
    "between",
    "fraction",
    "nearest",
    "shown",
    "text_or_table",
    "word",
    "word_or_between",
]

UNIT_NAMES = {LengthUnit.METRE: "metres", LengthUnit.FOOT: "decimal feet", LengthUnit.FOOT_INCH: "feet and inches"}


def shown(value: Any) -> str:
    """Return a value as it would stand in the site file, shortened when it is long."""
    if isinstance(value, str | bool):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(shown(item) for item in value) + "]"
    elif isinstance(value, dict):
        text = "{ " + ", ".join(f"{key} = {shown(item)}" for key, item in value.items()) + " }"
    else:
        text = str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


def nearest(wrong: str, right: Sequence[str]) -> str:
    """Return ``did you mean "right"?`` for the nearest spelling, or nothing when none is near."""
    folded = {name.casefold(): name for name in right}
    found = difflib.get_close_matches(wrong.strip().casefold(), folded, n=1, cutoff=0.6)
    return f'did you mean "{folded[found[0]]}"?' if found else ""


def refuse(complaint: str, rule: str = "", remedy: str = "") -> PydanticCustomError:
    """Return the error of a refused value.

    Parameters
    ----------
    complaint : str
        What follows ``key = value`` in the message: ``is negative``.
    rule, remedy : str
        As for `spadework.errors.Fault`.
    """
    return PydanticCustomError("refused", "{complaint}", {"complaint": complaint, "rule": rule, "remedy": remedy})


def _pass_on(error: UnitError, rule: str = "") -> PydanticCustomError:
    """Return the error of a value that the parser of lengths refused, in the parser's own words."""
    fault = error.faults[0]
    return refuse(f": {fault.what}", fault.rule or rule, fault.remedy)


def _text(value: Any) -> str:
    """Read text."""
    if not isinstance(value, str):
        quoted = f'write it in quotes: "{value}"' if isinstance(value, int | float) else ""
        raise refuse("is not text", "text stands in quotes", quoted)
    if not value.strip():
        raise refuse("is empty", "", "write it, or leave the line out")
    return value.strip()


def _flag(value: Any) -> bool:
    """Read true or false."""
    if not isinstance(value, bool):
        raise refuse("is neither true nor false", "write true or false, in small letters and without quotes")
    return value


def word(*choices: str, rule: str = "") -> BeforeValidator:
    """Return a reader of one word out of ``choices``, with the rule to be told where it is more than those words."""
    spelt = {choice.casefold(): choice for choice in choices}

    def read(value: Any) -> str:
        if isinstance(value, str) and value.strip().casefold() in spelt:
            return spelt[value.strip().casefold()]
        remedy = nearest(value, choices) if isinstance(value, str) else ""
        raise refuse("is not known here", rule or f"it is one of {', '.join(map(json.dumps, choices))}", remedy)

    return BeforeValidator(read)


def _unit(value: Any) -> LengthUnit:
    """Read the unit of plain numbers."""
    choices = tuple(unit.value for unit in LengthUnit)
    if isinstance(value, str) and value.strip().casefold() in choices:
        return LengthUnit(value.strip().casefold())
    remedy = nearest(value, choices) if isinstance(value, str) else ""
    raise refuse("is no unit of a file", '"m", "ft" (decimal feet) or "ft-in" (feet, inches and fractions)', remedy)


def _number(value: Any) -> float | None:
    """Return a finite number, None when ``value`` is no number at all."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if not math.isfinite(value):
        raise refuse("is not a number that can be measured")
    return float(value)


def _length(value: Any, info: ValidationInfo) -> float:
    """Read a length: text with a unit, or a plain number in the units of the site file. [m]"""
    expected = 'a length is text with a unit, such as "2.5 m", or a plain number in the units of the site file'
    context = info.context or {}
    unit: LengthUnit | None = context.get("units")
    number = _number(value)
    if number is None and not isinstance(value, str):
        raise refuse("is not a length", expected)
    if number == 0:
        return 0.0
    if number is not None:
        own = (info.data or {}).get("units")
        if own is not None and own != unit:
            raise refuse(
                "has no unit",
                f"the site file is in {shown(str(unit))} and this entry in {shown(str(own))}, so it could be either",
                f'write the unit: "{value} m" or "{value} ft"',
            )
        if unit is None:  # the fault is that of [site] units, said once
            return 1.0
        value = format(Decimal(repr(value)), "f")
    try:
        return parse_length(value, unit)
    except UnitError as error:
        raise _pass_on(error, expected) from None


def between(low: float, high: float, rule: str, remedy: str = "") -> BeforeValidator:
    """Return a reader of a length that must lie between two bounds.

    Parameters
    ----------
    low, high : float
        Both allowed. [m]
    rule, remedy : str
        What is said of a length outside.
    """

    def read(value: Any, info: ValidationInfo) -> float:
        length = _length(value, info)
        if not low <= length <= high:
            complaint = "is negative" if length < 0 <= low else "is too small" if length < low else "is too big"
            raise refuse(complaint, rule, remedy)
        return length

    return BeforeValidator(read)


def fraction(name: str, low: float, high: float, example: str) -> BeforeValidator:
    """Return a reader of a plain number or a percentage between two bounds."""

    def read(value: Any) -> float:
        number = _number(value)
        if isinstance(value, str):
            written = value.strip().removesuffix("%").strip()
            try:
                number = float(written) / (100.0 if "%" in value else 1.0)
            except ValueError:
                number = None
        if number is None or not math.isfinite(number):
            raise refuse(f"is not a {name}", f"write it {example}")
        if not low <= number <= high:
            percent = f'did you mean "{number:g} %"?' if 1 < number <= 100 * high else ""
            raise refuse(f"cannot be a {name}", f"it lies from {low:g} to {high:g}, {example}", percent)
        return number

    return BeforeValidator(read)


def _degrees(value: Any) -> float:
    """Read degrees clockwise from site north."""
    number = _number(value)
    if number is None:
        if not isinstance(value, str):
            raise refuse("is not a direction", "degrees clockwise from site north, such as 45")
        try:
            number = parse_angle(value)
        except UnitError as error:
            raise _pass_on(error, "degrees clockwise from site north, such as 45") from None
    if not 0 <= number <= 360:
        raise refuse(
            "is no bearing",
            "a bearing runs from 0 to 360 degrees, clockwise from site north",
            f"did you mean {number % 360:g}?",
        )
    return number % 360


def _bearing(value: Any) -> str | float:
    """Read ``"free"`` or a bearing. [deg]"""
    if isinstance(value, str):
        if value.strip().casefold() == "free":
            return "free"
        near = nearest(value, ("free",))
        if near:
            raise refuse("is not known here", '"free", or degrees clockwise from site north', near)
    return _degrees(value)


def _finish(value: Any, info: ValidationInfo) -> str | float:
    """Read ``"free"``, ``"flush"`` or a level. [m]"""
    if isinstance(value, str):
        words = ("free", "flush", "flush-lowest")
        if value.strip().casefold() in words:
            return value.strip().casefold()
        near = nearest(value, words)
        if near:
            raise refuse("is not known here", '"free", "flush", "flush-lowest", or a level such as "100.25 m"', near)
    return _length(value, info)


def word_or_between(words: tuple[str, ...], low: float, high: float, rule: str) -> BeforeValidator:
    """Return a reader of one of some words, or of a length that must lie between two bounds.

    Parameters
    ----------
    words : tuple of str
        In small letters.
    low, high : float
        Both allowed. [m]
    rule : str
        What is said of anything else.
    """

    def read(value: Any, info: ValidationInfo) -> str | float:
        if isinstance(value, str):
            if value.strip().casefold() in words:
                return value.strip().casefold()
            near = nearest(value, words)
            if near:
                raise refuse("is not known here", rule, near)
        length = _length(value, info)
        if not low <= length <= high:
            raise refuse("is out of bounds", rule)
        return length

    return BeforeValidator(read)


def _slope(value: Any) -> float:
    """Read a slope as rise over run."""
    if not isinstance(value, str):
        raise refuse("is not a slope", 'a slope is text: "1:1.5" is 1 up in 1.5 along; or "50 %", or "30 deg"')
    try:
        slope = parse_slope(value)
    except UnitError as error:
        raise _pass_on(error) from None
    if not 0 < slope <= 20:
        raise refuse("is no slope that earth can have", 'above flat and less than 20 up in 1 along, such as "1:1.5"')
    return slope


def _volume(value: Any, info: ValidationInfo) -> float:
    """Read a volume: text with a unit, or a plain number of m³, or of yd³ where the site is in feet. [m³]"""
    unit: LengthUnit = (info.context or {}).get("units") or LengthUnit.METRE
    number = _number(value)
    if number is None and not isinstance(value, str):
        raise refuse("is not a volume", 'a volume is text with a unit, such as "1.5 m3" or "2 yd3"')
    try:
        volume = parse_volume(value if isinstance(value, str) else format(Decimal(repr(value)), "f"), unit)
    except UnitError as error:
        raise _pass_on(error) from None
    if not 0 <= volume <= 1e6:
        raise refuse("is negative" if volume < 0 else "is too big", "from 0 to a million cubic metres")
    return volume


def text_or_table(text: str, table: str) -> Discriminator:
    """Return a choice between two ways to write a value: text or a number, and a list or a table."""
    return Discriminator(lambda value: text if isinstance(value, str | int | float) else table)


# A list of TOML becomes a tuple: the only loosening of the strict types.
LOOSE = Field(strict=False)
COORDINATE = 1e8

Text = Annotated[str, BeforeValidator(_text)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Unit = Annotated[LengthUnit, BeforeValidator(_unit)]
Names = Annotated[tuple[Text, ...], LOOSE]
Length = Annotated[float, BeforeValidator(_length)]
Coordinate = Annotated[float, between(-COORDINATE, COORDINATE, "a coordinate lies within 100 000 km of the origin")]
Position = Annotated[tuple[Coordinate, Coordinate], LOOSE]
Corners = Annotated[tuple[Position, ...], LOOSE]
Place = Annotated[
    Annotated[Text, Tag("<name>")] | Annotated[Position, Tag("<position>")], text_or_table("<name>", "<position>")
]
Spot = Annotated[
    Annotated[Literal["free"], word("free", rule='"free", or the middle of the pad: [east, north]'), Tag("<word>")]
    | Annotated[Position, Tag("<position>")],
    text_or_table("<word>", "<position>"),
]
Direction = Annotated[float, BeforeValidator(_degrees)]
Bearing = Annotated[str | float, BeforeValidator(_bearing)]
Finish = Annotated[str | float, BeforeValidator(_finish)]
Slope = Annotated[float, BeforeValidator(_slope)]
Volume = Annotated[float, BeforeValidator(_volume)]
