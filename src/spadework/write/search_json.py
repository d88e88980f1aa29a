"""What was searched and found, for programs: the goal, the spots, the proof, and the curve over the finish level."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, Protocol

from spadework.placement import Spot
from spadework.placement.goal_words import value_scale
from spadework.plan import Plan

__all__ = ["placement_document", "search_document"]

Json = dict[str, Any]


class _Units(Protocol):
    """Turns metres into the units of a document."""

    def length(self, metres: float | None) -> float | None: ...

    def lengths(self, values: Iterable[float]) -> list[float | None]: ...

    def volume(self, cubic_metres: float | None) -> float | None: ...


def _finite(value: float | None) -> float | None:
    """Return a number without a unit, or nothing."""
    return None if value is None or not math.isfinite(value) else float(value)


def placement_document(spot: Spot, to: _Units) -> Json:
    """Return where a spot is, with its levels."""
    place = spot.placement
    return {
        "east": to.length(place.east),
        "north": to.length(place.north),
        "bearing": place.bearing,
        "finish": to.length(place.finish),
        "formation": to.length(spot.formation),
    }


def _spot(spot: Spot, to: _Units, scale: float) -> Json:
    volumes = {name: to.volume(getattr(spot, name)) for name in ("cut", "fill", "over", "short")}
    names = ("ground_low", "ground_high", "edge_low", "edge_high", "exposed_edge")
    lengths = {name: to.length(getattr(spot, name)) for name in names}
    return {
        "placement": placement_document(spot, to),
        "value": spot.value * scale,
        **volumes,
        **lengths,
        "what_differs": spot.what_differs,
        "rise": None if spot.rise is None or not math.isfinite(spot.rise) else spot.rise * scale,
        "own_valley": spot.rise is not None,
        "moved": to.length(spot.moved),
    }


def search_document(plan: Plan, to: _Units) -> Json:
    """Return what was searched and found as plain values.

    Parameters
    ----------
    plan : Plan
        The plan.
    to : object
        Turns metres and cubic metres into the document's units.
    """
    search, goal, proof = plan.search, plan.goal, plan.search.proof
    scale = value_scale(goal, plan.units)
    return {
        "goal": {
            "name": goal.name,
            "sentence": goal.sentence,
            "weights": goal.weights,
            "buys": goal.buys,
            "unit": goal.unit,
        },
        "searched": search.searched,
        "evaluated": search.evaluated,
        "reserve": to.volume(search.reserve),
        "best": _spot(search.best, to, scale),
        "alternatives": [_spot(spot, to, scale) for spot in search.alternatives],
        "finish_curve": _finish_curve(plan, to, scale),
        "proof": None
        if proof is None
        else {
            "best": proof.best * scale,
            "lower_bound": proof.lower_bound * scale,
            "gap": _finite(proof.gap),
            "method": proof.method,
            "statement": proof.statement,
            "nodes": proof.nodes,
            "finished": proof.finished,
        },
    }


def _finish_curve(plan: Plan, to: _Units, scale: float) -> Json | None:
    curve = plan.search.finish_curve
    if curve is None:
        return None
    return {
        "finish": to.lengths(curve.finish.tolist()),
        "value": [_finite(value * scale) for value in curve.value.tolist()],
        "cut": [to.volume(volume) for volume in curve.cut.tolist()],
        "fill": [to.volume(volume) for volume in curve.fill.tolist()],
    }
