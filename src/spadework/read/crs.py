"""Coordinate reference systems: naming one, and its flat, metric and geographic relatives."""

from __future__ import annotations

import difflib

from pyproj import CRS
from pyproj.exceptions import CRSError

from spadework.errors import Fault, InputError, Source

__all__ = ["LONGITUDE_LATITUDE", "crs_text", "geographic", "horizontal", "in_metres", "parse_crs", "unsuitable_axes"]

LONGITUDE_LATITUDE = "OGC:CRS84"
"""WGS 84 longitude and latitude in degrees, in this order: what RFC 7946 section 4 prescribes."""

WORDS_FOR_LOCAL = ("local", "none", "site")


def parse_crs(text: str, source: Source | None = None) -> CRS | None:
    """Return the coordinate reference system that a text names, or ``None`` for ``local``.

    Parameters
    ----------
    text : str
        ``EPSG:27700``, another authority's code, well-known text, a PROJ string; ``local`` for plain metres.
    source : Source, optional
        Where the text stands, for the error.

    Raises
    ------
    InputError
        When it names nothing.
    """
    word = text.strip()
    if not word or word.casefold() in WORDS_FOR_LOCAL:
        return None
    try:
        return CRS.from_user_input(word)
    except CRSError:
        guess = difflib.get_close_matches(word.casefold(), WORDS_FOR_LOCAL, n=1)
        remedy = f"Did you mean {guess[0]!r}? " if guess else ""
        raise InputError(
            Fault(
                f"{word!r} names no coordinate reference system",
                "it is written as authority and number, EPSG:27700 for instance, or as well-known text",
                f"{remedy}look the number up in the raster's own description, or write local for plain metres",
                source or Source(),
                text,
            )
        ) from None


def crs_text(crs: CRS) -> str:
    """Return the shortest text that names a coordinate reference system exactly."""
    authority = crs.to_authority(min_confidence=100)
    if authority and CRS.from_authority(*authority).equals(crs):
        return ":".join(authority)
    return crs.to_wkt()


def horizontal(crs: CRS) -> CRS:
    """Return the part of a coordinate reference system that speaks of east and north only."""
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    if crs.is_bound and crs.source_crs is not None:
        return horizontal(crs.source_crs)
    return crs.to_2d() if len(crs.axis_info) > 2 else crs


def geographic(crs: CRS) -> CRS:
    """Return the longitude and latitude that a system is built on."""
    base = horizontal(crs).geodetic_crs
    if base is None:
        raise InputError(
            Fault(
                f"{crs.name} has no place on the Earth",
                "longitude and latitude need a system with a datum",
                "give the system in which the file really is, as crs",
            )
        )
    return base.to_2d() if len(base.axis_info) > 2 else base


def in_metres(crs: CRS, source: Source | None = None) -> CRS:
    """Return the same projection with its axes in metres; the very same object when they are already.

    Parameters
    ----------
    crs : CRS
        A projected system.
    source : Source, optional
        Where the user asked for it.

    Raises
    ------
    InputError
        When it counts degrees.
    """
    if not crs.is_projected:
        raise InputError(unsuitable_axes(crs, "counts degrees, not metres", source))
    if all(axis.unit_conversion_factor == 1.0 for axis in crs.axis_info):
        return crs
    description = crs.to_json_dict()
    description.pop("id", None)
    description["name"] = f"{crs.name}, in metres"
    for axis in description["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    return CRS.from_json_dict(description)


def unsuitable_axes(crs: CRS, says: str, source: Source | None) -> Fault:
    """Return the fault of a system that cannot serve as site axes."""
    return Fault(
        f"{crs.name} {says}",
        "site axes are metres, true to one part in a thousand",
        "choose the national grid or the UTM zone of the place, or leave crs out for axes made for this site",
        source or Source(column="crs"),
        crs.name,
    )
