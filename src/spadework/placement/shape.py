"""The pad's outline as a search needs it: convex pieces, reach, inner point, and the turn that repeats it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spadework.errors import Fault, InputError
from spadework.pad import Pad
from spadework.placement.limits import signed_area
from spadework.readings import FloatArray, IntArray

__all__ = ["PadShape"]


@dataclass(frozen=True)
class PadShape:
    """The outline of a pad in its own frame, corners ``u, v``.

    Parameters
    ----------
    corners : array, shape (m, 2)
        Corners with the inside on the left in ``u, v`` axes (clockwise on the ground). [m]
    normals : array, shape (h, 2)
        Outward unit normals of the sides of the convex pieces.
    offsets : array, shape (h,)
        A point p is inside a piece where ``normal . p <= offset`` for all of its sides. [m]
    outer : array of bool, shape (h,)
        Whether that side is part of the outline, or only divides two pieces.
    piece_start : array of int, shape (k + 1,)
        First side of each piece.
    inner : array, shape (2,)
        A point inside the outline. [m]
    """

    corners: FloatArray
    normals: FloatArray
    offsets: FloatArray
    outer: IntArray
    piece_start: IntArray
    inner: FloatArray

    @classmethod
    def of(cls, pad: Pad) -> PadShape:
        """Return the shape of a pad whose outline is any simple polygon."""
        corners = np.asarray(pad.outline, dtype=np.float64)
        if signed_area(corners) < 0:
            corners = corners[::-1]
        corners = np.ascontiguousarray(_without_straight_corners(corners))
        count = len(corners)
        pieces = [list(range(count))] if _is_convex(corners) else _ears(corners)
        starts, normals, offsets, outer = [0], [], [], []
        for piece in pieces:
            for here, there in zip(piece, [*piece[1:], piece[0]], strict=True):
                along = corners[there] - corners[here]
                length = math.hypot(*along)
                normal = np.array([along[1], -along[0]]) / length
                normals.append(normal)
                offsets.append(float(normal @ corners[here]))
                outer.append(int((here + 1) % count == there))
            starts.append(len(normals))
        return cls(
            corners=corners,
            normals=np.array(normals),
            offsets=np.array(offsets),
            outer=np.array(outer, dtype=np.int64),
            piece_start=np.array(starts, dtype=np.int64),
            inner=corners[pieces[0]].mean(axis=0),
        )

    @cached_property
    def reach(self) -> float:
        """Greatest distance of a corner from the origin of the frame. [m]"""
        return float(np.hypot(*self.corners.T).max())

    @cached_property
    def diagonal(self) -> float:
        """Greatest distance between two corners. [m]"""
        return float(np.hypot(*(self.corners[:, None] - self.corners[None]).transpose(2, 0, 1)).max())

    @cached_property
    def short_side(self) -> float:
        """Least width of the outline between two parallel lines along one of its sides. [m]"""
        outer = self.normals[self.outer == 1]
        heights = outer @ self.corners.T
        return float((heights.max(axis=1) - heights.min(axis=1)).min())

    @cached_property
    def turn(self) -> float:
        """Smallest turn about the origin that lays the outline on itself: 90, 180 or 360. [deg]"""
        quarter = np.stack([-self.corners[:, 1], self.corners[:, 0]], axis=-1)
        if _same_points(quarter, self.corners):
            return 90.0
        return 180.0 if _same_points(-self.corners, self.corners) else 360.0


def _same_points(one: FloatArray, other: FloatArray) -> bool:
    """Tell whether two sets of corners are the same set."""
    apart = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    return bool((apart.min(axis=1) < 1e-9).all())


def _cross(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    """Return twice the signed area of a triangle."""
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _without_straight_corners(corners: FloatArray) -> FloatArray:
    """Return the corners at which the outline turns."""
    count = len(corners)
    turns = [abs(_cross(corners[i - 1], corners[i], corners[(i + 1) % count])) > 1e-12 for i in range(count)]
    return corners[np.array(turns)]


def _is_convex(corners: FloatArray) -> bool:
    """Tell whether every corner turns to the left, or runs straight on."""
    count = len(corners)
    return all(_cross(corners[i - 1], corners[i], corners[(i + 1) % count]) >= -1e-12 for i in range(count))


def _ears(corners: FloatArray) -> list[list[int]]:
    """Cut a simple polygon into triangles, an ear at a time."""
    left = list(range(len(corners)))
    triangles = []
    while len(left) > 3:
        for place, here in enumerate(left):
            before, after = left[place - 1], left[(place + 1) % len(left)]
            a, b, c = corners[before], corners[here], corners[after]
            if _cross(a, b, c) <= 1e-12:
                continue
            rest = [corners[i] for i in left if i not in (before, here, after)]
            if any(_cross(a, b, p) >= 0 and _cross(b, c, p) >= 0 and _cross(c, a, p) >= 0 for p in rest):
                continue
            triangles.append([before, here, after])
            left.pop(place)
            break
        else:
            raise InputError(
                Fault(
                    "the pad's outline crosses itself",
                    rule="its corners are named in order round the outline",
                    remedy="Put the corners in order, each once",
                )
            )
    return [*triangles, left]

