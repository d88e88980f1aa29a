"""The barrowing of a plan: which zone's soil goes where, in how many loads, how far, and in what order."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.factors import SoilFactors, container_volume, soil_factors
from spadework.ground import Ground
from spadework.haul.cells import Cells, soil_cells
from spadework.haul.heaps import Heap, find_heaps
from spadework.haul.transport import least_transport
from spadework.haul.ways import UPHILL, walking_distances
from spadework.pad import Pad, Placement
from spadework.placement import Limits
from spadework.readings import FloatArray

__all__ = ["Haul", "Move", "plan_haul"]

TOPSOIL = "topsoil"
LEFT_OVER = "soil left over"
BROUGHT = "soil brought in"
TOPSOIL_KIND = "loam"
"""Turf and topsoil swell as loam does: the nearest row of the bulking table."""
NOTHING = 1e-9


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
) -> Haul:
    """Work out which soil goes where with least barrowing.

    Cut is carried to fill, what is over to a heap, and what is short comes from where a delivery is tipped: the place
    of a heap. The transport between cells gives the least barrow-metres and their proof; for people it is solved once
    more between the nine zones of the pad, because nobody barrows from cell to cell. Volumes are balanced in compacted
    soil: ``compacted = bank (1 - shrink)``.

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

    Returns
    -------
    Haul
        The moves, the heaps and the certificate.
    """
    load = _Barrow(barrow or container_volume("barrow"), soil.swell)
    keep = 1.0 - soil.shrink
    cells = soil_cells(ground, pad, placement, size=size)
    over = keep * float(cells.cut.sum()) - float(cells.fill.sum())
    third = LEFT_OVER if over > 0 else BROUGHT
    volumes = {TOPSOIL: float(cells.area.sum()) * pad.strip * (1.0 + soil_factors(TOPSOIL_KIND).swell)}
    if abs(over) > NOTHING:
        volumes[third] = abs(over) / keep * (1.0 + soil.swell)
    heaps, without = find_heaps(pad, placement, limits, volumes)
    tipped = _third_place(third, heaps, placement, ground)
    ends = _ends(cells, placement, pad, keep=keep, third=third, third_place=tipped)
    cost = walking_distances(ends.start, ends.end, limits.keep_outs, uphill=uphill)
    plan = least_transport(cost, ends.supply, ends.demand)
    zones = ends.gathered()
    plain = walking_distances(zones.start, zones.end, limits.keep_outs, uphill=0.0)
    rise = np.maximum(zones.end[None, :, 2] - zones.start[:, None, 2], 0.0)
    between = least_transport(plain + uphill * rise, zones.supply, zones.demand)
    per_compacted = (1.0 + soil.swell) / keep / load.load
    return Haul(
        moves=_in_order(_moves(zones, between.flow, plain, keep, load), cells, placement),
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


@dataclass(frozen=True)
class _Ends:
    """Where soil comes from and goes to: places (east, north, level), names, and compacted volumes."""

    start: FloatArray
    end: FloatArray
    start_name: tuple[str, ...]
    end_name: tuple[str, ...]
    supply: FloatArray
    demand: FloatArray

    def gathered(self) -> _Ends:
        """Return the same soil, with what bears one name put together at its middle."""
        start, start_name, supply = _together(self.start, self.start_name, self.supply)
        end, end_name, demand = _together(self.end, self.end_name, self.demand)
        return _Ends(start, end, start_name, end_name, supply, demand)


def _together(
    place: FloatArray, name: tuple[str, ...], amount: FloatArray
) -> tuple[FloatArray, tuple[str, ...], FloatArray]:
    """Return the weighted middle, the name and the sum of what bears one name."""
    names = tuple(dict.fromkeys(name))
    member = np.array(name)[None, :] == np.array(names)[:, None]
    total = member @ amount
    return (member * amount) @ place / total[:, None], names, total


def _ends(cells: Cells, placement: Placement, pad: Pad, *, keep: float, third: str, third_place: FloatArray) -> _Ends:
    """Return the ends of all ways: cells that are cut, cells that are filled, and a heap where the sums differ."""
    site = np.column_stack([placement.to_site(cells.centre), cells.level])
    zones = [zone_of(pad, u, v) for u, v in cells.centre.tolist()]
    cut, fill = np.flatnonzero(cells.cut > 0), np.flatnonzero(cells.fill > 0)
    start, end = site[cut], site[fill]
    start_name, end_name = [zones[i] for i in cut], [zones[i] for i in fill]
    supply, demand = keep * cells.cut[cut], cells.fill[fill]
    over = float(supply.sum() - demand.sum())
    if over > NOTHING:
        end, end_name, demand = np.vstack([end, third_place]), [*end_name, third], np.append(demand, over)
    elif over < -NOTHING:
        start, start_name = np.vstack([start, third_place]), [*start_name, third]
        supply = np.append(supply, -over)
    elif demand.sum() > 0:
        demand = demand * (supply.sum() / demand.sum())
    return _Ends(start, end, tuple(start_name), tuple(end_name), supply, demand)


def _third_place(third: str, heaps: tuple[Heap, ...], placement: Placement, ground: Ground) -> FloatArray:
    """Return where soil left over is heaped or soil brought in is tipped; the pad's middle where there is no room."""
    for heap in heaps:
        if heap.name == third:
            level = float(ground.level_at(np.array([[heap.east, heap.north]]))[0])
            return np.array([heap.east, heap.north, level if math.isfinite(level) else placement.finish])
    return np.array([placement.east, placement.north, placement.finish])


