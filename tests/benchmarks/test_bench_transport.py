"""The network simplex against a general-purpose linear program on the same transport problem, in one run.

Prints the ratio of their processor times; asserts only that the costs agree. With ``-s`` both go up to 1,000 by 1,000
cells, 200 by 200 without. 1,500 by 1,500 are solved by the network alone, for the linear program takes 1.2 GB at 1,000
already; its dual prices prove that cost instead.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from spadework.haul import TransportPlan, least_transport, transport


def problem(size: int, seed: int = 5) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Costs, supplies and demands of cells scattered over 30 m."""
    random = np.random.default_rng(seed)
    start, end = random.uniform(0, 30, (size, 2)), random.uniform(0, 30, (size, 2))
    supply, demand = random.uniform(0.1, 1, size), random.uniform(0.1, 1, size)
    cost = np.hypot(*(start[:, None] - end[None]).transpose(2, 0, 1))
    return cost, supply, demand * (supply.sum() / demand.sum())


def timed(size: int, network_from: int, monkeypatch: pytest.MonkeyPatch) -> tuple[TransportPlan, float]:
    """The plan, and how long it took."""
    monkeypatch.setattr(transport, "NETWORK_FROM", network_from)
    cost, supply, demand = problem(size)
    start = time.process_time()
    return least_transport(cost, supply, demand), time.process_time() - start


def test_network_equals_linear_program(monkeypatch: pytest.MonkeyPatch, *, shown: bool) -> None:
    """Both reach the same cost; the ratio is printed."""
    timed(3, 0, monkeypatch)  # the import of the library does not count
    for size in (50, 100, 200, 500, 1000) if shown else (50, 100, 200):
        one, quick = timed(size, 0, monkeypatch)
        other, slow = timed(size, 10**9, monkeypatch)
        assert one.cost == pytest.approx(other.cost, rel=1e-7)
        print(
            f"\ntransport {size} x {size}: network {1e3 * quick:.1f} ms, linear program {slow / quick:.0f} times that"
        )


def test_large_problem_is_proved_by_its_prices(monkeypatch: pytest.MonkeyPatch) -> None:
    """1,500 by 1,500 cells: no plan can cost less than the prices say, and this one costs that."""
    cost, supply, demand = problem(1500)
    plan, seconds = timed(1500, 0, monkeypatch)
    assert plan.lower_bound(cost, supply, demand) == pytest.approx(plan.cost, rel=1e-7)
    print(f"\ntransport 1500 x 1500: network {seconds:.1f} s")
