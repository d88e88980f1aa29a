"""Water about a pad."""

import numpy as np
import pytest

from grounds import lattice
from spadework.ground.water_at_pad import pad_water, water_notices
from spadework.pad import BuildUp, Edge, Pad, Placement
from spadework.readings import FloatArray
from spadework.units import LengthUnit

PAD = Pad.rectangle(4.0, 2.0, build_up=BuildUp(()), edge=Edge("retained"))
AT = Placement(0.0, 0.0, 90.0, 1.0)


def slope(east: FloatArray, north: FloatArray) -> FloatArray:
    """Falls south."""
    return 0.05 * north + 0.0 * east


def test_water_from_uphill_is_what_lies_above_the_pad() -> None:
    """On a plane that falls south, the strip of the pad's width above it drains onto it, over its northern side.

    By hand: the pad is 4 m wide; the square looked at reaches 8 m and half the pad's width beyond the middle, 10 m,
    and the ground 9 m: 4 m times 8 m less rounding to whole places.
    """
    ground = lattice(slope, 9, 0.5)
    water = pad_water(ground, PAD, AT)
    assert water is not None
    assert water.runs_on == pytest.approx(32, rel=0.15)
    corners = AT.corners(PAD)
    assert water.side is not None
    assert corners[list(water.side), 1] == pytest.approx([1.0, 1.0])
    assert water.hollows == ()
    assert water.ways[0].end == "leaves"
    assert water.ways[0].places[-1][1] == pytest.approx(-9)
    said = water_notices(ground, PAD, AT, LengthUnit.METRE)
    assert len(said) == 1
    assert "runs onto the pad, most of it over side AB" in said[0]
    # From the pad's southern side, 1 m below its middle, to the rim 9 m below: 8 m, straight south.
    assert "Past the pad it runs to the south and leaves the measured ground after 8.000 m" in said[0]


def test_nothing_is_said_on_a_hill() -> None:
    """Water runs off a mound on all sides."""
    ground = lattice(lambda east, north: -0.02 * np.hypot(east, north), 9, 0.5)
    assert water_notices(ground, PAD, AT, LengthUnit.METRE) == ()


@pytest.mark.parametrize(("middle", "where"), [(0.5, "under the pad"), (4.0, "2.500 m from the pad")])
def test_hollow_is_told_with_its_distance(middle: float, where: str) -> None:
    """A dish 0.2 m deep under the pad, or 4 m north of its middle: its shots under water end 0.5 m off its middle."""

    def dish(east: FloatArray, north: FloatArray) -> FloatArray:
        return np.minimum(np.hypot(east, north - middle) * 0.2, 0.2)

    said = water_notices(lattice(dish, 9, 0.5), PAD, AT, LengthUnit.METRE)
    assert any(f"hollow {where}: up to 0.200 m deep" in sentence for sentence in said)
