"""Lengths, slopes, angles, areas and volumes as people write them: what is read, what is refused and how it is said.

Expected values are worked by hand from the definitions 1 ft = 0.3048 m = 12 in, unless a source stands beside them.
"""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pint
import pytest

from spadework.errors import Source, UnitError
from spadework.units import (
    LengthUnit,
    area_label,
    barrow_loads,
    convert,
    format_area,
    format_barrow_loads,
    format_feet_inches,
    format_inches,
    format_length,
    format_millimetres,
    format_slope,
    format_volume,
    format_wind,
    length_step,
    looks_ambiguous_column,
    parse_angle,
    parse_area,
    parse_length,
    parse_lengths,
    parse_slope,
    parse_volume,
    reading_step,
    to_area_unit,
    to_length_unit,
    to_volume_unit,
    unit_label,
    volume_label,
)
from spadework.units_volumes import AREA_WORDS, VOLUME_WORDS
from spadework.units_words import LENGTH_WORDS

M, FT, FT_IN = LengthUnit.METRE, LengthUnit.FOOT, LengthUnit.FOOT_INCH
INCH = 0.0254


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("3'-6 1/2\"", 42.5),
        ("3' 6.5\"", 42.5),
        ("3 ft 6 1/2 in", 42.5),
        ("3 ft. 6 1/2 in.", 42.5),
        ("3 feet, 6-1/2 inches", 42.5),
        ("3ft-6.5in", 42.5),
        ("3'6 1/2", 42.5),
        ("42.5in", 42.5),
        ("42½ in", 42.5),
        ('42 1/2"', 42.5),
        ("3′ 6½″", 42.5),
        ("3’ 6½”", 42.5),
        ("3' 6½''", 42.5),
        ("3' 6 1⁄2\"", 42.5),
        ("3'\u20096\u202f½\u00a0\"", 42.5),
        ("3.54'", 42.48),
        ("3.54 ft", 42.48),
        ("3.54 FEET", 42.48),
        ("5.2 ft", 62.4),
        ("5' 2\"", 62),
        ("1/2 in", 0.5),
        ('⅛"', 0.125),
        ("½ ft", 6),
        ("3 1/2 ft", 42),
        ("5' 0 1/8\"", 60.125),
        ("5' ⅛\"", 60.125),
        ("1 foot", 12),
        ("2 yd", 72),
        ("-0' 3\"", -3),
        ("\u22120' 3\"", -3),
        ("–0′ 3″", -3),
        ("- 1' 6\"", -18),
        ("+1' 6\"", 18),
        ("-3.5 in", -3.5),
        ("  7 in  ", 7),
        ("\ufeff7 in", 7),
        (".5 in", 0.5),
        ("7. in", 7),
    ],
)
def test_parse_length_when_feet_or_inches_are_written(text: str, inches: float) -> None:
    """Feet and inches in any common spelling are exact, whatever the unit of the file."""
    for unit in (None, M, FT, FT_IN):
        assert parse_length(text, unit) == pytest.approx(inches * INCH, rel=1e-15, abs=0)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1.083 m", 1.083),
        ("1083mm", 1.083),
        ("108.3 cm", 1.083),
        ("1.083 Metres", 1.083),
        ("0.001083 km", 1.083),
        ("1\u2009083 mm", 1.083),
        ("1,083.5 mm", 1.0835),
        ("-75 mm", -0.075),
        ("1e-3 m", 0.001),
        ("500000 m", 500000.0),
    ],
)
def test_parse_length_when_metres_are_written(text: str, metres: float) -> None:
    """Metric lengths are the nearest float to what was written, whatever the unit of the file."""
    for unit in (None, M, FT, FT_IN):
        assert parse_length(text, unit) == metres


