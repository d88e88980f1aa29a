"""What a site file draws around the ground: its boundary and what the pad keeps clear of, and the axes they lie in."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from spadework.errors import Fault, InputError
from spadework.placement import KeepOut
from spadework.placement.land import land_rings
from spadework.read.axes import choose_axes
from spadework.read.lines import read_lines
from spadework.read.outline import Area, Outline, read_outline
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_positions import FeatureTable
from spadework.site_schema import KeepOutTable
from spadework.survey_features import read_code
from spadework.survey_places import Places

__all__ = ["LOCAL", "axes_of_shots", "boundary_file", "boundary_outline", "limits_on_ground"]

LOCAL = "local"
"""What the readers call axes without a place on the Earth."""


def boundary_file(site: Site) -> Path | None:
    """Return the file that the boundary names, where it names one: the first of several tables counts."""
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
    site: Site, outline: Outline | None, places: Places, crs: str, shots: Shots | None = None
) -> tuple[tuple[FloatArray, ...], tuple[KeepOut, ...], list[str]]:
    """Return the boundary's rings, the keep-outs, and what is to be said of them.

    Parameters
    ----------
    site : Site
        The site file.
    outline : Outline, optional
        What the file of its first boundary holds.
    places : Places
        Positions of what it names.
    crs : str
        Coordinate reference system of the site axes.
    shots : Shots, optional
        Those whose notes carry codes.
    """
    lands: list[tuple[FloatArray, ...]] = []
    keep_outs: list[KeepOut] = []
    notices: list[str] = []
    setbacks = {table.setback for table in site.boundaries}
    if len(setbacks) > 1:
        places.faults.append(
            Fault(
                "the tables [[boundary]] have different setbacks",
                "they are joined to one piece of land, which has one setback",
                "Give all the same; keep a side's own distance by [[keep-out]] with line = true and a clearance",
                site.source("boundary", 1, "setback"),
            )
        )
    for number, table in enumerate(site.boundaries):
        key = "points" if table.points else "corners"
        if table.file is not None:
            found = outline if number == 0 else read_outline(site.path_to(table.file), site_crs=crs, crs=table.crs)
            if found is None:
                continue
            kept = [KeepOut(a.name, a.rings[0], 0.0, a.source, holes=a.rings[1:]) for a in found.areas if _kept_out(a)]
            keep_outs += kept
            notices += [f"{keep_out.name!r} of {table.file} is kept out of, as its role says." for keep_out in kept]
            lands += found.lands
        elif table.points or table.corners is not None:
            places_of = table.points or table.corners or ()
            ring = places.ring(places_of, site.source(*site.boundary_key(number, key)))
            lands.append((ring,))
        holes = [places.ring(hole, site.source(*site.boundary_key(number, "holes"))) for hole in table.holes]
        if holes and lands and not any(np.isnan(ring).any() for ring in holes):
            lands[-1] = (*lands[-1], *holes)
    for number, keep_out in enumerate(site.keep_outs):
        keep_outs.extend(_keep_outs(site, number, keep_out, places, crs, shots))
    if any(np.isnan(ring).any() for rings in lands for ring in rings):
        return (), tuple(keep_outs), notices
    rings = land_rings(lands) if lands else ()
    if len(lands) > 1:
        notices.append(f"The boundary is what lies in one of {len(lands)} pieces of land at least.")
    return rings, tuple(keep_outs), notices


def _kept_out(area: Area) -> bool:
    """Tell whether the role of an area of the boundary's file keeps the pad out of it."""
    return area.role.casefold() == "keep-out"


def _keep_outs(  # noqa: PLR0917 -- the table, and what it may name
    site: Site, number: int, table: KeepOutTable, places: Places, crs: str, shots: Shots | None
) -> list[KeepOut]:
    """Return the keep-outs of one table: one, or one for each shape of its file or each shot of its code."""
    name = table.name or f"keep-out {number + 1}"
    if table.at is not None:
        source = site.source("keep-out", number, "at")
        east, north = places.find(table.at, source)
        if math.isnan(east):
            return []
        return [KeepOut.circle(name, (east, north), (table.radius or 0.0) + table.clearance, source)]
    if table.file is not None:
        return _from_file(site, number, table, crs, name)
    if table.code is not None:
        return _coded(site, number, table, shots, name, places)
    corners = table.corners if table.corners is not None else table.points
    source = site.source("keep-out", number, "points" if table.points else "corners")
    ring = places.ring(corners, source)
    if np.isnan(ring).any():
        return []
    make = KeepOut.line if table.line else KeepOut.polygon
    return [make(name, ring, table.clearance, source)]


def _from_file(site: Site, number: int, table: KeepOutTable, crs: str, name: str) -> list[KeepOut]:
    """Return a keep-out for each area and each point of a file, or for each line."""
    file = str(table.file)
    if table.line:
        lines = read_lines(site.path_to(file), name=file, site_crs=crs, units=site.units)
        return [
            KeepOut.line(
                line.name or (name if len(lines) == 1 else f"{name} {row + 1}"),
                np.column_stack([line.east, line.north]),
                table.clearance,
                line.source,
            )
            for row, line in enumerate(lines)
        ]
    outline = read_outline(site.path_to(file), site_crs=crs)
    if outline.marks and not table.clearance > 0:
        raise InputError(
            Fault(
                f"{file} holds points, and [keep-out {number + 1}] has no clearance",
                "a point is kept clear of by a distance",
                "Give clearance, or take the points out of the file",
                site.source("keep-out", number, "file"),
            )
        )
    return [
        *(KeepOut(a.name, a.rings[0], table.clearance, a.source, holes=a.rings[1:]) for a in outline.areas),
        *(KeepOut.circle(mark.name, (mark.east, mark.north), table.clearance, mark.source) for mark in outline.marks),
    ]


def _coded(  # noqa: PLR0917 -- the table, and what it may name
    site: Site, number: int, table: KeepOutTable, shots: Shots | None, name: str, places: Places
) -> list[KeepOut]:
    """Return a circle about each shot whose note begins with a code, or lines through them in their order."""
    code, source = str(table.code).upper(), site.source("keep-out", number, "code")
    groups: dict[str, list[int]] = {}
    for row, note in enumerate(shots.note if shots is not None else ()):
        read = read_code(note, {code: FeatureTable(role="none")})
        if shots is not None and read is not None and math.isfinite(float(shots.east[row] + shots.north[row])):
            groups.setdefault(read[1], []).append(row)
    if shots is None or not groups:
        rule = "a code stands at the beginning of the note of a shot"
        places.faults.append(Fault(f"no shot has the code {code!r}", rule, "Correct it, or take it out", source, code))
        return []
    if not table.line:
        radius = (table.radius or 0.0) + table.clearance
        every = [row for rows in groups.values() for row in rows]
        return [
            KeepOut.circle(f"{name} {shots.point[row]}", (float(east), float(north)), radius, source)
            for row, east, north in zip(every, shots.east[every], shots.north[every], strict=True)
        ]
    found = []
    for which, rows in groups.items():
        ring = np.column_stack([shots.east[rows], shots.north[rows]])
        called = f"{name} {which}".strip()
        found.append(
            KeepOut.line(called, ring, table.clearance, source)
            if len(rows) > 1
            else KeepOut.circle(called, (float(ring[0, 0]), float(ring[0, 1])), table.clearance, source)
        )
    return found
