"""Nets of places and fits between surveys on random yards: against a statistics library and a general solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from spadework.positions import fit_positions
from spadework.positions.net import PlaceNet, adjust_place_net
from spadework.positions.net_design import design_of, in_radians, misfit_of, net_shape
from spadework.positions.net_slips import find_place_slips
from spadework.positions.observations import PlaceObservations, Sight
from spadework.positions.places import name_key

sm = pytest.importorskip("statsmodels.api", reason="the second opinion is in the extra 'test'")
seeds = st.integers(0, 2**32 - 1)
Known = dict[str, tuple[float, float]]


def random_net(seed: int, points: int, *, sights: bool, noise: float = 1.0) -> tuple[PlaceObservations, Known, Known]:
    """Distances, and from two stations directions as well, between four known points and some new ones of a yard."""
    rng = np.random.default_rng(seed)
    corners = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 25.0], [0.0, 25.0]]) + rng.uniform(-3, 3, (4, 2))
    known = {f"k{row}": (float(east), float(north)) for row, (east, north) in enumerate(corners)}
    spots = rng.uniform([4.0, 4.0], [26.0, 21.0], (points, 2))
    new = {f"p{row}": (float(east), float(north)) for row, (east, north) in enumerate(spots)}
    rows: list[tuple[Sight, str, str, float, float]] = []
    for row, (name, spot) in enumerate(new.items()):
        before = list(new)[max(0, row - 2) : row]
        for other in (*rng.permutation(list(known))[:3].tolist(), *before):
            sd = float(rng.uniform(0.005, 0.02))
            away = math.dist(spot, known.get(other) or new[other])
            rows.append(("distance", other, name, away + noise * float(rng.normal(0, sd)), sd))
        for station in ("k0", "k2") if sights else ():
            de, dn = np.subtract(spot, known[station])
            turn = math.degrees(math.atan2(de, dn)) - (17.0 if station == "k0" else 200.0)
            sd = float(rng.uniform(0.01, 0.05))
            rows.append(("direction", station, name, (turn + noise * float(rng.normal(0, sd))) % 360.0, sd))
    kind, start, end, value, sd = zip(*rows, strict=True)
    count = len(rows)
    observations = PlaceObservations(
        kind=kind,
        start=start,
        end=end,
        value=np.array(value),
        sd=np.array(sd),
        step=np.full(count, 0.001),
        set_up=tuple(name if each == "direction" else "" for name, each in zip(start, kind, strict=True)),
        line=np.arange(2, count + 2),
        file=("n.csv",) * count,
    )
    near = {
        name: (east + float(rng.normal(0, 0.3)), north + float(rng.normal(0, 0.3)))
        for name, (east, north) in new.items()
    }
    return observations, known, near


def equations(net: PlaceNet) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Design, misfit and standard deviations of the net at its adjusted places."""
    shape = net_shape(net.observations, net.known, {name_key(name): net.at(name) for name in net.point})
    value, sd = in_radians(net.observations, shape)
    zero = np.array([math.radians(net.zero[name]) for name in shape.circles])
    return design_of(shape, shape.place), misfit_of(shape, shape.place, zero, value), sd


@settings(deadline=None, max_examples=25)
@given(seeds, st.integers(2, 7), st.booleans())
def test_net_is_that_of_a_statistics_library_when_it_is_random(seed: int, points: int, sights: bool) -> None:
    """Where the net stands still, weighted regression of what is left moves nothing; its covariances are ours."""
    observations, known, near = random_net(seed, points, sights=sights)
    net = adjust_place_net(observations, known, near)
    design, misfit, sd = equations(net)
    other = sm.WLS(misfit, design, weights=1.0 / sd**2).fit()
    np.testing.assert_allclose(other.params, 0.0, atol=1e-7)
    assert float(other.scale * other.df_resid) == pytest.approx(net.solution.chi_square, rel=1e-6, abs=1e-9)
    assert other.df_resid == net.solution.degrees_of_freedom
    covariance = other.normalized_cov_params
    for row in range(len(net.point)):
        block = covariance[2 * row : 2 * row + 2, 2 * row : 2 * row + 2]
        np.testing.assert_allclose(net.covariance[row], block, rtol=1e-6, atol=1e-12)
    leverage = np.einsum("ij,jk,ik->i", design, covariance, design) / sd**2
    np.testing.assert_allclose(net.solution.redundancy, 1.0 - leverage, atol=1e-8)


