"""Barrowing another way, for the check of a proof: cells cut by a geometry library, moves by a linear program.

Only the places of heaps are taken from the account of moves, for they are a rule and no result.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from spadework.pad import Pad, Placement
from spadework.placement.carrying import Carrying, Load
from spadework.readings import FloatArray

__all__ = ["CellsAgain"]

Measure = Callable[[FloatArray], tuple[float, float]]
"""Returns cut and fill within a ring of the pad's frame. [m³]"""


@dataclass(frozen=True, eq=False)
class CellsAgain:
    """The barrowing of one pad.

    Parameters
    ----------
    carrying : Carrying
        Its cells and its carrier.
    pad : Pad
        The pad.
    keep, reserve : float
        As in `Objective`.
    """

    carrying: Carrying
    pad: Pad
    keep: float
    reserve: float

    def barrowing(self, placement: Placement, measure: Measure) -> float:
        """Return loads times way of a placement. [m]

        Parameters
        ----------
        placement : Placement
            In the site's axes.
        measure : callable
            What is cut and filled within a ring, at the placement's level.
        """
        cells = self.carrying.cells
        cut, fill = np.array([measure(ring) for ring in cells.rings]).T
        spare = self.keep * (cut + self.reserve * cells.rim) - fill
        level = placement.formation(self.pad) + (cut - fill) / cells.area / 2
        load = Load(self.pad, placement, cells, spare, level)
        carrier = self.carrying.carrier
        cost, supply, demand = carrier.costs(load)
        return self._least(cost, supply, demand) * carrier.loads

    def _least(self, cost: FloatArray, supply: FloatArray, demand: FloatArray) -> float:
        """Return the least cost of carrying every supply to the demands, as a linear program."""
        if supply.sum() <= 1e-9 or demand.sum() <= 1e-9:
            return 0.0
        optimize: Any = importlib.import_module("scipy.optimize")  # slow to import
        from scipy.sparse import coo_array  # noqa: PLC0415

        m, n = cost.shape
        pair = np.arange(m * n)
        rows = np.concatenate([pair // n, m + pair % n])
        table = coo_array((np.ones(2 * m * n), (rows, np.concatenate([pair, pair]))), shape=(m + n, m * n)).tocsr()
        whole = float(supply.sum())
        wants = demand * (whole / float(demand.sum()))
        # The last demand follows from the rest.
        amounts = np.concatenate([supply, wants])[:-1] / whole
        found = optimize.linprog(cost.ravel(), A_eq=table[:-1], b_eq=amounts, bounds=(0, None), method="highs-ipm")
        return float(found.fun) * whole
