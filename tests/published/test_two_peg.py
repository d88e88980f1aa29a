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
from spadework.positions.stadia import three_wires

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
