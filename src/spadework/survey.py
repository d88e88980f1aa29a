"""A site file's readings, boundary and keep-outs brought together: what a plan is made from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from spadework.confidence import GroundStudy
from spadework.errors import Fault, InputError, Source
from spadework.factors import soil_factors
from spadework.ground import Ground, raster_ground, triangulate_shots
from spadework.levels import ReducedLevels
from spadework.placement import BearingLimit, FinishLimit, KeepOut, Limits, PositionLimit, goal_named
from spadework.plan import PlanInputs, Reference
from spadework.read import Recognised, looks_like_raster
from spadework.read.axes import choose_axes
from spadework.read.outline import Mark, Outline, read_outline
from spadework.read.raster import read_raster
from spadework.readings import FloatArray, RasterReading
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_schema import KeepOutTable, ReadingsTable
from spadework.survey_features import Features, find_features
from spadework.survey_ground import studied_ground
from spadework.survey_levels import SurveyPart, joined_shots, named_shots
from spadework.survey_parts import read_parts
from spadework.survey_places import Places
from spadework.survey_stakes import stake_inputs
from spadework.survey_surface import given_surface
from spadework.units import format_length

__all__ = ["Survey", "load_survey", "plan_inputs"]

LOCAL = "local"
"""What the readers call axes without a place on the Earth."""
DEFAULT_SOIL = "loam"
DEFAULT_TAPE = 30.0


@dataclass(frozen=True)
class Survey:
    """Everything that was measured, reduced and laid into one set of axes.

    Parameters
    ----------
    ground : Ground
        The surface.
    shots : Shots, optional
        All shots, also those that only mark a place or only have a level; ``None`` for a raster.
    levels : tuple of ReducedLevels
        The level books.
    boundary : tuple of array, shape (n, 2)
        Rings, the outer first; empty where the site has no boundary. [m]
    keep_outs : tuple of KeepOut
        What the pad keeps clear of.
    marks : tuple of Mark
        Named points of an outline file.
    bench : (str, float), optional
        Bench mark, or the level line, and its level. [m]
    crs : str
        Coordinate reference system of the axes; empty where there is none.
    sentences : tuple of str
        What each file was read as, and how its levels closed.
    notices, overrides : tuple of str
        What the user should know; rules that were set aside.
    coarse_levels : bool
        Whether any level comes from an instrument unfit for a pad.
    features : Features
        What the codes in the notes make of the shots.
    recognised : tuple of Recognised
        What each file was taken for, column by column.
    """

    ground: Ground
    shots: Shots | None
    levels: tuple[ReducedLevels, ...]
    boundary: tuple[FloatArray, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    marks: tuple[Mark, ...] = ()
    bench: tuple[str, float] | None = None
    crs: str = ""
    sentences: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    coarse_levels: bool = False
    study: GroundStudy | None = None
    places: Places = field(default_factory=lambda: Places(None), repr=False, compare=False)
    features: Features = field(default_factory=Features)
    recognised: tuple[Recognised, ...] = field(default=(), repr=False)


def load_survey(site: Site, *, allow_misclosure: bool = False) -> Survey:
    """Read everything that a site file names.

    Parameters
    ----------
    site : Site
        The site file.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance, as the site file may also say.

    Returns
    -------
    Survey
        In site axes and metres.

    Raises
    ------
    InputError
        With every fault of the files and of the names that the site file uses.
    SurveyError
        If a level run does not close, or the shots do not describe a ground.
    """
    if not site.readings:
        raise InputError(
            Fault("there is no table [[readings]]", "a site needs something measured", "", site.source("site"))
        )
    rasters = [table for table in site.readings if _is_raster(site, table)]
    if rasters:
        return _raster_survey(site, rasters)
    read = read_parts(site, allow_misclosure=allow_misclosure)
    parts, faults = read.parts, list(read.faults)
    crs, axes_notes = (read.crs, ()) if read.crs else _axes_of_shots(site)
    outline, outline_faults = _boundary_outline(site, crs)
    faults += outline_faults
    if faults:
        raise InputError(faults)
    shots, notices = joined_shots(parts)
    features = find_features(site, shots)
    accepted = [name for table in site.readings for name in table.accept]
    places = Places(shots, outline.marks if outline else ())
    boundary, keep_outs, more = _limits_on_ground(site, outline, places, crs)
    if places.faults:
        raise InputError(places.faults)
    standing = np.flatnonzero(np.isfinite(shots.east + shots.north + shots.level))
    ground = given_surface(parts) or triangulate_shots(shots.take(standing), accept_outliers=accepted)
    ground, study, drawn = studied_ground(site, ground, shots, parts)
    return Survey(
        ground=ground,
        shots=named_shots(parts, shots),
        levels=tuple(part.levels for part in parts if part.levels is not None),
        boundary=boundary or features.boundary,
        keep_outs=(*keep_outs, *features.keep_outs),
        marks=outline.marks if outline else (),
        bench=_bench(site, parts),
        crs=site.crs or read.crs,
        sentences=(*(sentence for part in parts for sentence in part.sentences), *drawn),
        notices=(
            *(*axes_notes, *(notice for part in parts for notice in part.notices)),
            *(*notices, *more, *features.notices),
        ),
        overrides=tuple(override for part in parts for override in part.overrides),
        coarse_levels=any(table.instrument == "phone" or table.take_heights for table in site.readings),
        places=places,
        features=features,
        recognised=read.recognised,
        study=study,
    )


def plan_inputs(site: Site, survey: Survey, *, date: str = "") -> PlanInputs:
    """Return what `spadework.plan.make_plan` needs, from a site file and its survey.

    Parameters
    ----------
    site : Site
        The site file.
    survey : Survey
        What it measured.
    date : str
        Day of the plan, ``YYYY-MM-DD``.

    Raises
    ------
    InputError
        If the site file names places that the survey does not have.
    """
    places = survey.places
    places.faults.clear()
    references = _references(site, places, survey.features.references)
    limits = _limits(site, survey, places)
    if places.faults:
        raise InputError(places.faults)
    soil = site.soil_factors
    notices = list(survey.notices)
    if soil is None:
        soil = soil_factors(DEFAULT_SOIL)
        notices.append(f"The site file says nothing of the soil: taken as {DEFAULT_SOIL}. Set [soil] kind.")
    bench = survey.bench
    return PlanInputs(
        name=site.name,
        date=date,
        units=site.units,
        ground=survey.ground,
        pad=site.pad,
        limits=limits,
        goal=goal_named(site.goal.least, site.source("goal", "least")),
        soil=soil,
        shots=survey.shots,
        levels=survey.levels,
        study=survey.study,
        references=references,
        bench=bench,
        datum=f"{bench[0]} = {format_length(bench[1], site.units)}" if bench else "levels as the readings give them",
        crs=survey.crs,
        tape=site.stakes.tape or DEFAULT_TAPE,
        grid=site.stakes.grid,
        how=survey.sentences,
        notices=tuple(notices),
        overrides=survey.overrides,
        build=site.build,
        coarse_levels=survey.coarse_levels,
        **stake_inputs(site, places),
    )


def _is_raster(site: Site, table: ReadingsTable) -> bool:
    """Say whether a file of readings is an elevation raster."""
    if table.kind is not None:
        return table.kind == "raster"
    return table.file != "-" and looks_like_raster(site.path_to(table.file))


def _raster_survey(site: Site, rasters: Sequence[ReadingsTable]) -> Survey:
    """Return the survey of a site whose ground is an elevation raster."""
    if len(site.readings) > 1:
        raise InputError(
            Fault(
                f"{len(site.readings)} files of readings, of which {len(rasters)} are rasters",
                "a raster is a ground of its own; it is not joined with other readings yet",
                "Keep the raster, or keep the shots",
                site.source("readings", 1),
            )
        )
    table = rasters[0]
    path = site.path_to(table.file)
    axes = choose_axes(
        crs=site.crs or None,
        raster=path,
        outline=_boundary_file(site),
        outline_crs=site.boundary.crs if site.boundary else None,
        source=site.source("site", "crs"),
    )
    outline, faults = _boundary_outline(site, axes.crs or LOCAL)
    if faults:
        raise InputError(faults)
    places = Places(None, outline.marks if outline else ())
    boundary, keep_outs, notices = _limits_on_ground(site, outline, places, axes.crs or LOCAL)
    if places.faults:
        raise InputError(places.faults)
    reading: RasterReading = read_raster(
        path,
        outline=boundary or None,
        vertical_unit=table.vertical_unit,
        site_crs=axes.crs or LOCAL,
        band=table.band,
        nodata=table.nodata,
    )
    rows, columns = reading.level.shape
    cell = format_length(reading.cell, site.units)
    return Survey(
        ground=raster_ground(reading),
        shots=None,
        levels=(),
        boundary=boundary,
        keep_outs=keep_outs,
        marks=outline.marks if outline else (),
        bench=(site.datum.point, site.datum.level) if site.datum else None,
        crs=axes.crs,
        sentences=(f"{table.file} read as raster: {rows} x {columns} cells of {cell} around the boundary.",),
        notices=(*axes.note, *(outline.note if outline else ()), *notices),
        coarse_levels=table.instrument == "phone",
        places=places,
    )


def _boundary_file(site: Site) -> Path | None:
    """Return the file that the boundary names, where it names one."""
    return site.path_to(site.boundary.file) if site.boundary and site.boundary.file else None


def _axes_of_shots(site: Site) -> tuple[str, tuple[str, ...]]:
    """Return the system of a site measured by shots, and how true its distances are; refuses one that is not."""
    if not site.crs:
        return LOCAL, ()
    axes = choose_axes(
        crs=site.crs,
        outline=_boundary_file(site),
        outline_crs=site.boundary.crs if site.boundary else None,
        source=site.source("site", "crs"),
    )
    return axes.crs, axes.note


def _boundary_outline(site: Site, crs: str) -> tuple[Outline | None, list[Fault]]:
    """Read the file that the boundary names, where it names one."""
    file = _boundary_file(site)
    if site.boundary is None or file is None:
        return None, []
    try:
        return read_outline(file, site_crs=crs, crs=site.boundary.crs), []
    except InputError as error:
        return None, list(error.faults)


def _limits_on_ground(
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


def _limits(site: Site, survey: Survey, places: Places) -> Limits:
    """Return the limits of a placement."""
    pad = site.pad_table
    if pad is None:
        _ = site.pad  # raises, and says what a plan needs
        raise AssertionError
    bearing = BearingLimit()
    if isinstance(pad.bearing, float | int):
        bearing = BearingLimit(float(pad.bearing))
    elif not isinstance(pad.bearing, str):
        start, end = (places.find(name, site.source("pad", "bearing")) for name in pad.bearing.parallel_to)
        turn = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360.0
        bearing = BearingLimit(None if math.isnan(turn) else turn)
    finish = FinishLimit("flush" if pad.finish == "flush" else "free")
    if isinstance(pad.finish, float):
        finish = FinishLimit("fixed", pad.finish)
    limits = site.goal.limits
    return Limits(
        boundary=survey.boundary,
        setback=site.boundary.setback if site.boundary else 0.0,
        keep_outs=survey.keep_outs,
        bearing=bearing,
        position=None if isinstance(pad.position, str) else PositionLimit(*pad.position),
        finish=finish,
        exposed_edge=limits.exposed_edge,
        cut_depth=limits.cut_depth,
        fill_depth=limits.fill_depth,
        bought=limits.bought or 0.0,
        source=Source(str(site.file)),
    )


def _references(site: Site, places: Places, coded: tuple[str, ...]) -> tuple[Reference, ...]:
    """Return the two fixed points to tape from, where the site file or the codes in the notes name them."""
    wanted = site.stakes.references or coded
    if not wanted:
        return ()
    source = site.source("stakes", "references")
    named = [place if isinstance(place, str) else f"R{number}" for number, place in enumerate(wanted, 1)]
    return tuple((name, *places.find(place, source)) for name, place in zip(named, wanted, strict=True))


def _bench(site: Site, parts: Sequence[SurveyPart]) -> tuple[str, float] | None:
    """Return what an instrument is set up from: the datum, or the line that drops were measured from."""
    if site.datum is not None:
        return site.datum.point, site.datum.level
    lines = [part.line for part in parts if part.line is not None]
    return lines[0] if lines else None
