"""The trade-off front of two goals at a site."""

from __future__ import annotations

from dataclasses import replace

from spadework.errors import PlacementError
from spadework.placement import Goal, ProofEffort, SearchResult
from spadework.placement.front import Front, trade_off
from spadework.plan import find_spot
from spadework.plan_objects import PlanInputs

__all__ = ["front_of"]


def front_of(inputs: PlanInputs, one: Goal, other: Goal, effort: ProofEffort | None = None) -> Front:
    """Return the trade-off front of two goals at a site, its ends and the points of weighted sums proved.

    Parameters
    ----------
    inputs : PlanInputs
        The site; its own goal is left out.
    one, other : Goal
        The goals.
    effort : ProofEffort, optional
        When each proof may stop.

    Raises
    ------
    PlacementError
        If no placement keeps the limits, or a search kept no objective.
    """
    # The soil of the edge's trench is what it is at the best spot of the first goal, at every point of the front.
    counted: list[float] = []

    def find(goal: Goal) -> SearchResult:
        found = find_spot(replace(inputs, goal=goal), effort=effort, reserve=counted[0] if counted else None)
        if found.objective is None:
            raise PlacementError("The search of this spot kept nothing to ask further.")
        counted.append(found.reserve)
        return found

    return trade_off(find, one, other)
