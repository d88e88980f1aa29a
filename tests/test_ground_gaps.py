"""Small gaps in a raster."""

import numpy as np
import pytest

from spadework.ground import raster_ground
from spadework.ground.gaps import fill_gaps
from spadework.readings import FloatArray, RasterReading


def raster(*gaps: tuple[slice, slice]) -> tuple[RasterReading, FloatArray]:
    """A plane of 2 m cells with gaps, and its true levels."""
    east, north = np.meshgrid(np.arange(12) * 2.0, np.arange(10) * -2.0 + 500_000)
    truth = 40 + 0.03 * east - 0.05 * (north - 500_000)
    level = truth.copy()
    for gap in gaps:
        level[gap] = np.nan
    return RasterReading(east, north, level, "dem.tif", cell=2.0), truth


def test_plane_is_filled_to_the_last_digit() -> None:
    """Gaps of one, four and nine cells on a plane get the plane."""
    found, truth = raster(np.s_[2:3, 2:3], np.s_[5:7, 5:7], np.s_[2:5, 8:11])
    filled = fill_gaps(found)
    assert filled.level == pytest.approx(truth, abs=1e-9)
    assert filled.note == (
        "3 gaps of 14 cells without a value, none wider than 6.000 m, were filled from the cells around.",
    )


def test_gap_stays_when_it_is_wide_or_at_the_border() -> None:
    """Four cells across, or at the edge of the window, nothing is made up."""
    found, _ = raster(np.s_[2:6, 3:4], np.s_[0:1, 8:9])
    assert fill_gaps(found) is found
    wider = fill_gaps(found, 8.0)
    assert int(np.isnan(wider.level).sum()) == 1


def test_user_decides_how_wide() -> None:
    """With 0 nothing is filled; with 2 m only single cells."""
    found, _ = raster(np.s_[2:3, 2:3], np.s_[5:7, 5:7])
    assert fill_gaps(found, 0.0) is found
    assert int(np.isnan(fill_gaps(found, 2.0).level).sum()) == 4


def test_filled_level_lies_between_those_around() -> None:
    """No filled cell is above or below all of the known ones round the gap."""
    found, _ = raster()
    level = np.random.default_rng(4).uniform(0, 1, found.level.shape)
    level[4:7, 4:6] = np.nan
    filled = fill_gaps(RasterReading(found.east, found.north, level, cell=2.0)).level[4:7, 4:6]
    around = level[3:8, 3:7]
    assert np.nanmin(around) <= filled.min() <= filled.max() <= np.nanmax(around)


def test_ground_says_what_was_filled() -> None:
    """The note goes with the ground."""
    found, _ = raster(np.s_[2:3, 2:3])
    assert "1 gap of 1 cell without a value" in raster_ground(fill_gaps(found)).notices[0]
