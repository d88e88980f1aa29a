"""The account of moves as a search asks for it: the least barrowing of one placement, many times over."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from spadework.factors import SoilFactors, container_volume, soil_factors
from spadework.ground import Ground
from spadework.haul.ends import BROUGHT, LEFT_OVER, NOTHING
from spadework.haul.heaps import CLEAR_OF_DIGGING, HEAP_SLOPE, REACH, find_heaps
from spadework.haul.moves import A_HEAP, TOPSOIL, TOPSOIL_KIND
from spadework.haul.transport import least_transport
from spadework.haul.ways import UPHILL, walking_distances
from spadework.placement import Limits
from spadework.placement.carrying import Load
from spadework.readings import FloatArray

__all__ = ["YardCarrier"]

NETWORK_FROM = 400
"""Pairs from which the network simplex is quicker once it is imported."""


@dataclass(frozen=True)
class YardCarrier:
    """A barrow in a yard.

    Parameters
    ----------
    ground : Ground
        The surface, for the level at a heap.
    limits : Limits
        Boundary and keep-outs, for heaps and ways.
    soil : SoilFactors
        The soil.
    barrow : float, optional
        Loose volume of one load; a garden barrow where not given. [m³]
    uphill : float
        Metres of level way that a metre of rise counts for. [m/m]
    """

    ground: Ground
    limits: Limits
    soil: SoilFactors
    barrow: float | None = None
    uphill: float = UPHILL

    @property
    def loads(self) -> float:
        """Barrow loads that one cubic metre, compacted, makes. [1/m³]"""
        return (1.0 + self.soil.swell) / (1.0 - self.soil.shrink) / (self.barrow or container_volume("barrow"))

    @property
    def clear(self) -> float:
        """How far the foot of a heap stands from the digging at the least. [m]"""
        return CLEAR_OF_DIGGING

    def radius(self, compacted: FloatArray) -> FloatArray:
        """Return the radius of a heap of so much soil. [m]"""
        loose = np.asarray(compacted) / (1.0 - self.soil.shrink) * (1.0 + self.soil.swell)
        radius: FloatArray = np.cbrt(3.0 * loose / (math.pi * HEAP_SLOPE))
        return radius

    def for_soil(self, soil: SoilFactors) -> YardCarrier:
        """Return the same for another soil."""
        return replace(self, soil=soil)

    def least(self, load: Load) -> tuple[float, FloatArray]:
        """Return the least sum of volume times way, and prices that prove it.

        The same as `plan_haul` finds but for two things. Soil out of the trench of the edge is what the search counts
        at every spot, spread along the outline. And where the yard has no room for a heap, its soil is counted as
        carried as far as room was looked for, which no spot can gain by.

        Parameters
        ----------
        load : Load
            What each cell has to spare or wants.

        Returns
        -------
        cost : float
            Compacted volume times way, rises counted. [m³ m]
        price : array, shape (n,)
            That rises by no more than one for each metre.
        """
        cost, supply, demand = self.costs(load)
        if not supply.sum() > NOTHING or not demand.sum() > NOTHING:
            return 0.0, np.zeros(len(load.spare))
        demand = demand * (supply.sum() / demand.sum())
        plan = least_transport(cost, supply, demand, network_from=NETWORK_FROM)
        centre, over = load.cells.centre, float(load.spare.sum())
        ends = centre[load.spare < 0]
        plain = np.hypot(*(centre[:, None] - ends[None]).transpose(2, 0, 1))
        if over > NOTHING:
            plain = np.column_stack([plain, self._ways_to_heap(load, over)[1]])
        return plan.cost, _lifted(plain, plan.demand_price)

    def costs(self, load: Load) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the transport problem of a load: costs, supplies and demands; a heap comes last.

        Parameters
        ----------
        load : Load

        Returns
        -------
        cost : array, shape (s, d)
            Way, rises counted. [m]
        supply, demand : array, shape (s,), (d,)
            Compacted. [m³]
        """
        spare, level = load.spare, load.level
        gives, wants = np.flatnonzero(spare > 0), np.flatnonzero(spare < 0)
        over = float(spare.sum())
        centre = load.cells.centre
        if self.limits.keep_outs and not _convex(load):
            site = np.column_stack([load.placement.to_site(centre), level])
            cost = walking_distances(site[gives], site[wants], self.limits.keep_outs, uphill=self.uphill)
        else:
            plain = np.hypot(*(centre[gives][:, None] - centre[wants][None]).transpose(2, 0, 1))
            cost = plain + self.uphill * np.maximum(level[wants][None] - level[gives][:, None], 0.0)
        supply, demand = spare[gives], -spare[wants]
        if over > NOTHING:
            ways = self._ways_to_heap(load, over)[0]
            return np.column_stack([cost, ways[gives]]), supply, np.append(demand, over)
        if over < -NOTHING:
            ways = self._ways_to_heap(load, over)[0]
            return np.vstack([cost, ways[wants][None]]), np.append(supply, -over), demand
        return cost, supply, demand

    def _ways_to_heap(self, load: Load, over: float) -> tuple[FloatArray, FloatArray]:
        """Return the way between each cell and the heap, rises counted, and the straight one, shape (n,). [m]"""
        third = LEFT_OVER if over > 0 else BROUGHT
        centre, at = load.cells.centre, load.placement
        site = np.column_stack([at.to_site(centre), load.level])
        if abs(over) <= A_HEAP:
            # So little is levelled about the middle.
            middle = np.array([[at.east, at.north, at.finish]])
            way = self._way(site, middle, over)
            return way, np.hypot(*centre.T)
        pad = load.pad
        loose = abs(over) / (1.0 - self.soil.shrink) * (1.0 + self.soil.swell)
        topsoil = pad.area * pad.strip * (1.0 + soil_factors(TOPSOIL_KIND).swell)
        heaps, _ = find_heaps(at.corners(pad), self.limits, {TOPSOIL: topsoil, third: loose})
        for heap in heaps:
            if heap.name == third:
                place = np.array([[heap.east, heap.north]])
                level = float(self.ground.level_at(place)[0])
                end = np.array([[heap.east, heap.north, level if math.isfinite(level) else at.finish]])
                return self._way(site, end, over), np.hypot(*(site[:, :2] - end[:, :2]).T)
        return np.full(len(centre), REACH), np.full(len(centre), REACH)

    def _way(self, site: FloatArray, end: FloatArray, over: float) -> FloatArray:
        one, other = (site, end) if over > 0 else (end, site)
        return walking_distances(one, other, self.limits.keep_outs, uphill=self.uphill).ravel()


def _convex(load: Load) -> bool:
    """Tell whether no way between two points of the pad leaves it."""
    ring = shapely.Polygon(load.pad.outline)
    return bool(ring.convex_hull.area - ring.area <= 1e-9 * ring.area)


def _lifted(plain: FloatArray, price: FloatArray) -> FloatArray:
    """Return prices at every cell from those of the ends: the least that each end asks for there.

    ``u(q) = min_j (|q - q_j| - b_j)`` rises by no more than one for each metre, and is no lower at a start, nor higher
    at an end, than the prices that the transport was proved with.
    """
    lifted: FloatArray = (plain - price[None]).min(axis=1)
    return lifted
