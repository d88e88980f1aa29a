"""What another number does to a spot, in words and in the user's unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from spadework.placement.alternatives import towards
from spadework.placement.goal_words import value_words
from spadework.placement.goals import Goal
from spadework.placement.spots import Spot
from spadework.placement.what_if import MATTERS, Assumption, Effect, Ending
from spadework.units import LengthUnit, format_length, to_length_unit, to_volume_unit, unit_label, volume_label

__all__ = [
    "HOW",
    "changes",
    "kept_words",
    "moved_words",
    "number_in_unit",
    "number_words",
    "unit_words",
    "what_if_sentences",
]

HOW = (
    "Values are those of the spot that was chosen, at its best finish level then. It flips where another spot becomes "
    f"better by more than {100 * MATTERS:.0f} %. Searched about every position of the map, not proved."
)
"""How the numbers were got."""
HAIR = 1e-6
"""Share of a value by which it may differ and still be the same: rounding."""
NEAR = 0.05
"""A spot so near is the same place, turned. [m]"""
SUPERSCRIPT = str.maketrans("23", "²³")


def changes(effect: Effect, base: float) -> bool:
    """Tell whether a number does anything within its range: to the value `base` of the chosen spot, or to the choice.

    Parameters
    ----------
    effect : Effect
        What the number does.
    base : float
        Value for the likely numbers.
    """
    return effect.swing > HAIR * (1.0 + abs(base)) or effect.low.moves or effect.high.moves


def number_in_unit(assumption: Assumption, number: float, unit: LengthUnit) -> float:
    """Return a number in the unit that `unit_words` says.

    Parameters
    ----------
    assumption : Assumption
        What it is a number of.
    number : float
        In metres, for a cubic metre or for a metre, or a share.
    unit : LengthUnit
        The user's unit.
    """
    if assumption.kind == "length":
        return to_length_unit(number, unit)
    if assumption.kind == "price":
        return number / to_volume_unit(1.0, unit)
    return number / to_length_unit(1.0, unit) if assumption.kind == "height price" else number


def unit_words(assumption: Assumption, unit: LengthUnit) -> str:
    """Return the unit of `number_in_unit`; empty for a share, and where no currency is known ``per`` and the rest."""
    length = "ft" if unit is LengthUnit.FOOT_INCH else unit_label(unit)
    per = {"price": volume_label(unit), "height price": length, "wage": "h"}.get(assumption.kind)
    if per is not None:
        return f"{assumption.unit}/{per}" if assumption.unit else f"per {per}"
    return {"length": length, "rate": assumption.unit.translate(SUPERSCRIPT)}.get(assumption.kind, "")


class Speech(Protocol):
    """Prints lengths and volumes inside a sentence."""

    def length(self, metres: float) -> str:
        """Return a length. [m]"""

    def volume(self, cubic_metres: float, decimals: int = 2) -> str:
        """Return a volume. [m³]"""


def number_words(assumption: Assumption, number: float, unit: LengthUnit, say: Speech | None = None) -> str:
    """Return a number with its unit: ``12 %``, ``0.075 m``, ``45.00 EUR/m³``.

    Parameters
    ----------
    assumption, number, unit
        As for `number_in_unit`.
    say : Speech, optional
        Prints lengths; plain text where not given.
    """
    if assumption.kind == "length":
        return format_length(number, unit) if say is None else say.length(number)
    if assumption.kind == "share":
        return f"{100 * number:.3g} %"
    shown, counted = number_in_unit(assumption, number, unit), unit_words(assumption, unit)
    return f"{shown:.3g} {counted}" if assumption.kind == "rate" else f"{shown:.2f} {counted}"


def kept_words(end: Ending, goal: Goal, unit: LengthUnit) -> str:
    """Return the value of the chosen spot at one number."""
    return value_words(goal, end.kept, unit) if math.isfinite(end.kept) else "not allowed"


def moved_words(end: Ending, chosen: Spot, goal: Goal, unit: LengthUnit, say: Speech | None = None) -> str:
    """Return whether another spot is the best at one number, where it lies, and what it saves.

    Parameters
    ----------
    end : Ending
        What the number does.
    chosen : Spot
        The spot of the plan.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    say : Speech, optional
        Prints lengths and volumes; plain text where not given.
    """
    if not math.isfinite(end.best.value):
        return "no spot is allowed"
    if not end.moves:
        return "stays"
    here, there = chosen.placement, end.best.placement
    shift = (there.east - here.east, there.north - here.north)
    away = math.hypot(*shift)
    turned = abs((there.bearing - here.bearing + 90.0) % 180.0 - 90.0)
    far = format_length(away, unit) if say is None else say.length(away)
    parts = [f"{far} to the {towards(*shift)}"] if away > NEAR else []
    parts += [f"turned {turned:.0f}°"] if turned >= 1 else []
    parts += [f"saves {_value(goal, end.regret, unit, say)}"] if math.isfinite(end.regret) else []
    return ", ".join(parts)


def _value(goal: Goal, amount: float, unit: LengthUnit, say: Speech | None) -> str:
    """Return a value of the goal; volumes and heights as they are to be spoken."""
    if say is not None and goal.unit == "m³":
        return say.volume(amount, 3)
    return say.length(amount) if say is not None and goal.unit == "m" else value_words(goal, amount, unit)


def what_if_sentences(
    effects: Sequence[Effect], chosen: Spot, goal: Goal, unit: LengthUnit, say: Speech | None = None
) -> list[str]:
    """Return which number moves the answer most, where another spot becomes better, and what changes nothing.

    Parameters
    ----------
    effects : sequence of Effect
        The strongest first.
    chosen : Spot
        The spot of the plan.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    say : Speech, optional
        Prints lengths and volumes; plain text where not given.
    """

    def said(end: Ending) -> str:
        allowed = math.isfinite(end.kept)
        return f"{goal.name} is {_value(goal, end.kept, unit, say)}" if allowed else "this spot is not allowed"

    sentences = []
    strong = [effect for effect in effects if changes(effect, chosen.value)]
    for effect in strong[:1]:
        one = effect.assumption
        low, likely, high = (number_words(one, number, unit, say) for number in (one.low, one.likely, one.high))
        sentences.append(
            f"The {one.name} moves the value of this spot most: at {low} instead of {likely} {said(effect.low)}, at "
            f"{high} {said(effect.high)}."
        )
    flips = [(effect.assumption, flip) for effect in strong for flip in effect.flips]
    for one, flip in flips:
        beyond = "falls below" if flip.number < one.likely else "passes"
        sentences.append(
            f"Another spot becomes better where the {one.name} {beyond} {number_words(one, flip.number, unit, say)} "
            f"({number_words(one, one.likely, unit, say)} is assumed): {moved_words(flip, chosen, goal, unit, say)}."
        )
    if strong and not flips:
        sentences.append(
            f"No number by itself, within its range, makes another spot better by more than {100 * MATTERS:.0f} %."
        )
    idle = [effect.assumption.name for effect in effects if effect not in strong]
    if idle:
        sentences.append(f"Within their ranges these change nothing here: {', '.join(idle)}.")
    return sentences
