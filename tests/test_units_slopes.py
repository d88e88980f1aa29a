"""Slopes, angles, volumes and areas as people write them: what is read and what is refused.

Expected values are worked by hand from the definitions 1 ft = 0.3048 m = 12 in, unless a source stands beside them.
"""

from __future__ import annotations

import math

import pytest

from spadework.errors import Source, UnitError
from spadework.units import (
    LengthUnit,
    parse_angle,
    parse_area,
    parse_slope,
    parse_volume,
)

M, FT, FT_IN = LengthUnit.METRE, LengthUnit.FOOT, LengthUnit.FOOT_INCH
INCH = 0.0254


@pytest.mark.parametrize(
    ("text", "slope"),
    [
        ("1:1.5", 2 / 3),
        ("1 : 2", 0.5),
        ("1:1", 1.0),
        ("1 in 20", 0.05),
        ("5 %", 0.05),
        ("-5%", -0.05),
        ("½ %", 0.005),
        ("5 percent", 0.05),
        ("5 ‰", 0.005),
        ("5 mm/m", 0.005),
        ("4/12", 1 / 3),
        ("2H:1V", 0.5),
        ("1V:2H", 0.5),
        ("2 deg", math.tan(math.pi / 90)),
        ("2°", math.tan(math.pi / 90)),
        ("1/4 in per ft", 1 / 48),
        ("6\" in 10'", 0.05),  # International Residential Code R401.3: 6 in within the first 10 ft is 5 %
        ("6 in in 10 ft", 0.05),
        ("1.5 m in 200 m", 0.0075),  # FAO R4082E chapter 3: 0.75 %
        ("0.6 m over 300 m", 0.002),  # the same: 2 per mil
        ("8 ft in 40 ft", 0.20),  # NWCG Firefighter Math, slope unit: 20 %
        ("level", 0.0),
    ],
)
def test_parse_slope_when_understood(text: str, slope: float) -> None:
    """A slope is read as rise over run from percent, ratio, degrees, or a length in a length."""
    assert parse_slope(text) == pytest.approx(slope, rel=1e-14, abs=0)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("2:1", "which"),
        ("0.5:1", "which"),
        ("0.05", "could be percent, degrees, or rise over run"),
        ("5", "could be percent, degrees, or rise over run"),
        ("1:0", "has no run"),
        ("1 in -20", "has no run"),
        ("2H:1", "on one side only"),
        ("2H:1H", "on one side only, or twice"),
        ("90 deg", "vertical"),
        ("steep", "does not begin with a number"),
        ("5 furlongs", "not understood as a slope"),
        ("1,5 %", "has a comma"),
        ("", "does not begin"),
        ("9" * 5000, "too long"),
    ],
)
def test_parse_slope_when_it_would_be_a_guess(text: str, what: str) -> None:
    """A slope that could be read two ways, or none, is refused with its place."""
    with pytest.raises(UnitError) as caught:
        parse_slope(text, source=Source("site.toml", 40, "cut"))
    assert str(caught.value).startswith("site.toml line 40, column cut: “")
    assert what in str(caught.value)


