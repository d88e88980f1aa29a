"""The ground as a Gaussian process: against closed forms, brute force and a general-purpose library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from spadework.errors import GroundError
from spadework.ground import triangulate_shots
from spadework.ground.covariance import Covariance, correlation, distances
from spadework.ground.kriging import Kriging
from spadework.ground.process import LEVEL_SD, fit_process, ground_shots, reading_variance
from spadework.ground.process_fit import fit_covariance, one_thread, restricted_likelihood, trend
from spadework.readings import FloatArray
from spadework.shots import Shots


def table(places: FloatArray, level: FloatArray, sd: float | None = 0.003) -> Shots:
    """Shots of one instrument."""
    n = len(level)
    names = tuple(f"P{i}" for i in range(n))
    level_sd = None if sd is None else np.full(n, sd)
    return Shots(names, places[:, 0], places[:, 1], level, ("",) * n, np.arange(n) + 2, ("yard.csv",) * n, level_sd)


def rough(seed: int, count: int, sd: float = 0.1, length: float = 5.0) -> tuple[FloatArray, FloatArray]:
    """Places and levels of a rough ground: a plane and a drawn Matérn field."""
    draw = np.random.default_rng(seed)
    places = draw.uniform(0, 20, (count, 2))
    spread = Covariance(sd, length).of(distances(places, places)) + 1e-10 * np.eye(count)
    relief = np.linalg.cholesky(spread) @ draw.standard_normal(count)
    return places, 100 + places @ [0.03, -0.02] + relief


def dense(model: Kriging, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance by ordinary linear algebra, the trend as a prior so wide that it says nothing.

    Rasmussen and Williams (2006), section 2.7: universal kriging is the limit of a prior variance without end.
    """
    both = np.vstack([model.places, points])
    columns = np.column_stack([np.ones(len(both)), both])
    spread = model.covariance.of(distances(both, both)) + 1e5 * columns @ columns.T
    n = len(model.places)
    own = spread[:n, :n] + np.diag(model.noise + model.covariance.roughness**2)
    weight = np.linalg.solve(own, spread[:n, n:])
    datum = model.level.mean()
    return datum + weight.T @ (model.level - datum), spread[n:, n:] - spread[n:, :n] @ weight


@pytest.mark.parametrize("smoothness", [0.5, 1.5, 2.5])
def test_covariance_is_that_of_the_library_when_order_is_given(smoothness: float) -> None:
    """The closed forms are scikit-learn's Matérn kernel."""
    places = np.random.default_rng(1).uniform(0, 10, (30, 2))
    expected = 0.04 * Matern(length_scale=3.0, nu=smoothness)(places)
    assert Covariance(0.2, 3.0, smoothness).of(distances(places, places)) == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize("smoothness", [0.5, 1.5, 2.5])
def test_slope_by_length_is_that_of_differences(smoothness: float) -> None:
    """The derivative by the logarithm of the length is the limit of differences."""
    distance = np.linspace(0, 9, 20)
    step = 1e-6
    above, _ = correlation(distance, 3.0 * math.exp(step), smoothness)
    below, _ = correlation(distance, 3.0 * math.exp(-step), smoothness)
    assert correlation(distance, 3.0, smoothness)[1] == pytest.approx((above - below) / (2 * step), abs=1e-8)


def test_covariance_refused_when_it_has_no_closed_form() -> None:
    """An order without a closed form, or a length that is not above zero, is refused."""
    with pytest.raises(ValueError, match="smoothness 2"):
        Covariance(0.1, 3.0, 2)
    with pytest.raises(ValueError, match="above 0"):
        Covariance(0.1, 0.0)


@pytest.mark.parametrize("smoothness", [0.5, 1.5, 2.5])
def test_gradient_of_the_likelihood_is_that_of_differences(smoothness: float) -> None:
    """The analytic gradient is the limit of differences, and the value that of the dense formula."""
    places, level = rough(2, 40)
    noise = np.full(40, 0.005**2)
    between, basis = distances(places, places), trend(places, places.mean(axis=0), 10.0)
    at = np.log([0.07, 4.0])

    def value(theta: FloatArray) -> float:
        return restricted_likelihood(theta[0], theta[1], smoothness, between, basis, level, noise)[0]

    step = 1e-5
    expected = [(value(at + step * axis) - value(at - step * axis)) / (2 * step) for axis in np.eye(2)]
    assert restricted_likelihood(*at, smoothness, between, basis, level, noise)[1] == pytest.approx(expected, rel=1e-5)
    spread = Covariance(0.07, 4.0, smoothness).of(between) + np.diag(noise)
    inverse = np.linalg.inv(spread)
    square = basis.T @ inverse @ basis
    project = inverse - inverse @ basis @ np.linalg.solve(square, basis.T @ inverse)
    dense_value = 0.5 * (np.linalg.slogdet(spread)[1] + np.linalg.slogdet(square)[1] + level @ project @ level)
    assert value(at) == pytest.approx(dense_value, abs=1e-6)


