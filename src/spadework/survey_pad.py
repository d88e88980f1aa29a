"""The pad of a site, whose outline may be drawn in a file that lies beside the site file."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError
from spadework.pad import Pad
from spadework.pad_rings import middle_of_area
from spadework.pad_shapes import chord_error
from spadework.read.outline import Area, read_outline
from spadework.site import Site
from spadework.units import LengthUnit, format_inches, format_length, length_step

__all__ = ["DrawnPad", "site_pad"]


@dataclass(frozen=True)
class DrawnPad:
    """The pad of a site.

    Parameters
    ----------
    pad : Pad
        The pad in its own frame.
    middle : (float, float), optional
        East and north of its middle where a file draws it. [m]
    notices : tuple of str
        What the user should know of its shape.
    """

    pad: Pad
    middle: tuple[float, float] | None = None
    notices: tuple[str, ...] = ()


def site_pad(site: Site, crs: str) -> DrawnPad:
    """Return the pad that a site file asks for.

    Parameters
    ----------
    site : Site
        The site file.
    crs : str
        Coordinate reference system of the site axes, as `spadework.read.outline.read_outline` takes it.

    Raises
    ------
    InputError
        If there is no pad, its file cannot be read or holds not exactly one outline, or the outline is none.
    """
    table = site.pad_table
    if table is None or table.file is None:
        pad = site.pad
        return DrawnPad(pad, None, _round_notice(pad, site.units))
    outline = read_outline(site.path_to(table.file), site_crs=crs, crs=table.crs)
    found = [area for area in outline.areas if area.role.casefold() == "pad"] or list(outline.areas)
    faults = _file_faults(site, found)
    if faults:
        raise InputError(faults)
    ring = found[0].rings[0]
    east, north = (float(value) for value in middle_of_area(np.asarray(ring, dtype=np.float64)))
    return DrawnPad(site.pad_drawn(ring), (east, north), outline.note)


def _file_faults(site: Site, found: list[Area]) -> list[Fault]:
    """Return what is wrong with the areas of a file that should hold the pad."""
    source = site.source("pad", "file")
    if len(found) != 1:
        names = ", ".join(repr(area.name) for area in found) or "none"
        return [
            Fault(
                f"[pad] file holds {len(found)} areas: {names}",
                "the pad is one area",
                'Keep one, or give the pad\'s area the property role = "pad"',
                source,
            )
        ]
    if len(found[0].rings) > 1:
        return [
            Fault(
                f"{found[0].name!r} has a hole",
                "a pad has one outline and no hole",
                "Draw its outline only; what stands inside is left out of the digging by hand",
                found[0].source,
            )
        ]
    return []


def _round_notice(pad: Pad, unit: LengthUnit) -> tuple[str, ...]:
    """Return how a round pad is worked out."""
    if pad.radius is None:
        return ()
    count = len(pad.outline)
    step = length_step(unit)
    off = math.ceil(chord_error(pad.radius, count) / step) * step  # up, so that it stays true
    within = format_inches(off) if unit is LengthUnit.FOOT_INCH else format_length(off, unit)
    across = format_length(2 * pad.radius, unit)
    words = f"The round pad, {across} across, is worked out as a polygon of {count} sides and the same area: "
    return (f"{words}its edge lies within {within} of the circle.",)
