"""The corners of a frame: how the timbers of two sides meet, by the angle between them."""

from __future__ import annotations

import math

import numpy as np

from spadework.readings import FloatArray

__all__ = ["SHARPEST", "corner_angles", "inside_corner", "is_square", "saw_angle", "taken_off"]

SQUARE_WITHIN = 0.5
"""Corners within this of 90° or 270° are overlapped like square ones: common practice, no source. [deg]"""
SHARPEST = 30.0
"""A sharper corner is not drawn up: its mitre is more than four times as long as the timber is thick. [deg]"""


def corner_angles(outline: FloatArray) -> FloatArray:
    """Return the angle inside each corner of an outline, shape (m,): above 180 where it turns inward. [deg]

    Parameters
    ----------
    outline : array, shape (m, 2)
        Corners ``u, v`` clockwise from above. [m]
    """
    before, after = outline - np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0) - outline
    # Clockwise from above is counter-clockwise in (u, v), for v lies to the right of u.
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))
    angles: FloatArray = 180.0 - turn
    return angles


def is_square(angle: float) -> bool:
    """Tell whether timbers are overlapped at a corner, course by course: at a right angle, turned outward or inward."""
    return min(abs(angle - 90.0), abs(angle - 270.0)) <= SQUARE_WITHIN


def inside_corner(angle: float) -> bool:
    """Tell whether the outline turns inward at a corner."""
    return angle > 180.0


def taken_off(angle: float, width: float) -> float:
    """Return what a strip along the inside of a side loses at a corner: ``w cot(angle / 2)``. [m]

    The strips of both sides together cover ``w² cot(angle / 2)`` less than each by itself; at a corner that turns
    inward they cover more, and it is below zero.

    Parameters
    ----------
    angle : float
        Inside the corner. [deg]
    width : float
        Of the strip. [m]
    """
    if is_square(angle):
        return -width if inside_corner(angle) else width
    return width / math.tan(math.radians(angle / 2.0))


def saw_angle(angle: float) -> float:
    """Return how far off square both timbers of a corner are sawn: ``|90 - angle / 2|``; 0 at a square one. [deg]

    Parameters
    ----------
    angle : float
        Inside the corner. [deg]
    """
    return 0.0 if is_square(angle) else abs(90.0 - angle / 2.0)