def test_likelihood_is_least_where_the_fit_says() -> None:
    """No covariance on a fine grid makes the shots likelier than the fitted one."""
    places, level = rough(3, 60)
    noise = np.full(60, 0.003**2)
    fitted = fit_covariance(places, level, noise)
    between, basis = distances(places, places), trend(places, places.mean(axis=0), 10.0)
    every = noise + 0.001**2
    with one_thread(60):
        grid = [
            restricted_likelihood(log_sd, log_length, 1.5, between, basis, level, every)[0]
            for log_sd in np.log(np.geomspace(0.02, 1.0, 12))
            for log_length in np.log(np.geomspace(0.3, between.max(), 12))
        ]
    best = fitted.best
    found = restricted_likelihood(math.log(best.sd), math.log(best.length), 1.5, between, basis, level, every)[0]
    assert found <= min(grid) + 1e-6
    assert fitted.weight.sum() == pytest.approx(1.0)


def test_mean_and_covariance_are_those_of_dense_algebra() -> None:
    """Mean, variance, joint covariance and sums agree with the plain formulas."""
    places, level = rough(4, 25)
    draw = np.random.default_rng(5)
    model = Kriging(places, level, draw.uniform(0.002, 0.01, 25) ** 2, Covariance(0.1, 5.0))
    points, weight = draw.uniform(2, 18, (12, 2)), draw.uniform(0.1, 1.0, 12)
    mean, spread = dense(model, points)
    found, variance = model.mean_variance(points)
    assert found == pytest.approx(mean, abs=1e-6)
    assert model.mean(points) == pytest.approx(mean, abs=1e-6)
    assert variance == pytest.approx(np.diag(spread), rel=1e-4)
    assert model.between(points, points[:3]) == pytest.approx(spread[:, :3], rel=1e-4, abs=1e-7)
    total = model.total(points, weight)
    assert total.value == pytest.approx(weight @ mean, abs=1e-5)
    assert total.variance == pytest.approx(weight @ spread @ weight, rel=1e-4)
    assert total.measuring + total.between == pytest.approx(total.variance, rel=1e-12)


def test_mean_agrees_with_the_library_when_there_is_no_trend() -> None:
    """About a plane taken off beforehand, means and deviations are scikit-learn's, but for the plane's own doubt."""
    places, level = rough(6, 80)
    noise = np.full(80, 0.004**2)
    covariance = Covariance(0.1, 5.0, roughness=0.0)
    model = Kriging(places, level, noise, covariance)
    points = np.random.default_rng(7).uniform(3, 17, (20, 2))
    coefficients, _ = model._rest
    plane = trend(places, places.mean(axis=0), model._scale) @ coefficients + level.mean()
    library = GaussianProcessRegressor(ConstantKernel(0.01) * Matern(5.0, nu=1.5), alpha=noise, optimizer=None)
    library.fit(places, level - plane)
    mean, sd = library.predict(points, return_std=True)
    mean = mean + trend(points, places.mean(axis=0), model._scale) @ coefficients + level.mean()
    found, variance = model.mean_variance(points)
    assert found == pytest.approx(mean, abs=1e-9)
    # The unknown plane adds to the variance, and inside the shots only little.
    assert (np.sqrt(variance) >= sd - 1e-9).all()
    assert np.sqrt(variance) == pytest.approx(sd, rel=0.05)


def test_leaving_one_out_is_what_fitting_without_it_gives() -> None:
    """The closed form of the left-out error and its variance is that of one shot less, for every shot."""
    places, level = rough(8, 20)
    model = Kriging(places, level, np.full(20, 0.01**2), Covariance(0.1, 5.0))
    error, variance = model.left_out
    for i in range(20):
        rest = np.arange(20) != i
        without = Kriging(places[rest], level[rest], model.noise[rest], model.covariance)
        mean, spread = without.mean_variance(places[i : i + 1])
        assert error[i] == pytest.approx(level[i] - mean[0], abs=1e-9)
        assert variance[i] == pytest.approx(spread[0] + 0.01**2 + 0.001**2, rel=1e-6)


