"""Luck in the choice of a plan's spot, and which is taken: the best as drawn, or that of least expected cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from spadework.confidence import GroundStudy
from spadework.confidence.luck import Luck, weigh_luck
from spadework.ground.process import GroundProcess
from spadework.ground.raster_doubt import RasterDoubt
from spadework.placement import SearchResult
from spadework.placement.alternatives import Trade, with_trades
from spadework.placement.objective import Objective
from spadework.placement.proof_words import statement_of
from spadework.placement.spot_map import finish_curve
from spadework.units import LengthUnit

__all__ = ["RANKS", "luck_of", "ranked", "with_luck"]

NOT_FOR_BANKS = (
    "What luck has to do with the choice of the spot is not worked out for a pad with banks: spots are ranked as the "
    "ground is drawn. How sure the volumes of the chosen spot are is worked out with the banks."
)
NOT_FOR_BARROWING = (
    "What luck has to do with the choice of the spot is not worked out for a goal that counts barrowing: spots are "
    "ranked as the ground is drawn. The moves of soil would have to be worked out on every ground that the shots allow."
)
TOO_LARGE = (
    'What rank = "expected" asks for is not worked out: the land is too large, beside the pad, for grounds to be drawn '
    "all over it as finely as the pad asks for. Spots are ranked as the ground is drawn. Give a smaller [boundary] "
    "about the places that count."
)
UNKNOWN_RASTER = (
    'What rank = "expected" asks for is not worked out: nothing is known of how sure the raster\'s levels are, and '
    'spots are ranked as these are drawn. Give its [[readings]] an instrument, such as "lidar", or an sd (and, if it '
    "is known, noise: the part that is different in each cell); or tie it to two shots or more."
)
UNKNOWN_GROUND = (
    'What rank = "expected" asks for is not worked out: nothing is known of how sure the ground is, and spots are '
    "ranked as it is drawn. Eight shots or more would tell."
)
RANKS = ("drawn", "expected")
"""What spots are ranked by: the drawn surface, or every ground that the shots allow."""


def with_luck(
    search: SearchResult,
    study: GroundStudy | None,
    rank: str,
    *,
    unit: LengthUnit = LengthUnit.METRE,
    landmarks: Sequence[tuple[str, float, float]] = (),
) -> tuple[SearchResult, Luck | None]:
    """Return a search with the spot that is to be taken as its best, and what luck has to do with it.

    Parameters
    ----------
    search, study
        As for `luck_of`.
    rank, unit, landmarks
        As for `ranked`.
    """
    luck = luck_of(search, study)
    notice = None if luck is not None or search.objective is None else _why_not(search.objective, study, rank)
    if notice is not None:
        search = replace(search, notices=(*search.notices, notice))
    return ranked(search, luck, rank, unit=unit, landmarks=landmarks), luck


def _why_not(objective: Objective, study: GroundStudy | None, rank: str) -> str | None:
    """Return why nothing is said of luck, where that is to be said."""
    if study is not None and not objective.pad.edge.retained:
        return NOT_FOR_BANKS
    if study is not None and objective.goal.moved:
        return NOT_FOR_BARROWING
    if rank != "expected":
        return None
    if study is not None:
        return TOO_LARGE
    return UNKNOWN_RASTER if "raster" in objective.ground.kind else UNKNOWN_GROUND


def luck_of(search: SearchResult, study: GroundStudy | None) -> Luck | None:
    """Return what luck has to do with the spot of a search; ``None`` where the ground's doubt is not known.

    Parameters
    ----------
    search : SearchResult
        With its objective; nothing is said of one with banks, or of a goal that counts barrowing.
    study : GroundStudy, optional
        How well shots, or a raster, describe the ground.
    """
    objective = search.objective
    if study is None or objective is None:
        return None
    if not objective.pad.edge.retained or objective.goal.moved:
        return None
    process = study.process
    if not isinstance(process, GroundProcess | RasterDoubt):
        return None
    return weigh_luck(process, objective, objective.ground.outline(), search.best, search.alternatives)


def ranked(
    search: SearchResult,
    luck: Luck | None,
    rank: str,
    *,
    unit: LengthUnit = LengthUnit.METRE,
    landmarks: Sequence[tuple[str, float, float]] = (),
) -> SearchResult:
    """Return a search with the spot that is to be taken as its best.

    The bound of the proof holds for every spot, so that it stays; what the taken spot has above it is told anew.

    Parameters
    ----------
    search : SearchResult
        Its best spot is that of the drawn surface.
    luck : Luck, optional
        What is to be expected.
    rank : str
        One of `RANKS`.
    unit : LengthUnit
        The user's unit, for sentences.
    landmarks : sequence of (str, float, float)
        Named points that sentences may refer to. [m]
    """
    objective = search.objective
    if rank == "drawn" or luck is None or not luck.differs or objective is None:
        return search
    taken, proof = luck.pick.spot, search.proof
    if proof is not None:
        value = taken.value
        proof = replace(
            proof,
            best=value,
            gap=(value - proof.lower_bound) / value if value > 0 else 0.0,
            statement=statement_of(proof.lower_bound, taken, objective.goal, unit),
        )
    at = taken.placement
    others = [spot for spot in search.alternatives if spot.placement != at][: max(len(search.alternatives) - 1, 0)]
    trade = Trade(objective.goal, unit, tuple(landmarks), objective.pad.edge.retained)
    return replace(
        search,
        best=replace(taken, what_differs=""),
        alternatives=with_trades(taken, (search.best, *others), trade),
        proof=proof,
        finish_curve=finish_curve(objective, np.array([at.east, at.north, at.bearing])),
    )
