"""The ground as a Gaussian process against scikit-learn's on the same shots in the same run.

Prints, for 50, 200 and 500 shots, the time to find the covariance and to ask 400 places, by both, and for up to 3 000
shots the time of each step of how sure a plan is. Times are never asserted; that both find the same ground is. Run with
``pytest tests/benchmarks/test_bench_process.py -s``; without ``-s`` it takes fewer shots.
"""

from __future__ import annotations

import time
import warnings

import numpy as np
import pytest
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from spadework.confidence import assess
from spadework.earthwork import earthwork
from spadework.ground import triangulate_shots
from spadework.ground.cross_validation import compare_surfaces
from spadework.ground.process import fit_process, ground_shots
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.stakeout import stake_out


def shots(count: int) -> tuple[Shots, FloatArray]:
    """Shots of a wavy yard of 30 m by 40 m without a fall, each sure to 3 mm."""
    draw = np.random.default_rng(count)
    places = draw.uniform(0, [30, 40], (count, 2))
    level = 0.1 * np.sin(places[:, 0] / 2) * np.cos(places[:, 1] / 3) + 0.003 * draw.standard_normal(count)
    names = tuple(f"P{i}" for i in range(count))
    sd = np.full(count, 0.003)
    return Shots(names, *places.T, level, ("",) * count, np.arange(count), ("",) * count, sd), places


@pytest.mark.parametrize("count", [50, 200, 500])
def test_same_ground_as_scikit_learn(count: int, *, shown: bool) -> None:
    """For one order both say the same mean and doubt; ours also fits a plane, and is timed beside theirs."""
    count = count if shown else min(count, 300)
    table, places = shots(count)
    points = np.random.default_rng(1).uniform([5, 5], [25, 35], (400, 2))
    noise = np.full(count, 0.003**2 + 0.001**2)
    start = time.perf_counter()
    process = fit_process(table, smoothness=1.5)
    process.mean_sd(points)
    ours = time.perf_counter() - start
    kernel = ConstantKernel(0.01, (1e-8, 1e2)) * Matern(5.0, (0.3, 50.0), nu=1.5)
    start = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        library = GaussianProcessRegressor(kernel, alpha=noise, n_restarts_optimizer=0).fit(places, table.level)
    library.predict(points, return_std=True)
    theirs = time.perf_counter() - start
    assert np.abs(process.mean(points) - library.predict(points)).max() < 0.05
    # The same covariance, and the plane that ours finds taken off beforehand: then both must agree to the last digits.
    model = process.best
    plane, _ = model._rest
    here, there = (model._trend(some) @ plane + model._datum for some in (model.places, points - process.origin))
    shape = model.covariance
    fixed = ConstantKernel(shape.sd**2) * Matern(shape.length, nu=shape.smoothness)
    same = GaussianProcessRegressor(fixed, alpha=noise, optimizer=None).fit(model.places, table.level - here)
    mean, sd = same.predict(points - process.origin, return_std=True)
    found, spread = model.mean_variance(points - process.origin)
    assert found == pytest.approx(mean + there, abs=1e-8)
    assert (np.sqrt(spread) >= sd - 1e-7).all()  # the plane's own doubt comes on top
    ratio = f"{theirs / ours:.1f} times"
    print(f"\n{count} shots: fitted and asked in {ours:.3f} s, by scikit-learn in {theirs:.3f} s: {ratio}")


@pytest.mark.parametrize("count", [200, 1000, 3000])
def test_steps_of_how_sure_a_plan_is(count: int, *, shown: bool) -> None:
    """Every step of a plan's doubt, timed; the sums of its parts agree."""
    count = count if shown else 100 + count // 5  # 140, 300 and 700
    table, _ = shots(count)
    pad, at = Pad.rectangle(5.5, 3.7), Placement(15.0, 20.0, 30.0, 0.0)
    ground = triangulate_shots(table)
    table = ground_shots(ground, table)
    drawn, stakes = earthwork(ground, pad, at), stake_out(ground, pad, at).stakes
    clock = [time.perf_counter()]
    process = fit_process(table)
    clock.append(time.perf_counter())
    found = assess(process, ground, pad, at, drawn, stakes)
    clock.append(time.perf_counter())
    errors = process.leave_one_out()
    clock.append(time.perf_counter())
    compared = compare_surfaces(ground, process)
    clock.append(time.perf_counter())
    assert found.cut.measuring**2 + found.cut.between**2 == pytest.approx(found.cut.sd**2)
    assert errors.standardised.std() == pytest.approx(1.0, abs=0.5)
    assert compared.smooth < compared.triangles
    steps = ("covariance", "volumes, stakes and next shots", "leaving each out", "against triangles")
    print(
        f"\n{count} shots, {clock[-1] - clock[0]:.2f} s in all: "
        + ", ".join(
            f"{step} {after - before:.2f} s" for step, before, after in zip(steps, clock, clock[1:], strict=False)
        )
    )
