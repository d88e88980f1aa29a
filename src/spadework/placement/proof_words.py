"""What a lower bound means for the user, in a sentence and in the user's unit."""

from __future__ import annotations

from spadework.placement.goal_words import value_words
from spadework.placement.goals import Goal
from spadework.placement.proof import Bound, ProofEffort, no_bound_because
from spadework.placement.spots import Proof, Spot
from spadework.units import LengthUnit

__all__ = ["METHOD", "proof_of", "statement_of", "unproved"]

METHOD = "branch and bound over east, north and bearing, each placement at its best level"
PRICED = ", barrowing bounded by prices of soil that no way of carrying it can beat"
SMALL = 1e-3
"""Soil over or short below this does not keep a value from being a plain volume. [m³]"""


def proof_of(bound: Bound, spot: Spot, goal: Goal, unit: LengthUnit) -> Proof:
    """Return the proof of a spot.

    Parameters
    ----------
    bound : Bound
        What branch and bound gave.
    spot : Spot
        The best spot.
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    """
    lower = max(min(bound.lower, spot.value), 0.0)
    gap = (spot.value - lower) / spot.value if spot.value > 0 else 0.0
    return Proof(
        best=spot.value,
        lower_bound=lower,
        gap=gap,
        method=METHOD + (PRICED if goal.moved else ""),
        statement=statement_of(lower, spot, goal, unit) + ("" if bound.finished else _unfinished(gap)),
        nodes=bound.nodes,
        finished=bound.finished,
        seconds=bound.seconds,
    )


def statement_of(lower: float, spot: Spot, goal: Goal, unit: LengthUnit) -> str:
    """Return what a lower bound says of a spot, in the unit of the user."""
    low, best = value_words(goal, lower, unit, "down"), value_words(goal, spot.value, unit, "up")
    plain = goal.over * spot.over + goal.short * spot.short < SMALL
    if plain and goal.unit == "m³" and (goal.cut, goal.fill) == (1.0, 0.0):
        return f"No spot allowed here needs less than {low} of digging; this one needs {best}."
    if plain and goal.unit == "m³" and (goal.cut, goal.fill) == (1.0, 1.0):
        return f"No spot allowed here moves less than {low} of soil, cut and fill together; this one moves {best}."
    if goal.name == "wall":
        return f"No spot allowed here has an edge lower than {low} where it is highest; this one has {best}."
    if goal.name == "hours":
        return f"No spot allowed here takes less than {low} of work on the soil; this one takes {best}."
    if goal.name == "moved":
        return f"No spot allowed here asks for less than {low} of barrowing, loads times way; this one asks for {best}."
    return f"As the goal {goal.name} counts, no spot allowed here has less than {low}; this one has {best}."


def _unfinished(gap: float) -> str:
    """Return the honest end of a proof whose effort was spent."""
    return f" The proof was stopped there: a spot better by up to {100 * gap:.0f} % is not ruled out."


def unproved(bound: Bound | None, effort: ProofEffort | None) -> str:
    """Return what a search alone does not say, and why there is no bound; empty where there is one."""
    if bound is not None:
        return ""
    why = "" if effort is None else f" ({no_bound_because()})"
    return f"; no bound proves that there is nothing better{why}"
