"""What holds for every length: printing and reading are inverse to the printed step, and no text breaks the parsers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from spadework.errors import UnitError
from spadework.units import (
    LengthUnit,
    format_feet_inches,
    format_inches,
    format_length,
    format_millimetres,
    format_volume,
    looks_ambiguous_column,
    parse_angle,
    parse_area,
    parse_length,
    parse_lengths,
    parse_slope,
    parse_volume,
    reading_step,
)

INCH = 0.0254
site_lengths = st.floats(-5000, 5000, allow_nan=False)
units = st.sampled_from(LengthUnit)

# Pieces that lengths are made of, put together in any order: most of them nearly make sense.
DIGITS = [*"01234567890123456789"]
MARKS = [*".,/-'\" _+(x:%°′″½⅛", "\u2212", "\u2009", "\u0660", "\u00b2", "\x00", "\U0001d7d8"]
WORDS = ["ft", "in", "m", "mm", "cm", "yd", "m3", "ft2", "deg", "per", "in ", "barrow", "nan", "inf"]
LETTERS = [*"OlHVNEe", "E9", "e99"]
PIECES = st.sampled_from([*DIGITS, *MARKS, *WORDS, *LETTERS])
texts = st.one_of(
    st.text(max_size=80),
    st.lists(PIECES, max_size=14).map("".join),
    st.from_regex(r"[0-9/.,' \"-]{0,70}"),
)


def refusal(parse: Callable[..., float], text: str, **options: object) -> UnitError | float:
    """What a parser makes of a text: a number, or its refusal; any other error goes through and fails the test."""
    try:
        return parse(text, **options)
    except UnitError as error:
        return error


@given(site_lengths, st.sampled_from([2, 4, 8, 16, 32]))
@settings(deadline=None)
@example(47.99 * INCH, 8)
@example(-0.01 * INCH, 8)
def test_feet_and_inches_when_printed_and_read(metres: float, parts: int) -> None:
    """Feet and inches come back within half a printed step, whatever the unit of the file, and never show 12 inches."""
    text = format_feet_inches(metres, parts=parts)
    for unit in (None, *LengthUnit):
        assert abs(parse_length(text, unit) - metres) <= INCH / parts / 2 * (1 + 1e-9) + 1e-9
    feet, whole, part = re.fullmatch(r"-?(\d+)' (\d+)(?: (\d+/\d+))?\"", text).groups()
    assert 0 <= int(whole) < 12
    if part:
        assert 0 < Fraction(part) < 1
        assert part == f"{Fraction(part).numerator}/{Fraction(part).denominator}"
        assert parts % Fraction(part).denominator == 0
    assert text.startswith("-") == (metres < 0 and (int(feet), int(whole), part) != (0, 0, None))


@given(site_lengths, units, st.integers(0, 6), st.booleans())
@settings(deadline=None)
def test_length_when_printed_and_read(metres: float, unit: LengthUnit, decimals: int, sign: bool) -> None:
    """A printed length, with a sign or without, comes back within half of its last printed place."""
    step = 2**decimals if unit is LengthUnit.FOOT_INCH else decimals
    text = format_length(metres, unit, step=step, sign=sign)
    size = {
        LengthUnit.METRE: 10.0**-decimals,
        LengthUnit.FOOT: 0.3048 * 10.0**-decimals,
        LengthUnit.FOOT_INCH: INCH / 2**decimals,
    }[unit]
    assert abs(parse_length(text) - metres) <= size / 2 * (1 + 1e-9) + 1e-9
    bare = format_length(metres, unit, step=step, sign=sign, with_unit=False)
    assert parse_length(bare, unit) == parse_length(text)


@given(site_lengths)
@settings(deadline=None)
def test_millimetres_and_inches_when_printed_and_read(metres: float) -> None:
    """Whole millimetres and inches in eighths come back within half of theirs."""
    assert abs(parse_length(format_millimetres(metres)) - metres) <= 0.0005 * (1 + 1e-9) + 1e-9
    assert abs(parse_length(format_inches(metres)) - metres) <= INCH / 16 * (1 + 1e-9) + 1e-9


@given(st.floats(0, 10_000, allow_nan=False), units)
@settings(deadline=None)
def test_volume_when_printed_and_read(cubic_metres: float, unit: LengthUnit) -> None:
    """A printed volume comes back within half of its second decimal."""
    size = 1.0 if unit is LengthUnit.METRE else 0.9144**3
    assert abs(parse_volume(format_volume(cubic_metres, unit)) - cubic_metres) <= 0.005 * size * (1 + 1e-9) + 1e-9


@given(
    st.integers(-10_000, 10_000),
    st.integers(0, 11),
    st.integers(0, 15),
    st.sampled_from(["'{}\"", "ft {} in", "′-{}″"]),
)
@settings(deadline=None)
def test_feet_and_inches_when_written_exactly(feet: int, inches: int, sixteenths: int, marks: str) -> None:
    """What is written in feet, inches and sixteenths is the nearest float to the exact fraction of a metre."""
    exact = (Fraction(abs(feet)) * 12 + inches + Fraction(sixteenths, 16)) * Fraction(254, 10_000)
    exact = -exact if feet < 0 else exact
    part = f"{inches} {sixteenths}/16" if sixteenths else f"{inches}"
    assert parse_length(f"{feet}{marks.format(part)}") == float(exact)


@given(
    st.decimals(-99_999, 99_999, places=4), st.sampled_from([("m", 1), ("mm", 1000), ("ft", Fraction(10_000, 3048))])
)
@settings(deadline=None)
def test_decimals_when_written_with_point_or_comma(number: object, unit: tuple[str, Fraction]) -> None:
    """A decimal is exact with a point, and the same with a comma where commas are said."""
    word, per_metre = unit
    exact = float(Fraction(str(number)) / per_metre)
    assert parse_length(f"{number} {word}") == exact
    assert parse_length(f"{number} {word}".replace(".", ","), decimal_comma=True) == exact


@given(texts, st.one_of(st.none(), units), st.sampled_from([None, True, False]), st.booleans())
@settings(max_examples=400, deadline=None)
@example("9" * 5000, None, None, False)
@example("1e" + "9" * 50, LengthUnit.METRE, None, False)
@example("1/" + "0" * 60, LengthUnit.FOOT_INCH, True, False)
@example("½½½", LengthUnit.FOOT_INCH, True, False)
def test_parse_length_when_any_text(
    text: str, unit: LengthUnit | None, bare_inches: bool | None, decimal_comma: bool
) -> None:
    """Any text is a finite length or a `UnitError` with a short message, and nothing else; a column agrees with it."""
    lengths, faults = parse_lengths([text], unit, bare_inches=bare_inches, decimal_comma=decimal_comma)
    length = refusal(parse_length, text, unit=unit, bare_inches=bare_inches, decimal_comma=decimal_comma)
    if isinstance(length, UnitError):
        assert len(str(length)) < 900
        assert "\x00" not in str(length)
        assert math.isnan(lengths[0])
        assert len(faults) == (1 if text.strip() else 0)
    else:
        assert math.isfinite(length)
        assert abs(length) <= 1e8
        assert lengths[0] == length
        assert faults == []
        assert any(character in "0123456789½⅛⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅜⅝⅞⅑⅒" for character in text)


@given(texts, st.booleans())
@settings(max_examples=400, deadline=None)
@pytest.mark.parametrize("parse", [parse_slope, parse_angle, parse_area, parse_volume])
def test_parser_when_any_text(parse: Callable[..., float], text: str, decimal_comma: bool) -> None:
    """Any text is a finite slope, angle, area or volume, or a short refusal, and nothing else."""
    found = refusal(parse, text, decimal_comma=decimal_comma)
    assert len(str(found)) < 900 if isinstance(found, UnitError) else math.isfinite(found)


@given(st.lists(texts, max_size=5), units)
@settings(deadline=None)
def test_column_questions_when_any_texts(cells: list[str], unit: LengthUnit) -> None:
    """Whatever stands in a column, its step is above zero and its question is a sentence or none."""
    assert reading_step(cells, unit) > 0
    question = looks_ambiguous_column(cells)
    assert question is None or question.endswith(".")


@given(st.lists(st.tuples(st.integers(3, 9), st.integers(12, 99)), min_size=1, max_size=30))
@settings(deadline=None)
def test_ambiguous_column_when_a_decimal_is_beyond_eleven(rods: list[tuple[int, int]]) -> None:
    """One rod reading beyond eleven hundredths settles that a column is decimal feet."""
    assert (
        looks_ambiguous_column(["5.02", "5.11", "4.10", *(f"{feet}.{hundredths}" for feet, hundredths in rods)]) is None
    )


@given(st.sets(st.integers(1, 11), min_size=2), st.integers(0, 12))
@settings(deadline=None)
def test_ambiguous_column_when_all_could_be_inches(inches: set[int], feet: int) -> None:
    """Feet and two-digit inches written with a point are always asked about, once there are three."""
    cells = [f"{feet}.{inch:02d}" for inch in inches]
    assert looks_ambiguous_column([*cells, f"{feet}.00"]) is not None


@given(st.fractions(-3, 3, max_denominator=997))
@settings(deadline=None)
def test_slope_when_written_in_several_ways(slope: Fraction) -> None:
    """Percent, ratio and a length in a length say the same slope."""
    up, along = slope.numerator, slope.denominator
    assert parse_slope(f"{up}V:{along}H") == float(slope)
    assert parse_slope(f"{along}H:{up}V") == float(slope)
    assert parse_slope(f"{up} mm in {along} mm") == pytest.approx(float(slope), rel=1e-15)
    assert parse_slope(f"{float(slope * 100):.10f} %") == pytest.approx(float(slope), abs=1e-11)


@given(st.booleans(), st.integers(0, 359), st.integers(0, 59), st.integers(0, 5999))
@settings(deadline=None)
def test_angle_when_written_in_degrees_minutes_seconds(
    negative: bool, degrees: int, minutes: int, hundredths: int
) -> None:
    """Degrees, minutes and seconds are exact to the last bit, with marks or with hyphens."""
    exact = Fraction(degrees) + Fraction(minutes, 60) + Fraction(hundredths, 360_000)
    sign, exact = ("-", -exact) if negative else ("", exact)
    seconds = f"{hundredths / 100:.2f}"
    assert parse_angle(f"{sign}{degrees}-{minutes:02d}-{seconds}") == float(exact)
    assert parse_angle(f"{sign}{degrees}° {minutes}' {seconds}\"") == float(exact)
