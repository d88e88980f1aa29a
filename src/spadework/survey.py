"""A site file's readings, boundary and keep-outs brought together: what a plan is made from."""

from __future__ import annotations

import numpy as np

from spadework.errors import Fault, InputError
from spadework.factors import SoilFactors, soil_factors
from spadework.haul import UPHILL
from spadework.pad import Pad
from spadework.placement import GoalTerms, goal_from
from spadework.plan import PlanInputs, Reference
from spadework.site import Site
from spadework.survey_features import find_features
from spadework.survey_ground import studied_ground, why_unsure
from spadework.survey_levels import joined_shots, named_shots
from spadework.survey_limits import LOCAL, axes_of_shots, boundary_outline, limits_on_ground
from spadework.survey_lines import bounded, drawn_ground, ground_lines
from spadework.survey_pad import site_pad
from spadework.survey_parts import bench_of, read_parts
from spadework.survey_places import Places
from spadework.survey_raster import is_raster, raster_survey
from spadework.survey_result import Survey
from spadework.survey_stakes import stake_inputs
from spadework.survey_surface import given_surface
from spadework.survey_where import limits_of
from spadework.units import format_length

__all__ = ["Survey", "load_survey", "plan_inputs"]

DEFAULT_SOIL = "loam"
DEFAULT_TAPE = 30.0


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
    rasters = [table for table in site.readings if is_raster(site, table)]
    if rasters:
        return raster_survey(site, rasters, allow_misclosure=allow_misclosure)
    read = read_parts(site, allow_misclosure=allow_misclosure)
    parts, faults = read.parts, list(read.faults)
    crs, axes_notes = (read.crs, ()) if read.crs else axes_of_shots(site)
    outline, outline_faults = boundary_outline(site, crs)
    faults += outline_faults
    if faults:
        raise InputError(faults)
    shots, notices = joined_shots(parts, site.units)
    features = find_features(site, shots)
    accepted = [name for table in site.readings for name in table.accept]
    places = Places(shots, outline.marks if outline else ())
    boundary, keep_outs, more = limits_on_ground(site, outline, places, crs, shots)
    if places.faults:
        raise InputError(places.faults)
    lines = ground_lines(site, shots, places, coded=features.breaklines, outline=outline, crs=crs)
    if places.faults:
        raise InputError(places.faults)
    standing = np.flatnonzero(np.isfinite(shots.east + shots.north + shots.level))
    fenced = bool(boundary or features.boundary)
    ground = given_surface(parts) or drawn_ground(shots.take(standing), lines, accepted, fenced=fenced, unit=site.units)
    ground, study, drawn = studied_ground(site, ground, shots, parts)
    ground = bounded(ground, lines, site.units)
    return Survey(
        ground=ground,
        shots=named_shots(parts, shots),
        levels=tuple(part.levels for part in parts if part.levels is not None),
        boundary=boundary or features.boundary,
        keep_outs=(*keep_outs, *features.keep_outs),
        marks=outline.marks if outline else (),
        bench=bench_of(site, parts),
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
        net=read.net,
        level_nets=tuple(part.level_net for part in parts if part.level_net is not None),
        study=study,
        unsure="" if study is not None else why_unsure(ground),
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
    drawn = site_pad(site, survey.crs or LOCAL)
    limits = limits_of(site, survey, drawn)
    if places.faults:
        raise InputError(places.faults)
    soil = site.soil_factors
    notices = list(survey.notices)
    if soil is None:
        soil = soil_factors(DEFAULT_SOIL)
        notices.append(f"The site file says nothing of the soil: taken as {DEFAULT_SOIL}. Set [soil] kind.")
    notices.extend(drawn.notices)
    bench = survey.bench
    terms = _goal_terms(site, soil, drawn.pad)
    return PlanInputs(
        name=site.name,
        date=date,
        units=site.units,
        ground=survey.ground,
        pad=drawn.pad,
        limits=limits,
        goal=goal_from(site.goal.least, terms, site.source("goal", "least"), site.source("goal", "prices")),
        least=site.goal.least,
        terms=terms,
        rank=site.goal.rank,
        soil=soil,
        shots=survey.shots,
        levels=survey.levels,
        net=survey.net,
        level_nets=survey.level_nets,
        study=survey.study,
        unsure=survey.unsure,
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
        barrow=site.soil.barrow,
        uphill=UPHILL if site.soil.uphill is None else site.soil.uphill,
        coarse_levels=survey.coarse_levels,
        **stake_inputs(site, places),
    )


def _goal_terms(site: Site, soil: SoilFactors, pad: Pad) -> GoalTerms:
    """Return the prices and rates that the goal rests on."""
    crew = None if site.build is None else site.build.crew
    return GoalTerms(
        soil=soil,
        stripped=pad.strip > 0,
        prices=site.goal.prices,
        currency="" if site.build is None else site.build.currency,
        wage=None if crew is None else crew.wage,
        rates={} if crew is None else crew.rates,
        haul=None if crew is None else crew.haul_distance,
    )


def _references(site: Site, places: Places, coded: tuple[str, ...]) -> tuple[Reference, ...]:
    """Return the two fixed points to tape from, where the site file or the codes in the notes name them."""
    wanted = site.stakes.references or coded
    if not wanted:
        return ()
    source = site.source("stakes", "references")
    named = [place if isinstance(place, str) else f"R{number}" for number, place in enumerate(wanted, 1)]
    return tuple((name, *places.find(place, source)) for name, place in zip(named, wanted, strict=True))
