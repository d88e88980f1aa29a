"""Luck in the choice of a plan's spot, and which is taken: the best as drawn, or that of least expected cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from spadework.confidence import GroundStudy
from spadework.confidence.luck import Luck, weigh_luck
from spadework.ground.process import GroundProcess
from spadework.placement import SearchResult
from spadework.placement.alternatives import Trade, with_trades
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
NOT_FOR_RASTERS = (
    'What rank = "expected" asks for is not worked out for a raster: spots are ranked as its levels are drawn. How '
    "sure the volumes of the chosen spot are is worked out from the errors of the cells."
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
    objective = search.objective
    if luck is None and objective is not None and not objective.pad.edge.retained and study is not None:
        search = replace(search, notices=(*search.notices, NOT_FOR_BANKS))
    elif luck is None and objective is not None and objective.goal.moved and study is not None:
        search = replace(search, notices=(*search.notices, NOT_FOR_BARROWING))
    elif luck is None and rank == "expected" and study is not None and not isinstance(study.process, GroundProcess):
        search = replace(search, notices=(*search.notices, NOT_FOR_RASTERS))
    return ranked(search, luck, rank, unit=unit, landmarks=landmarks), luck


def luck_of(search: SearchResult, study: GroundStudy | None) -> Luck | None:
    """Return what luck has to do with the spot of a search; ``None`` where the ground's doubt is not known.

    Parameters
    ----------
    search : SearchResult
        With its objective; nothing is said of one with banks, or of a goal that counts barrowing.
    study : GroundStudy, optional
        How well the shots describe the ground; of a raster nothing is said.
    """
    objective = search.objective
    if study is None or objective is None or not isinstance(study.process, GroundProcess):
        return None
    if not objective.pad.edge.retained or objective.goal.moved:
        return None
    return weigh_luck(study.process, objective, objective.ground.outline(), search.best, search.alternatives)


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
