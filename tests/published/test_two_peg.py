"""The two-peg test, curvature and refraction, and the correction of the centre wire.

Two-peg test. Formula: Navy Engineering Aid, NAVEDTRA 14070, figure 6-3,
https://engineeringtraining.tpub.com/14070/css/Transit-Adjustments-115.htm: the far reading should be e = c + b - a, the
line of sight is out by d - e. Limit: US Geological Survey, 0.003 ft in 100 ft. The numbers of the example are our own:
no numeric example was found in a source of standing; only the formula is sourced.

Curvature and refraction. Source: lecture note "Leveling Theory and Trig Leveling" (after Wolf and Ghilani),
https://www.coursehero.com/file/6257444/Lecture-LevelingTrigonometric/: c = D^2 / 2R with R = 20,906,000 ft, r = 0.14 c.

Centre wire. Source: US Army FM 3-34.331, *Topographic Surveying*, 16 January 2001, table 7-1.
"""

from __future__ import annotations

import pytest

from spadework.levels.pegs import FIELD_LIMIT, PegTest, curvature, reciprocal_rise, refraction
from spadework.levels.sights import MOST_UNEQUAL, balance_notices, with_stadia
from spadework.levels.wording import Wording
from spadework.positions.stadia import three_wires
from spadework.read import read_text
from spadework.readings import LevelBook
from spadework.units import LengthUnit

FOOT = 0.3048
# distance, curvature, refraction, curvature less refraction [ft]
TABLE = (
    (500, 0.005979, 0.000837, 0.005142),
    (1000, 0.023917, 0.003348, 0.020568),
    (1500, 0.053812, 0.007534, 0.046279),
    (2000, 0.095666, 0.013393, 0.082273),
    (3000, 0.215249, 0.030135, 0.185114),
    (5000, 0.597914, 0.083708, 0.514206),
    (10000, 2.391658, 0.334832, 2.056826),
)
# Difference of the half-intervals, correction of the centre wire: table 7-1.
CENTRE_WIRE = ((0.000, 0.0000), (0.001, 0.0003), (0.002, 0.0007), (0.003, 0.0010))


@pytest.mark.parametrize(("distance", "fall", "bend", "both"), TABLE)
def test_curvature_when_tabulated(distance: float, fall: float, bend: float, both: float) -> None:
    """Every row, to the millionth of a foot that is printed."""
    away = distance * FOOT
    # Each column is rounded by itself, the last one from the unrounded two.
    assert curvature(away) / FOOT == pytest.approx(fall, abs=1e-6)
    assert refraction(away) / FOOT == pytest.approx(bend, abs=1e-6)
    assert (curvature(away) - refraction(away)) / FOOT == pytest.approx(both, abs=1e-6)


@pytest.mark.parametrize(("unevenness", "correction"), CENTRE_WIRE)
def test_centre_wire_when_corrected(unevenness: float, correction: float) -> None:
    """The mean of three wires is the centre wire and a third of the difference of the two halves."""
    wires = three_wires(1.400, 1.300, 1.200 + unevenness)
    assert float(wires.unevenness) == pytest.approx(unevenness, abs=1e-12)
    assert float(wires.mean) - 1.300 == pytest.approx(correction, abs=0.00005)


def example() -> PegTest:
    """Pegs 300 ft apart: midway 5.32 on A and 6.68 on B, then close to A 4.95 and 6.33."""
    return PegTest(5.32 * FOOT, 6.68 * FOOT, 4.95 * FOOT, 6.33 * FOOT, (150 * FOOT, 150 * FOOT), (0.0, 300 * FOOT))


def test_pegs_when_the_far_reading_is_worked() -> None:
    """The fall is 1.36 ft; the far rod should read 4.95 + 1.36 = 6.31 and reads 0.02 more, 0.002 of it the earth's."""
    test = example()
    assert test.fall / FOOT == pytest.approx(1.36, abs=1e-9)
    earth = float(curvature(300 * FOOT) - refraction(300 * FOOT)) / FOOT
    assert earth == pytest.approx(0.0019, abs=0.00005)
    assert test.right_second_b / FOOT == pytest.approx(6.31 + earth, abs=1e-9)
    assert test.collimation * 300 == pytest.approx(0.02 - earth, abs=1e-9)


def test_pegs_when_held_against_the_limit() -> None:
    """0.018 ft in 300 ft are 0.006 in 100: twice what the US Geological Survey works with."""
    assert not example().within()
    assert example().collimation / FIELD_LIMIT == pytest.approx(2.01, abs=0.01)


def test_rise_when_levelled_from_both_sides() -> None:
    """Closed form: a rise of 0.500 seen through an error of +0.020 over the river from either side."""
    rise = reciprocal_rise(1.500, 1.000 + 0.020, 2.000 + 0.020, 1.500)
    assert rise.rise == pytest.approx(0.500)
    assert rise.error == pytest.approx(0.020)


