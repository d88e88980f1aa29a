"""The depth grid: points over the pad, taped from its corner A."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout.objects import DepthGrid
from spadework.units import LengthUnit

__all__ = ["depth_grid", "grid_size", "ground_levels", "on_outline", "round_spacing"]

RIM = 1e-6  # how far a point on the rim of the ground is drawn in to find its level [m]


def round_spacing(pad: Pad, unit: LengthUnit) -> float:
    """Return a round spacing that lays at most nine points along the longer side of a pad. [m]

    Parameters
    ----------
    pad : Pad
        The pad.
    unit : LengthUnit
        Unit in which the spacing is round: 1, 2 or 5 times a power of ten, and 0.25 m or 3 in for the smallest.
    """
    longest = float(np.ptp(pad.outline, axis=0).max())
    if unit is LengthUnit.METRE:
        steps = (
            0.25,
            *(base * 10.0**power for power in range(-1, 5) for base in (1, 2, 5) if base * 10.0**power > 0.25),
        )
    else:
        feet = (0.25, 0.5, *(base * 10.0**power for power in range(5) for base in (1, 2, 5)))
        steps = tuple(step * 0.3048 for step in feet)
    return next((step for step in steps if step * 8 >= longest - 1e-9), steps[-1])


def grid_size(pad: Pad, spacing: float) -> int:
    """Return how many points a depth grid of a spacing has, those off the pad included."""
    along, across = np.ptp(pad.outline, axis=0) / spacing
    return int((along + 2) * (across + 2))


def depth_grid(ground: Ground, pad: Pad, placement: Placement, spacing: float) -> DepthGrid:
    """Return the depth grid over the pad."""
    low, high = pad.outline.min(axis=0), pad.outline.max(axis=0)
    along, across = (_ticks(float(length), spacing) for length in high - low)
    v, u = np.meshgrid(low[1] + across, low[0] + along, indexing="ij")
    points = np.stack([u.ravel(), v.ravel()], axis=-1)
    site = placement.to_site(points)
    levels = ground_levels(ground, site, placement.corners(pad).mean(axis=0))
    levels[~on_outline(pad.outline, points)] = np.nan
    shape = u.shape
    return DepthGrid(
        along,
        across,
        site[:, 0].reshape(shape),
        site[:, 1].reshape(shape),
        levels.reshape(shape),
        pad.strip,
        placement.formation(pad),
    )


def _ticks(length: float, spacing: float) -> FloatArray:
    """Return 0, spacing, 2 spacing, ... and the length itself; a last step under 1 mm is not taken. [m]"""
    whole = np.arange(0.0, max(length - 1e-3, 0.0) + spacing * 1e-9, spacing)
    return np.append(whole, length)


def on_outline(outline: FloatArray, points: FloatArray, margin: float = 1e-9) -> npt.NDArray[np.bool_]:
    """Return which points lie inside an outline or on its edge, by crossings and by distance."""
    start, end = outline, np.roll(outline, -1, axis=0)
    inside = np.zeros(len(points), dtype=bool)
    for (u1, v1), (u2, v2) in zip(start, end, strict=True):
        du, dv = u2 - u1, v2 - v1
        along = np.clip(((points[:, 0] - u1) * du + (points[:, 1] - v1) * dv) / (du * du + dv * dv), 0.0, 1.0)
        near = np.hypot(points[:, 0] - u1 - along * du, points[:, 1] - v1 - along * dv) <= margin
        inside |= near
    crossed = np.zeros(len(points), dtype=bool)
    for (u1, v1), (u2, v2) in zip(start, end, strict=True):
        if v1 == v2:
            continue
        spans = (v1 > points[:, 1]) != (v2 > points[:, 1])
        at = u1 + (points[:, 1] - v1) * (u2 - u1) / (v2 - v1)
        crossed ^= spans & (points[:, 0] < at)
    inside |= crossed
    return inside


def ground_levels(ground: Ground, points: FloatArray, centre: FloatArray) -> FloatArray:
    """Return ground levels; a point that rounding puts outside the rim is looked up a hair inside. [m]"""
    levels = np.array(ground.level_at(points), dtype=np.float64)
    lost = np.isnan(levels)
    if lost.any():
        inward = centre - points[lost]
        length = np.hypot(*inward.T)
        inward[length > 0] /= length[length > 0, np.newaxis]
        levels[lost] = ground.level_at(points[lost] + RIM * inward)
    return levels
