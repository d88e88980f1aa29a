"""How sure a raster is: against closed forms, against drawn errors, and through a tie to shots."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import t as student

from grounds import shots_of
from spadework.confidence import assess
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.words import raster_words, reason_words
from spadework.earthwork import earthwork
from spadework.ground import Ground, raster_ground
from spadework.ground.process import LEVEL_SD
from spadework.ground.raster_doubt import NOISE_SHARE, RasterAccuracy, RasterDoubt, within_cells
from spadework.ground.raster_sureness import raster_doubt
from spadework.ground.tied_raster import tie_raster
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray, RasterReading
from spadework.stakeout import stake_out
from spadework.units import LengthUnit

LIDAR = RasterAccuracy(0.10, 0.06, "as it is said")
PAD, HERE = Pad.rectangle(5.0, 4.0), Placement(20.3, 14.7, 25.0, 100.2)


def plane(east: FloatArray, north: FloatArray) -> FloatArray:
    """A gentle slope. [m]"""
    return 100 + 0.02 * east - 0.01 * north


def reading(noise: float = 0.0, seed: int = 1) -> RasterReading:
    """A raster of 40 by 30 cells of 1 m of that slope."""
    east, north = np.meshgrid(np.arange(40.0), np.arange(29.0, -1.0, -1.0))
    level = plane(east, north) + noise * np.random.default_rng(seed).standard_normal(east.shape)
    return RasterReading(east, north, level, cell=1.0)


def ground() -> Ground:
    """Its ground."""
    return raster_ground(reading())


def test_accuracy_is_shift_and_noise_that_add_up() -> None:
    """100 mm in all and 60 mm of noise leave a shift of 80 mm; where the noise is not known it is six tenths."""
    assert LIDAR.shift == pytest.approx(0.08)
    assert RasterAccuracy.of(0.05, "said").noise == pytest.approx(NOISE_SHARE * 0.05)
    assert RasterAccuracy.of(0.05, "said", 0.2).shift == 0.0


def test_sd_at_a_cell_and_between_cells() -> None:
    """At a cell's middle all of its noise counts; half way between two, half of the variance."""
    doubt = RasterDoubt(ground(), 1.0, noise=0.06, rough=0.01, shift=0.08)
    mean, sd = doubt.mean_sd(np.array([[20.0, 15.0], [20.5, 15.0], [200.0, 0.0]]))
    assert mean[:2] == pytest.approx(plane(np.array([20.0, 20.5]), np.array([15.0, 15.0])))
    assert sd[0] == pytest.approx(math.sqrt(0.08**2 + 0.06**2 + 0.01**2))
    assert sd[1] == pytest.approx(math.sqrt(0.08**2 + 0.06**2 / 2 + 0.01**2))
    assert np.isnan(mean[2])


def test_sd_of_a_wholly_cut_pad_is_that_of_rasters_drawn_with_noise_and_shift() -> None:
    """The spread of the volume over many rasters with errors of that kind, by the exact kernel, is what is promised."""
    draw, base, at = np.random.default_rng(7), reading(), replace(HERE, finish=99.0)
    volumes = []
    for _ in range(400):
        errors = 0.08 * draw.standard_normal() + 0.06 * draw.standard_normal(base.level.shape)
        volumes.append(earthwork(raster_ground(replace(base, level=base.level + errors)), PAD, at).cut)
    doubt = RasterDoubt(ground(), 1.0, noise=0.06, rough=0.0, shift=0.08)
    points, area = pad_nodes(PAD, at)
    expected = math.sqrt(area @ doubt.between(points) @ area)
    assert np.std(volumes) == pytest.approx(expected, rel=0.12)  # 400 drawn: sd of an sd 3.5 %
    assert expected == pytest.approx(math.sqrt((0.08 * 20) ** 2 + 0.06**2 * 20), rel=0.02)  # a cell of 1 m² counts once


def test_samples_have_the_spread_that_is_promised() -> None:
    """Mean, spread and joint sums of drawn grounds are those of the covariance; the same seed draws the same."""
    doubt = RasterDoubt(ground(), 1.0, noise=0.06, rough=0.02, shift=0.08)
    points = np.random.default_rng(2).uniform([15, 10], [25, 20], (12, 2))
    drawn = doubt.samples(points, 8000, seed=3)
    mean, sd = doubt.mean_sd(points)
    assert drawn.std(axis=0) == pytest.approx(sd, rel=0.03)
    assert np.abs(drawn.mean(axis=0) - mean).max() < 5 * sd.max() / math.sqrt(8000)
    weight = np.ones(12)
    assert (drawn @ weight).std() == pytest.approx(math.sqrt(weight @ doubt.between(points) @ weight), rel=0.03)
    assert np.array_equal(drawn, doubt.samples(points, 8000, seed=3))


@pytest.mark.parametrize(("noise", "wanted"), [(0.0, 0.0), (0.02, 0.02 * math.sqrt(1.5))])
def test_ground_within_cells_of_a_plane_is_none_and_of_noise_that_of_a_middle(noise: float, wanted: float) -> None:
    """A plane has none; white noise shows its own ``√1.5``, and nothing once it is known as noise."""
    level = reading(noise).level
    assert within_cells(level) == pytest.approx(wanted, rel=0.12, abs=1e-9)
    assert within_cells(level, 1.2 * noise) == 0.0


def test_ground_within_cells_of_waves_falls_with_the_square_of_the_cell() -> None:
    """For smooth ground a miss falls to a quarter with half the step: ``h² z'' / 2`` becomes ``h² z'' / 8``."""
    east, north = np.meshgrid(np.arange(0, 60.0), np.arange(0, 60.0))
    level = 0.3 * np.sin(east / 8) * np.cos(north / 9)
    half = (
        0.3 * np.sin((east + 0.5) / 8) * np.cos(north / 9)
        - (level + 0.3 * np.sin((east + 1) / 8) * np.cos(north / 9)) / 2
    )
    assert within_cells(level) == pytest.approx(np.median(np.abs(half)) / 0.6745, rel=0.25)


