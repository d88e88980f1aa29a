"""Which surface is drawn through the shots of a site, and how sure the ground is."""

from __future__ import annotations

import math
from collections.abc import Sequence

from spadework.confidence import GroundStudy, study_ground
from spadework.confidence.doubts import Written
from spadework.confidence.words import surface_sentence
from spadework.ground import Ground
from spadework.ground.process import FEWEST_SHOTS, GroundProcess
from spadework.levels.wording import name_key
from spadework.readings import DropGrid, PointList
from spadework.shots import Shots
from spadework.site import Site
from spadework.survey_levels import SurveyPart
from spadework.units import FOOT, LengthUnit

__all__ = ["MOST_STUDIED", "studied_ground", "why_unsure"]

USUAL_STEP = {LengthUnit.METRE: 0.001, LengthUnit.FOOT: FOOT / 100, LengthUnit.FOOT_INCH: FOOT / 96}
"""To so much a level is written in a list of points. [m]"""

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
    study = study_ground(ground, shots, levels, site.units, _written(site, parts))
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


def _written(site: Site, parts: Sequence[SurveyPart]) -> dict[tuple[str, int, str], Written]:
    """Return the numbers from which shots have their levels, as they stand in the files: drops, and levels."""
    found: dict[tuple[str, int, str], Written] = {}
    for part in parts:
        reading, shots = part.reading, part.shots
        if shots is None:
            continue
        if isinstance(reading, DropGrid) and part.line is not None:
            what, values, step = "drop", part.line[1] - shots.level, reading.reading_resolution
        elif isinstance(reading, PointList):
            what, values, step = "level", shots.level, USUAL_STEP[part.table.units or site.units]
        else:
            continue
        rows = zip(shots.file, shots.line.tolist(), shots.point, values.tolist(), strict=True)
        found |= {
            (file, line, name_key(name)): Written(what, value, step)
            for file, line, name, value in rows
            if math.isfinite(value)
        }
    return found
