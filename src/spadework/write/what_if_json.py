"""What a spot and its value do when a number is another, for programs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from spadework.placement import Goal, Spot
from spadework.placement.goal_words import value_scale
from spadework.placement.what_if import Effect, Ending
from spadework.placement.what_if_words import HOW, changes, number_in_unit, unit_words, what_if_sentences
from spadework.units import LengthUnit, to_length_unit

__all__ = ["what_if_document"]

Json = dict[str, Any]


def what_if_document(effects: Sequence[Effect], chosen: Spot, goal: Goal, unit: LengthUnit) -> Json:
    """Return what each number does as plain values.

    Parameters
    ----------
    effects : sequence of Effect
        The strongest first.
    chosen : Spot
        The spot of the plan.
    goal : Goal
        What is least.
    unit : LengthUnit
        Of the document: metres, or decimal feet for both kinds of feet.
    """
    scale = value_scale(goal, unit)

    def ending(effect: Effect, end: Ending) -> Json:
        best = end.best if math.isfinite(end.best.value) else None
        return {
            "number": number_in_unit(effect.assumption, end.number, unit),
            "value_at_chosen": _finite(end.kept * scale),
            "best_value": None if best is None else best.value * scale,
            "placement": None if best is None else _placement(best, unit),
            "moves": end.moves,
            "regret": _finite(end.regret * scale),
        }

    return {
        "how": HOW,
        "sentences": what_if_sentences(effects, chosen, goal, unit),
        "numbers": [
            {
                "name": effect.assumption.name,
                "unit": unit_words(effect.assumption, unit),
                "likely": number_in_unit(effect.assumption, effect.assumption.likely, unit),
                "low": ending(effect, effect.low),
                "high": ending(effect, effect.high),
                "flips": [ending(effect, flip) for flip in effect.flips],
                "swing": _finite(effect.swing * scale),
                "changes": changes(effect, chosen.value),
            }
            for effect in effects
        ],
    }


def _placement(spot: Spot, unit: LengthUnit) -> Json:
    at = spot.placement
    lengths = {"east": at.east, "north": at.north, "finish": at.finish, "formation": spot.formation}
    return {"bearing": at.bearing, **{name: to_length_unit(metres, unit) for name, metres in lengths.items()}}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
