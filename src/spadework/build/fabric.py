"""Fabric under the stone: how many sheets from which rolls, overlapped and turned up at the edge, and the staples."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.build.edge import EdgePlan
from spadework.build.options import FabricOptions
from spadework.pad import Pad

__all__ = ["FabricOrder", "fabric_order"]


@dataclass(frozen=True, slots=True)
class FabricOrder:
    """What to buy and how it is laid.

    Parameters
    ----------
    along : bool
        Whether the sheets run along the pad's length (A to B), or across.
    sheets : int
        How many lie side by side.
    sheet_length : float
        Length of each, turned up at both ends. [m]
    upstand : float
        Height that it is turned up at the edge. [m]
    overlap : float
        Where sheets meet. [m]
    covered, cut : float
        Area that has to be covered, upstands included; area cut from the rolls. [m²]
    joins : int
        Joins within sheets, where a roll is too short.
    rolls : int
        To buy.
    roll_width, roll_length : float
        Of a roll. [m]
    staples : int
        Along every edge and overlap.
    """

    along: bool
    sheets: int
    sheet_length: float
    upstand: float
    overlap: float
    covered: float
    cut: float
    joins: int
    rolls: int
    roll_width: float
    roll_length: float
    staples: int


def fabric_order(pad: Pad, edge: EdgePlan | None, options: FabricOptions) -> FabricOrder | None:
    """Return what to buy, with the sheets laid whichever way takes fewer rolls, then less fabric.

    For a pad that is no rectangle, the sheets cover the rectangle round it, along its own axes.

    Over ``L x W`` inside the edge, turned up by the build-up ``t`` all round: ``⌈(W + 2t - o) / (w - o)⌉`` sheets of
    ``L + 2t`` from rolls of width ``w``, overlapped by ``o``.

    Parameters
    ----------
    pad : Pad
    edge : EdgePlan, optional
        The frame, inside which it lies.
    options : FabricOptions

    Returns
    -------
    FabricOrder, or None
        None where none is wanted or nothing lies on it.
    """
    if not options.wanted or pad.build_up.thickness <= 0:
        return None
    breadth = edge.section.breadth if edge else 0.0
    extent = pad.sides[:2] if pad.is_rectangle else np.ptp(pad.outline, axis=0)
    length, width = (max(float(side) - 2 * breadth, 0.0) for side in extent)
    upstand = pad.build_up.thickness
    ways = [
        _lay(length + 2 * upstand, width + 2 * upstand, upstand, options, along=True),
        _lay(width + 2 * upstand, length + 2 * upstand, upstand, options, along=False),
    ]
    return min(ways, key=lambda way: (way.rolls, way.cut))


def _lay(long: float, wide: float, upstand: float, options: FabricOptions, *, along: bool) -> FabricOrder:
    """Return the order for sheets that run one way."""
    roll_width, roll_length, overlap = options.roll_width, options.roll_length, options.overlap
    sheets = max(1, math.ceil((wide - overlap) / (roll_width - overlap) - 1e-9))
    joins, rolls = _rolls(sheets, long, roll_length, options.roll_end_overlap)
    lines = sheets + 1  # both outer edges, and every overlap
    per_line = math.ceil(long / options.staple_spacing - 1e-9) + 1
    across = max(math.ceil(wide / options.staple_spacing - 1e-9) - 1, 0)
    return FabricOrder(
        along=along,
        sheets=sheets,
        sheet_length=long,
        upstand=upstand,
        overlap=overlap,
        covered=long * wide,
        cut=(sheets * long + joins * options.roll_end_overlap) * roll_width,
        joins=joins,
        rolls=rolls,
        roll_width=roll_width,
        roll_length=roll_length,
        staples=lines * per_line + 2 * across,
    )


def _rolls(sheets: int, long: float, roll_length: float, end_overlap: float) -> tuple[int, int]:
    """Return the joins within sheets and the rolls: sheets in one piece, or whole rolls and a rest, joined."""
    if long <= roll_length + 1e-9:
        per_roll = math.floor(roll_length / long + 1e-9)
        return 0, math.ceil(sheets / per_roll)
    parts = math.ceil((long - end_overlap) / (roll_length - end_overlap) - 1e-9)
    rest = long - (parts - 1) * (roll_length - end_overlap)
    return sheets * (parts - 1), sheets * (parts - 1) + math.ceil(sheets / math.floor(roll_length / rest + 1e-9))
