"""A coarse raster tied to a few good shots."""

import numpy as np
import pytest

from grounds import shots_of
from spadework.errors import GroundError
from spadework.ground import Ground, raster_ground
from spadework.ground.tied_raster import tie_raster
from spadework.readings import FloatArray, RasterReading
from spadework.shots import Shots


def relief(east: FloatArray, north: FloatArray) -> FloatArray:
    """Wavy land."""
    return 60 + 0.05 * east + 0.4 * np.sin(east / 9) * np.cos(north / 7)


def coarse() -> Ground:
    """A raster of it in cells of 2 m."""
    east, north = np.meshgrid(np.arange(0, 41, 2.0), np.arange(0, 31, 2.0))
    return raster_ground(RasterReading(east, north, relief(east, north)))


def shots(count: int, offset: FloatArray | float = 0.0, seed: int = 5) -> Shots:
    """Shots on the drawn raster itself, lifted by an offset that depends on the place."""
    random = np.random.default_rng(seed)
    east, north = random.uniform([4, 4], [36, 26], (count, 2)).T
    level = coarse().level_at(np.column_stack([east, north]))
    lift = offset(east, north) if callable(offset) else offset
    return shots_of(east, north, level + lift, level_sd=0.003)


@pytest.mark.parametrize("count", [1, 3, 5, 12])
def test_datum_shift_is_found_whatever_the_number_of_shots(count: int) -> None:
    """A raster 0.7 m too low is lifted by 0.7 m everywhere."""
    tied = tie_raster(coarse(), shots(count, 0.7))
    assert tied.how == {1: "shift", 3: "shift", 5: "tilt", 12: "smooth"}[count]
    assert tied.ground.level == pytest.approx(coarse().level + 0.7, abs=1e-6)
    assert tied.before == pytest.approx(np.full(count, 0.7))
    assert tied.after == pytest.approx(np.zeros(count), abs=1e-6)
    assert tied.shift == pytest.approx(0.7)


@pytest.mark.parametrize("count", [4, 7, 8, 20])
def test_tilt_is_found_to_the_last_digit(count: int) -> None:
    """A raster off by a plane ends on the shots; the tilt is that plane's."""

    def plane(east: FloatArray, north: FloatArray) -> FloatArray:
        return 0.3 + 0.002 * east - 0.004 * north

    tied = tie_raster(coarse(), shots(count, plane))
    east, north = np.meshgrid(np.arange(0, 41, 2.0), np.arange(0, 31, 2.0))
    assert tied.ground.level == pytest.approx(coarse().level + plane(east, north).ravel(), abs=1e-6)
    assert tied.slope == pytest.approx(np.hypot(0.002, 0.004), rel=1e-6)
    # It falls where the plane falls: west by 0.002 and north by 0.004 per metre.
    assert tied.aspect == pytest.approx(np.degrees(np.arctan2(-0.002, 0.004)) % 360, abs=1e-3)


def test_smooth_rest_is_bent_away() -> None:
    """Off by a swell of 0.2 m: after tying, places between the shots are nearer by more than five times."""

    def swell(east: FloatArray, north: FloatArray) -> FloatArray:
        return 0.5 + 0.2 * np.sin(east / 8) * np.cos(north / 8)

    tied = tie_raster(coarse(), shots(40, swell))
    tried = np.random.default_rng(9).uniform([8, 8], [32, 22], (300, 2))
    truth = coarse().level_at(tried) + swell(*tried.T)
    off = tied.ground.level_at(tried) - truth
    plain = coarse().level_at(tried) + tied.shift - truth
    assert tied.covariance is not None
    assert np.sqrt(np.mean(off**2)) < np.sqrt(np.mean(plain**2)) / 5
    assert np.abs(tied.after).max() < 0.03
    assert "40 shots" in str(tied)
    assert "bent by a smooth rest" in str(tied)


def test_left_out_is_what_a_new_shot_would_find() -> None:
    """The error told for each shot is that of the raster tied to the others."""
    taken = shots(6, lambda east, north: np.random.default_rng(1).normal(0, 0.1, len(east + north)))
    tied = tie_raster(coarse(), taken)
    for row in range(6):
        others = tie_raster(coarse(), taken.take([i for i in range(6) if i != row]))
        at = np.array([[taken.east[row], taken.north[row]]])
        cell = coarse().level_at(at) + (others.ground.level_at(at) - coarse().level_at(at))
        assert tied.left_out[row] == pytest.approx(taken.level[row] - cell[0], abs=1e-9)


def test_shots_on_a_line_shift_but_do_not_tilt() -> None:
    """Ten shots along a fence say nothing of the tilt across it."""
    east = np.linspace(4, 36, 10)
    taken = shots_of(east, np.full(10, 10.0), coarse().level_at(np.column_stack([east, np.full(10, 10.0)])) + 0.2)
    assert tie_raster(coarse(), taken).how == "shift"


def test_shots_off_the_raster_are_told() -> None:
    """No common ground is a fault that says where the raster lies."""
    with pytest.raises(GroundError, match=r"None of the 3 shots stands on the raster, which reaches from east 0.000 m"):
        tie_raster(coarse(), shots_of([100, 110, 120], [0, 5, 9], [1, 2, 3.0]))