def test_nothing_is_known_of_a_raster_that_says_nothing() -> None:
    """Alone and without an accuracy, or tied to one shot that nothing checks: nothing can be said."""
    level = reading().level
    assert raster_doubt(ground(), level, 1.0, None) is None
    one = tie_raster(ground(), shots_of([20.0], [15.0], [100.5]))
    assert raster_doubt(one.ground, level, 1.0, None, one) is None


def test_one_shot_takes_the_shift_away() -> None:
    """With a known noise of a cell one shot leaves that noise and its own; the shift of the raster is gone."""
    tied = tie_raster(ground(), shots_of([20.0], [15.0], [100.5]), noise=LIDAR.noise)
    doubt = raster_doubt(tied.ground, reading().level, 1.0, LIDAR, tied)
    assert doubt is not None
    assert doubt.shift == 0.0
    _, sd = doubt.mean_sd(np.array([[5.0, 5.0]]))
    assert sd[0] == pytest.approx(math.sqrt(2 * LIDAR.noise**2 + LEVEL_SD**2), rel=1e-6)


def test_few_shots_are_widened_by_students_t() -> None:
    """Three shots, 10 mm apart in what they say: their spread, times Student's t for two degrees of freedom."""
    east, north = np.array([10.0, 20.0, 30.0]), np.array([10.0, 20.0, 10.0])
    off = np.array([-0.01, 0.0, 0.01])
    tied = tie_raster(ground(), shots_of(east, north, plane(east, north) + 0.4 + off))
    doubt = raster_doubt(tied.ground, reading().level, 1.0, None, tied)
    assert doubt is not None
    spread = 0.01 * student.ppf(0.975, 2) / 1.959964
    assert doubt.instrument_sd == pytest.approx(spread, rel=1e-6)
    assert doubt.plane is not None
    assert doubt.plane[0, 0] == pytest.approx(spread**2 / 3, rel=1e-6)


def test_tilt_is_surest_in_the_middle_of_its_shots() -> None:
    """The variance of a plane of least squares at a place is ``s² h'(H'H)⁻¹h``: least in the middle, by hand."""
    east, north = np.array([10.0, 30.0, 30.0, 10.0, 20.0]), np.array([10.0, 10.0, 20.0, 20.0, 15.0])
    off = np.array([0.01, -0.01, 0.01, -0.01, 0.0])
    tied = tie_raster(ground(), shots_of(east, north, plane(east, north) + 0.2 + off))
    assert tied.how == "tilt"
    doubt = raster_doubt(tied.ground, reading().level, 1.0, None, tied)
    assert doubt is not None
    variance = doubt.instrument_sd**2
    wanted = variance * np.array([1 / 5, 1 / 5 + 10**2 / 400 + 5**2 / 100])  # Σe² = 4·10², Σn² = 4·5² about the middle
    basis = doubt.basis(np.array([[20.0, 15.0], [30.0, 20.0]]))
    assert basis is not None
    assert np.einsum("ki,ij,kj->k", basis, doubt.plane, basis) == pytest.approx(wanted, rel=1e-9)


def test_intervals_of_a_tied_raster_hold_the_truth() -> None:
    """Of 40 rasters with a bent error, tied to 15 shots each, 95 % intervals of places hold the truth as often."""
    held = []
    for seed in range(40):
        draw = np.random.default_rng(seed)
        base = reading()
        bend = draw.uniform(0.05, 0.2) * np.sin(base.east / draw.uniform(6, 12) + draw.uniform(0, 6))
        made = raster_ground(replace(base, level=base.level + 0.3 + bend))
        east, north = draw.uniform(1, 38, 15), draw.uniform(1, 28, 15)
        shots = shots_of(east, north, plane(east, north) + 0.003 * draw.standard_normal(15), level_sd=0.003)
        tied = tie_raster(made, shots)
        doubt = raster_doubt(tied.ground, base.level, 1.0, None, tied)
        assert doubt is not None
        places = np.column_stack([draw.uniform(5, 35, 20), draw.uniform(5, 25, 20)])
        mean, sd = doubt.mean_sd(places)
        held.append((np.abs(plane(*places.T) - mean) <= 1.96 * sd).mean())
    assert 0.9 <= np.mean(held) <= 1.0


def test_plan_on_a_raster_has_its_doubt_and_its_words() -> None:
    """Cut, fill, level and stakes with their doubt; the sentence names the raster, its shift, and what helps."""
    surface = ground()
    doubt = RasterDoubt(surface, 1.0, 0.06, 0.01, shift=0.08, said=0.10, source="as lidar usually is")
    drawn, stakes = earthwork(surface, PAD, HERE), stake_out(surface, PAD, HERE).stakes
    found = assess(doubt, surface, PAD, HERE, drawn, stakes, keep=0.9)
    assert found.cut.limited_by == "instrument"
    assert found.finish is not None
    assert found.finish.sd == pytest.approx(0.08, rel=0.1)  # the shift moves it all; the noise of 20 cells hardly
    assert [stake.sd for stake in found.stakes] == pytest.approx(doubt.mean_sd(HERE.corners(PAD))[1])
    said = reason_words(found, LengthUnit.METRE)
    assert "the raster is sure to ± 0.100 m" in said
    assert "may lie ± 0.080 m high or low, which one shot would tell" in said
    assert found.next_shots[0].after < 0.5 * found.next_shots[0].before
    assert "0.060 m in each cell" in raster_words(doubt, LengthUnit.METRE)
