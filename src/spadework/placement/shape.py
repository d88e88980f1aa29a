"""The pad's outline as a search needs it: convex parts, reach, inner point, and the turn that repeats it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spadework.earthwork.parts import ConvexParts, convex_parts
from spadework.pad import Pad
from spadework.readings import FloatArray

__all__ = ["PadShape"]


@dataclass(frozen=True)
class PadShape:
    """The outline of a pad in its own frame.

    Parameters
    ----------
    corners : array, shape (m, 2)
        Corners ``u, v`` in order, either way round. [m]
    parts : ConvexParts
        The outline cut into convex parts.
    radius : float
        Of a round pad, about the origin: limits on position are then held against the circle; 0 for other shapes. [m]
    """

    corners: FloatArray
    parts: ConvexParts
    radius: float = 0.0

    @classmethod
    def of(cls, pad: Pad) -> PadShape:
        """Return the shape of a pad whose outline is any simple polygon."""
        corners = np.ascontiguousarray(pad.outline, dtype=np.float64)
        return cls(corners, convex_parts(pad.outline), pad.radius or 0.0)

    @property
    def reach(self) -> float:
        """Greatest distance of a corner from the origin of the frame. [m]"""
        return self.parts.reach

    @cached_property
    def diagonal(self) -> float:
        """Greatest distance between two corners. [m]"""
        return float(np.hypot(*(self.corners[:, None] - self.corners[None]).transpose(2, 0, 1)).max())

    @cached_property
    def inner(self) -> FloatArray:
        """Return a point inside the outline: the mean of the corners of its first part, shape (2,). [m]"""
        sides = self.parts.sides[self.parts.part[0] : self.parts.part[1]]
        pairs = np.stack([sides, np.roll(sides, -1, axis=0)], axis=1)
        corners = np.linalg.solve(pairs[:, :, :2], pairs[:, :, 2:])[:, :, 0]
        middle: FloatArray = np.asarray(corners.mean(axis=0), dtype=np.float64)
        return middle

    @cached_property
    def short_side(self) -> float:
        """Least width of the outline between two parallel lines along one of its sides. [m]"""
        heights = self.parts.sides[self.parts.outer == 1, :2] @ self.corners.T
        return float(np.ptp(heights, axis=1).min())

    @cached_property
    def turn(self) -> float:
        """Smallest turn about the origin that lays the outline on itself: 90, 180 or 360. [deg]

        A round pad is given the turn of its polygon, which is a multiple of four sides.
        """
        quarter = np.stack([-self.corners[:, 1], self.corners[:, 0]], axis=-1)
        if _same_points(quarter, self.corners):
            return 90.0
        return 180.0 if _same_points(-self.corners, self.corners) else 360.0


def _same_points(one: FloatArray, other: FloatArray) -> bool:
    """Tell whether two sets of corners are the same set."""
    between = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    return bool((between.min(axis=1) < 1e-9).all())
