"""A site whose ground is an elevation raster, alone or tied to shots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from spadework.confidence import GroundStudy
from spadework.errors import Fault, InputError
from spadework.ground import raster_ground
from spadework.ground.gaps import fill_gaps
from spadework.ground.raster_sureness import raster_doubt
from spadework.ground.tied_raster import TiedRaster, tie_raster
from spadework.read import looks_like_raster
from spadework.read.axes import choose_axes
from spadework.read.raster import read_raster
from spadework.readings import FloatArray, RasterReading
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.survey_features import Features, find_features
from spadework.survey_levels import joined_shots, named_shots
from spadework.survey_limits import LOCAL, boundary_file, boundary_outline, limits_on_ground
from spadework.survey_lines import bounded, ground_lines
from spadework.survey_parts import ReadParts, bench_of, read_parts
from spadework.survey_places import Places
from spadework.survey_precision import raster_accuracy
from spadework.survey_result import Survey
from spadework.units import format_length

__all__ = ["is_raster", "raster_survey"]

UNKNOWN_RASTER = (
    "How sure the plan is cannot be said: nothing is known of how sure the raster's levels are. Say [[readings]] sd "
    '(or instrument, such as "lidar") for it, or tie it to two shots or more.'
)


def is_raster(site: Site, table: ReadingsTable) -> bool:
    """Say whether a file of readings is an elevation raster."""
    if table.kind is not None:
        return table.kind == "raster"
    return table.file != "-" and looks_like_raster(site.path_to(table.file))


def raster_survey(site: Site, rasters: Sequence[ReadingsTable], *, allow_misclosure: bool = False) -> Survey:
    """Return the survey of a site whose ground is an elevation raster, tied to the shots that stand beside it.

    Parameters
    ----------
    site : Site
        The site file.
    rasters : sequence of ReadingsTable
        Those of its readings that are rasters.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance.

    Raises
    ------
    InputError
        If there are two rasters, or with every fault of the files.
    GroundError
        If the shots do not stand on the raster.
    """
    table = rasters[0]
    if len(rasters) > 1:
        raise InputError(
            Fault(
                f"{len(rasters)} files of readings are rasters",
                "the ground is one raster, which shots may correct",
                "Keep the one around the site",
                site.source("readings", list(site.readings).index(rasters[1])),
            )
        )
    axes = choose_axes(
        crs=site.crs or None,
        raster=site.path_to(table.file),
        outline=boundary_file(site),
        outline_crs=site.boundary.crs if site.boundary else None,
        source=site.source("site", "crs"),
    )
    crs = axes.crs or LOCAL
    outline, faults = boundary_outline(site, crs)
    others = [number for number, other in enumerate(site.readings) if other is not table]
    read = read_parts(_only(site, others, axes.crs), allow_misclosure=allow_misclosure) if others else ReadParts()
    faults += read.faults
    if faults:
        raise InputError(faults)
    shots, without = joined_shots(read.parts, site.units) if others else (None, [])
    features = find_features(site, shots) if shots is not None else Features()
    places = Places(shots, outline.marks if outline else ())
    boundary, keep_outs, notices = limits_on_ground(site, outline, places, crs, shots)
    lines = ground_lines(site, None, places, outline=outline, crs=crs)
    if places.faults:
        raise InputError(places.faults)
    boundary = boundary or features.boundary
    reading = fill_gaps(_read(site, table, boundary, crs), site.ground.gaps, unit=site.units)
    rows, columns = reading.level.shape
    cell = format_length(reading.cell, site.units)
    ground = raster_ground(reading)
    accuracy = raster_accuracy(table)
    tied: TiedRaster | None = None
    said = [f"{table.file} read as raster: {rows} x {columns} cells of {cell} around the boundary."]
    if shots is not None and np.isfinite(shots.level).any():
        tied = tie_raster(ground, shots, noise=0.0 if accuracy is None else accuracy.noise, unit=site.units)
        ground = tied.ground
        said.append(_tied_words(site, tied))
    if lines.breaklines:
        names = ", ".join(line.name for line in lines.breaklines)
        notices = [
            *notices,
            _unbent(names),
        ]
    ground = bounded(ground, lines, site.units)
    doubt = raster_doubt(ground, reading.level, reading.cell, accuracy, tied)
    return Survey(
        ground=ground,
        shots=named_shots(read.parts, shots) if shots is not None else None,
        levels=tuple(part.levels for part in read.parts if part.levels is not None),
        boundary=boundary,
        keep_outs=(*keep_outs, *features.keep_outs),
        marks=outline.marks if outline else (),
        bench=bench_of(site, read.parts),
        crs=axes.crs,
        sentences=(*said, *(sentence for part in read.parts for sentence in part.sentences)),
        notices=(
            *(*axes.note, *(outline.note if outline else ()), *notices, *without),
            *(*(notice for part in read.parts for notice in part.notices), *features.notices),
        ),
        overrides=tuple(override for part in read.parts for override in part.overrides),
        # Shots with a rod make the levels of a phone's raster good enough.
        coarse_levels=table.instrument == "phone" and tied is None,
        places=places,
        features=features,
        recognised=read.recognised,
        tied=tied,
        net=read.net,
        level_nets=tuple(part.level_net for part in read.parts if part.level_net is not None),
        study=None if doubt is None else GroundStudy(doubt),
        unsure=UNKNOWN_RASTER if doubt is None else "",
    )


def _read(site: Site, table: ReadingsTable, boundary: tuple[FloatArray, ...], crs: str) -> RasterReading:
    """Return the window of the raster around the boundary."""
    return read_raster(
        site.path_to(table.file),
        outline=boundary or None,
        vertical_unit=table.vertical_unit,
        site_crs=crs,
        band=table.band,
        nodata=table.nodata,
    )


def _unbent(names: str) -> str:
    """Return that breaklines did nothing to a raster, and what would help."""
    return (
        f"A raster is not bent along breaklines, its cells are as they are: nothing was done with {names}. Where a "
        "bank matters near the pad, measure it with shots and leave the raster out."
    )


def _only(site: Site, rows: Sequence[int], crs: str) -> Site:
    """Return the site with some of its readings, their keys still on their lines."""
    number: dict[str | int, int] = {row: place for place, row in enumerate(rows)}
    lines = {
        (path[0], number[path[1]], *path[2:]) if path[:1] == ("readings",) and len(path) > 1 else path: line
        for path, line in site.lines.items()
        if path[:1] != ("readings",) or len(path) < 2 or path[1] in number
    }
    return replace(site, readings=tuple(site.readings[row] for row in rows), lines=lines, crs=crs)


def _tied_words(site: Site, tied: TiedRaster) -> str:
    """Return how the raster was tied, and how far it is from the shots, in the units of the site."""

    def length(metres: float, *, sign: bool = False) -> str:
        return format_length(metres, site.units, sign=sign)

    count = len(tied.names)
    text = f"Tied to {count} shot{'s' if count > 1 else ''}: shifted by {length(tied.shift, sign=True)}"
    if tied.how != "shift":
        text += f", tilted by {tied.slope * 1000:.1f} in 1000 falling towards {tied.aspect:.0f}°"
    if tied.how == "smooth":
        text += ", and bent by a smooth rest"
    text += f". Off the shots by {length(tied.before_rms)} before, {length(tied.after_rms)} after"
    text += f"; a shot left out is missed by {length(tied.left_out_rms)}." if count > 1 else "; nothing checks it."
    return text
