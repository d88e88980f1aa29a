"""Grounds drawn on a grid against the mean and the covariance that kriging gives in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.ground.covariance import Covariance
from spadework.ground.kriging import Kriging
from spadework.ground.process import GroundProcess
from spadework.ground.simulate import Lattice, draw_at, simulate

GROUNDS = 400


def process_of(length: float, sd: float = 0.2) -> GroundProcess:
    """A ground of 12 m by 9 m that 40 shots describe, alike over a length. Any levels will do: they move the mean."""
    draw = np.random.default_rng(4)
    places = draw.uniform((-6.0, -4.5), (6.0, 4.5), (40, 2))
    level = 100 + places @ np.array([0.05, -0.02]) + 0.1 * np.sin(places[:, 0])
    kriging = Kriging(places, level, np.full(40, 0.003**2), Covariance(sd, length))
    return GroundProcess(np.array([500.0, 200.0]), kriging, (kriging,), np.ones(1))


@pytest.mark.parametrize("length", [2.0, 30.0], ids=["by Fourier transform", "on a coarser grid"])
def test_grounds_have_the_mean_and_sd_of_kriging_when_many_are_drawn(length: float) -> None:
    """Mean to its own standard error, sd to what 400 grounds and bilinear interpolation leave."""
    process = process_of(length)
    lattice = Lattice.over((494.0, 195.5, 506.0, 204.5), 0.4)
    grounds = simulate(process, lattice, GROUNDS, seed=1)
    mean, sd = process.mean_sd(lattice.points)
    error = (grounds.mean(axis=0) - mean) / (np.hypot(sd, 1e-4) / np.sqrt(GROUNDS))
    assert np.abs(error).mean() == pytest.approx(np.sqrt(2 / np.pi), rel=0.35)  # of a standard normal
    assert np.median(grounds.std(axis=0) / np.hypot(sd, 1e-4)) == pytest.approx(1.0, abs=0.06)


def test_two_places_vary_together_as_kriging_says_when_grounds_are_drawn() -> None:
    """The covariance of neighbours, which volumes depend on, is that of `Kriging.between`."""
    process = process_of(3.0)
    lattice = Lattice.over((494.0, 195.5, 506.0, 204.5), 0.4)
    grounds = simulate(process, lattice, 2000, seed=2)
    rows = np.array([200, 203, 200 + 3 * lattice.columns])
    between = process.best.between(lattice.points[rows] - process.origin, lattice.points[rows] - process.origin)
    assert np.cov(grounds[:, rows].T) == pytest.approx(between, abs=0.12 * between.max())


def test_points_drawn_without_a_grid_have_the_mean_and_covariance_of_kriging() -> None:
    """Variances to their own standard error, `sqrt(2 / n)`; two covariances are drawn by their weights."""
    rough, smooth = process_of(2.0).best, process_of(6.0).best
    process = GroundProcess(np.array([500.0, 200.0]), rough, (rough, smooth), np.array([0.25, 0.75]))
    points = np.array([[500.0, 200.0], [500.6, 200.0], [503.0, 201.0], [497.0, 197.5]])
    grounds = draw_at(process, points, 4000, seed=5)
    for part, rows in ((rough, slice(0, 1000)), (smooth, slice(1000, 4000))):
        drawn, places = grounds[rows], points - process.origin
        between = part.between(places, places)
        error = 4 * np.sqrt(2 / len(drawn))
        assert np.cov(drawn.T) == pytest.approx(between, abs=error * between.max())
        sd = np.sqrt(np.diag(between))
        assert drawn.mean(axis=0) == pytest.approx(part.mean(places), abs=float(4 * sd.max() / np.sqrt(len(drawn))))
    assert np.array_equal(grounds, draw_at(process, points, 4000, seed=5))


def test_what_other_levels_say_is_what_kriging_them_says_when_all_move() -> None:
    """`means_of` is `mean` with the levels changed."""
    kriging = process_of(2.0).best
    other = kriging.level + np.linspace(0, 0.3, 40)
    places = np.array([[0.0, 0.0], [3.3, -2.0], [9.0, 9.0]])
    again = Kriging(kriging.places, other, kriging.noise, kriging.covariance)
    assert kriging.means_of(other[None], places)[0] == pytest.approx(again.mean(places), abs=1e-9)


def test_the_same_seed_draws_the_same_grounds_when_asked_twice() -> None:
    """A plan does not change from run to run."""
    process, lattice = process_of(2.0), Lattice.over((494.0, 195.5, 506.0, 204.5), 1.0)
    assert np.array_equal(simulate(process, lattice, 5, seed=3), simulate(process, lattice, 5, seed=3))
    assert not np.array_equal(simulate(process, lattice, 5, seed=3), simulate(process, lattice, 5, seed=4))
