"""Which surface is drawn through the shots of a site, and how sure the ground is."""

from __future__ import annotations

from collections.abc import Sequence

from spadework.confidence import GroundStudy, study_ground
from spadework.confidence.words import surface_sentence
from spadework.ground import Ground
from spadework.ground.process import FEWEST_SHOTS, GroundProcess
from spadework.shots import Shots
from spadework.site import Site
from spadework.survey_levels import SurveyPart

__all__ = ["MOST_STUDIED", "studied_ground", "why_unsure"]

MOST_STUDIED = 4000
"""With more shots the covariance of all of them takes minutes and gigabytes."""


def why_unsure(ground: Ground) -> str:
    """Return why it cannot be said how sure a ground is.

    Parameters
    ----------
    ground : Ground
        Triangulated shots that are too few or too many, or a surface that was given as it is.
    """
    if ground.kind == "given surface":
        return "How sure the ground is cannot be said: it is a surface that somebody else drew, without its shots."
    count = len(ground.level) if ground.shot_count is None else ground.shot_count
    limit = f"fewer than {FEWEST_SHOTS}" if count < FEWEST_SHOTS else f"more than {MOST_STUDIED}"
    return f"How sure the ground is cannot be said: {limit} shots."


def studied_ground(
    site: Site, ground: Ground, shots: Shots, parts: Sequence[SurveyPart]
) -> tuple[Ground, GroundStudy | None, tuple[str, ...]]:
    """Return the surface that is drawn, what the shots say of it, and a sentence about the choice.

    Parameters
    ----------
    site : Site
        Says which surface is wanted.
    ground : Ground
        The shots, triangulated, or a surface that was given as it is.
    shots : Shots
        All shots.
    parts : sequence of SurveyPart
        With the level books.
    """
    if ground.kind != "triangulated shots":
        return ground, None, ()
    count = len(ground.level) if ground.shot_count is None else ground.shot_count
    if not FEWEST_SHOTS <= count <= MOST_STUDIED:
        return ground, None, (f"{why_unsure(ground)} Drawn: triangles between the shots.",)
    levels = tuple(part.levels for part in parts if part.levels is not None)
    study = study_ground(ground, shots, levels, site.units)
    if study is None or study.validation is None or not isinstance(study.process, GroundProcess):
        return ground, None, ()
    wanted = site.ground.surface
    drawn = study.validation.prefers if wanted == "choose" else wanted
    bent = bool(len(ground.kept))
    if wanted == "choose" and bent:
        drawn = "triangles"  # only they bend as sharply as the lines say
    if drawn == "smooth":
        from spadework.ground.smooth import smooth_ground  # noqa: PLC0415 -- only where it is asked for

        ground = smooth_ground(ground, study.process)
    insisted = wanted == "triangles" and "surface" in site.ground.model_fields_set
    said = surface_sentence(study.validation, drawn, site.units, insisted=insisted, bent=bent)
    return ground, study, (said,)