@pytest.mark.parametrize(
    ("text", "unit", "bare_inches", "metres"),
    [
        ("1.083", M, None, 1.083),
        ("-0.25", M, None, -0.25),
        ("5.2", FT, None, 5.2 * 0.3048),
        ("3 6 1/2", FT_IN, None, 42.5 * INCH),
        ("3-6-1/2", FT_IN, None, 42.5 * INCH),
        ("3 6.5", FT_IN, None, 42.5 * INCH),
        ("3-6", FT_IN, None, 42 * INCH),
        ("-0-3", FT_IN, None, -3 * INCH),
        ("3 6½", FT_IN, True, 42.5 * INCH),
        ("6 1/2", FT_IN, True, 6.5 * INCH),
        ("42.5", FT_IN, True, 42.5 * INCH),
        ("3.54", FT_IN, False, 42.48 * INCH),
        ("0", FT_IN, None, 0.0),
        ("0.00", None, None, 0.0),
    ],
)
def test_parse_length_when_number_is_bare(
    text: str, unit: LengthUnit | None, bare_inches: bool | None, metres: float
) -> None:
    """A bare number stands for the file's unit; among feet and inches its heading says which."""
    assert parse_length(text, unit, bare_inches=bare_inches) == pytest.approx(metres, rel=1e-15, abs=0)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("1,083 m", 1.083), ("1,5", 1.5), ("-0,25", -0.25), ("1.083,5 mm", 1.0835), ("7", 7.0), ("3 ft, 6 in", 42 * INCH)],
)
def test_parse_length_when_decimal_commas_are_said(text: str, metres: float) -> None:
    """With decimal commas 1,083 is a little more than one."""
    assert parse_length(text, M, decimal_comma=True) == pytest.approx(metres, rel=1e-15)


REFUSED = [
    ("1,5 m", None, "could|decimal comma", "write 1.5"),
    ("1,083", M, "has a comma", "write 1.083 or 1083"),
    ("3' 12\"", None, "12 inches after its feet", "less than 12"),
    ("3'-13\"", None, "13 inches after its feet", "less than 12"),
    ("3 12", FT_IN, "12 inches after its feet", "less than 12"),
    ("1'083\"", None, "083 inches|083 after", ""),
    ("1' 005\"", None, "005 after its feet", "two digits"),
    ("5.2 ft 3 in", None, "5.2 feet and inches besides", "not both"),
    ("5", None, "has no unit", "write the unit as m"),
    ("5", FT_IN, "could be feet or inches: which", '5" for inches, 5 ft for feet'),
    ("5.2", FT_IN, "could be feet or inches: which", '5.2" for inches, 5.2 ft for feet'),
    ("6 1/2", FT_IN, "could be feet or inches: which", '6 1/2" for inches'),
    ("3 6 1/2", M, "looks like feet and inches", "metres"),
    ("3-6", FT, "looks like feet and inches", "decimal feet"),
    ("1.O5 m", None, "has a letter where a digit should be", "did you mean 1.05 m"),
    ("1.O5", M, "has a letter where a digit should be", "did you mean 1.05"),
    ("1OO mm", None, "has a letter where a digit should be", "did you mean 100 mm"),
    ("l.05", M, "has a letter where a digit should be", "did you mean 1.05"),
    ("3 feat", None, "the word “feat”", "did you mean feet"),
    ("3 metrs", None, "the word “metrs”", "did you mean metres"),
    ("3 chains", None, "the word “chains”, which is not a unit of length here", "m, cm, mm, ft or in"),
    ("3 rods", None, "the word “rods”", "m, cm, mm, ft or in"),
    ("abc", M, "the word “abc”", ""),
    ("", M, "is empty", ""),
    ("   ", M, "is empty", ""),
    ("-", M, "not understood", ""),
    ("—", M, "not understood", ""),
    ("1.2.3", M, "more than one decimal point", ""),
    ("1 083 mm", None, "not understood as one length", "leave out the space"),
    ("5 m 20 cm", None, "not understood as one length", ""),
    ("3'--6\"", None, "not understood as one length", ""),
    ("(3)", M, "has a “(” in it", ""),
    ("٣", M, "has a “٣” in it", ""),
    ("3' 6 5/4\"", None, "the fraction 5/4", "less than one"),
    ("31/2 in", None, "the fraction 31/2", "3 1/2"),
    ("1/0 in", None, "the fraction 1/0", ""),
    ("3 2/2 in", None, "the fraction 2/2", "less than one"),
    ("1e99 m", None, "the exponent 99", ""),
    ("1e20 m", None, "longer than 100,000 km", ""),
    ("9" * 60, M, "longer than 100,000 km", ""),
    ("9" * 5000, M, "too long for a length", "64 characters"),
    ("nan", M, "the word “nan”", ""),
    ("inf", M, "the word “inf”", ""),
    ("1_000", M, "has a “_” in it", ""),
    ("0x1", M, "the word “x”", ""),
    ("4.11\x00", M, "has a “�” in it", ""),
]


