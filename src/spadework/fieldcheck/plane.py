"""The plane that was built: how it is tilted, which way it falls, and how far the points lie off it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["BuiltPlane", "built_plane"]


@dataclass(frozen=True, slots=True)
class BuiltPlane:
    """The plane of least squares through measured points, ``level = c + a (east - e) + b (north - n)``.

    Parameters
    ----------
    slope : float
        Rise over run along the steepest line, ``√(a² + b²)``.
    aspect : float
        Bearing in which it falls, clockwise from site north. [deg]
    level : float
        Its level at the middle of the pad. [m]
    rms, worst : float
        Root mean square and greatest distance of the points from it. [m]
    corners : tuple of float
        Its level at each corner of the pad. [m]
    """

    slope: float
    aspect: float
    level: float
    rms: float
    worst: float
    corners: tuple[float, ...]

    @property
    def tilt(self) -> float:
        """How much lower the lowest corner of the pad lies on it than the highest. [m]"""
        return max(self.corners) - min(self.corners)


def built_plane(points: FloatArray, levels: FloatArray, pad: Pad, placement: Placement) -> BuiltPlane | None:
    """Return the plane of least squares through points, or None where they do not fix one.

    Parameters
    ----------
    points : array, shape (n, 2)
        Site east and north. [m]
    levels : array, shape (n,)
        [m]
    pad, placement : Pad, Placement
        Where the plane is asked for.
    """
    middle = points.mean(axis=0) if len(points) else np.zeros(2)
    local = points - middle
    spread = np.linalg.svd(local, compute_uv=False) if len(points) >= 3 else np.zeros(2)
    if spread[1] < 0.05 or spread[1] < 1e-6 * spread[0]:
        return None
    mean = float(levels.mean())
    (a, b), *_ = np.linalg.lstsq(local, levels - mean, rcond=None)
    rest = levels - mean - local @ np.array([a, b])
    corners = mean + (placement.to_site(pad.marked[1]) - middle) @ np.array([a, b])
    return BuiltPlane(
        slope=math.hypot(a, b),
        aspect=math.degrees(math.atan2(-a, -b)) % 360.0,
        level=mean + float((placement.corners(pad).mean(axis=0) - middle) @ np.array([a, b])),
        rms=math.sqrt(float(rest @ rest) / len(rest)),
        worst=float(np.abs(rest).max()),
        corners=tuple(corners.tolist()),
    )
