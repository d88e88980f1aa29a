"""Slopes and slope walks as published."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from spadework.factors import load_table
from spadework.levels import reduce_drop_grid
from spadework.positions import slope_parts
from spadework.readings import DropGrid
from spadework.readings_positions import SlopeWalk
from spadework.survey_sights import reach_notices
from spadework.units import parse_angle, parse_slope


def test_slope_when_rise_and_run_are_given() -> None:
    """1.5 m in 200 m are 0.75 % or 7.5 per mil; 300 m at 2 per mil fall 0.6 m. (FAO R4082E, 1985, chapter 3.)"""
    assert parse_slope("1.5 m in 200 m") == pytest.approx(parse_slope("0.75 %"), rel=1e-12)
    assert parse_slope("7.5 per mil") == pytest.approx(0.0075, rel=1e-12)
    assert 300 * parse_slope("2 per mil") == pytest.approx(0.6, abs=0.05)


def test_slope_when_written_in_feet() -> None:
    """8 ft in 40 ft are 20 %; a rise of 15 ft at 8 % takes 188 ft, exactly 187.5. (NWCG, Firefighter Math, slope.)"""
    assert parse_slope("8 ft in 40 ft") == pytest.approx(0.20, abs=0.005)
    assert 15 / parse_slope("8 %") == pytest.approx(188, abs=0.5)


ANGLES = [("10 %", "5-42-40"), ("5 %", "2-51-40"), ("2 %", "1-08-40")]


@pytest.mark.parametrize(("percent", "angle"), ANGLES, ids=[row[0] for row in ANGLES])
def test_angle_when_percent_is_given(percent: str, angle: str) -> None:
    """Angles of slopes, printed to twenty seconds. (FAO x6707e, chapter 4.)"""
    assert math.degrees(math.atan(parse_slope(percent))) == pytest.approx(parse_angle(angle), abs=10 / 3600)


@pytest.mark.parametrize(("angle", "percent"), [("9 deg", 15.84), ("0-30", 0.87), ("0-15", 0.44)])
def test_percent_when_an_angle_is_given(angle: str, percent: float) -> None:
    """Percent of angles. (FAO x6707e, chapter 4.)"""
    assert 100 * math.tan(math.radians(parse_angle(angle))) == pytest.approx(percent, abs=0.005)


@pytest.mark.xfail(reason="the manual adds the angles of 10, 5 and 2 %; the angle of 17 % is 9-38-53", strict=True)
def test_angle_when_the_manual_adds_angles() -> None:
    """17 % is 9-43 as printed. (FAO x6707e, chapter 4.)"""
    assert math.degrees(math.atan(parse_slope("17 %"))) == pytest.approx(parse_angle("9-43"), abs=0.5 / 60)


@pytest.mark.xfail(reason="the manual adds percents back to 17.15; the tangent of 9-43 is 17.12 %", strict=True)
def test_percent_when_the_manual_adds_percents() -> None:
    """9-43 is 17.15 % as printed. (FAO x6707e, chapter 4.)"""
    assert 100 * math.tan(math.radians(parse_angle("9-43"))) == pytest.approx(17.15, abs=0.005)


def test_profile_when_walked_with_a_clinometer() -> None:
    """Five legs by slope distance and angle, summed. (Constructed; the formulas are those of FAO x6707e.)"""
    horizontal, rise = slope_parts([10, 10, 8, 12.5, 10], [2, -1.5, 4, 6.25, -3])
    np.testing.assert_allclose(np.cumsum(horizontal), [9.9939, 19.9905, 27.9710, 40.3967, 50.3830], atol=0.00005)
    np.testing.assert_allclose(np.cumsum(rise), [0.3490, 0.0872, 0.6453, 2.0061, 1.4828], atol=0.00005)


def test_fall_when_two_drops_are_taken_from_a_string() -> None:
    """Drops of 0.85 and 2.10 ft 25 ft apart: falls 1.25 ft, 5.0 %. (Constructed.)"""
    assert parse_slope(f"{2.10 - 0.85:.2f} ft in 25 ft") == pytest.approx(0.050, abs=0.0005)


def test_percent_when_height_and_distance_are_given() -> None:
    """Slope in percent is 100 VD / HD. (US Army, IT0462, https://armyintelligence.tpub.com/IT0462/IT04620030.htm.)"""
    for rise, run in ((6.0, 120.0), (23.0, 92.0)):
        assert parse_slope(f"{100 * rise / run:.6f} %") == pytest.approx(
            parse_slope(f"{rise:g} m in {run:g} m"), rel=1e-9
        )


def test_ground_distance_when_the_slope_is_five_percent() -> None:
    """Above 5 % the taped distance must be reduced: there the two differ by 1 in 800. (FAO x6707e, chapter 2.)

    The rule was read there; the ratio is the closed form, 1 / sqrt(1 + 0.05^2) = 1 - 0.00125.
    """
    horizontal, _ = slope_parts(100.0, math.degrees(math.atan(0.05)))
    assert 100.0 - float(horizontal) == pytest.approx(100.0 / 800.0, abs=0.0005)


def test_rise_when_a_water_tube_is_read_on_two_rods() -> None:
    """20 in on one rod and 5 in on the other, both counted down from their tops: 15 in. (Constructed.)

    A water level is a level line: the ground of a rod read from its top is rod length less reading lower, so the
    difference of two readings is that of the ground, turned round where the rods count up from their feet.
    """
    inch = 0.0254
    grid = DropGrid(np.array([0.0, 3.0]), np.array([0.0]), np.array([[-20 * inch, -5 * inch]]), np.array([1]))
    down = reduce_drop_grid(grid, line_level=100.0)
    assert (down.level[0] - down.level[1]) / inch == pytest.approx(15.0)
    up = reduce_drop_grid(replace(grid, drop=-grid.drop), line_level=100.0)
    assert (up.level[0] - up.level[1]) / inch == pytest.approx(-15.0)


# Reach of one sighting in metres: FAO, Topography for freshwater fish culture, x6707e, chapter 6, table 8,
# https://www.fao.org/fishery/static/FAO_Training/FAO_Training/General/x6707e/x6707e06.htm
REACH = {"a-frame": 4.0, "h-frame": 2.5, "sighting-water-level": 100.0}


def test_reach_when_an_instrument_sights_once() -> None:
    """Every instrument of the manual's table that we know has its reach, and no other has one."""
    found = {row.name: row.extra["reach"] for row in load_table("instruments") if "reach" in row.extra}
    assert found == REACH


@pytest.mark.parametrize(("name", "reach"), REACH.items())
def test_leg_is_named_when_it_is_beyond_the_reach(name: str, reach: float) -> None:
    """A leg of that length is silent, one a tenth longer is named with its line."""
    count = np.array([reach, 1.1 * reach])
    walk = SlopeWalk(("B", "C"), ("", ""), np.array([2, 3]), "w.csv", ("A", "B"), count, np.zeros(2), np.zeros(2))
    (told,) = reach_notices(walk, name)
    assert f"reaches {reach:g} m" in told
    assert "(line 3)" in told