def zone_of(pad: Pad, u: float, v: float) -> str:
    """Return the part of the pad that a point lies in, in words.

    A rectangle is divided in thirds each way: four corners, four sides and the middle. Another outline is divided among
    its corners: a point belongs to the nearest. A circle has a middle, out to half its radius, and four quarters.

    Parameters
    ----------
    pad : Pad
        The pad.
    u, v : float
        In the pad's frame. [m]
    """
    names, places = pad.marked
    if pad.radius is not None and math.hypot(u, v) < pad.radius / 2:
        return "the middle"
    if not pad.is_rectangle:
        nearest = int(np.argmin(np.hypot(places[:, 0] - u, places[:, 1] - v)))
        return f"the {names[nearest]} {'corner' if pad.radius is None else 'quarter'}"
    along = _third(u, float(pad.outline[:, 0].max()))
    across = _third(v, float(pad.outline[:, 1].max()))
    a, b, c, d = names
    words = {
        (-1, -1): f"the {a} corner",
        (1, -1): f"the {b} corner",
        (1, 1): f"the {c} corner",
        (-1, 1): f"the {d} corner",
        (0, -1): f"the {a}-{b} side",
        (1, 0): f"the {b}-{c} side",
        (0, 1): f"the {c}-{d} side",
        (-1, 0): f"the {d}-{a} side",
        (0, 0): "the middle",
    }
    return words[along, across]


def _third(value: float, half: float) -> int:
    """Return -1, 0 or 1 for the lower, middle or upper third between -half and half."""
    return 0 if abs(value) <= half / 3 else (1 if value > 0 else -1)


def _moves(ends: _Ends, flow: FloatArray, plain: FloatArray, keep: float, barrow: _Barrow) -> list[Move]:
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


def _in_order(moves: list[Move], cells: Cells, placement: Placement) -> tuple[Move, ...]:
    """Put the moves in order: fill farthest from the digging first, so that no barrow runs over what is rammed.

    What leaves the pad, and what comes onto it, comes last: only then is it known how much that is.
    """
    total = float(cells.cut.sum())
    if total <= 0:
        return tuple(moves)
    dug_at = placement.to_site((cells.cut @ cells.centre / total)[None, :])[0]

    def rank(move: Move) -> tuple[bool, float, str, str]:
        far = math.hypot(move.end_at[0] - dug_at[0], move.end_at[1] - dug_at[1])
        return (move.end == LEFT_OVER or move.start == BROUGHT, -round(far, 6), move.start, move.end)

    return tuple(sorted(moves, key=rank))
