"""How sure ground and plan are, on the screen: what to expect, how good the marks are, which shots to doubt or add."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import print_list

if TYPE_CHECKING:
    from spadework.confidence import Confidence
    from spadework.site import Site
    from spadework.survey import Survey
    from spadework.units import LengthUnit

__all__ = [
    "plan_confidence",
    "print_ground_sureness",
    "print_next_shots",
    "print_sureness",
    "sureness_content",
]


def print_sureness(found: Confidence, unit: LengthUnit) -> None:
    """Print what to expect of cut and fill, and why it is not surer, as lines of the summary.

    Parameters
    ----------
    found : Confidence
        How sure the plan is.
    unit : LengthUnit
        The user's unit.
    """
    from spadework.confidence.words import level_words, reason_words, volume_words

    click.echo(f"  expect     {volume_words(found.cut, unit)} dug, {volume_words(found.fill, unit)} made up;")
    click.echo(f"             {reason_words(found, unit)}")
    if found.finish is not None:
        click.echo(f"             the level that leaves the soil as planned is {level_words(found.finish, unit)}")


def print_next_shots(found: Confidence, unit: LengthUnit) -> None:
    """Print how good the marks of the stakes are, and where one more shot would help most."""
    from spadework.confidence.words import doubtful_sentence, next_shot_sentences
    from spadework.units import format_length

    marks = ", ".join(
        f"{stake.name} ± {format_length(stake.give_or_take, unit)}" for stake in found.stakes if stake.corner
    )
    if marks:
        click.echo(f"\nMarks are good to: {marks}")
    print_list("Shots to read again:", [doubtful_sentence(shot, unit) for shot in found.doubtful])
    print_list("Where one more shot helps most:", next_shot_sentences(found, unit))


def plan_confidence(site: Site, survey: Survey) -> tuple[Confidence | None, str]:
    """Return how sure a plan on the ground of a site is, or why that cannot be said.

    Parameters
    ----------
    site : Site
        The site file.
    survey : Survey
        What it measured.
    """
    from spadework.errors import SurveyError
    from spadework.plan import make_plan
    from spadework.survey import plan_inputs

    if survey.study is None:
        return None, survey.unsure
    if site.pad_table is None:
        return None, "Where one more shot helps most depends on what is to be built: give the site file a table [pad]."
    try:
        return make_plan(plan_inputs(site, survey)).confidence, ""
    except SurveyError as error:
        first = str(error).splitlines()[0]
        return None, f"Where one more shot helps most cannot be said, for there is no plan: {first}"


def sureness_content(survey: Survey, found: Confidence | None, why_not: str) -> dict[str, Any]:
    """Return how sure the ground is, for programs: lengths in metres, volumes in cubic metres."""
    from spadework.ground.process import GroundProcess
    from spadework.ground.raster_doubt import RasterDoubt

    study = survey.study
    if study is None:
        empty: list[Any] = []
        return {
            "covariance": None,
            "raster": None,
            "left_out": None,
            "doubtful_shots": empty,
            "next_shots": empty,
            "why_not": why_not,
        }
    covariance = study.process.covariance if isinstance(study.process, GroundProcess) else None
    raster = study.process if isinstance(study.process, RasterDoubt) else None
    validation = study.validation
    known = validation is not None and math.isfinite(validation.triangles)
    doubtful = ("level", "predicted", "sd", "standardised", "where")
    return {
        "covariance": None
        if covariance is None
        else {
            "kind": "Matérn",
            "order": covariance.smoothness,
            "sd": covariance.sd,
            "length": covariance.length,
            "roughness": covariance.roughness,
        },
        "raster": None
        if raster is None
        else {
            "sd": raster.instrument_sd,
            "shift": raster.shift,
            "noise": raster.noise,
            "within_cells": raster.rough,
            "source": raster.source,
        },
        "left_out": None
        if validation is None
        else {
            "shots": validation.count,
            "triangles_rms": validation.triangles if known else None,
            "smooth_rms": validation.smooth if known else None,
            "prefers": validation.prefers,
        },
        "doubtful_shots": [
            {
                "point": shot.name,
                **{name: getattr(shot, name) for name in doubtful},
                "did_you_mean": shot.suggestion or None,
            }
            for shot in study.doubtful
        ],
        "next_shots": [
            {
                "east": shot.east,
                "north": shot.north,
                "volume": found.next_volume,
                "sd_before": shot.before,
                "sd_after": shot.after,
                "worth_it": shot.worth_it,
            }
            for shot in found.next_shots
        ]
        if found is not None
        else [],
        "why_not": why_not or None,
    }


def print_ground_sureness(site: Site, survey: Survey, found: Confidence | None, why_not: str) -> None:
    """Print how alike the ground is, the shots that the others do not believe, and where one more helps most."""
    from spadework.confidence.words import doubtful_sentence, next_shot_sentences, raster_words
    from spadework.ground.process import GroundProcess
    from spadework.ground.raster_doubt import RasterDoubt
    from spadework.units import format_length

    study, unit = survey.study, site.units
    if study is not None and isinstance(study.process, RasterDoubt):
        click.echo(f"\n{raster_words(study.process, unit)}")
    elif study is not None and isinstance(study.process, GroundProcess):
        shape = study.process.covariance
        order = {0.5: "1/2", 1.5: "3/2", 2.5: "5/2"}[shape.smoothness]
        click.echo(
            f"\nFrom place to place the ground leaves its mean plane by {format_length(shape.sd, unit)} (standard "
            f"deviation), alike over {format_length(shape.length, unit, step=1)} (Matérn covariance of order {order})."
        )
        print_list("Shots to read again:", [doubtful_sentence(shot, unit) for shot in study.doubtful])
        if not study.doubtful:
            click.echo("No shot stands out from what all the others say of its place.")
    if found is not None:
        print_list("Where one more shot helps most:", next_shot_sentences(found, unit))
    elif why_not:
        click.echo(f"\n{why_not}")
