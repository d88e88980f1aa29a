"""Which spots really differ, and the sentences about what they trade, against cases worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.pad import Pad, Placement
from spadework.placement import GOALS, Spot
from spadework.placement.alternatives import Trade, apart, far_enough, towards, with_trades
from spadework.placement.shape import PadShape
from spadework.units import LengthUnit


def spot(east: float, north: float, bearing: float, cut: float, edge_low: float = 100.0) -> Spot:
    """Return a spot with a formation of 100 m, a finish of 100.1 m and ground up to 100.2 m."""
    placement = Placement(east, north, bearing, 100.1)
    return Spot(placement, 100.0, cut, cut, 0.9 * cut, 0.0, 0.0, 99.9, 100.2, edge_low, 100.2)


def sentence(best: Spot, other: Spot, *, goal: str = "digging", unit: LengthUnit = LengthUnit.METRE) -> str:
    """Return what is said of an alternative, with a gate at (0, 20)."""
    return with_trades(best, [other], Trade(GOALS[goal], unit, (("the gate", 0.0, 20.0),)))[0].what_differs


def test_sentence_when_everything_differs() -> None:
    """3-4-5: 5 m away, 37° east of north is nearest north-east; 10 m from the gate before, less now."""
    text = sentence(spot(0.0, 10.0, 170.0, 1.5), spot(3.0, 14.0, 20.0, 1.81, edge_low=99.78))
    assert text == (
        "5.000 m to the north-east, turned 30°: 0.31 m³ more digging; exposed edge 0.220 m higher; "
        "3.292 m nearer the gate."
    )


def test_sentence_when_little_differs() -> None:
    """What is the same is said once, and what is too small is left out."""
    assert sentence(spot(0.0, 10.0, 0.0, 1.5), spot(0.0, 4.0, 0.0, 1.501)) == "6.000 m to the south: the same digging."


def test_sentence_when_only_turned() -> None:
    """A turn on the same place, in feet."""
    text = sentence(spot(0.0, 10.0, 0.0, 1.5), spot(0.0, 10.0, 40.0, 1.6), unit=LengthUnit.FOOT)
    assert text == "On the same place, turned 40°: 0.13 yd³ more digging."


def test_sentence_when_the_goal_counts_filling() -> None:
    """Cut and fill count together: 0.1 m³ and 0.09 m³."""
    text = sentence(spot(0.0, 10.0, 0.0, 1.6), spot(0.0, 4.0, 0.0, 1.5), goal="balance")
    assert text == "6.000 m to the south: 0.19 m³ less soil moved."


def test_apart_when_the_bearing_comes_round() -> None:
    """Bearings 175 and 4 of a rectangle are 9 degrees apart; half the diagonal of 3 by 4 is 2.5 m."""
    shape = PadShape.of(Pad.rectangle(4.0, 3.0))
    assert far_enough(shape) == (pytest.approx(2.5), 30.0)
    poses = np.array([[0.0, 0.0, 4.0], [2.4, 0.0, 175.0], [2.6, 0.0, 175.0], [0.0, 0.0, 26.0]])
    assert apart(poses, np.array([0.0, 0.0, 175.0]), 2.5, 30.0, 180.0).tolist() == [False, False, True, True]


@pytest.mark.parametrize(
    ("shift", "wind"),
    [((0, 1), "north"), ((1, 1), "north-east"), ((5, -1), "east"), ((-1, -1), "south-west"), ((-0.1, 1), "north")],
)
def test_towards_when_shifted(shift: tuple[float, float], wind: str) -> None:
    """The nearest of eight winds."""
    assert towards(*shift) == wind


@pytest.mark.parametrize(
    ("outline", "turn", "short"),
    [
        pytest.param([[-2, -1], [2, -1], [2, 1], [-2, 1]], 180.0, 2.0, id="rectangle"),
        pytest.param([[-1, -1], [1, -1], [1, 1], [-1, 1]], 90.0, 2.0, id="square"),
        pytest.param([[-2, -2], [0, -2], [0, 0], [2, 0], [2, 2], [-2, 2]], 360.0, 4.0, id="L"),
        pytest.param([[-2, -1], [1, -1], [2, 1], [-1, 1]], 180.0, 2.0, id="parallelogram"),
    ],
)
def test_shape_when_turned_on_itself(outline: list[list[float]], turn: float, short: float) -> None:
    """The turn that repeats an outline, and its least width between parallels to a side."""
    shape = PadShape.of(Pad(np.array(outline, dtype=float)))
    assert shape.turn == turn
    assert shape.short_side == pytest.approx(short)
