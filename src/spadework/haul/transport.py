"""The transport problem: from supplies to demands at least cost, exactly, with a certificate that it is least."""

from __future__ import annotations

import importlib
import importlib.util
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np

from spadework.errors import SpadeworkError
from spadework.readings import FloatArray

__all__ = ["TransportPlan", "least_transport"]

NETWORK_FROM = 25_000
"""Pairs from which the network simplex is worth its import of a second or more, where it is installed."""
MOST_STEPS = 50_000_000
GRAIN = 1e6
"""The whole in the solver's own unit: it rounds to 1e-7, and so to 1e-13 of the whole."""


@dataclass(frozen=True)
class TransportPlan:
    """The flows of least cost.

    Parameters
    ----------
    flow : array, shape (m, n)
        From each supply to each demand.
    cost : float
        ``Σ flow × cost``.
    supply_price, demand_price : array, shape (m,), (n,)
        Dual prices ``a, b``. Where ``a_i + b_j <= cost_ij`` for all pairs, no plan can cost less than
        ``Σ a_i supply_i + Σ b_j demand_j``.
    """

    flow: FloatArray
    cost: float
    supply_price: FloatArray
    demand_price: FloatArray

    def lower_bound(self, cost: FloatArray, supply: FloatArray, demand: FloatArray) -> float:
        """Return a cost that no plan can beat, from the dual prices alone.

        Prices that exceed a cost by a rounding error are lowered by it first, so that the bound always holds.

        Parameters
        ----------
        cost : array, shape (m, n)
            As given to `least_transport`.
        supply, demand : array, shape (m,), (n,)
            The same.
        """
        excess = max(float((self.supply_price[:, None] + self.demand_price[None, :] - cost).max()), 0.0)
        return float((self.supply_price - excess) @ supply + self.demand_price @ demand)


def least_transport(
    cost: FloatArray, supply: FloatArray, demand: FloatArray, *, network_from: int = NETWORK_FROM
) -> TransportPlan:
    """Return the flows that carry every supply to the demands at least cost (Hitchcock's transport problem).

    Small problems go to the dual simplex of scipy's HiGHS, large ones to the network simplex of POT where it is
    installed. Both are exact.

    Parameters
    ----------
    cost : array, shape (m, n)
        Cost of carrying one unit.
    supply, demand : array, shape (m,), (n,)
        None below zero; their sums agree to rounding, and the demands are scaled to the supplies.
    network_from : int
        Pairs from which the network simplex is taken; few where there are many problems to solve.

    Returns
    -------
    TransportPlan
        With dual prices.

    Raises
    ------
    ValueError
        For shapes that do not fit, numbers below zero or not finite, or sums that differ.
    SpadeworkError
        If the solver gives up.
    """
    cost, supply, demand = (np.asarray(a, dtype=np.float64) for a in (cost, supply, demand))
    _check(cost, supply, demand)
    total = float(supply.sum())
    if total == 0.0:
        return TransportPlan(np.zeros_like(cost), 0.0, np.zeros(len(supply)), np.zeros(len(demand)))
    # In shares of the whole, so that tolerances of the solver do not depend on the unit.
    share, want = supply / total, demand / float(demand.sum())
    if cost.size >= network_from and importlib.util.find_spec("ot") is not None:
        flow, prices = _by_network(cost, share, want)
    else:
        flow, prices = _by_program(cost, share, want)
    flow = flow * total
    return TransportPlan(flow, float((flow * cost).sum()), *prices)


def _check(cost: FloatArray, supply: FloatArray, demand: FloatArray) -> None:
    """Refuse what is no transport problem."""
    if cost.shape != (len(supply), len(demand)):
        raise ValueError(f"costs have shape {cost.shape}, for {len(supply)} supplies and {len(demand)} demands")
    for name, values in (("cost", cost), ("supply", supply), ("demand", demand)):
        if not np.all(np.isfinite(values)) or values.min(initial=0.0) < 0:
            raise ValueError(f"{name}: every number is finite and not below zero")
    if abs(supply.sum() - demand.sum()) > 1e-9 * max(supply.sum(), demand.sum()):
        raise ValueError(f"supplies sum to {supply.sum()!r}, demands to {demand.sum()!r}")


def _by_program(cost: FloatArray, supply: FloatArray, demand: FloatArray) -> tuple[FloatArray, tuple[FloatArray, ...]]:
    """Solve as a linear program, a row for each supply and each demand."""
    optimize: Any = importlib.import_module("scipy.optimize")  # 0.6 s that only a haul needs
    from scipy.sparse import eye_array, kron, vstack  # noqa: PLC0415

    m, n = cost.shape
    rows = vstack([kron(eye_array(m), np.ones((1, n))), kron(np.ones((1, m)), eye_array(n))], format="csr")
    # The last row follows from the others; with it, sums that differ by a rounding would leave no solution.
    amounts = np.concatenate([supply, demand[:-1]]) * GRAIN
    found = optimize.linprog(cost.ravel(), A_eq=rows.tocsr()[:-1], b_eq=amounts, bounds=(0, None), method="highs-ds")
    if found.status != 0:
        raise SpadeworkError(f"The transport of {m} x {n} cells was not solved: {found.message}")
    prices = np.append(found.eqlin.marginals, 0.0)
    return np.asarray(found.x).reshape(m, n) / GRAIN, (prices[:m], prices[m:])


def _by_network(cost: FloatArray, supply: FloatArray, demand: FloatArray) -> tuple[FloatArray, tuple[FloatArray, ...]]:
    """Solve by the network simplex."""
    with warnings.catch_warnings():
        # It looks for libraries of machine learning as it is imported, and warns of what it finds.
        warnings.simplefilter("ignore")
        import ot  # noqa: PLC0415 -- an extra, and slow to import

        emd: Any = ot.emd
    flow, log = emd(supply, demand, np.ascontiguousarray(cost), numItermax=MOST_STEPS, log=True)
    if log["warning"] is not None:
        raise SpadeworkError(f"The transport of {len(supply)} x {len(demand)} cells was not solved: {log['warning']}")
    return np.asarray(flow), (np.asarray(log["u"]), np.asarray(log["v"]))
