"""The barrowing of a plan: which zone's soil goes where, in how many loads, how far, and in what order."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.earthwork import Banks, EdgeSoil
from spadework.factors import SoilFactors, container_volume, soil_factors
from spadework.ground import Ground
from spadework.haul.bank_cells import with_banks
from spadework.haul.cells import Cells, soil_cells
from spadework.haul.ends import BROUGHT, LEFT_OVER, NOTHING, Ends, ends_of
from spadework.haul.heaps import Heap, find_heaps
from spadework.haul.transport import least_transport
from spadework.haul.ways import UPHILL, walking_distances
from spadework.pad import Pad, Placement
from spadework.placement import Limits
from spadework.readings import FloatArray

__all__ = ["Haul", "Move", "plan_haul"]

TOPSOIL = "topsoil"
A_HEAP = 1e-3
"""Less soil than a litre is no heap. [m³]"""
TOPSOIL_KIND = "loam"
"""Turf and topsoil swell as loam does: the nearest row of the bulking table."""


@dataclass(frozen=True, slots=True)
class Move:
    """Soil carried from one zone of the pad to another, or to or from a heap.

    Parameters
    ----------
    start, end : str
        Zones in words: ``the A-B side``, ``the D corner``, ``the middle``, or the name of a heap.
    bank, loose, compacted : float
        The same soil in its three states. [m³]
    loads : float
        Barrow loads, not rounded.
    distance : float
        Mean way, level. [m]
    rise : float
        Mean rise; below zero downhill. [m]
    start_at, end_at : tuple of float
        Where the mean load starts and ends, east and north. [m]
    """

    start: str
    end: str
    bank: float
    loose: float
    compacted: float
    loads: float
    distance: float
    rise: float
    start_at: tuple[float, float]
    end_at: tuple[float, float]


@dataclass(frozen=True)
class Haul:
    """Which soil goes where.

    Parameters
    ----------
    moves : tuple of Move
        Between zones, in the order of the work: the fewest and shortest that do it, zone to zone.
    heaps : tuple of Heap
        What is heaped, and where.
    without_room : tuple of str
        Heaps for which the yard has no room.
    barrow : float
        Loose volume of one load. [m³]
    uphill : float
        Metres of level way that a metre of rise counts for. [m/m]
    barrow_metres : float
        Loads times way between cells, rises counted, topsoil not included: what is least. [m]
    least_barrow_metres : float
        What no other way of carrying between these cells can beat, by the dual prices. [m]
    cells : Cells
        The cells it was worked out for.
    """

    moves: tuple[Move, ...]
    heaps: tuple[Heap, ...]
    without_room: tuple[str, ...]
    barrow: float
    uphill: float
    barrow_metres: float
    least_barrow_metres: float
    cells: Cells

    @property
    def loads(self) -> int:
        """Whole barrow loads of soil moved, topsoil not included."""
        return math.ceil(sum(move.loads for move in self.moves) - 1e-9)


def plan_haul(
    ground: Ground,
    pad: Pad,
    placement: Placement,
    soil: SoilFactors,
    limits: Limits,
    *,
    barrow: float | None = None,
    uphill: float = UPHILL,
    size: float | None = None,
    edge: EdgeSoil | None = None,
    banks: Banks | None = None,
) -> Haul:
    """Work out which soil goes where with least barrowing.

    Cut is carried to fill, what is over to a heap, and what is short comes from where a delivery is tipped: the place
    of a heap. What the trench of an edge gives besides what is rammed back into it is carried too, and no fill is
    carried to where the edge stands. The transport between cells gives the least barrow-metres and their proof; for
    people it is solved once more between the nine zones of the pad, because nobody barrows from cell to cell. Volumes
    are balanced in compacted soil: ``compacted = bank (1 - shrink)``.

    Parameters
    ----------
    ground, pad, placement
        The digging.
    soil : SoilFactors
        The soil.
    limits : Limits
        Boundary and keep-outs, for ways and heaps.
    barrow : float, optional
        Loose volume of one load; a garden barrow where not given. [m³]
    uphill : float
        Metres of level way that a metre of rise counts for. [m/m]
    size : float, optional
        Side of a cell. [m]
    edge : EdgeSoil, optional
        Of an edge that is sunk into the ground.
    banks : Banks, optional
        Of a pad whose edge is a bank.

    Returns
    -------
    Haul
        The moves, the heaps and the certificate.
    """
    load = _Barrow(barrow or container_volume("barrow"), soil.swell)
    keep = 1.0 - soil.shrink
    cells = soil_cells(ground, pad, placement, size=size)
    digging, stripped = placement.corners(pad), float(cells.area.sum())
    if banks is not None:
        cells, digging, stripped = with_banks(cells, ground, pad, placement, banks), banks.outline, banks.area
    over = keep * float(cells.cut.sum()) - float(cells.fill.sum())
    if edge is not None:
        over += keep * edge.trench - edge.wanted
    third = LEFT_OVER if over > 0 else BROUGHT
    volumes = {TOPSOIL: stripped * pad.strip * (1.0 + soil_factors(TOPSOIL_KIND).swell)}
    if abs(over) > A_HEAP:
        volumes[third] = abs(over) / keep * (1.0 + soil.swell)
    heaps, without = find_heaps(digging, limits, volumes)
    tipped = _third_place(third, heaps, placement, ground)
    ends = ends_of(cells, placement, pad, keep=keep, third=third, third_place=tipped, edge=edge)
    cost = walking_distances(ends.start, ends.end, limits.keep_outs, uphill=uphill)
    plan = least_transport(cost, ends.supply, ends.demand)
    zones = ends.gathered()
    plain = walking_distances(zones.start, zones.end, limits.keep_outs, uphill=0.0)
    rise = np.maximum(zones.end[None, :, 2] - zones.start[:, None, 2], 0.0)
    between = least_transport(plain + uphill * rise, zones.supply, zones.demand)
    per_compacted = (1.0 + soil.swell) / keep / load.load
    return Haul(
        moves=_in_order(_moves(zones, between.flow, plain, keep, load)),
        heaps=heaps,
        without_room=without,
        barrow=load.load,
        uphill=uphill,
        barrow_metres=plan.cost * per_compacted,
        least_barrow_metres=plan.lower_bound(cost, ends.supply, ends.demand) * per_compacted,
        cells=cells,
    )


@dataclass(frozen=True, slots=True)
class _Barrow:
    """The barrow, and how much the soil swells in it."""

    load: float
    swell: float


def _third_place(third: str, heaps: tuple[Heap, ...], placement: Placement, ground: Ground) -> FloatArray:
    """Return where soil left over is heaped or soil brought in is tipped; the pad's middle where there is no room."""
    for heap in heaps:
        if heap.name == third:
            level = float(ground.level_at(np.array([[heap.east, heap.north]]))[0])
            return np.array([heap.east, heap.north, level if math.isfinite(level) else placement.finish])
    return np.array([placement.east, placement.north, placement.finish])


