"""What a plan says of soil besides its volumes: what to cart, and what the soil of the edge's trench could do."""

from __future__ import annotations

import numpy as np

from spadework.build import BuildPlan
from spadework.build.carting import carting_words
from spadework.earthwork import Banks, LevelRule, SoilAccount, pad_levels_batch
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.units import LengthUnit, format_area, format_length, format_volume

__all__ = ["bank_notice", "carting_notices", "trench_notice"]

WORTH_SAYING = 0.02
"""Less soil is lost on the way. [m³]"""


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
    """Return what the banks come to, and what is not worked out for them.

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
        "include the banks. How sure they are, and which soil goes where, is not worked out for banks."
    )


def trench_notice(
    ground: Ground, pad: Pad, placement: Placement, built: BuildPlan, *, keep: float, unit: LengthUnit
) -> str | None:
    """Return what the soil out of the edge's trench amounts to, and how much higher the pad would finish to use it up.

    At the same place the level is solved once more with the trench's soil, rammed, counted to the fill. The plan itself
    balances cut and fill without it, so that what is proved of the spot holds as printed.

    Parameters
    ----------
    ground, pad, placement
        The digging.
    built : BuildPlan
        With the edge, where it has one.
    keep : float
        Compacted volume made of one volume dug.
    unit : LengthUnit
        The user's unit.
    """
    if built.edge is None or built.edge.trench_volume < WORTH_SAYING:
        return None
    trench = built.edge.trench_volume
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    before, after = (
        float(pad_levels_batch(ground, pad, pose, LevelRule("balanced", keep=keep, bought=bought)).finish[0])
        for bought in (0.0, keep * trench)
    )
    return (
        f"The trench of the edge yields {format_volume(trench, unit)} more, in the ground, which the balance of cut "
        "and fill does not count: heap it with the topsoil, or finish "
        f"{format_length(after - before, unit)} higher to use it up."
    )
