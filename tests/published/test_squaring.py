"""Right angles by tape and by diagonals.

FAO Irrigation Water Management Training Manual 2 (1985), chapter 4, http://www.fao.org/docrep/R7021E/r7021e05.htm:
a tape with its 0 and 12 m marks together, pulled tight at 3 m and 8 m, makes a right angle; so do its multiples.
US Army carpentry course EN0069, "Squaring building lines",
http://armyengineer.tpub.com/en0069a/Squaring-Building-Lines-46.htm: both diagonals equal the root of a² + b².
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import skew_angle, stake_out
from spadework.units import FOOT


class LevelGround:
    """Level ground without end."""

    def level_at(self, points: FloatArray) -> FloatArray:
        """Level of each point. [m]"""
        return np.zeros(len(points))


@pytest.mark.parametrize(("along", "across", "diagonal"), [(4, 3, 5), (8, 6, 10), (12, 9, 15)])
@pytest.mark.parametrize("bearing", [0.0, 37.0])
def test_diagonals_close_the_right_angle_when_sides_are_as_published(
    along: float, across: float, diagonal: float, bearing: float
) -> None:
    """3-4-5, 6-8-10 and 9-12-15, at any bearing."""
    found = stake_out(LevelGround(), Pad.rectangle(along, across), Placement(0.0, 0.0, bearing, 0.0))  # type: ignore[arg-type]
    assert [span.length for span in found.diagonals] == [pytest.approx(diagonal, abs=1e-12)] * 2


# Sides, difference of the diagonals, angle out of square [deg], far corner off over the longer side; all in feet or all
# in metres. Constructed: only the formula d1² - d2² = 4 a b sin e is general knowledge; no published row was found.
SKEWS = [
    pytest.param(30.0, 20.0, 0.25 / 12, 0.0359, 0.0188, FOOT, id="20 x 30 ft by 1/4 in"),
    pytest.param(40.0, 24.0, 0.5 / 12, 0.0580, 0.0405, FOOT, id="24 x 40 ft by 1/2 in"),
    pytest.param(9.0, 6.0, 0.006, 0.0344, 0.0054, 1.0, id="6 x 9 m by 6 mm"),
]


@pytest.mark.parametrize(("along", "across", "difference", "angle", "off", "unit"), SKEWS)
def test_skew_angle_when_diagonals_differ_a_little(
    along: float, across: float, difference: float, angle: float, off: float, unit: float
) -> None:
    """Angle to 0.0001° and the far corner's offset to the last printed digit."""
    # the two diagonals of a parallelogram: the sum of their squares is twice the sum of the sides' squares
    total = math.sqrt(4 * (along**2 + across**2) - difference**2)
    first, second = (total + difference) / 2, (total - difference) / 2
    found = skew_angle(along * unit, across * unit, first * unit, second * unit)
    assert found == pytest.approx(angle, abs=0.00005)
    assert along * math.sin(math.radians(found)) == pytest.approx(off, abs=0.00005)