def _moves(ends: Ends, flow: FloatArray, plain: FloatArray, keep: float, barrow: _Barrow) -> list[Move]:
    """Return a move for each flow between two zones; what stays in its own zone is levelled with the shovel."""
    moves = []
    for i, j in np.argwhere(flow > NOTHING).tolist():
        compacted = float(flow[i, j])
        bank = compacted / keep
        loose = bank * (1.0 + barrow.swell)
        moves.append(
            Move(
                start=ends.start_name[i],
                end=ends.end_name[j],
                bank=bank,
                loose=loose,
                compacted=compacted,
                loads=loose / barrow.load,
                distance=float(plain[i, j]),
                rise=float(ends.end[j, 2] - ends.start[i, 2]),
                start_at=(float(ends.start[i, 0]), float(ends.start[i, 1])),
                end_at=(float(ends.end[j, 0]), float(ends.end[j, 1])),
            )
        )
    return moves


def _in_order(moves: list[Move]) -> tuple[Move, ...]:
    """Put the moves in order: fill farthest from the digging first, so that no barrow runs over what is rammed.

    What leaves the pad, and what comes onto it, comes last: only then is it known how much that is.
    """
    dug = [(*move.start_at, move.bank) for move in moves if move.start != BROUGHT]
    if not dug:
        return tuple(moves)
    east, north, bank = np.array(dug).T
    dug_at = float(bank @ east / bank.sum()), float(bank @ north / bank.sum())

    def rank(move: Move) -> tuple[bool, float, str, str]:
        far = math.dist(move.end_at, dug_at)
        return (move.end == LEFT_OVER or move.start == BROUGHT, -round(far, 6), move.start, move.end)

    return tuple(sorted(moves, key=rank))
