"""What a site file draws into the ground: breaklines, holes, an outline and a reach; and the ground that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spadework.errors import Fault, InputError
from spadework.ground import Ground, triangulate_shots
from spadework.ground.breaklines import Breakline, named_breakline
from spadework.ground.clipping import clip_ground, shots_inside
from spadework.ground.rim import far_sides, supported, within_reach
from spadework.read.lines import read_lines
from spadework.read.outline import Outline, read_outline
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_ground import BreaklineTable, GroundTable, HoleTable
from spadework.survey_places import Places
from spadework.units import LengthUnit, format_area

__all__ = ["GroundLines", "bounded", "breaklines", "drawn_ground", "ground_lines"]

HOLE_ROLES = {"hole", "pond", "house", "building", "no ground"}
"""Roles of areas in a boundary file that have no ground."""


@dataclass(frozen=True)
class GroundLines:
    """What is drawn into the ground.

    Parameters
    ----------
    breaklines : tuple of Breakline
        Lines along which it bends.
    holes : tuple of (str, array of shape (n, 2))
        Names and rings of places where there is none. [m]
    outline : array, shape (n, 2), optional
        Ring beyond which there is none. [m]
    reach : str or float
        How far from a shot it is trusted [m]; ``"auto"`` by the spacing of the shots, ``"none"`` to their hull.
    """

    breaklines: tuple[Breakline, ...] = ()
    holes: tuple[tuple[str, FloatArray], ...] = ()
    outline: FloatArray | None = None
    reach: str | float = "auto"


def ground_lines(
    site: Site,
    shots: Shots | None,
    places: Places,
    *,
    coded: Sequence[Sequence[str]] = (),
    outline: Outline | None = None,
    crs: str = "",
) -> GroundLines:
    """Return what a site file draws into the ground; names that are not there become faults of ``places``.

    Parameters
    ----------
    site : Site
        The site file.
    shots : Shots, optional
        Those that lines are named by; ``None`` for a raster.
    places : Places
        Where named places are.
    coded : sequence of sequence of str
        Breaklines by the codes in the notes, as names of shots.
    outline : Outline, optional
        Of the boundary's file: its areas with a role such as ``pond`` or ``house`` are holes.
    crs : str
        System of the site axes.

    Raises
    ------
    InputError
        With every fault of the files that it names.
    """
    holes = [
        (area.name, area.rings[0])
        for area in (outline.areas if outline else ())
        if area.role.strip().casefold() in HOLE_ROLES
    ]
    faults: list[Fault] = []
    lines: list[Breakline] = []
    for number, table in enumerate(site.breaklines):
        try:
            lines += breaklines(site, number, table, shots, places, crs)
        except InputError as error:
            faults += error.faults
    for number, hole in enumerate(site.holes):
        name = hole.name or f"hole {number + 1}"
        try:
            rings = _rings(site, hole, ("hole", number), places, crs)
        except InputError as error:
            faults += error.faults
            continue
        holes += [(name, ring) for ring in rings]
        if hole.points and shots is not None and not places.faults:
            names = [*hole.points, hole.points[0]]
            lines.append(named_breakline(shots, names, name=f"of {name}", source=site.source("hole", number, "points")))
    edge: list[FloatArray] = []
    try:
        edge = _rings(site, site.ground, ("ground",), places, crs)
    except InputError as error:
        faults += error.faults
    if faults:
        raise InputError(faults)
    if shots is not None and not places.faults:
        lines += [named_breakline(shots, names, name=f"by code, {names[0]} to {names[-1]}") for names in coded]
    return GroundLines(tuple(lines), tuple(holes), edge[0] if edge else None, site.ground.reach)


def breaklines(  # noqa: PLR0917 -- what every table of places needs
    site: Site, number: int, table: BreaklineTable, shots: Shots | None, places: Places, crs: str
) -> list[Breakline]:
    """Return the breaklines of one table: one, or one for each line of its file.

    Parameters
    ----------
    site : Site
        The site file.
    number : int
        Which table ``[[breakline]]``, from 0.
    table : BreaklineTable
        What it says.
    shots : Shots, optional
        Those that it names.
    places : Places
        Takes the faults of names that are not there.
    crs : str
        System of the site axes.

    Raises
    ------
    InputError
        With every fault of its file, or if the ground is a raster and the line names shots.
    """
    name = table.name or f"{number + 1}"
    if table.file is not None:
        found = read_lines(site.path_to(table.file), name=table.file, site_crs=crs, units=site.units)
        return [Breakline(line.name or name, line.east, line.north, line.level, line.source) for line in found]
    if table.corners is not None:
        rows = np.array([[*corner, np.nan][:3] for corner in table.corners], dtype=np.float64).reshape(-1, 3)
        source = site.source("breakline", number, "corners")
        return [Breakline(name, rows[:, 0], rows[:, 1], rows[:, 2], source)]
    source = site.source("breakline", number, "points")
    known = len(places.faults)
    places.ring(table.points, source)
    if shots is None or len(places.faults) > known:
        return []
    return [named_breakline(shots, table.points, name=name, source=source)]


def drawn_ground(
    shots: Shots,
    lines: GroundLines,
    accepted: Sequence[str] = (),
    *,
    fenced: bool = False,
    unit: LengthUnit = LengthUnit.METRE,
) -> Ground:
    """Return the ground of shots with the lines drawn into it, as far as the shots reach; `bounded` cuts it off.

    Parameters
    ----------
    shots : Shots
        With positions and levels.
    lines : GroundLines
        Breaklines and reach; what stands in its holes is no ground.
    accepted : sequence of str
        Names of shots whose level is right however far it is from its neighbours.
    fenced : bool
        Whether a boundary says where the yard ends, so that long sides of the rim need no word.
    unit : LengthUnit
        The user's unit, for notices.

    Raises
    ------
    GroundError
        If they do not describe a ground.
    """
    notices: tuple[str, ...] = ()
    inside = shots_inside(shots, [ring for _, ring in lines.holes])
    if len(inside):
        names = ", ".join(shots.point[row] for row in inside.tolist())
        notices = (f"Inside a hole, so no ground is drawn through them: {names}.",)
        shots = shots.take(np.setdiff1d(np.arange(len(shots)), inside))
    ground = triangulate_shots(shots, breaklines=lines.breaklines, accept_outliers=accepted, unit=unit)
    if isinstance(lines.reach, float | int):
        ground = within_reach(ground, lines.reach, unit=unit)
    elif lines.outline is None:  # else the user says himself how far it goes
        if lines.reach == "auto":
            ground = supported(ground, fenced=fenced, unit=unit)
        elif not fenced:
            notices = (*notices, *far_sides(ground, unit=unit))
    return replace(ground, notices=(*ground.notices, *notices))


def bounded(ground: Ground, lines: GroundLines, unit: LengthUnit = LengthUnit.METRE) -> Ground:
    """Return a ground inside the outline and outside the holes, with a notice of what was taken away.

    Parameters
    ----------
    ground : Ground
        Any, also that of a raster.
    lines : GroundLines
        What bounds it.
    unit : LengthUnit
        The user's unit, for the notice.
    """
    if not lines.holes and lines.outline is None:
        return ground
    cut = clip_ground(ground, outline=lines.outline, holes=[ring for _, ring in lines.holes], unit=unit)
    away = ", ".join(name for name, _ in lines.holes)
    said = [f"no ground in {away}"] if away else []
    said += ["no ground beyond its outline"] if lines.outline is not None else []
    sentence = (
        f"{' and '.join(said)[0].upper()}{' and '.join(said)[1:]}: {format_area(ground.area - cut.area, unit)} less."
    )
    return replace(cut, notices=(*cut.notices, sentence))


def _rings(
    site: Site, table: HoleTable | GroundTable, path: tuple[str | int, ...], places: Places, crs: str
) -> list[FloatArray]:
    """Return the rings that a table draws; none, and faults of ``places``, where names are not there."""
    if table.file is not None:
        outline = read_outline(site.path_to(table.file), site_crs=crs)
        return [area.rings[0] for area in outline.areas]
    if not table.points and table.corners is None:
        return []
    key = "points" if table.points else "corners"
    ring = places.ring(table.points or table.corners or (), site.source(*path, key))
    return [] if np.isnan(ring).any() else [ring]
