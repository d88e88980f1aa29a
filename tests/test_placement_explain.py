"""What is said when nothing fits: which limit forbids it, and a relaxation that does help, by hand-made cases."""

from __future__ import annotations

import re

import numpy as np
import pytest

from naive_placement import ground_of
from spadework.errors import PlacementError
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement import (
    GOALS,
    BearingLimit,
    FinishLimit,
    KeepOut,
    Limits,
    PositionLimit,
    find_placement,
)
from spadework.units import LengthUnit

SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
PAD = Pad.rectangle(6.0, 4.0)
CORNERS = np.array([[-30.0, -30.0], [40.0, -30.0], [40.0, 40.0], [-30.0, 40.0]])
LEVEL = ground_of(CORNERS, np.full(4, 100.0))
SLOPE = ground_of(CORNERS, 100.0 + 0.1 * CORNERS[:, 1])


def message(limits: Limits, *, pad: Pad = PAD, ground: Ground = LEVEL, unit: LengthUnit = LengthUnit.METRE) -> str:
    """Return what is said when nothing fits."""
    with pytest.raises(PlacementError) as caught:
        find_placement(ground, pad, limits, GOALS["digging"], 0.9, unit=unit)
    return str(caught.value)


def number_after(words: str, text: str) -> float:
    """Return the first number after some words."""
    match = re.search(re.escape(words) + r"\D*?(-?[\d.]+)", text)
    assert match, (words, text)
    return float(match.group(1))


def test_setback_when_too_wide() -> None:
    """10 m less 6 m of pad leaves 2 m on either side; 3 m leaves a square of 4 m, two thirds of the pad."""
    text = message(Limits(boundary=(SQUARE,), setback=3.0))
    assert "the boundary (clear by 3.000 m) forbids 100 % of them by itself" in text
    assert number_after("the boundary:", text) == pytest.approx(2.0, abs=0.002)
    assert number_after("pad: the same shape at", text) == pytest.approx(66.0, abs=1.0)


def test_setback_when_relaxed_as_told() -> None:
    """What is advised does fit."""
    text = message(Limits(boundary=(SQUARE,), setback=3.0))
    advised = number_after("the boundary:", text)
    assert find_placement(LEVEL, PAD, Limits(boundary=(SQUARE,), setback=advised), GOALS["digging"], 0.9).best


def test_keep_out_when_it_fills_the_yard() -> None:
    """A tree in the middle: along a wall the pad is 10 - 4 - 5 = 1 m clear of it, so 2.5 m is too much."""
    text = message(Limits(boundary=(SQUARE,), keep_outs=(KeepOut.circle("oak", (5.0, 5.0), 2.5),)))
    assert "oak (clear by 2.500 m) forbids" in text
    assert number_after("oak:", text[text.index("Nearest") :]) == pytest.approx(1.0, abs=0.002)


def test_keep_out_when_nothing_but_its_absence_helps() -> None:
    """A pond over most of the yard cannot be given less clearance: it has none."""
    text = message(Limits(boundary=(SQUARE,), keep_outs=(KeepOut.polygon("pond", SQUARE * 0.8 + 1.0),)))
    assert "pond: it would fit if that were out of the way" in text


def test_bearing_when_it_does_not_fit() -> None:
    """A yard of 5 m by 10 m holds 6 m by 4 m along its length only, or nearly so: not at bearing 90."""
    yard = SQUARE * [0.5, 1.0]
    text = message(Limits(boundary=(yard,), bearing=BearingLimit(90.0)))
    assert 0.0 < number_after("bearing:", text) <= 20.0 or 160.0 <= number_after("bearing:", text) < 180.0
    assert "instead of 90.0°" in text


def test_position_when_it_does_not_fit() -> None:
    """A pad 4 m wide whose centre is 1 m from the fence has to move 1 m or more."""
    limits = Limits(boundary=(SQUARE,), position=PositionLimit(1.0, 5.0), bearing=BearingLimit(0.0))
    text = message(limits)
    assert 1.0 <= number_after("position:", text) < 1.3
    assert "to the east" in text


def test_boundary_when_it_lies_elsewhere() -> None:
    """A boundary in other coordinates than the shots is named as such."""
    assert "do not overlap" in message(Limits(boundary=(SQUARE + 5000.0,)))


def test_soil_when_the_fixed_finish_needs_too_much() -> None:
    """Level ground, finish 0.1 m above it: 24 m² x 0.1 m = 2.4 m³ short, 0.1 m too high, whatever the spot."""
    text = message(Limits(boundary=(SQUARE,), finish=FinishLimit("fixed", 100.1)))
    assert "need more soil than is dug there and may be bought" in text
    assert "lacks 2.40 m³ of compacted soil at a finish of 100.100 m; 0.00 m³ may be bought" in text
    assert "finish 0.100 m lower there, at 100.000 m" in text


def test_soil_when_as_much_may_be_bought() -> None:
    """The same with 2.4 m³ allowed fits."""
    limits = Limits(boundary=(SQUARE,), finish=FinishLimit("fixed", 100.1), bought=2.4)
    assert find_placement(LEVEL, PAD, limits, GOALS["digging"], 0.9).best.short == pytest.approx(2.4)


def test_levels_when_no_spot_is_flat_enough() -> None:
    """On a slope of 1 in 10 a pad 4 m across it spans 0.4 m: 0.1 m of cut and 0.1 m of fill lack 0.2 m."""
    text = message(Limits(boundary=(SQUARE,), cut_depth=0.1, fill_depth=0.1), ground=SLOPE)
    assert "have no finish level within the limits" in text
    assert number_after("fall short by", text) == pytest.approx(0.2, abs=0.0015)
    assert "cut-depth 0.100 m and fill-depth 0.100 m" in text


def test_message_when_the_unit_is_feet() -> None:
    """Lengths are said in the user's unit: 3 m is 9.84 ft."""
    assert "clear by 9.84 ft" in message(Limits(boundary=(SQUARE,), setback=3.0), unit=LengthUnit.FOOT)


def test_tight_yard_when_the_grid_misses_it() -> None:
    """A skew yard that is 2 mm larger than the pad is found between the poses of the grid."""
    turn = np.radians(23.7)
    along, across = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
    yard = np.array(
        [[3.3, 1.7] + s * 3.001 * along + t * 2.001 * across for s, t in ((-1, -1), (-1, 1), (1, 1), (1, -1))]
    )
    best = find_placement(LEVEL, PAD, Limits(boundary=(yard,)), GOALS["digging"], 0.9).best
    assert best.placement.bearing == pytest.approx(23.7, abs=0.05)
    assert (best.placement.east, best.placement.north) == pytest.approx((3.3, 1.7), abs=0.002)