@settings(deadline=None, max_examples=15)
@given(seeds, st.integers(2, 6))
def test_net_has_the_least_squares_when_a_general_solver_starts_elsewhere(seed: int, points: int) -> None:
    """An iterative solver from the true places ends at the same places."""
    observations, known, near = random_net(seed, points, sights=False)
    net = adjust_place_net(observations, known, near)
    names = [name_key(name) for name in net.point]

    def misfit(unknown: np.ndarray) -> np.ndarray:
        place = {**known, **{name: unknown[2 * row : 2 * row + 2] for row, name in enumerate(names)}}
        ends = zip(observations.start, observations.end, observations.value, observations.sd, strict=True)
        return np.array([(math.dist(place[one], place[two]) - value) / sd for one, two, value, sd in ends])

    start = np.array([near[name] for name in names]).ravel()
    other = least_squares(misfit, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert np.column_stack([net.east, net.north]).ravel() == pytest.approx(other.x, abs=1e-5)
    assert net.solution.chi_square == pytest.approx(2.0 * other.cost, rel=1e-5, abs=1e-9)


@settings(deadline=None, max_examples=20)
@given(seeds, st.integers(2, 6), st.booleans())
def test_places_come_back_when_measurements_are_perfect(seed: int, points: int, sights: bool) -> None:
    """Without noise the start does not matter, nothing is left over, and nothing is accused."""
    observations, known, near = random_net(seed, points, sights=sights, noise=0.0)
    net = adjust_place_net(observations, known, near)
    assert net.solution.chi_square < 1e-9
    assert find_place_slips(net, near) == ()


@settings(deadline=None, max_examples=30)
@given(seeds, st.integers(3, 12), st.floats(-170, 170), st.floats(0.9, 1.1))
def test_fit_is_that_of_a_statistics_library_when_points_weigh_differently(
    seed: int, count: int, turn: float, size: float
) -> None:
    """With the scale free the fit is linear in a = m cos t and b = m sin t: weighted regression gives both."""
    rng = np.random.default_rng(seed)
    first = rng.uniform(-30, 30, (count, 2))
    assume(np.ptp(first, axis=0).min() > 5)
    sd = rng.uniform(0.005, 0.05, count)
    angle = math.radians(turn)
    matrix = size * np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    second = first @ matrix.T + rng.uniform(-100, 100, 2) + rng.normal(0, 1, (count, 2)) * sd[:, None]
    fit = fit_positions(first, second, scale=True, sd=sd)
    east, north = first.T
    rows = [[1, 0, e, n] for e, n in zip(east, north, strict=True)] + [
        [0, 1, n, -e] for e, n in zip(east, north, strict=True)
    ]
    goal = np.concatenate([second[:, 0], second[:, 1]])
    other = sm.WLS(goal, np.array(rows, dtype=float), weights=np.tile(1.0 / sd**2, 2)).fit()
    a, b = other.params[2:]
    assert (fit.scale, math.radians(fit.turn) % (2 * math.pi)) == pytest.approx(
        (math.hypot(a, b), math.atan2(b, a) % (2 * math.pi)), abs=1e-7
    )
    assert fit.solution is not None
    assert fit.solution.chi_square == pytest.approx(float(other.scale * other.df_resid), rel=1e-6, abs=1e-9)
    # By the rule of propagation: m^2 var t = (b^2 var a - 2 a b cov + a^2 var b) / m^2.
    spread = other.normalized_cov_params[2:, 2:]
    slope = np.array([-b, a]) / (a * a + b * b)
    assert float(fit.solution.expected_sd[2]) == pytest.approx(math.sqrt(float(slope @ spread @ slope)), rel=1e-5)
