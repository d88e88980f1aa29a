"""Lengths, areas, volumes and slopes as they are printed, and the words for units.

Expected values are worked by hand from the definitions 1 ft = 0.3048 m = 12 in, unless a source stands beside them.
"""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pint
import pytest

from spadework.errors import UnitError
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
    assert barrow_loads(7e-7, 0.085) == 0  # what the search leaves over of a balance, and prints as 0.00 m³


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
