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
from spadework.placement import SearchResult
from spadework.units import LengthUnit, format_area, format_volume

__all__ = ["bank_notice", "carting_notices", "edge_soil_at", "mean_way", "trench_words"]


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
