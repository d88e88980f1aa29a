"""How much barrowing a placement asks for: exactly, by an account of moves, and from below, by prices that it left.

The barrowing is the least cost of carrying soil from the cells of the pad that have some to spare to those that want
some, and to or from a heap. By the duality of transport (L. V. Kantorovich, 1942; L. V. Kantorovich and G. S.
Rubinstein, 1958) it is the greatest value of ``Σ u_i m_i`` over all prices ``u`` that nowhere rise faster than one for
each metre, with ``m_i = k cut_i - fill_i + k R r_i`` what the cell has to spare, ``R`` the soil out of the trench of
the edge and ``r_i`` the share of the outline along the cell. Any such prices therefore give a bound at every pose, and
the prices that are best at one pose give a bound that touches the true value there and is close about it. A plane of
prices gives ``|Σ q_i m_i|``, the first moment.

Soil over, ``Σ m_i > 0``, goes to a heap that stands clear of the digging, farther from a cell than the outline is by
``g``: with the prices lowered until ``u_i <= away_i + g`` the same sum is a bound wherever the heap stands. For soil
short it is the same with the signs turned.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np
import shapely

from spadework.earthwork.cells import PadCells, cell_soil, pad_cells
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray, IntArray

if TYPE_CHECKING:
    from spadework.factors import SoilFactors
    from spadework.placement.goals import Goal
    from spadework.placement.objective import Objective

__all__ = ["Carrier", "Carrying", "Load"]

BALANCED = 1e-3
"""Soil over or short by less is no heap. [m³]"""
MOST_PRICES = 1500
"""Prices that are kept."""
MOST_NUMBERS = 4_000_000
"""Numbers held at once."""


@dataclass(frozen=True, slots=True)
class Load:
    """The soil that one placement asks to be carried.

    Parameters
    ----------
    pad, placement
        The digging.
    cells : PadCells
        The pad in cells.
    spare : array, shape (n,)
        What each has to spare, compacted; below zero what it wants. [m³]
    level : array, shape (n,)
        Where its soil lies or goes. [m]
    """

    pad: Pad
    placement: Placement
    cells: PadCells
    spare: FloatArray
    level: FloatArray


class Carrier(Protocol):
    """What knows ways, heaps and barrows."""

    @property
    def loads(self) -> float:
        """Barrow loads that one cubic metre, compacted, makes. [1/m³]"""

    @property
    def clear(self) -> float:
        """How far the foot of a heap stands from the digging at the least. [m]"""

    def radius(self, compacted: FloatArray) -> FloatArray:
        """Return the radius of a heap of so much soil. [m]"""

    def for_soil(self, soil: SoilFactors) -> Carrier:
        """Return the same for another soil."""

    def costs(self, load: Load) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the problem: ways with rises counted [m], supplies and demands [m³]; a heap comes last."""

    def least(self, load: Load) -> tuple[float, FloatArray]:
        """Return the least sum of volume times way [m³ m], and prices of the cells that prove it, shape (n,). [m]"""