@pytest.mark.parametrize(("text", "unit", "what", "remedy"), REFUSED, ids=[repr(case[0][:20]) for case in REFUSED])
def test_parse_length_when_it_would_be_a_guess(text: str, unit: LengthUnit | None, what: str, remedy: str) -> None:
    """What could mean two things, or nothing, is refused with one fault: its place, the text, what and what to do."""
    with pytest.raises(UnitError) as caught:
        parse_length(text, unit, source=Source("plot.csv", 7, "rod"))
    (fault,) = caught.value.faults
    message = str(fault)
    assert message.startswith("plot.csv line 7, column rod: “")
    assert any(part in message for part in what.split("|"))
    assert remedy.lower() in message.lower()
    assert len(message) < 450
    assert caught.value.exit_status == 2


@pytest.mark.parametrize("text", ["1.083", "1.5 m", "1,083,5", "1.08,35"])
def test_parse_length_when_point_stands_among_decimal_commas(text: str) -> None:
    """Where decimal commas were said a point is refused: 1.083 could be a thousand and eighty-three."""
    with pytest.raises(UnitError, match="decimal commas"):
        parse_length(text, M, decimal_comma=True)


def test_parse_length_when_decimal_feet_look_like_feet_and_inches() -> None:
    """5.2 ft is 5 ft 2 3/8 in and never 5 ft 2 in."""
    assert format_length(parse_length("5.2 ft"), FT_IN) == "5' 2 3/8\""
    assert parse_length("5.2 ft") - parse_length("5' 2\"") == pytest.approx(0.4 * INCH, rel=1e-9)


@pytest.mark.parametrize(("unit", "bare_inches"), [(M, None), (FT, None), (FT_IN, True), (FT_IN, False)])
def test_parse_lengths_when_plain_decimals(unit: LengthUnit, bare_inches: bool | None) -> None:
    """The fast path gives the same bits as the exact parser, for one to nine decimals and either sign."""
    texts = [
        f"{sign}{whole}.{decimals}"
        for sign in ("", "-")
        for whole in (0, 7, 104)
        for decimals in ("0", "01", "1234567")
    ]
    lengths, faults = parse_lengths([*texts, "12", " 3.5 "], unit, bare_inches=bare_inches)
    assert faults == []
    assert lengths.tolist() == [parse_length(text, unit, bare_inches=bare_inches) for text in (*texts, "12", "3.5")]


def test_parse_lengths_when_decimal_commas_are_said() -> None:
    """A column with decimal commas is read the same way, and a point in it is a fault."""
    lengths, faults = parse_lengths(["1,083", "-2,5", "7", "1.083"], M, decimal_comma=True)
    assert lengths[:3].tolist() == [1.083, -2.5, 7.0]
    assert math.isnan(lengths[3])
    assert len(faults) == 1


def test_parse_lengths_when_cells_are_blank_or_wrong() -> None:
    """Blank cells are NaN, every wrong cell is reported with its own line, and the rest is read."""
    texts = ["1.5", "", "1.O5", "  ", "3 chain", "2' 6\"", "1.O5"]
    lengths, faults = parse_lengths(texts, M, file="plot.csv", lines=[2, 3, 4, 5, 6, 7, 9], column="rod")
    assert np.isnan(lengths).tolist() == [False, True, True, True, True, False, True]
    assert lengths[5] == pytest.approx(30 * INCH)
    assert [str(fault.source) for fault in faults] == [f"plot.csv line {line}, column rod" for line in (4, 6, 9)]
    assert faults[0].value == "1.O5"


def test_parse_lengths_when_too_large_for_fast_path() -> None:
    """A number far too large is a fault in a column as it is alone."""
    lengths, faults = parse_lengths(["100000000", "100000001", "9" * 40], M)
    assert lengths[0] == 1e8
    assert [fault.value for fault in faults] == ["100000001", "9" * 40]


