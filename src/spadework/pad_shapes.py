"""Outlines of pads in their own frame: an L, a circle, any simple polygon.

Every outline is brought to one form: corners clockwise from above, the middle (the centroid of its area) at the origin.
"""

from __future__ import annotations

import math

import numpy as np

from spadework.pad_rings import middle_of_area, signed_area
from spadework.readings import FloatArray

__all__ = ["CHORD", "MOST_CHORDS", "centred", "chord_error", "circle", "l_shape"]

CHORD = 0.005
"""How far the polygon of a circle may lie off the circle, while its sides are not too many. [m]"""

FEWEST_CHORDS, MOST_CHORDS = 24, 60


def centred(corners: FloatArray) -> FloatArray:
    """Return an outline clockwise from above, its first corner still the first, its middle at the origin.

    Parameters
    ----------
    corners : array, shape (m, 2)
        ``u, v`` in order, either way round. [m]
    """
    ring = np.asarray(corners, dtype=np.float64)
    # Clockwise from above is counter-clockwise in (u, v), for v lies to the right of u.
    if signed_area(ring) < 0:
        ring = np.roll(ring[::-1], 1, axis=0)
    outline: FloatArray = ring - middle_of_area(ring)
    return outline


def l_shape(length: float, width: float, corner: str, notch: tuple[float, float]) -> FloatArray:
    """Return the outline of a rectangle that lacks a smaller one at a corner, its middle at the origin, shape (6, 2).

    Parameters
    ----------
    length, width : float
        Along and across the whole. [m]
    corner : {"A", "B", "C", "D"}
        The corner of the rectangle that is missing.
    notch : (float, float)
        Along and across what is missing. [m]
    """
    u, v = length / 2, width / 2
    whole = np.array([[-u, -v], [u, -v], [u, v], [-u, v]])
    row = "ABCD".index(corner)
    at = whole[row]
    inner = at - np.sign(at) * np.array(notch)
    # Clockwise the missing corner is passed first along the side that comes to it.
    first = np.array([inner[0], at[1]]) if row in {1, 3} else np.array([at[0], inner[1]])
    last = np.array([at[0], inner[1]]) if row in {1, 3} else np.array([inner[0], at[1]])
    if row == 0:
        # A is then the end of the notch on the side AB, so that AB still is the first side.
        ring = np.vstack([last, whole[1:], first, inner])
    else:
        ring = np.vstack([whole[:row], first, inner, last, whole[row + 1 :]])
    return centred(ring)


def circle(radius: float) -> FloatArray:
    """Return a regular polygon of the same area as a circle, its first corner ahead.

    ``½ n R² sin(2π/n) = π r²`` gives the distance ``R`` of its corners from the middle. There are so many sides that
    neither corners nor sides lie off the circle by more than `CHORD`, and no more than `MOST_CHORDS`.

    Parameters
    ----------
    radius : float
        [m]

    Returns
    -------
    array, shape (n, 2)
        ``u, v``; ``n`` is a multiple of four. [m]
    """
    count = FEWEST_CHORDS
    while count < MOST_CHORDS and chord_error(radius, count) > CHORD:
        count += 4
    turn = 2.0 * math.pi * np.arange(count) / count
    outline: FloatArray = _corner_distance(radius, count) * np.column_stack([np.cos(turn), np.sin(turn)])
    # Exactly on the axes at the quarter points.
    outline[np.abs(outline) < 1e-12 * radius] = 0.0
    return outline


def chord_error(radius: float, count: int) -> float:
    """Return how far a polygon of ``count`` sides and the area of a circle lies off it at most, at its corners. [m]

    Parameters
    ----------
    radius : float
        Of the circle. [m]
    count : int
        Sides of the polygon.
    """
    corner = _corner_distance(radius, count)
    return max(corner - radius, radius - corner * math.cos(math.pi / count))


def _corner_distance(radius: float, count: int) -> float:
    """Return how far from the middle the corners stand. [m]"""
    return radius * math.sqrt(2.0 * math.pi / (count * math.sin(2.0 * math.pi / count)))
