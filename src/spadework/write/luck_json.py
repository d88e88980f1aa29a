"""Luck in the choice of the spot, for programs."""

from __future__ import annotations

from typing import Any, Protocol

from spadework.confidence.luck import Luck, SpotLuck
from spadework.confidence.luck_words import luck_sentences
from spadework.placement.goal_words import value_scale
from spadework.plan import Plan
from spadework.units import LengthUnit

__all__ = ["luck_document"]

Json = dict[str, Any]


class _Units(Protocol):
    """Turns metres into the units of a document."""

    unit: LengthUnit

    def length(self, metres: float | None) -> float | None: ...


def luck_document(plan: Plan, to: _Units) -> Json | None:
    """Return what is to be expected of the spots as plain values; nothing where the plan does not say.

    Parameters
    ----------
    plan : Plan
        The plan.
    to : object
        Turns metres into the document's units.
    """
    luck = plan.luck
    if luck is None:
        return None
    scale = value_scale(plan.goal, plan.units)
    return {
        "sentences": luck_sentences(luck, plan.goal, plan.units, plan.search.best),
        "grounds": luck.grounds,
        "near": to.length(luck.near),
        "best_there_is": luck.best_there_is * scale,
        "taken": "least_expected" if _taken_is_pick(luck, plan) else "drawn",
        "differs": luck.differs,
        "drawn": _spot(luck.drawn, to, scale),
        "least_expected": _spot(luck.pick, to, scale),
        "others": [_spot(one, to, scale) for one in luck.others],
    }


def _taken_is_pick(luck: Luck, plan: Plan) -> bool:
    return luck.differs and plan.search.best.placement == luck.pick.spot.placement


def _spot(one: SpotLuck, to: _Units, scale: float) -> Json:
    at = one.spot.placement
    values = {name: getattr(one, name) * scale for name in ("expected", "sd", "low", "high", "regret", "regret_high")}
    return {
        "placement": {
            "east": to.length(at.east),
            "north": to.length(at.north),
            "bearing": at.bearing,
            "finish": to.length(at.finish),
            "formation": to.length(one.spot.formation),
        },
        "drawn": one.spot.value * scale,
        **values,
        "closed_form": one.closed_form,
        "likely_best": one.likely_best,
        "best_is_near": one.near,
        "limits_kept": one.kept,
    }