# Short forms as a commercial formula handbook prints them (mirror https://issuhub.com/view/index/4884?pageIndex=201):
# refraction 0.0033 F^2 ft with F thousands of feet, 0.011 K^2 m with K kilometres, 0.093 M^2 ft with M miles. Both
# together 0.0206 F^2 ft and 0.0675 K^2 m are from memory. Length in metres, amount in metres, half a last digit.
SHORT_REFRACTION = [
    pytest.param(1000 * FOOT, 0.0033 * FOOT, 0.00005 * FOOT, id="thousand feet"),
    pytest.param(1000.0, 0.011, 0.0005, id="kilometre"),
]


@pytest.mark.parametrize(("distance", "bend", "half"), SHORT_REFRACTION)
def test_refraction_when_given_by_a_short_form(distance: float, bend: float, half: float) -> None:
    """The coefficient is the refraction at one unit of distance."""
    assert float(refraction(distance)) == pytest.approx(bend, abs=half)


def test_refraction_of_a_mile_when_given_by_a_short_form() -> None:
    """0.093 ft is 0.14 of the curvature of a mile, 0.667 ft, both rounded by themselves: to a thousandth of a foot."""
    assert float(refraction(5280 * FOOT)) / FOOT == pytest.approx(0.093, abs=0.001)


def test_curvature_and_refraction_when_given_by_short_forms() -> None:
    """0.0206 ft for a thousand feet; 0.0675 m for a kilometre, both from memory, to half their last digit."""
    assert float(curvature(1000 * FOOT) - refraction(1000 * FOOT)) / FOOT == pytest.approx(0.0206, abs=0.00005)
    assert float(curvature(1000.0) - refraction(1000.0)) == pytest.approx(0.0675, abs=0.00005)


# Computed from the table's own R and ratio, not published: what a yard makes of it.
@pytest.mark.parametrize(
    ("distance", "amount", "half"),
    [
        (100 * FOOT, 0.0002 * FOOT, 0.00005 * FOOT),
        (300 * FOOT, 0.0019 * FOOT, 0.00005 * FOOT),
        (500 * FOOT, 0.0051 * FOOT, 0.00005 * FOOT),
        (50.0, 0.00017, 0.000005),
        (100.0, 0.000675, 0.000005),
    ],
)
def test_both_when_a_sight_crosses_a_yard(distance: float, amount: float, half: float) -> None:
    """A fifth of a millimetre at 50 m, two thirds of one at 100 m."""
    assert float(curvature(distance) - refraction(distance)) == pytest.approx(amount, abs=half)


def test_pegs_when_held_against_the_australian_limit() -> None:
    """1.0 mm in 50 m, the first-order limit of Australian National Mapping: two thirds of the American one."""
    limit = 0.001 / 50.0
    assert limit / FIELD_LIMIT == pytest.approx(2 / 3)
    assert not example().within(limit)
    slight = PegTest(1.500, 1.500, 1.400, 1.4009 + 0.0002, (25.0, 25.0), (0.0, 50.0))
    assert slight.within(limit)


# US Army, Engineer Course EN0593, precise levelling by three wires,
# http://armyengineer.tpub.com/en0593a/Methods-And-Procedures-Cont-168.htm: backsight and foresight of one set-up differ
# by 10 m of sight at most. Intervals are in millimetres of rod.
def wire_book(interval_back: float, interval_fore: float) -> LevelBook:
    """One set-up read at three wires, with those intervals. [mm]"""
    half_back, half_fore = interval_back / 2000, interval_fore / 2000
    back = "/".join(f"{1.5 + side * half_back:.4f}" for side in (1, 0, -1))
    fore = "/".join(f"{1.2 + side * half_fore:.4f}" for side in (1, 0, -1))
    found = read_text(f"point,BS (m),FS (m)\nA,{back},\nB,,{fore}\n").reading
    assert isinstance(found, LevelBook)
    return found


@pytest.mark.parametrize(("constant", "most"), [(333.0, 30.0), (300.0, 33.0)])
def test_interval_sums_when_held_against_ten_metres(constant: float, most: float) -> None:
    """30 mm of interval at 333 to one, or 33 mm at 300 to one, are 10 m of sight and pass; two more are named."""
    words = Wording.of_book(0.001, LengthUnit.METRE)
    assert most / 1000 * constant == pytest.approx(MOST_UNEQUAL, abs=0.5)
    for excess, named in ((most, False), (most + 2.0, True)):
        told = list(balance_notices(with_stadia(wire_book(100.0 + excess, 100.0), constant), words))
        assert any("unlike" in text for text in told) is named


@pytest.mark.xfail(
    reason="the text pairs 30 with 1/300 and 33 with 1/333: 9.0 and 11.0 m, and not both 10 m", strict=True
)
@pytest.mark.parametrize(("constant", "most"), [(300.0, 30.0), (333.0, 33.0)])
def test_interval_sums_when_paired_as_in_the_text(constant: float, most: float) -> None:
    """Both pairs should be 10 m of sight to the half metre."""
    assert most / 1000 * constant == pytest.approx(10.0, abs=0.5)
