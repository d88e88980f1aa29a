"""The earthwork of one placement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.earthwork.batch import pad_levels_batch
from spadework.earthwork.rule import LevelRule, Status
from spadework.errors import PlacementError
from spadework.ground.surface import Ground
from spadework.pad import Pad, Placement

__all__ = ["Earthwork", "earthwork"]


@dataclass(frozen=True, slots=True)
class Earthwork:
    """Volumes and levels of one placement with vertical sides.

    Parameters
    ----------
    cut : float
        Stripped ground above the formation, bank volume. [m³]
    fill : float
        Formation above the stripped ground, compacted volume. [m³]
    strip_volume : float
        Turf and topsoil taken off first: area times depth, bank volume, counted neither as cut nor as fill. [m³]
    area : float
        Plan area of the pad. [m²]
    formation : float
        Level dug or filled to. [m]
    ground_mean, ground_low, ground_high : float
        Ground under the pad before stripping. [m]
    edge_low, edge_high : float
        Ground along the edge before stripping. [m]
    deepest_cut, deepest_fill : float
        Greatest depth of the formation below the stripped ground, and above it; 0 where there is none. [m]
    """

    cut: float
    fill: float
    strip_volume: float
    area: float
    formation: float
    ground_mean: float
    ground_low: float
    ground_high: float
    edge_low: float
    edge_high: float
    deepest_cut: float
    deepest_fill: float


def earthwork(ground: Ground, pad: Pad, placement: Placement) -> Earthwork:
    """Return the exact earthwork of a pad with retained edges.

    ``stripped = ground - strip``, ``cut = ∫ max(stripped - formation, 0)``, ``fill = ∫ max(formation - stripped, 0)``
    over the outline, in closed form on plane triangles.

    Parameters
    ----------
    ground : Ground
    pad : Pad
    placement : Placement

    Returns
    -------
    Earthwork

    Raises
    ------
    PlacementError
        If part of the pad lies outside the measured ground, or its edge is a bank.
    """
    if not pad.edge.retained:
        raise PlacementError(
            "The edge of the pad is a bank, and this version works out retained edges (vertical sides) only. "
            'Give the pad a retained edge, such as edge = { kind = "timber" }.'
        )
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    levels = pad_levels_batch(ground, pad, pose, LevelRule("fixed", finish=placement.finish))
    if levels.status[0] == Status.NOT_COVERED:
        missing = pad.area - float(levels.area[0])
        raise PlacementError(
            f"{missing:.2f} m² of the pad's {pad.area:.2f} m² lie outside the measured ground, where no level is "
            "known. Move the pad, or take shots around it on all sides."
        )
    formation = float(levels.formation[0])
    low, high = float(levels.ground_low[0]), float(levels.ground_high[0])
    return Earthwork(
        cut=float(levels.cut[0]),
        fill=float(levels.fill[0]),
        strip_volume=pad.strip * pad.area,
        area=pad.area,
        formation=formation,
        ground_mean=float(levels.ground_mean[0]),
        ground_low=low,
        ground_high=high,
        edge_low=float(levels.edge_low[0]),
        edge_high=float(levels.edge_high[0]),
        deepest_cut=max(high - pad.strip - formation, 0.0),
        deepest_fill=max(formation - low + pad.strip, 0.0),
    )