def test_parse_lengths_when_column_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plain decimals never reach the slow parser, so that a hundred thousand of them are no burden."""

    def slow(text: str, *_: object) -> None:
        pytest.fail(f"{text} went through the slow parser")

    monkeypatch.setattr("spadework.units_columns.read_length", slow)
    for unit, bare_inches in ((M, None), (FT, None), (FT_IN, True), (FT_IN, False)):
        lengths, faults = parse_lengths([f"{row / 1000:.3f}" for row in range(1000)], unit, bare_inches=bare_inches)
        assert faults == []
        assert np.all(np.diff(lengths) > 0)


@pytest.mark.parametrize(
    "texts",
    [
        ["5.02", "5.11", "4.10"],
        ["5.2", "5.11", "6.3", "4.10"],
        ["100.00", "", "99.06", "-98.11"],
        ["3.11", "4.00", "5", "3.01"],
    ],
)
def test_looks_ambiguous_column_when_it_could_be_either(texts: list[str]) -> None:
    """Where all that follows the points could be inches, the question is asked with an example both ways."""
    question = looks_ambiguous_column(texts)
    assert question is not None
    assert question.endswith("could be either.")
    assert "decimal feet" in question
    assert "feet and inches" in question


def test_looks_ambiguous_column_when_asked() -> None:
    """The question names the cells and what each reading of the first would mean: 5.02 ft is 60.24 in."""
    question = looks_ambiguous_column(["5.02", "5.11", "4.10"])
    assert question is not None
    assert question.startswith(
        "Are 5.02, 5.11, 4.10 decimal feet (5.02 ft is 5' 0 1/4\"), or feet and inches (5' 2\")?"
    )


@pytest.mark.parametrize(
    "texts",
    [
        [],
        ["5.02", "5.11"],
        ["5.02", "5.11", "4.12"],
        ["5.02", "5.11", "4.105"],
        ["5.2", "5.8", "4.3"],
        ["5.00", "6.00", "7.00"],
        ["5.05", "5.05", "5.05"],
        ["5.02", "5.11", "4' 10\""],
        ["5", "6", "7"],
        ["9" * 5000 + ".02", "5.11", "4.10"],
        ["5.02", "5.11", "4." + "1" * 5000],
    ],
)
def test_looks_ambiguous_column_when_it_is_not(texts: list[str]) -> None:
    """No question where a decimal is beyond eleven, where there are no two-digit decimals, or too few to tell."""
    assert looks_ambiguous_column(texts) is None


@pytest.mark.parametrize(
    ("texts", "unit", "expected"),
    [
        (["1.08", "1.083", "1.1"], M, 0.001),
        (["1", "2"], M, 1.0),
        (["4.32", "6.1"], FT, 0.01 * 0.3048),
        (["1.08 m", "1083 mm"], FT, 0.001),
        (["3' 6\"", "3' 6 1/8\"", "3' 6 1/2\""], FT_IN, INCH / 8),
        (["3' 6\"", "3'"], FT_IN, INCH),
        (["3 6 1/2", "3 7"], FT_IN, INCH / 2),
        (["3' 6 1/2"], M, INCH / 2),
        (["3' 6.5\""], FT_IN, INCH / 10),
        (["6 1/16"], FT_IN, INCH / 16),
        (["1,08"], M, 0.01),
        (["1,083.5 m"], M, 0.1),
        (["2e-4"], M, 0.0001),
        (["", "spoilt"], M, 0.001),
        ([], FT, 0.01 * 0.3048),
        ([], FT_IN, INCH / 8),
    ],
)
def test_reading_step_when_written(texts: list[str], unit: LengthUnit, expected: float) -> None:
    """The step is that of the most finely written reading; where there is none, that of printing."""
    assert reading_step(texts, unit) == pytest.approx(expected, rel=1e-12)


def test_reading_step_when_heading_says_feet() -> None:
    """Among feet and inches a bare decimal counts as inches, unless its heading says feet."""
    assert reading_step(["3.54"], FT_IN) == pytest.approx(0.01 * INCH)
    assert reading_step(["3.54"], FT_IN, bare_inches=False) == pytest.approx(0.01 * 0.3048)


@pytest.mark.parametrize(
    ("inches", "parts", "expected"),
    [
        (42.5, 8, "3' 6 1/2\""),
        (42.5, 16, "3' 6 1/2\""),
        (47.97, 8, "4' 0\""),
        (47.9375, 16, "3' 11 15/16\""),
        (47.93, 8, "3' 11 7/8\""),
        (11.95, 8, "1' 0\""),
        (0.25, 8, "0' 0 1/4\""),
        (0.06, 8, "0' 0\""),
        (-0.06, 8, "0' 0\""),
        (-3, 8, "-0' 3\""),
        (-47.97, 8, "-4' 0\""),
        (0.0625, 8, "0' 0 1/8\""),
        (0, 8, "0' 0\""),
    ],
)
def test_format_feet_inches_when_rounded(inches: float, parts: int, expected: str) -> None:
    """Feet and inches are printed to the nearest part in lowest terms and carry: never 12 inches, never minus zero."""
    assert format_feet_inches(inches * INCH, parts=parts) == expected


@pytest.mark.parametrize(
    ("metres", "unit", "options", "expected"),
    [
        (1.083, M, {}, "1.083 m"),
        (1.0795, M, {}, "1.080 m"),
        (2.0005, M, {}, "2.001 m"),
        (-0.0004, M, {}, "0.000 m"),
        (-0.25, M, {}, "-0.250 m"),
        (0.25, M, {"sign": True}, "+0.250 m"),
        (0.0, M, {"sign": True}, "0.000 m"),
        (1.083, M, {"step": 2, "with_unit": False}, "1.08"),
        (5.2 * 0.3048, FT, {}, "5.20 ft"),
        (5.2 * 0.3048, FT, {"step": 1}, "5.2 ft"),
        (1.0795, FT_IN, {}, "3' 6 1/2\""),
        (1.0795, FT_IN, {"with_unit": False}, "3' 6 1/2\""),
        (0.0254 * 3.0625, FT_IN, {"step": 16, "sign": True}, "+0' 3 1/16\""),
        (math.nan, M, {}, "—"),
        (math.inf, FT_IN, {}, "—"),
    ],
)
def test_format_length_when_printed(metres: float, unit: LengthUnit, options: dict[str, int], expected: str) -> None:
    """A length is printed in the user's unit; what ends in 5 goes up as on paper; zero has no sign."""
    assert format_length(metres, unit, **options) == expected


