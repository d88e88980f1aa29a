"""What a goal counts in, and its values in the user's unit and in words."""

from __future__ import annotations

import math
from typing import Literal

from spadework.placement.goals import Goal
from spadework.placement.spots import Spot
from spadework.units import (
    LengthUnit,
    format_length,
    format_volume,
    to_length_unit,
    to_volume_unit,
    unit_label,
    volume_label,
)

__all__ = ["hours_notice", "value_label", "value_scale", "value_words"]

DECIMALS = {"m³": 3, "m": 3, "h": 1, "barrow-m": 2}
PLAIN_DECIMALS = 3
Rounding = Literal["down", "up", "near"]


def value_scale(goal: Goal, unit: LengthUnit) -> float:
    """Return what a value is multiplied by to come out in the user's unit: volumes and heights change, others not."""
    if goal.unit == "m³":
        return to_volume_unit(1.0, unit)
    return to_length_unit(1.0, unit) if goal.unit in {"m", "barrow-m"} else 1.0


def value_label(goal: Goal, unit: LengthUnit) -> str:
    """Return the name of the goal with its unit: ``digging [m³]``."""
    label = goal.unit
    if goal.unit == "m³":
        label = volume_label(unit)
    elif goal.unit == "m":
        label = _plain_label(unit)
    elif goal.unit == "barrow-m":
        label = f"barrow-{_plain_label(unit)}"
    return f"{goal.name} [{label}]" if label else goal.name


def _plain_label(unit: LengthUnit) -> str:
    """Return the unit that a plain number of lengths is in."""
    return "ft" if unit is LengthUnit.FOOT_INCH else unit_label(unit)


def value_words(goal: Goal, value: float, unit: LengthUnit, rounding: Rounding = "near") -> str:
    """Return a value with its unit, rounded to the side on which a statement about it stays true.

    Parameters
    ----------
    goal : Goal
        What is counted.
    value : float
        As the goal counts it. [m³, m, h or currency]
    unit : LengthUnit
        The user's unit.
    rounding : {"down", "up", "near"}
        To which side.
    """
    scale = value_scale(goal, unit)
    decimals = DECIMALS.get(goal.unit, 2 if goal.unit else PLAIN_DECIMALS)
    power = 10.0**decimals
    counted = value * scale * power
    number = (
        math.floor(counted) if rounding == "down" else math.ceil(counted) if rounding == "up" else round(counted)
    ) / power
    if goal.unit == "m³":
        return format_volume(number / scale, unit, decimals=decimals)
    if goal.unit == "m" and unit is not LengthUnit.FOOT_INCH:
        return f"{number:.{decimals}f} {unit_label(unit)}"
    if goal.unit == "m":
        return format_length(value, unit)
    if goal.unit == "barrow-m":
        return f"{number:.{decimals}f} barrow-{_plain_label(unit)}"
    return f"{number:.{decimals}f} {goal.unit}".strip()


def hours_notice(goal: Goal, spot: Spot, *, keep: float, reserve: float, strip: float) -> list[str]:
    """Return what the goal comes to at the quickest and at the slowest rates, where rates are uncertain.

    Parameters
    ----------
    goal : Goal
        With its ends.
    spot : Spot
        The best spot.
    keep : float
        Compacted volume that one volume in the bank makes.
    reserve : float
        Soil that the pad gets besides its own cut, in the bank. [m³]
    strip : float
        Turf and topsoil taken off. [m³]
    """
    import numpy as np  # noqa: PLC0415 -- the goals take arrays

    if not goal.ends:
        return []
    cut, fill = np.array(spot.cut), np.array(spot.fill)
    ends = [float(end.values(cut, fill, keep, reserve, wall=spot.wall, strip=strip)) for end in goal.ends]
    words = (
        f"The best spot asks for {spot.value:.1f} {goal.unit} at the likely rates, {min(ends):.1f} at the quickest and "
        f"{max(ends):.1f} at the slowest of the table. Your own rates, under [crew] rates, make it sure."
    )
    return [words]
