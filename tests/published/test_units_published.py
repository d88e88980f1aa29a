"""The rod reader's tables of inches in decimal feet and back, read and printed by the engine."""

from __future__ import annotations

import pytest

from spadework.units import LengthUnit, convert, format_feet_inches, format_length, parse_length, to_length_unit

FT = LengthUnit.FOOT

# Exact by definition: 1 in = 1/12 ft; 1 ft = 0.3048 m (international foot; the US survey foot of 1200/3937 m was
# retired at the end of 2022; from memory, high confidence). Columns: inches, feet to six places, feet to two.
INCHES_IN_FEET = [
    ("1/8", 0.010417, "0.01"),
    ("1/4", 0.020833, "0.02"),
    ("3/8", 0.031250, "0.03"),
    ("1/2", 0.041667, "0.04"),
    ("5/8", 0.052083, "0.05"),
    ("3/4", 0.062500, "0.06"),
    ("7/8", 0.072917, "0.07"),
    ("1", 0.083333, "0.08"),
    ("3", 0.250000, "0.25"),
    ("6", 0.500000, "0.50"),
    ("9", 0.750000, "0.75"),
]


@pytest.mark.parametrize(("inches", "feet", "printed"), INCHES_IN_FEET)
def test_inches_when_turned_into_decimal_feet(inches: str, feet: float, printed: str) -> None:
    """An inch and its eighths in decimal feet agree with the table to its last digit."""
    metres = parse_length(f"{inches} in")
    assert to_length_unit(metres, FT) == pytest.approx(feet, abs=5e-7)
    assert format_length(metres, FT, with_unit=False) == printed


# The eleven whole inches of a foot, to four places.
WHOLE_INCHES = [0.0833, 0.1667, 0.2500, 0.3333, 0.4167, 0.5000, 0.5833, 0.6667, 0.7500, 0.8333, 0.9167]


@pytest.mark.parametrize(("inches", "feet"), list(enumerate(WHOLE_INCHES, start=1)))
def test_whole_inches_when_turned_into_decimal_feet(inches: int, feet: float) -> None:
    """One to eleven inches in decimal feet agree with the table, read through either notation."""
    assert to_length_unit(parse_length(f"0' {inches}\""), FT) == pytest.approx(feet, abs=5e-5)
    assert to_length_unit(parse_length(f"{inches}in"), FT) == pytest.approx(feet, abs=5e-5)
    assert convert(inches, "in", "ft") == pytest.approx(feet, abs=5e-5)


@pytest.mark.parametrize(
    ("written", "eighths"),
    [
        ("12.37 ft", "12' 4 1/2\""),  # 4.44 in, to the nearest eighth
        ("5.04 ft", "5' 0 1/2\""),
        ("101.68 ft", "101' 8 1/8\""),
    ],
)
def test_decimal_feet_when_printed_in_eighths(written: str, eighths: str) -> None:
    """Decimal feet turn into feet, inches and eighths as worked by hand."""
    assert format_feet_inches(parse_length(written)) == eighths


# Tenths of a foot to the nearest sixteenth of an inch, worked by hand from 1.2 in to the tenth.
TENTHS = ["1 3/16", "2 3/8", "3 5/8", "4 13/16", "6", "7 3/16", "8 3/8", "9 5/8", "10 13/16"]


@pytest.mark.parametrize(("tenths", "inches"), list(enumerate(TENTHS, start=1)))
def test_tenths_when_printed_in_sixteenths(tenths: int, inches: str) -> None:
    """A tenth of a foot is 1 3/16 in and not one inch, and so on to nine tenths."""
    assert format_feet_inches(parse_length(f"0.{tenths} ft"), parts=16) == f"0' {inches}\""


def test_rod_reading_when_tenths_could_be_inches() -> None:
    """The trap of the rod: a reading of 5.2 is tenths, 5 ft 2 in would be 5.17."""
    assert format_length(parse_length("5' 2\""), FT, with_unit=False) == "5.17"
    assert format_length(parse_length("5.2", FT), FT, with_unit=False) == "5.20"
