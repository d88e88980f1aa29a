"""The ground along each side of a pad, from break to break, and the mean slope that it implies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.errors import PlacementError
from spadework.ground.index import TriangleArray
from spadework.ground.surface import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["EdgeProfile", "edge_profile", "mean_slope"]

SAME_SPOT = 1e-9
"""Breaks nearer together than this share of the side are one."""


@dataclass(frozen=True)
class EdgeProfile:
    """The ground along one side; between neighbouring breaks it is a straight line.

    Parameters
    ----------
    name : str
        Letters of the corners, as ``AB``.
    distance : array, shape (k,)
        From the first corner of the side, rising, 0 and the length of the side included. [m]
    level : array, shape (k,)
        Ground before stripping. [m]
    """

    name: str
    distance: FloatArray
    level: FloatArray

    @property
    def length(self) -> float:
        """Length of the side. [m]"""
        return float(self.distance[-1])

    @property
    def lowest(self) -> float:
        """Lowest ground along the side. [m]"""
        return float(self.level.min())

    @property
    def highest(self) -> float:
        """Highest ground along the side. [m]"""
        return float(self.level.max())

    def level_at(self, distance: FloatArray | float) -> FloatArray:
        """Return the ground at distances along the side. [m]"""
        return np.asarray(np.interp(distance, self.distance, self.level), dtype=np.float64)


def edge_profile(ground: Ground, pad: Pad, placement: Placement) -> tuple[EdgeProfile, ...]:
    """Return the ground along each side of the pad, exactly: a break wherever the side crosses a triangle's side.

    Parameters
    ----------
    ground : Ground
    pad : Pad
    placement : Placement
        The finish level does not matter.

    Returns
    -------
    tuple of EdgeProfile
        One for each side, from corner A on.

    Raises
    ------
    PlacementError
        If a side leaves the measured ground.
    """
    corners, names = placement.corners(pad), pad.names
    following = np.roll(corners, -1, axis=0)
    return tuple(
        _side(ground, names[i] + names[(i + 1) % len(names)], corners[i] - ground.origin, following[i] - ground.origin)
        for i in range(len(corners))
    )


def _side(ground: Ground, name: str, start: FloatArray, end: FloatArray) -> EdgeProfile:
    corner = _near(ground, start, end)
    along = end - start
    length = math.hypot(*along)
    # Weight of each corner of the triangles at the start and at the end of the side: linear in between.
    east, north = ground.east[corner], ground.north[corner]
    weights = []
    for point in (start, end):
        de, dn = east - point[0], north - point[1]
        weights.append(np.roll(de, -1, 1) * np.roll(dn, -2, 1) - np.roll(de, -2, 1) * np.roll(dn, -1, 1))
    whole = weights[0].sum(axis=1, keepdims=True)
    first, last = (weight / whole for weight in weights)
    change = last - first
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = -first / change
    outside = (change == 0) & (first < -SAME_SPOT)
    enter = np.where(change > 0, crossing, np.where(outside, np.inf, 0.0)).max(axis=1, initial=0.0)
    leave = np.where(change < 0, crossing, np.where(outside, -np.inf, 1.0)).min(axis=1, initial=1.0)
    row = np.flatnonzero(leave >= enter - SAME_SPOT)
    share = np.concatenate([np.clip(enter[row], 0, 1), np.clip(leave[row], 0, 1)])
    both = np.concatenate([row, row])
    weight = np.maximum(first[both] + share[:, None] * change[both], 0.0)
    height = (weight * ground.height[corner[both]]).sum(axis=1) / weight.sum(axis=1)
    order = np.argsort(share, kind="stable")
    share, height = share[order], height[order]
    _refuse_gap(name, enter[row], leave[row], length)
    kept = np.concatenate([[True], np.diff(share) > SAME_SPOT])
    if not kept[-1] and kept.sum() > 1 and share[-1] >= 1.0 - SAME_SPOT:
        share[np.flatnonzero(kept)[-1]] = 1.0
    share = share[kept]
    share[0], share[-1] = 0.0, 1.0
    return EdgeProfile(name, share * length, height[kept] + ground.datum)


def _near(ground: Ground, start: FloatArray, end: FloatArray) -> TriangleArray:
    """Return the triangles in the buckets around a side, each once."""
    index = ground.index
    low, high = np.minimum(start, end) - SAME_SPOT, np.maximum(start, end) + SAME_SPOT
    column_from, column_to = index.column(np.array([low[0], high[0]])).tolist()
    row_from, row_to = index.row(np.array([low[1], high[1]])).tolist()
    bucket = np.add.outer(
        np.arange(row_from, row_to + 1) * index.columns, np.arange(column_from, column_to + 1)
    ).ravel()
    near: TriangleArray = ground.triangles[np.unique(index.listed(bucket)[0] // 4)]
    return near


def _refuse_gap(name: str, enter: FloatArray, leave: FloatArray, length: float) -> None:
    """Raise where the stretches on triangles leave part of the side without ground."""
    order = np.argsort(enter, kind="stable")
    reached = np.maximum.accumulate(np.concatenate([[0.0], leave[order]]))
    starts = np.concatenate([enter[order], [1.0]])
    gap = starts - reached
    worst = int(gap.argmax())
    if gap[worst] > 10 * SAME_SPOT:
        raise PlacementError(
            f"Side {name} of the pad leaves the measured ground from {reached[worst] * length:.2f} m to "
            f"{starts[worst] * length:.2f} m along it. Move the pad, or take shots there."
        )


def mean_slope(ground: Ground, pad: Pad, placement: Placement) -> tuple[float, float]:
    """Return the slope of the ground under a pad and the bearing in which it falls.

    The mean of the gradient over the pad follows from the ground along its edge alone, ``∫ ∇z dA = ∮ z n ds``.

    Parameters
    ----------
    ground : Ground
    pad : Pad
    placement : Placement

    Returns
    -------
    slope : float
        Rise over run.
    aspect : float
        Bearing of the fall, clockwise from site north. [deg]

    Raises
    ------
    PlacementError
        If a side leaves the measured ground.
    """
    corners = placement.corners(pad) - np.array([placement.east, placement.north])
    along = np.roll(corners, -1, axis=0) - corners
    area = 0.5 * float((corners[:, 0] * np.roll(corners[:, 1], -1) - np.roll(corners[:, 0], -1) * corners[:, 1]).sum())
    mean = np.array(
        [
            float(np.trapezoid(side.level - ground.datum, side.distance)) / side.length
            for side in edge_profile(ground, pad, placement)
        ]
    )
    rise_east, rise_north = float(mean @ along[:, 1]) / area, -float(mean @ along[:, 0]) / area
    return math.hypot(rise_east, rise_north), math.degrees(math.atan2(-rise_east, -rise_north)) % 360.0