def test_parse_slope_when_decimal_commas_are_said() -> None:
    """With decimal commas 2,5 % is two and a half, and 1:1,5 is one in one and a half."""
    assert parse_slope("2,5 %", decimal_comma=True) == pytest.approx(0.025)
    assert parse_slope("1:1,5", decimal_comma=True) == pytest.approx(2 / 3)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12.5", 12.5),
        ("12.5°", 12.5),
        ("-12.5 deg", -12.5),
        ("12° 30' 15\"", 12 + 30 / 60 + 15 / 3600),
        ("12°30′15″", 12 + 30 / 60 + 15 / 3600),
        ("12-30-15", 12 + 30 / 60 + 15 / 3600),
        ("12 30.5", 12 + 30.5 / 60),
        ("12d30m15s", 12 + 30 / 60 + 15 / 3600),
        ("12° 30'", 12.5),
        ("-0-30", -0.5),
        ("200-00-00", 200.0),
        ("50 gon", 45.0),
        ("N 30 E", 30.0),
        ("S30E", 150.0),
        ("S 68-05-27 W", 180 + 68 + 5 / 60 + 27 / 3600),  # Mahun, Traverse chapter F: line A-B
        ("N19-46-15W", 360 - (19 + 46 / 60 + 15 / 3600)),  # the same: line B-C
        ("N0W", 0.0),
    ],
)
def test_parse_angle_when_understood(text: str, degrees: float) -> None:
    """An angle is read from decimal degrees, degrees minutes seconds, gon, or a bearing in a quadrant."""
    assert parse_angle(text) == pytest.approx(degrees, rel=1e-14, abs=0)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("12-61", "60 or more minutes"),
        ("12-30-60", "60 or more minutes"),
        ("12-30.5-10", "both and a fraction"),
        ("N 95 E", "not a bearing in a quadrant"),
        ("NE", "does not begin"),
        ("12 radians", "not understood as an angle"),
        ("", "does not begin"),
        ("9" * 5000, "too long"),
    ],
)
def test_parse_angle_when_not_understood(text: str, what: str) -> None:
    """An angle that is not one is refused with what would be understood."""
    with pytest.raises(UnitError, match=what):
        parse_angle(text)


@pytest.mark.parametrize(
    ("text", "cubic_metres"),
    [
        ("1.86 m³", 1.86),
        ("1.86 m^3", 1.86),
        ("2 1/2 cu yd", 2.5 * 0.9144**3),
        ("2.5 cubic yards", 2.5 * 0.9144**3),
        ("27 ft3", 0.9144**3),
        ("27 cu. ft.", 0.9144**3),
        ("85 L", 0.085),
        ("0 m3", 0.0),
    ],
)
def test_parse_volume_when_understood(text: str, cubic_metres: float) -> None:
    """A volume is read in cubic metres, yards or feet, or in litres."""
    assert parse_volume(text) == pytest.approx(cubic_metres, rel=1e-14)


def test_parse_volume_when_bare_or_in_barrows() -> None:
    """A bare number is cubic metres in a metric file only; barrow loads need the size of the barrow."""
    assert parse_volume("1,5", M, decimal_comma=True) == 1.5
    assert parse_volume("3 barrows", barrow=0.085) == pytest.approx(0.255)
    with pytest.raises(UnitError, match="size is not known"):
        parse_volume("3 barrows")
    for unit in (None, FT, FT_IN):
        with pytest.raises(UnitError, match="Write m3, yd3 or ft3"):
            parse_volume("5", unit)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("-1 m3", "negative volume"),
        ("5 gal", "“gal”, which is not a unit of volume"),
        ("5 cubic yrads", "Did you mean cubic yards"),
        ("1,5 m3", "has a comma"),
        ("3/2 m3", "the fraction 3/2"),
        ("2/2 m3", "the fraction 2/2"),
        ("1.5 1/2 m3", "the fraction 1/2"),
        ("m3", "does not begin"),
        ("9" * 5000, "too long"),
    ],
)
def test_parse_volume_when_it_would_be_a_guess(text: str, what: str) -> None:
    """Gallons differ from country to country, and a volume below zero is none: both are refused."""
    with pytest.raises(UnitError) as caught:
        parse_volume(text, source=Source("site.toml", 9, "bought"))
    assert what in str(caught.value)
    assert str(caught.value).startswith("site.toml line 9")


def test_parse_area_when_understood() -> None:
    """An area is read in square metres, feet or yards, or hectares; a bare one is in the square of the unit."""
    assert parse_area("8.64 m²") == 8.64
    assert parse_area("93 sq ft") == pytest.approx(93 * 0.09290304, rel=1e-14)
    assert parse_area("9 ft²") == pytest.approx(parse_area("1 yd2"), rel=1e-14)
    assert parse_area("0.4 ha") == 4000.0
    assert parse_area("10", M) == 10.0
    assert parse_area("10", FT) == pytest.approx(0.9290304)
    for text, unit in (("10", None), ("1 acre", M), ("-3 m2", M)):
        with pytest.raises(UnitError):
            parse_area(text, unit)
