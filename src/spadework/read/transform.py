"""Bring positions from one coordinate reference system to another, and say how sure the change is."""

from __future__ import annotations

import math
import warnings
from functools import lru_cache

import numpy as np
from pyproj import CRS, Proj
from pyproj.exceptions import ProjError
from pyproj.transformer import AreaOfInterest, TransformerGroup

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import geographic, horizontal
from spadework.readings import FloatArray

__all__ = ["convert", "longitude_latitude"]

NAMED_ACCURACY = 0.05
"""A change of reference system that is less sure than this is mentioned. [m]"""


def convert(
    start: CRS, end: CRS, east: FloatArray, north: FloatArray, *, source: Source | None = None
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Bring positions from one coordinate reference system to another.

    Parameters
    ----------
    start, end : CRS
        From and to.
    east, north : array, any shape
        Positions, east (or longitude) always first, in the unit of `start`.
    source : Source, optional
        Whose positions they are, for the error.

    Returns
    -------
    east, north : array, same shape
        Positions in the unit of `end`; infinite where the projection has no value.
    note : tuple of str
        How sure the change is, where it is less sure than 5 cm.

    Raises
    ------
    InputError
        When no way between the two is known: a ballpark may be a hundred metres off.
    """
    start, end = horizontal(start), horizontal(end)
    if start.equals(end, ignore_axis_order=True):
        return east, north, ()
    operations = _operations(start.to_wkt(), end.to_wkt(), _area(start, east, north))
    if not operations.transformers:
        if _operations(start.to_wkt(), end.to_wkt(), None).transformers:
            raise InputError(_out_of_use(start, end, east, north, source))
        raise InputError(
            Fault(
                f"no way from {start.name} to {end.name} is known",
                "positions taken over unchanged could be a hundred metres off",
                "bring the file to the other's coordinate reference system with a tool that has the national grids",
                source or Source(),
            )
        )
    transformer = operations.transformers[0]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        moved_east, moved_north = transformer.transform(east, north)
    notes = []
    accuracy = transformer.accuracy
    if not 0 <= accuracy <= NAMED_ACCURACY:
        sure = f"to about {accuracy:g} m" if accuracy > 0 else "to an accuracy that is not stated"
        better = "" if operations.best_available else "; a better one needs a national grid file that is not installed"
        notes.append(f"the step from {start.name} to {end.name} is known {sure}{better}")
    return np.asarray(moved_east, dtype=np.float64), np.asarray(moved_north, dtype=np.float64), tuple(notes)


def longitude_latitude(crs: CRS, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return longitude and latitude, in the system's own datum, of positions in it. [deg]

    Parameters
    ----------
    crs : CRS
        Any projected or geographic system.
    east, north : array, shape (n,)
        Positions in the system's own unit, east (or longitude) first.
    """
    flat = horizontal(crs)
    lon, lat, _ = convert(flat, geographic(flat), east, north)
    return lon, lat


@lru_cache(maxsize=32)
def _operations(start: str, end: str, area: AreaOfInterest | None) -> TransformerGroup:
    """Return the ways from one system to another, the surest first, ballparks left out."""
    with warnings.catch_warnings():
        # A missing national grid is told in the notes, with the accuracy of what is used in its place.
        warnings.simplefilter("ignore")
        return TransformerGroup(start, end, always_xy=True, allow_ballpark=False, area_of_interest=area)


def _area(crs: CRS, east: FloatArray, north: FloatArray) -> AreaOfInterest | None:
    """Return the bounds of positions in degrees, rounded outwards so that neighbours share an answer."""
    usable = np.isfinite(east) & np.isfinite(north)
    if not usable.any():
        return None
    e, n = np.asarray(east)[usable], np.asarray(north)[usable]
    corners_east = np.array([e.min(), e.max(), e.min(), e.max()])
    corners_north = np.array([n.min(), n.min(), n.max(), n.max()])
    if crs.is_projected:
        corners_east, corners_north = Proj(crs)(
            corners_east * crs.axis_info[0].unit_conversion_factor,
            corners_north * crs.axis_info[0].unit_conversion_factor,
            inverse=True,
        )
    west, east_most = math.floor(10 * np.min(corners_east)) / 10, math.ceil(10 * np.max(corners_east)) / 10
    south, north_most = math.floor(10 * np.min(corners_north)) / 10, math.ceil(10 * np.max(corners_north)) / 10
    try:
        return AreaOfInterest(west, max(south, -90.0), east_most, min(north_most, 90.0))
    except (ProjError, ValueError):
        return None


def _out_of_use(start: CRS, end: CRS, east: FloatArray, north: FloatArray, source: Source | None) -> Fault:
    """Return the fault of positions in a part of the Earth that the other system does not serve."""
    use = end.area_of_use
    serves = f"{end.name} serves {use.name}" if use else f"{end.name} serves another part of the Earth"
    place = f"{np.nanmin(east):.6g}, {np.nanmin(north):.6g} to {np.nanmax(east):.6g}, {np.nanmax(north):.6g}"
    return Fault(
        f"positions from {place} in {start.name} lie where {end.name} is not used",
        serves,
        "check the coordinates, and that east or longitude comes first; or choose the system of the place",
        source or Source(),
    )
