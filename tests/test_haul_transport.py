"""The transport problem: known optima, a second solver, and the certificate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spadework.haul import least_transport, transport

# Constructed, not published: two cuts and a borrow pit, three fills and a dump that takes what the pit does not give.
COST = np.array([[4.0, 9.0, 7.0, 5.0], [8.0, 3.0, 6.0, 5.0], [15.0, 15.0, 15.0, 0.0]])
SUPPLY = np.array([12.0, 9.0, 20.0])
DEMAND = np.array([10.0, 8.0, 6.0, 17.0])
BEST = np.array([[10.0, 0.0, 2.0, 0.0], [0.0, 8.0, 1.0, 0.0], [0.0, 0.0, 3.0, 17.0]])


def network(
    cost: np.ndarray, supply: np.ndarray, demand: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> transport.TransportPlan:
    """The other solver, whatever the size."""
    monkeypatch.setattr(transport, "NETWORK_FROM", 0)
    return least_transport(cost, supply, demand)


def test_flows_are_least_when_worked_by_hand() -> None:
    """Stepping stones by hand: every idle pair would cost more, so 129 is least."""
    plan = least_transport(COST, SUPPLY, DEMAND)
    assert plan.cost == pytest.approx(129.0, abs=1e-9)
    np.testing.assert_allclose(plan.flow, BEST, atol=1e-9)
    assert plan.lower_bound(COST, SUPPLY, DEMAND) == pytest.approx(129.0, abs=1e-9)


def test_two_solvers_agree_when_the_example_is_worked(monkeypatch: pytest.MonkeyPatch) -> None:
    """The network simplex gives the same flows."""
    plan = network(COST, SUPPLY, DEMAND, monkeypatch)
    assert plan.cost == pytest.approx(129.0, abs=1e-9)
    np.testing.assert_allclose(plan.flow, BEST, atol=1e-9)


def test_price_of_a_mile_when_taken_from_the_literature() -> None:
    """Taha, Operations Research, after Stark & Nicholes 1972: pit I a mile off 1.85 $/yd³, hill to fill 0.35.

    Pit 1.50, load 0.20, haul 0.15 a mile: the pit is used only for what the hill does not give.
    """
    pit, hill = 1.50 + 0.20 + 0.15, 0.20 + 0.15
    assert (pit, hill) == (pytest.approx(1.85), pytest.approx(0.35))
    plan = least_transport(
        np.array([[pit, 0.0], [hill, 9.0]]), np.array([20_000.0, 8_000.0]), np.array([10_000.0, 18_000.0])
    )
    np.testing.assert_allclose(plan.flow, [[2_000.0, 18_000.0], [8_000.0, 0.0]], atol=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12), st.integers(1, 12), st.integers(0, 2**32 - 1))
def test_two_solvers_agree_on_random_problems(m: int, n: int, seed: int) -> None:
    """Both solvers reach one cost, carry everything, and prove it by their dual prices."""
    random = np.random.default_rng(seed)
    start, end = random.uniform(0, 10, (m, 2)), random.uniform(0, 10, (n, 2))
    cost = np.hypot(*(start[:, None] - end[None]).transpose(2, 0, 1))
    supply, demand = random.uniform(0, 1, m), random.uniform(0.01, 1, n)
    supply *= demand.sum() / supply.sum()
    with pytest.MonkeyPatch.context() as patch:
        plans = [least_transport(cost, supply, demand), network(cost, supply, demand, patch)]
    for plan in plans:
        np.testing.assert_allclose(plan.flow.sum(axis=1), supply, atol=1e-9 * supply.sum())
        np.testing.assert_allclose(plan.flow.sum(axis=0), demand, atol=1e-9 * demand.sum())
        assert plan.flow.min() >= -1e-12
        assert plan.lower_bound(cost, supply, demand) == pytest.approx(plan.cost, rel=1e-7, abs=1e-9)
    assert plans[0].cost == pytest.approx(plans[1].cost, rel=1e-7, abs=1e-9)


def test_lower_bound_holds_when_the_prices_are_wrong() -> None:
    """Any prices give a bound that no plan beats."""
    random = np.random.default_rng(3)
    for _ in range(200):
        wrong = transport.TransportPlan(BEST, 0.0, random.uniform(-9, 9, 3), random.uniform(-9, 9, 4))
        assert wrong.lower_bound(COST, SUPPLY, DEMAND) <= 129.0 + 1e-9


@pytest.mark.parametrize(
    ("cost", "supply", "demand", "message"),
    [
        (COST, SUPPLY[:2], DEMAND, "shape"),
        (COST, SUPPLY, DEMAND + 1.0, "sum"),
        (COST, -SUPPLY, -DEMAND, "below zero"),
        (COST * np.nan, SUPPLY, DEMAND, "finite"),
    ],
    ids=["shape", "sums", "negative", "not-a-number"],
)
def test_problem_is_refused_when_it_is_none(
    cost: np.ndarray, supply: np.ndarray, demand: np.ndarray, message: str
) -> None:
    """What is no transport problem is refused in words."""
    with pytest.raises(ValueError, match=message):
        least_transport(cost, supply, demand)


def test_nothing_is_carried_when_there_is_nothing() -> None:
    """No soil, no cost."""
    plan = least_transport(COST, np.zeros(3), np.zeros(4))
    assert plan.cost == 0.0
    assert not plan.flow.any()