def test_format_length_when_numpy_number() -> None:
    """A number out of an array prints as a plain one does, however large."""
    assert format_length(np.float64(1.0795), M) == "1.080 m"
    assert format_length(1e30, M) == "1" + "0" * 30 + ".000 m"


def test_format_inches_and_millimetres_when_printed() -> None:
    """Small depths are printed in inches or in whole millimetres."""
    assert format_inches(42.5 * INCH) == '42 1/2"'
    assert format_inches(-0.25 * INCH) == '-1/4"'
    assert format_inches(0.4375 * INCH, parts=16, sign=True) == '+7/16"'
    assert format_inches(math.nan) == "—"
    assert format_millimetres(1.083) == "1083 mm"
    assert format_millimetres(-0.0754) == "-75 mm"
    assert format_millimetres(0.075, sign=True) == "+75 mm"
    assert format_millimetres(math.nan) == "—"


def test_format_volume_when_printed() -> None:
    """Volumes are cubic metres or cubic yards: 1.86 m³ is 1.86 / 0.764554857984 = 2.4328 yd³."""
    assert format_volume(1.86, M) == "1.86 m³"
    assert format_volume(1.86, FT) == "2.43 yd³"
    assert format_volume(1.86, FT_IN, decimals=1) == "2.4 yd³"
    assert format_volume(0.0001, M) == "0.00 m³"
    assert format_volume(math.nan, M) == "—"
    assert to_volume_unit(0.764554857984, FT_IN) == pytest.approx(1.0, rel=1e-12)
    assert to_volume_unit(2.0, M) == 2.0


def test_format_area_when_printed() -> None:
    """Areas are square metres or square feet: 8.64 m² is 8.64 / 0.09290304 = 93.0002 ft²."""
    assert format_area(8.64, M) == "8.64 m²"
    assert format_area(8.64, FT) == "93.0 ft²"
    assert format_area(8.64, FT_IN, decimals=0) == "93 ft²"
    assert format_area(math.inf, M) == "—"
    assert to_area_unit(np.array([0.09290304]), FT).tolist() == pytest.approx([1.0])


def test_format_barrow_loads_when_counted() -> None:
    """Loads are counted whole: 27 cubic feet are nine barrows of three, and a shovelful more makes ten."""
    foot = 0.3048**3
    assert format_barrow_loads(27 * foot, 3 * foot) == "9 barrow loads"
    assert format_barrow_loads(27.1 * foot, 3 * foot) == "10 barrow loads"
    assert format_barrow_loads(0.001, 0.085) == "1 barrow load"
    assert barrow_loads(0.0, 0.085) == 0


@pytest.mark.parametrize(("loose", "tray"), [(-1.0, 0.1), (1.0, 0.0), (math.nan, 0.1), (1.0, math.inf)])
def test_barrow_loads_when_impossible(loose: float, tray: float) -> None:
    """A negative volume or a barrow that holds nothing is a mistake of the program."""
    with pytest.raises(ValueError, match="barrow loads need"):
        barrow_loads(loose, tray)


