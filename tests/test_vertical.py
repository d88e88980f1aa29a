"""The vertical unit of a raster: who says it, who goes first, and exact lengths."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from pyproj import CRS

from spadework.errors import InputError, Source
from spadework.read.vertical import UNIT_WORDS, vertical_axis, vertical_factor

SILENT: dict[str, Any] = {
    "band_unit": "",
    "axis_unit": "",
    "axis_metres": math.nan,
    "horizontal_metres": 1.0,
    "source": Source("dem.tif"),
}


@pytest.mark.parametrize(
    ("word", "metres"),
    [
        ("metre", Fraction(1)),
        ("cm", Fraction(1, 100)),
        ("dm", Fraction(1, 10)),
        ("millimeters", Fraction(1, 1000)),
        # By definition: Federal Register 24 FR 5348, 1959.
        ("feet", Fraction(3048, 10000)),
        ("us survey foot", Fraction(1200, 3937)),
        ("ftus", Fraction(1200, 3937)),
    ],
)
def test_unit_words_when_compared_with_their_definition(word: str, metres: Fraction) -> None:
    """Each word stands for its exact length."""
    assert UNIT_WORDS[word] == metres


@pytest.mark.parametrize(
    ("crs", "unit", "metres"),
    [
        ("EPSG:25832+5783", "metre", 1.0),
        ("EPSG:26915+6360", "US survey foot", 1200 / 3937),
        ("EPSG:26915+8228", "foot", 0.3048),
        ("EPSG:4979", "metre", 1.0),
        ("EPSG:25832+5715", "metre", -1.0),
    ],
)
def test_vertical_axis_when_the_system_has_one(crs: str, unit: str, metres: float) -> None:
    """Compound and three-dimensional systems say the unit; an axis that points down has it negative."""
    assert vertical_axis(CRS(crs)) == (unit, pytest.approx(metres, rel=1e-12))


@pytest.mark.parametrize("crs", [None, CRS("EPSG:25832")])
def test_vertical_axis_when_the_system_is_flat(crs: CRS | None) -> None:
    """A system without heights says nothing."""
    unit, metres = vertical_axis(crs)
    assert unit == ""
    assert math.isnan(metres)


def test_vertical_factor_when_the_user_says_so() -> None:
    """What the user says goes before what the file says, and both are told."""
    factor, note = vertical_factor("FT", **{**SILENT, "band_unit": "m"})
    assert factor == 0.3048
    assert note == "levels taken in FT, as asked, over 'm' in the file"


def test_vertical_factor_when_band_and_axis_mean_the_same_foot() -> None:
    """A tag that says ft beside an axis in U.S. survey feet is no contradiction; the axis is the exact one."""
    factor, note = vertical_factor(
        None, **{**SILENT, "band_unit": "ft", "axis_unit": "US survey foot", "axis_metres": 1200 / 3937}
    )
    assert factor == 1200 / 3937
    assert "US survey foot" in note


@pytest.mark.parametrize("horizontal", [1.0, None])
def test_vertical_factor_when_nobody_says_so(horizontal: float | None) -> None:
    """Metres are taken over metres and over degrees, and that is said."""
    factor, note = vertical_factor(None, **{**SILENT, "horizontal_metres": horizontal})
    assert factor == 1.0
    assert "nothing says" in note


@pytest.mark.parametrize(
    ("said", "complaint"),
    [
        ({"band_unit": "m", "axis_unit": "foot", "axis_metres": 0.3048}, "the band says 'm'"),
        ({"band_unit": "furlong"}, "the vertical unit 'furlong' is not known"),
        ({"horizontal_metres": 0.3048}, "Give vertical-unit: m, ft or us-ft"),
        ({"axis_unit": "metre", "axis_metres": -1.0}, "they are depths"),
    ],
)
def test_vertical_factor_when_it_would_have_to_guess(said: dict[str, Any], complaint: str) -> None:
    """Contradictions, unknown words, feet across and depths are refused."""
    with pytest.raises(InputError, match=complaint) as caught:
        vertical_factor(None, **{**SILENT, **said})
    assert str(caught.value).startswith("dem.tif")
