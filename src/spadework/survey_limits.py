"""What a site file draws around the ground: its boundary and what the pad keeps clear of, and the axes they lie in."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from spadework.errors import Fault, InputError
from spadework.placement import KeepOut
from spadework.read.axes import choose_axes
from spadework.read.outline import Outline, read_outline
from spadework.readings import FloatArray
from spadework.site import Site
from spadework.site_schema import KeepOutTable
from spadework.survey_places import Places

__all__ = ["LOCAL", "axes_of_shots", "boundary_file", "boundary_outline", "limits_on_ground"]

LOCAL = "local"
"""What the readers call axes without a place on the Earth."""


def boundary_file(site: Site) -> Path | None:
    """Return the file that the boundary names, where it names one."""
    return site.path_to(site.boundary.file) if site.boundary and site.boundary.file else None


def axes_of_shots(site: Site) -> tuple[str, tuple[str, ...]]:
    """Return the system of a site measured by shots, and how true its distances are; refuses one that is not."""
    if not site.crs:
        return LOCAL, ()
    axes = choose_axes(
        crs=site.crs,
        outline=boundary_file(site),
        outline_crs=site.boundary.crs if site.boundary else None,
        source=site.source("site", "crs"),
    )
    return axes.crs, axes.note


def boundary_outline(site: Site, crs: str) -> tuple[Outline | None, list[Fault]]:
    """Read the file that the boundary names, where it names one."""
    file = boundary_file(site)
    if site.boundary is None or file is None:
        return None, []
    try:
        return read_outline(file, site_crs=crs, crs=site.boundary.crs), []
    except InputError as error:
        return None, list(error.faults)


def limits_on_ground(
    site: Site, outline: Outline | None, places: Places, crs: str
) -> tuple[tuple[FloatArray, ...], tuple[KeepOut, ...], list[str]]:
    """Return the boundary's rings, the keep-outs, and what is to be said of them."""
    rings: tuple[FloatArray, ...] = ()
    keep_outs: list[KeepOut] = []
    notices: list[str] = []
    table = site.boundary
    if table is not None and outline is not None:
        rings = outline.rings
        for area in outline.areas:
            if area.role.casefold() == "keep-out":
                keep_outs.append(KeepOut.polygon(area.name, area.rings[0], 0.0, area.source))
                notices.append(f"{area.name!r} of {table.file} is kept out of, as its role says.")
    elif table is not None and table.points:
        rings = (places.ring(table.points, site.source("boundary", "points")),)
    elif table is not None and table.corners is not None:
        rings = (places.ring(table.corners, site.source("boundary", "corners")),)
    for number, keep_out in enumerate(site.keep_outs):
        keep_outs.extend(_keep_out(site, number, keep_out, places, crs))
    return rings, tuple(keep_outs), notices


def _keep_out(site: Site, number: int, table: KeepOutTable, places: Places, crs: str) -> list[KeepOut]:
    """Return the keep-outs of one table: one, or one for each area of its file."""
    name = table.name or f"keep-out {number + 1}"
    if table.at is not None:
        source = site.source("keep-out", number, "at")
        east, north = places.find(table.at, source)
        if math.isnan(east):
            return []
        return [KeepOut.circle(name, (east, north), (table.radius or 0.0) + table.clearance, source)]
    if table.file is not None:
        outline = read_outline(site.path_to(table.file), site_crs=crs)
        return [KeepOut.polygon(name, area.rings[0], table.clearance, area.source) for area in outline.areas]
    corners = table.corners if table.corners is not None else table.points
    source = site.source("keep-out", number, "points" if table.points else "corners")
    ring = places.ring(corners, source)
    return [] if np.isnan(ring).any() else [KeepOut.polygon(name, ring, table.clearance, source)]
