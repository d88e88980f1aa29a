"""What a plan says of soil besides its volumes: what to cart, and what the trench of the edge gives."""

from __future__ import annotations

import numpy as np

from spadework.build import BuildOptions
from spadework.build.carting import carting_words
from spadework.build.edge_soil import frame_soil
from spadework.earthwork import Banks, EdgeSoil, LevelRule, SoilAccount, edge_profile, pad_levels_batch
from spadework.ground import Ground
from spadework.haul import Haul
from spadework.pad import Pad, Placement
from spadework.placement import GOALS, SearchResult
from spadework.placement.goal_words import value_words
from spadework.units import LengthUnit, format_area, format_volume

__all__ = ["bank_notice", "barrow_notice", "carting_notices", "edge_soil_at", "mean_way", "trench_words"]

SAME_SUM = 0.01
"""Sums of loads times way that differ by a smaller share are the same."""


def carting_notices(soil: SoilAccount, unit: LengthUnit) -> list[str]:
    """Return what is to be carted away or brought, and what it fills.

    Parameters
    ----------
    soil : SoilAccount
        The soil of the plan.
    unit : LengthUnit
        The user's unit.
    """
    words = (carting_words("Left over", soil.over_loose, unit), carting_words("To bring", soil.short_loose, unit))
    return [sentence for sentence in words if sentence is not None]


def bank_notice(banks: Banks, unit: LengthUnit) -> str:
    """Return what the banks come to.

    Parameters
    ----------
    banks : Banks
        The banks.
    unit : LengthUnit
        The user's unit.
    """
    return (
        f"The edge is a bank: {format_area(banks.cut_area, unit)} of cut slope and "
        f"{format_area(banks.fill_area, unit)} of fill slope to trim, cover with topsoil and turf. Cut, fill and strip "
        "include the banks, and so do the doubts and the moves of soil."
    )


def barrow_notice(search: SearchResult, haul: Haul, unit: LengthUnit) -> list[str]:
    """Return the sums of loads times way, where that of the goal is another than that of the list of moves.

    Parameters
    ----------
    search : SearchResult
        What was found.
    haul : Haul
        The moves of the plan.
    unit : LengthUnit
        The user's unit.
    """
    goal, moved = GOALS["moved"], search.best.moved
    if moved is None or abs(moved - haul.barrow_metres) <= SAME_SUM * max(moved, haul.barrow_metres):
        return []
    counted, listed = value_words(goal, moved, unit), value_words(goal, haul.barrow_metres, unit)
    words = f"Loads times way come to {counted} as the goal counts them, and to {listed} in the list of moves."
    room = " The goal counts a heap that has no room as 30 m away." if haul.without_room else ""
    return [words + room]


def edge_soil_at(
    ground: Ground, pad: Pad, placement: Placement, options: BuildOptions, unit: LengthUnit
) -> EdgeSoil | None:
    """Return what the timber edge of a pad gives and takes of soil at a placement, or nothing where there is none.

    Parameters
    ----------
    ground, pad, placement
        The digging.
    options : BuildOptions
        How the frame is made.
    unit : LengthUnit
        Of the marks that its steps are rounded to.
    """
    if pad.edge.kind != "timber":
        return None
    edge = frame_soil(pad, placement.finish, edge_profile(ground, pad, placement), options.edge, unit)
    if edge is None:
        return None
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    fill = float(pad_levels_batch(ground, pad, pose, LevelRule("fixed", finish=placement.finish)).fill[0])
    return edge.within(fill)


def trench_words(search: SearchResult, unit: LengthUnit) -> list[str]:
    """Return how much soil from the trench of the edge the search counted, as a sentence.

    Parameters
    ----------
    search : SearchResult
    unit : LengthUnit
        The user's unit.
    """
    if search.reserve <= 0.0:
        return []
    counted = format_volume(search.reserve, unit, decimals=3)
    words = (
        f"Counting {counted}, in the ground, from the trench of the edge: what is left when the trench is rammed full "
        "beside the frame, and the fill in whose place the frame stands. The same is counted at every spot."
    )
    return [words]


def mean_way(haul: Haul) -> float | None:
    """Return the mean way of a barrow load, where anything is barrowed. [m]"""
    loads = sum(move.loads for move in haul.moves)
    return sum(move.loads * move.distance for move in haul.moves) / loads if loads > 0 else None