@dataclass(frozen=True, eq=False)
class Carrying:
    """The barrowing of a pad at any pose, from below and exactly.

    Parameters
    ----------
    carrier : Carrier
        Of the yard.
    cells : PadCells
        The pad in cells.
    prices : list of array, shape (n,)
        Prices found so far: the more there are, the closer the bounds.
    """

    carrier: Carrier
    cells: PadCells
    prices: list[FloatArray] = field(default_factory=list)

    @classmethod
    def of(cls, pad: Pad, carrier: Carrier) -> Carrying:
        """Return the barrowing of a pad, with no prices yet."""
        return cls(carrier, pad_cells(pad))

    @classmethod
    def asked(cls, goal: Goal, pad: Pad, carrier: Carrier | None) -> Carrying | None:
        """Return the barrowing of a pad where a goal counts it.

        Parameters
        ----------
        goal, pad, carrier
            As for `find_placement`.

        Raises
        ------
        ValueError
            For a goal that counts barrowing, without a carrier; and for a pad with banks.
        """
        if not goal.moved:
            return None
        if carrier is None or not pad.edge.retained:
            raise ValueError(
                f"the goal {goal.name!r} counts barrowing: that asks for a carrier, and for vertical sides"
            )
        return cls.of(pad, carrier)

    def for_soil(self, soil: SoilFactors) -> Carrying:
        """Return the same for another soil; prices hang on ways only, and stay."""
        return Carrying(self.carrier.for_soil(soil), self.cells, self.prices)

    @cached_property
    def images(self) -> tuple[IntArray, ...]:
        """Orders of the cells that lay the pad on itself: prices in any of them are prices too."""
        centre, found = self.cells.centre, []
        for turn in ([[1, 0], [0, 1]], [[-1, 0], [0, -1]], [[1, 0], [0, -1]], [[-1, 0], [0, 1]],
                     [[0, 1], [1, 0]], [[0, -1], [-1, 0]], [[0, 1], [-1, 0]], [[0, -1], [1, 0]]):  # fmt: skip
            gaps = np.linalg.norm((centre @ np.array(turn, dtype=np.float64))[:, None] - centre[None], axis=2)
            nearest = gaps.argmin(axis=1)
            if gaps.min(axis=1).max() < 1e-9:
                found.append(nearest)
        return tuple(found)

    def spare(self, objective: Objective, poses: FloatArray, formation: FloatArray) -> FloatArray:
        """Return what each cell has to spare at each pose, shape (k, n). [m³ compacted]

        Parameters
        ----------
        objective : Objective
            With pad, ground, soil and reserve.
        poses : array, shape (k, 3)
            ``east, north`` [m], ``bearing`` [deg].
        formation : array, shape (k,)
            [m]
        """
        found = cell_soil(objective.ground, objective.pad, self.cells, poses, formation)
        keep = objective.keep
        spare: FloatArray = keep * found[:, :, 0, 1] + found[:, :, 1, 1] + keep * objective.reserve * self.cells.rim
        return spare

    def at_least(self, objective: Objective, poses: FloatArray, formation: FloatArray) -> FloatArray:
        """Return what the barrowing is at least, shape (k,). [m]

        Parameters
        ----------
        objective, poses, formation
            As for `spare`.
        """
        result = np.empty(len(poses))
        step = max(MOST_NUMBERS // len(self.cells), 1)
        table = np.array(self.prices).reshape(-1, len(self.cells))
        for start in range(0, len(poses), step):
            some = slice(start, start + step)
            result[some] = self.under(self.spare(objective, poses[some], formation[some]), table)
        return result

    def under(self, spare: FloatArray, prices: FloatArray) -> FloatArray:
        """Return what soil to spare asks for at least, by the first moment and by prices. [m]

        Parameters
        ----------
        spare : array, shape (k, n)
            What each cell has to spare. [m³]
        prices : array, shape (p, n)
            [m]
        """
        net = spare.sum(axis=1)
        moment = spare @ self.cells.centre
        even = np.abs(net) <= BALANCED
        best = np.where(even, np.hypot(*moment.T), 0.0)
        gap = np.where(even, 0.0, self.carrier.clear + self.carrier.radius(np.abs(net)))
        if not even.all():
            rows = np.flatnonzero(~even)
            best[rows] = np.abs(net[rows]) * np.maximum(self._inside(moment[rows] / net[rows, None]) + gap[rows], 0.0)
        if len(prices):
            # What is no heap is counted to or from the middle of the pad.
            near, found = np.hypot(*self.cells.centre.T), spare @ prices.T
            for lift, amount in ((prices, np.maximum(net, 0.0)), (-prices, np.maximum(-net, 0.0))):
                clear, middle = (lift - self.cells.away).max(axis=1), (lift - near).max(axis=1)
                found -= np.where(even[:, None], middle[None], clear[None] - gap[:, None]) * amount[:, None]
            best = np.maximum(best, found.max(axis=1))
        result: FloatArray = best * self.carrier.loads
        return result

    def exactly(self, objective: Objective, pose: FloatArray, formation: float) -> float:
        """Return the barrowing at one pose, and keep its prices. [m]

        Parameters
        ----------
        objective : Objective
        pose : array, shape (3,)
        formation : float
            [m]
        """
        cells = self.cells
        spare = self.spare(objective, pose[None], np.array([formation]))[0]
        soil = cell_soil(objective.ground, objective.pad, cells, pose[None], np.array([formation]))[0, :, :, 1]
        finish = formation + objective.pad.build_up.thickness
        at = Placement(float(pose[0]), float(pose[1]), float(pose[2]), finish)
        load = Load(objective.pad, at, cells, spare, formation + soil.sum(axis=1) / cells.area / 2)
        cost, price = self.carrier.least(load)
        if len(self.prices) < MOST_PRICES:
            self.prices.extend(price[order] for order in self.images)
        return cost * self.carrier.loads

    def _inside(self, places: FloatArray) -> FloatArray:
        """Return how deep places lie inside the outline, below zero outside it, shape (k,). [m]"""
        outline = shapely.union_all([shapely.Polygon(ring) for ring in self.cells.rings])
        points = shapely.points(places)
        depth = shapely.distance(shapely.boundary(outline), points)
        result: FloatArray = np.where(shapely.contains_xy(outline, places), depth, -depth)
        return result
