"""The earthwork of one placement."""

import math

import pytest

from grounds import rough, scattered
from spadework.earthwork import earthwork
from spadework.errors import PlacementError
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement


def test_levels_and_volumes_of_a_pad_on_a_plane_by_hand() -> None:
    """Strip 0.1 m, build-up 0.2 m, finish 0.3 m above the middle: formation 0.2 m above the stripped middle."""
    slope, length, width = 0.1, 6.0, 4.0
    ground = scattered(150, lambda east, _north: 10 + slope * (east - 15))
    pad = Pad.rectangle(length, width, strip=0.1, build_up=BuildUp((Layer("stone", 0.15), Layer("slab", 0.05))))
    work = earthwork(ground, pad, Placement(15.0, 20.0, 90.0, 10.3))  # u runs up the slope
    assert work.formation == pytest.approx(10.1)
    above_middle = 0.2  # of the stripped ground, 9.9 m
    half = slope * length / 2
    assert work.cut == pytest.approx(width * (half - above_middle) ** 2 / (2 * slope), rel=1e-10)
    assert work.fill - work.cut == pytest.approx(length * width * above_middle, rel=1e-10)
    assert work.strip_volume == pytest.approx(2.4)
    assert (work.ground_low, work.ground_mean, work.ground_high) == pytest.approx((9.7, 10.0, 10.3))
    assert (work.edge_low, work.edge_high) == pytest.approx((9.7, 10.3))
    assert work.deepest_cut == pytest.approx(10.3 - 0.1 - 10.1)
    assert work.deepest_fill == pytest.approx(10.1 - 9.7 + 0.1)
    assert work.area == pytest.approx(24)


def test_depths_are_zero_where_there_is_none() -> None:
    """A formation below all ground fills nowhere; one above all ground cuts nowhere."""
    ground, pad = scattered(60, rough()), Pad.rectangle(4, 3)
    low, high = (earthwork(ground, pad, Placement(15, 20, 10, finish)) for finish in (40.0, 70.0))
    assert (low.fill, low.deepest_fill) == (0.0, 0.0)
    assert (high.cut, high.deepest_cut) == (0.0, 0.0)
    assert low.cut == pytest.approx(12 * (low.ground_mean - 40), rel=1e-12)


def test_a_pad_outside_the_shots_is_refused_with_the_missing_area() -> None:
    """Half over the rim: 6 of 12 m², and what to do."""
    with pytest.raises(PlacementError, match=r"6\.00 m² of the pad's 12\.00 m² .*Move the pad"):
        earthwork(scattered(60, rough()), Pad.rectangle(4, 3), Placement(15.0, 0.0, 0.0, 50.0))


def test_a_bank_is_refused_and_not_taken_for_a_retained_edge() -> None:
    """Volumes outside the outline are not left out in silence."""
    pad = Pad.rectangle(4, 3, edge=Edge("bank", cut_slope=1 / 1.5, fill_slope=0.5))
    with pytest.raises(PlacementError, match="bank"):
        earthwork(scattered(60, rough()), pad, Placement(15, 20, 0, 50))


def test_a_finish_that_is_not_a_number_is_no_earthwork() -> None:
    """NaN is refused before it becomes a volume."""
    with pytest.raises(ValueError, match="finish"):
        earthwork(scattered(60, rough()), Pad.rectangle(4, 3), Placement(15, 20, 0, math.nan))
