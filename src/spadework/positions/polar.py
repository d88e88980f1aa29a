"""Directions and distances to east and north, and back."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError, Source
from spadework.readings import FloatArray

__all__ = ["bearing_and_distance", "intersect_bearings", "polar", "turned_bearing"]

PARALLEL = 1e-6
"""Two lines whose directions differ by less than this sine do not meet anywhere near."""


def polar(
    east: npt.ArrayLike, north: npt.ArrayLike, bearing: npt.ArrayLike, distance: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return where a direction and a distance lead: ``E = E0 + d sin b``, ``N = N0 + d cos b``.

    Parameters
    ----------
    east, north : array, any shape
        Where the line starts. [m]
    bearing : array, same shape
        Clockwise from north. [deg]
    distance : array, same shape
        Along the line, horizontal. [m]

    Returns
    -------
    east, north : array, same shape
        Its end. [m] (University of Melbourne, plane survey pages, radiation.)
    """
    turn = np.deg2rad(np.asarray(bearing, dtype=np.float64))
    length = np.asarray(distance, dtype=np.float64)
    return np.asarray(east) + length * np.sin(turn), np.asarray(north) + length * np.cos(turn)


def bearing_and_distance(east: npt.ArrayLike, north: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the bearing and the length of a line by its extent to the east and to the north.

    Parameters
    ----------
    east, north : array, any shape
        End less start. [m]

    Returns
    -------
    bearing : array, same shape
        Clockwise from north, from 0 up to 360. [deg]
    distance : array, same shape
        Horizontal. [m]
    """
    along, up = np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)
    bearing = np.rad2deg(np.arctan2(along, up)) % 360.0
    return np.where(bearing >= 360.0, 0.0, bearing), np.hypot(along, up)


def turned_bearing(angle: npt.ArrayLike) -> FloatArray:
    """Return an angle as the same turn between -180 and 180. [deg]"""
    return (np.asarray(angle, dtype=np.float64) + 180.0) % 360.0 - 180.0


def intersect_bearings(
    first: tuple[float, float],
    first_bearing: float,
    second: tuple[float, float],
    second_bearing: float,
    source: Source | None = None,
) -> tuple[float, float]:
    """Return the point seen under one bearing from a first point and under another from a second.

    Parameters
    ----------
    first, second : tuple of float
        ``east, north`` of the two points. [m]
    first_bearing, second_bearing : float
        Clockwise from north. [deg]
    source : Source, optional
        Where it was written, for the error.

    Returns
    -------
    tuple of float
        ``east, north``. [m]

    Raises
    ------
    InputError
        If the two lines are parallel, or meet behind one of the points.
    """
    one, two = math.radians(first_bearing), math.radians(second_bearing)
    turn = math.sin(two - one)
    de, dn = second[0] - first[0], second[1] - first[1]
    if abs(turn) < PARALLEL:
        what = f"bearings of {first_bearing:.4f}° and {second_bearing:.4f}° are parallel"
        raise InputError(
            Fault(what, "two lines of sight meet in one point", "sight it from elsewhere", source or Source())
        )
    along = (de * -math.cos(two) + dn * math.sin(two)) / turn
    back = (de * -math.cos(one) + dn * math.sin(one)) / turn
    if along < 0 or back < 0:
        behind = "first" if along < 0 else "second"
        what = f"the lines meet behind the {behind} point"
        rule = "what is sighted lies ahead of the instrument"
        raise InputError(Fault(what, rule, "check the bearings: is one turned by 180°?", source or Source()))
    return first[0] + along * math.sin(one), first[1] + along * math.cos(one)
