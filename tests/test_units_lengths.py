"""Lengths as people write them: what is read, what is refused and how it is said.

Expected values are worked by hand from the definitions 1 ft = 0.3048 m = 12 in, unless a source stands beside them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from spadework.errors import Source, UnitError
from spadework.units import (
    LengthUnit,
    format_length,
    looks_ambiguous_column,
    parse_length,
    parse_lengths,
    reading_step,
)

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