def test_plane_is_reproduced() -> None:
    """Shots of a plane give that plane everywhere, inside and outside, to a billionth of a metre."""
    places = np.random.default_rng(9).uniform(0, 20, (30, 2))
    plane = 100 + places @ [0.05, -0.03]
    process = fit_process(table(places, plane))
    points = np.random.default_rng(10).uniform(-5, 25, (50, 2))
    assert process.mean(points) == pytest.approx(100 + points @ [0.05, -0.03], abs=1e-9)


def test_moving_and_turning_the_site_changes_nothing() -> None:
    """A site far from its grid's origin, turned, has the same levels and the same doubts."""
    places, level = rough(11, 40)
    points = np.random.default_rng(12).uniform(2, 18, (10, 2))
    turn = np.array([[0.8, -0.6], [0.6, 0.8]])
    move = np.array([431_000.0, 5_400_000.0])
    mean, sd = fit_process(table(places, level)).mean_sd(points)
    moved, moved_sd = fit_process(table(places @ turn.T + move, level)).mean_sd(points @ turn.T + move)
    assert moved == pytest.approx(mean, abs=1e-5)
    assert moved_sd == pytest.approx(sd, rel=1e-3)


def test_doubt_is_the_instruments_at_a_shot_and_grows_away_from_them() -> None:
    """At a shot the ground is as sure as its reading, far from all shots far less so."""
    places, level = rough(13, 40)
    process = fit_process(table(places, level, 0.003))
    _, at_shots = process.mean_sd(places)
    _, outside = process.mean_sd(np.array([[60.0, 60.0]]))
    assert (at_shots <= math.hypot(0.003, 0.001) + 1e-9).all()
    assert outside[0] > 10 * at_shots.max()


def test_samples_have_the_mean_and_the_spread_that_are_promised() -> None:
    """Many drawn grounds average to the mean and spread by the sd; the same seed draws the same."""
    places, level = rough(14, 30)
    process = fit_process(table(places, level))
    points = np.random.default_rng(15).uniform(2, 18, (8, 2))
    drawn = process.samples(points, 8_000, seed=3)
    mean, sd = process.mean_sd(points)
    assert np.abs(drawn.mean(axis=0) - mean).max() < 5 * sd.max() / math.sqrt(8_000)
    assert drawn.std(axis=0) == pytest.approx(sd, rel=0.03)
    assert np.array_equal(drawn, process.samples(points, 8_000, seed=3))
    weight = np.ones(8) / 8
    assert (drawn @ weight).std() == pytest.approx(math.sqrt(process.total(points, weight).variance), rel=0.03)


def test_many_shots_share_one_covariance_of_a_part() -> None:
    """Above five hundred shots the covariance is that of five hundred of them, and the ground still passes by all."""
    draw = np.random.default_rng(16)
    places = draw.uniform(0, 40, (1200, 2))
    level = 100 + 0.1 * np.sin(places[:, 0] / 3) + 0.1 * np.cos(places[:, 1] / 4)
    process = fit_process(table(places, level))
    assert len(process.parts) == 1
    assert np.abs(process.mean(places) - level).max() < 0.003


def test_level_sd_is_a_laser_when_nothing_is_known() -> None:
    """An unknown sd is three millimetres; the doubt of a position counts by the slope."""
    places = np.array([[0.0, 0], [10, 0], [0, 10], [10, 10]])
    shots = table(places, 100 + places @ [0.1, 0.0], None)
    assert reading_variance(shots) == pytest.approx(LEVEL_SD**2)
    moved = Shots(**{**shots.__dict__, "position_sd": np.array([0.05, np.nan, 0.0, 0.1])})
    expected = LEVEL_SD**2 + 0.1**2 * np.array([0.05, 0.0, 0.0, 0.1]) ** 2
    assert reading_variance(moved) == pytest.approx(expected)


def test_fit_refused_when_shots_are_few_or_have_no_level() -> None:
    """With fewer than eight shots, or one without a level, the error says what to do."""
    places, level = rough(17, 8)
    with pytest.raises(GroundError, match="7 shots"):
        fit_process(table(places[:7], level[:7]))
    level[3] = np.nan
    with pytest.raises(GroundError, match="leave it out"):
        fit_process(table(places, level))


def test_ground_shots_are_in_the_order_of_its_corners() -> None:
    """A place shot twice is one row, with the mean level; marks without a level are left out."""
    places, level = rough(18, 12)
    twice = np.vstack([places, places[4] + 0.001, [50.0, 50.0]])
    shots = table(twice, np.concatenate([level, [level[4] + 0.004, np.nan]]))
    ground = triangulate_shots(shots)
    found = ground_shots(ground, shots)
    assert found.point == ground.names
    assert len(found) == 12
    assert found.level[4] == pytest.approx(level[4] + 0.002)