@pytest.mark.parametrize(
    ("slope", "expected"),
    [
        (0.05, "1 in 20 (5.0 %)"),
        (-0.05, "-1 in 20 (-5.0 %)"),
        (2 / 3, "1 in 1.5 (66.7 %)"),
        (1.0, "1 in 1 (100.0 %)"),
        (0.125, "1 in 8 (12.5 %)"),
        (0.0004, "level"),
        (0.0, "level"),
        (math.nan, "—"),
    ],
)
def test_format_slope_when_printed(slope: float, expected: str) -> None:
    """A slope is printed both ways, and what rounds to nothing is level."""
    assert format_slope(slope) == expected


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


def test_labels_when_asked_for() -> None:
    """Headings carry the unit's own label, and feet in either form count volumes in yards."""
    assert [unit_label(unit) for unit in (M, FT, FT_IN)] == ["m", "ft", "ft-in"]
    assert [volume_label(unit) for unit in (M, FT, FT_IN)] == ["m³", "yd³", "yd³"]
    assert [area_label(unit) for unit in (M, FT, FT_IN)] == ["m²", "ft²", "ft²"]
    assert [length_step(unit) for unit in (M, FT, FT_IN)] == pytest.approx([0.001, 0.003048, 0.003175])


def test_to_length_unit_when_array() -> None:
    """An array of metres becomes decimal feet for either kind of feet, and stays metres otherwise."""
    metres = np.array([0.3048, 3.048])
    assert to_length_unit(metres, M) is metres
    for unit in (FT, FT_IN):
        assert to_length_unit(metres, unit).tolist() == pytest.approx([1.0, 10.0])


@pytest.mark.parametrize(
    ("value", "word", "wanted", "expected"),
    [
        (1, "lb/ft3", "kg/m3", 0.45359237 / 0.3048**3),
        (1, "yd3", "m3", 0.764554857984),
        (1, "ft²", "m²", 0.09290304),
        (1.6, "t/m^3", "kg/m3", 1600),
        (27, "ft3", "yd3", 1),
        (1, "ha", "m2", 10_000),
        (1000, "L", "m3", 1),
        (8, "in", "ft", 2 / 3),
        (0, "m", "mm", 0),
    ],
)
def test_convert_when_words_are_ours(value: float, word: str, wanted: str, expected: float) -> None:
    """Unit words of the list are converted by the definitions of pound and foot."""
    assert convert(value, word, wanted) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("word", "wanted", "what"),
    [
        ("acre", "m2", "“acre” is not a unit here"),
        ("chain", "m", "“chain” is not a unit here"),
        ("rod", "m", "“rod” is not a unit here"),
        ("m", "kgm3", "Did you mean kg/m3"),
        ("m", "m3", "cannot be turned into"),
        ("__import__('os')", "m", "is not a unit here"),
    ],
)
def test_convert_when_words_are_not(word: str, wanted: str, what: str) -> None:
    """Any other word is refused: the library's acre, chain and rod are survey-foot units."""
    with pytest.raises(UnitError) as caught:
        convert(1.0, word, wanted)
    assert what in str(caught.value)


def test_unit_words_when_compared_with_the_library() -> None:
    """Every word that our parsers know is worth what a general unit library says, where it knows the word."""
    registry = pint.UnitRegistry()
    for words, dimension in ((LENGTH_WORDS, "m"), (VOLUME_WORDS, "m**3"), (AREA_WORDS, "m**2")):
        known = 0
        for word, size in words.items():
            name = word.replace("cubic ", "").replace("square ", "").replace("cu ", "").replace("sq ", "")
            power = {"m": "", "m**3": "**3", "m**2": "**2"}[dimension] if word.startswith(("cu", "sq")) else ""
            if name in {"'", '"', "ins", "yds", "cy", "cf", "sf", "sy", "sqm", "sqft", "in"}:
                continue
            if name[-1] in "23":
                name = f"{name[:-1]}**{name[-1]}"
            assert float(size) == pytest.approx(registry.Quantity(1, name + power).to(dimension).magnitude, rel=1e-12)
            known += 1
        assert known >= 8


def test_units_when_imported() -> None:
    """Neither the unit library nor numpy is loaded until it is needed: a command's help must be quick."""
    code = "import sys, spadework.units, spadework.factors; print('pint' in sys.modules, 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


@pytest.mark.parametrize(
    ("bearing", "wind"),
    [(0, "north"), (22.4, "north"), (22.6, "north-east"), (90, "east"), (-90, "west"), (225, "south-west")],
)
def test_wind_is_the_nearest_of_eight(bearing: float, wind: str) -> None:
    """Each wind holds from 22.5° before it to 22.5° after, and bearings go round."""
    assert format_wind(bearing) == wind
