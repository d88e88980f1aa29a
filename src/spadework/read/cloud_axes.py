"""Units and axes of a point cloud: feet to metres, and onto axes that are true here."""

from __future__ import annotations

from typing import Any

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.crs import horizontal, parse_crs
from spadework.read.projection import site_axes
from spadework.read.transform import convert, longitude_latitude
from spadework.read.vertical import vertical_axis, vertical_factor
from spadework.readings import FloatArray
from spadework.units import FOOT, LengthUnit

__all__ = ["settled_axes", "unit_factors"]


def unit_factors(
    crs: Any, vertical_unit: str | None, units: LengthUnit | None, source: Source
) -> tuple[float, float, list[str]]:
    """Return the length of one unit of east and north, and of one unit of level, and how they were found. [m]

    Raises
    ------
    InputError
        When the cloud counts degrees, or nothing says in what unit its levels are.
    """
    if crs is None:
        size = 1.0 if units in (None, LengthUnit.METRE) else FOOT
        word = "metres" if size == 1.0 else "feet"
        note = f"the file has no coordinate reference system: taken in {word}, in axes of its own"
        if vertical_unit is None:
            return size, size, [note]
        factor, _ = vertical_factor(
            vertical_unit, band_unit="", axis_unit="", axis_metres=float("nan"), horizontal_metres=size, source=source
        )
        return size, factor, [note]
    flat = horizontal(crs)
    if not flat.is_projected:
        what = f"the cloud counts degrees ({flat.name})"
        remedy = "project it into a grid in metres or feet first"
        raise InputError(Fault(what, "distances between points are in metres or feet", remedy, source))
    size = float(flat.axis_info[0].unit_conversion_factor)
    axis_unit, axis_metres = vertical_axis(crs)
    factor, note = vertical_factor(
        vertical_unit,
        band_unit="",
        axis_unit=axis_unit,
        axis_metres=axis_metres,
        horizontal_metres=size,
        source=source,
    )
    return size, factor, [note]


def settled_axes(
    crs: Any, east: FloatArray, north: FloatArray, source: Source
) -> tuple[FloatArray, FloatArray, str, tuple[str, ...]]:
    """Return positions in axes of metres that are true here, and their coordinate reference system.

    Parameters
    ----------
    crs : pyproj.CRS or None
        System of the cloud.
    east, north : array, shape (n,)
        Positions in it, already in metres. [m]
    source : Source
        The cloud.
    """
    if crs is None:
        return east, north, "", ()
    flat = horizontal(crs)
    size = float(flat.axis_info[0].unit_conversion_factor)
    middle = np.array([np.median(east) / size]), np.array([np.median(north) / size])
    lon, lat = longitude_latitude(flat, *middle)
    axes = site_axes(flat, float(np.ravel(lon)[0]), float(np.ravel(lat)[0]), source=source)
    wanted = parse_crs(axes.crs)
    if wanted is None:
        return east, north, "", axes.note
    if scaled_only(flat, wanted):
        return east, north, axes.crs, axes.note
    new_east, new_north, note = convert(flat, wanted, east / size, north / size, source=source)
    return new_east, new_north, axes.crs, (*axes.note, *note)


def scaled_only(flat: Any, wanted: Any) -> bool:
    """Say whether two systems differ by the unit of their axes at most."""
    from spadework.read.crs import in_metres  # noqa: PLC0415 - beside its only use

    return bool(in_metres(flat).equals(wanted, ignore_axis_order=True))
