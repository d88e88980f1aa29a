"""Where the ground lies along the middle lines and the edges of the pad: what the sections are drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.earthwork.bank_shape import distance_out
from spadework.plan import Plan
from spadework.readings import FloatArray
from spadework.stakeout.grid import ground_levels, on_outline

__all__ = ["Section", "section_lines"]

POINTS = 241  # along one section
BEYOND = 0.15  # of its length, drawn beyond the pad at each end
SPARE = 1.3
"""With banks, as far beyond the pad as the farthest of them ends, and this much more."""
MOST_EDGES = 6


@dataclass(frozen=True)
class Section:
    """The ground along a line.

    Parameters
    ----------
    title : str
        What it runs along.
    start, end : str
        What stands at distance 0 and at ``length``.
    length : float
        From there to there. [m]
    distance : array, shape (n,)
        From the start; below zero and above the length beyond the pad. [m]
    ground : array, shape (n,)
        Level of the ground; NaN where none was measured. [m]
    on_pad : array of bool, shape (n,)
        Whether the point lies on the pad or on its edge.
    base : array, shape (n,)
        Level dug or made up to: the formation, and beyond the pad its banks; NaN where neither is. [m]
    """

    title: str
    start: str
    end: str
    length: float
    distance: FloatArray
    ground: FloatArray
    on_pad: npt.NDArray[np.bool_]
    base: FloatArray


def section_lines(plan: Plan) -> list[Section]:
    """Return the sections along and across the middle of the pad, then one along each edge.

    Parameters
    ----------
    plan : Plan
        The plan. Of an outline with many corners the first six edges are drawn.
    """
    outline, names = plan.pad.outline, plan.pad.names
    low, high = outline.min(axis=0), outline.max(axis=0)
    u, v = (low + high) / 2
    square = plan.pad.is_rectangle
    along = ("middle of DA", "middle of BC") if square else ("near end", "far end")
    across = ("middle of AB", "middle of CD") if square else ("left", "right")
    found = [
        _along(plan, "Along the middle", along, np.array([low[0], v]), np.array([high[0], v])),
        _along(plan, "Across the middle", across, np.array([u, low[1]]), np.array([u, high[1]])),
    ]
    if plan.pad.radius is not None:
        along, across = ("C", "A"), ("D", "B")
        r = plan.pad.radius
        return [
            _along(plan, "Through the middle", along, np.array([-r, 0.0]), np.array([r, 0.0])),
            _along(plan, "Across it", across, np.array([0.0, -r]), np.array([0.0, r])),
        ]
    count = len(names)
    for row in range(min(count, MOST_EDGES)):
        start, end = names[row], names[(row + 1) % count]
        found.append(_along(plan, f"Edge {start}{end}", (start, end), outline[row], outline[(row + 1) % count]))
    return found


def _along(plan: Plan, title: str, ends: tuple[str, str], start: FloatArray, end: FloatArray) -> Section:
    """Return the section between two points of the pad's frame, and a little beyond."""
    length = float(np.hypot(*(end - start)))
    beyond = BEYOND * length
    if plan.banks is not None:
        beyond = max(beyond, SPARE * max((stake.out for stake in plan.banks.stakes), default=0.0))
    distance = np.unique(np.append(np.linspace(-beyond, length + beyond, POINTS), [0.0, length]))
    places = start + distance[:, np.newaxis] * (end - start) / length
    on_pad = on_outline(plan.pad.outline, places)
    place = plan.search.best.placement
    site = place.to_site(places)
    ground = np.array(plan.ground.level_at(site), dtype=np.float64)
    ground[on_pad] = ground_levels(plan.ground, site[on_pad], np.array([place.east, place.north]))
    return Section(title, *ends, length, distance, ground, on_pad, _base(plan, places, ground, on_pad))


def _base(plan: Plan, places: FloatArray, ground: FloatArray, on_pad: npt.NDArray[np.bool_]) -> FloatArray:
    """Return the level dug or made up to at points of the pad's frame."""
    pad = plan.pad
    formation = plan.search.best.placement.formation(pad)
    base: FloatArray = np.where(on_pad, formation, np.nan)
    if plan.banks is None:
        return base
    out = distance_out(pad, places)
    up, down = formation + pad.edge.cut_slope * out, formation - pad.edge.fill_slope * out
    stripped = ground - pad.strip
    base = np.where(~on_pad & (stripped > up), up, base)
    return np.where(~on_pad & (stripped < down), down, base)
