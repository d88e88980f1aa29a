"""Where soil comes from and where it goes: the cells of the pad by zone, the trench of its edge, and a heap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.earthwork import EdgeSoil
from spadework.haul.cells import Cells
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["BROUGHT", "LEFT_OVER", "NOTHING", "Ends", "ends_of", "zone_of"]

LEFT_OVER = "soil left over"
BROUGHT = "soil brought in"
NOTHING = 1e-9
"""Less soil is rounding. [m³]"""


@dataclass(frozen=True)
class Ends:
    """Where soil comes from and goes to: places (east, north, level), names, and compacted volumes."""

    start: FloatArray
    end: FloatArray
    start_name: tuple[str, ...]
    end_name: tuple[str, ...]
    supply: FloatArray
    demand: FloatArray

    def gathered(self) -> Ends:
        """Return the same soil, with what bears one name put together at its middle."""
        start, start_name, supply = _together(self.start, self.start_name, self.supply)
        end, end_name, demand = _together(self.end, self.end_name, self.demand)
        return Ends(start, end, start_name, end_name, supply, demand)


def _together(
    place: FloatArray, name: tuple[str, ...], amount: FloatArray
) -> tuple[FloatArray, tuple[str, ...], FloatArray]:
    """Return the weighted middle, the name and the sum of what bears one name."""
    names = tuple(dict.fromkeys(name))
    member = np.array(name)[None, :] == np.array(names)[:, None]
    total = member @ amount
    return (member * amount) @ place / total[:, None], names, total


def ends_of(
    cells: Cells,
    placement: Placement,
    pad: Pad,
    *,
    keep: float,
    third: str,
    third_place: FloatArray,
    edge: EdgeSoil | None = None,
) -> Ends:
    """Return the ends of all ways: cells and trenches that are dug, cells that are filled, a heap for the difference.

    Parameters
    ----------
    cells : Cells
        The pad in cells.
    placement, pad
        The digging.
    keep : float
        Compacted volume made of one volume dug.
    third : str
        Name of the heap: `LEFT_OVER` or `BROUGHT`.
    third_place : array, shape (3,)
        Its east, north and level. [m]
    edge : EdgeSoil, optional
        Of an edge that is sunk into the ground.
    """
    wanted = cells.fill if edge is None else _spared(cells, edge)
    site = np.column_stack([placement.to_site(cells.centre), cells.level])
    told = cells.zone or ("",) * len(cells)
    zones = [zone or zone_of(pad, u, v) for zone, (u, v) in zip(told, cells.centre.tolist(), strict=True)]
    cut, fill = np.flatnonzero(cells.cut > 0), np.flatnonzero(wanted > 0)
    start, end = site[cut], site[fill]
    start_name, end_name = [zones[i] for i in cut], [zones[i] for i in fill]
    supply, demand = keep * cells.cut[cut], wanted[fill]
    if edge is not None:
        gives = keep * edge.dug - edge.packed
        along = np.column_stack([placement.to_site(edge.place), edge.level])
        sides = {one + two: f"{one}-{two}" for one, two in zip(pad.names, (*pad.names[1:], pad.names[0]), strict=True)}
        names = [f"the trench along {sides[side]}" for side in edge.side]
        more, less = np.flatnonzero(gives > 0), np.flatnonzero(gives < 0)
        start, supply = np.vstack([start, along[more]]), np.append(supply, gives[more])
        end, demand = np.vstack([end, along[less]]), np.append(demand, -gives[less])
        start_name, end_name = [*start_name, *(names[i] for i in more)], [*end_name, *(names[i] for i in less)]
    over = float(supply.sum() - demand.sum())
    if over > NOTHING:
        end, end_name, demand = np.vstack([end, third_place]), [*end_name, third], np.append(demand, over)
    elif over < -NOTHING:
        start, start_name = np.vstack([start, third_place]), [*start_name, third]
        supply = np.append(supply, -over)
    elif demand.sum() > 0:
        demand = demand * (supply.sum() / demand.sum())
    return Ends(start, end, tuple(start_name), tuple(end_name), supply, demand)


def _spared(cells: Cells, edge: EdgeSoil) -> FloatArray:
    """Return the fill of each cell less what the edge stands in the place of: the nearest fill first. [m³]"""
    left = cells.fill.copy()
    for place, spared in zip(edge.place, edge.spared.tolist(), strict=True):
        rest = spared
        for cell in np.argsort(np.hypot(*(cells.centre - place).T), kind="stable").tolist():
            if rest <= 0.0:
                break
            taken = min(rest, float(left[cell]))
            left[cell] -= taken
            rest -= taken
    return left


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
