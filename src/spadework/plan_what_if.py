"""What a plan rests on that may be otherwise: soil factors, strip, prices and rates, each with its range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from spadework.errors import PlacementError
from spadework.factors import SoilFactors, factor_row
from spadework.placement import Goal, ProofEffort, SearchResult, goal_from
from spadework.placement.front import FrontPoint, trade_off
from spadework.placement.objective import Objective
from spadework.placement.what_if import Assumption, Effect, what_if
from spadework.plan import PlanInputs, find_spot

__all__ = ["assumptions_of", "effects_of", "front_of"]

PRICE_DOWN, PRICE_UP = 0.8, 1.25
"""A price may turn out a fifth lower or a quarter higher: a judgement, without a source."""
STRIP_STEP = 0.025
"""Turf may be so much thinner or thicker than was looked for: a judgement, without a source. [m]"""


def effects_of(inputs: PlanInputs, search: SearchResult) -> tuple[Effect, ...]:
    """Return how the spot and its value move with each number that was assumed, the strongest first.

    Parameters
    ----------
    inputs : PlanInputs
        The site.
    search : SearchResult
        What was found.

    Raises
    ------
    PlacementError
        If the search kept no objective.
    """
    return what_if(search, assumptions_of(inputs, _objective(search)))


def assumptions_of(inputs: PlanInputs, base: Objective) -> tuple[Assumption, ...]:
    """Return the numbers that a plan rests on, with their ranges; those that the goal does not count are left out.

    Parameters
    ----------
    inputs : PlanInputs
        With the terms of its goal.
    base : Objective
        The objective for the likely numbers.
    """
    soil = inputs.soil
    found = [
        Assumption(
            "shrink of the soil", soil.shrink_low, soil.shrink, soil.shrink_high, _with_soil(inputs, base, "shrink")
        ),
        Assumption("swell of the soil", soil.swell_low, soil.swell, soil.swell_high, _with_soil(inputs, base, "swell")),
        *_strip(base),
        *_prices(inputs, base),
        *_rates(inputs, base),
    ]
    return tuple(one for one in found if one.low < one.high and _counts(one, base))


def _counts(one: Assumption, base: Objective) -> bool:
    """Tell whether an assumption changes what is asked at all."""
    ends = (one.objective(one.low), one.objective(one.high))
    return any(end.goal != base.goal or end.keep != base.keep or end.pad.strip != base.pad.strip for end in ends)


def _objective(search: SearchResult) -> Objective:
    if search.objective is None:
        raise PlacementError("The search of this spot kept nothing to ask further.")
    return search.objective


def _goal(inputs: PlanInputs, soil: SoilFactors, **terms: object) -> Goal:
    """Return the goal with other terms; the goal as it is where it does not rest on any."""
    if inputs.terms is None:
        return inputs.goal
    return goal_from(inputs.least, replace(inputs.terms, soil=soil, **terms))  # type: ignore[arg-type]


def _with_soil(inputs: PlanInputs, base: Objective, name: str) -> Callable[[float], Objective]:
    def objective(number: float) -> Objective:
        soil = replace(inputs.soil, shrink=number) if name == "shrink" else replace(inputs.soil, swell=number)
        return replace(base, keep=1.0 - soil.shrink, goal=_goal(inputs, soil))

    return objective


def _strip(base: Objective) -> list[Assumption]:
    strip = base.pad.strip
    if strip <= 0:
        return []
    low, high = max(strip - STRIP_STEP, 0.0), strip + STRIP_STEP
    return [
        Assumption(
            "depth of the strip", low, strip, high, lambda number: replace(base, pad=replace(base.pad, strip=number))
        )
    ]


def _prices(inputs: PlanInputs, base: Objective) -> list[Assumption]:
    if inputs.terms is None:
        return []

    def one(name: str, price: float) -> Assumption:
        def objective(number: float) -> Objective:
            prices: Mapping[str, float] = {**inputs.terms.prices, name: number}  # type: ignore[union-attr]
            return replace(base, goal=_goal(inputs, inputs.soil, prices=prices))

        return Assumption(f"price of {name}", PRICE_DOWN * price, price, PRICE_UP * price, objective)

    found = [one(name, price) for name, price in sorted(inputs.terms.prices.items()) if price > 0]
    wage = inputs.terms.wage
    if wage:

        def paid(number: float) -> Objective:
            return replace(base, goal=_goal(inputs, inputs.soil, wage=number))

        found.append(Assumption("wage", PRICE_DOWN * wage, wage, PRICE_UP * wage, paid))
    return found


def _rates(inputs: PlanInputs, base: Objective) -> list[Assumption]:
    """Return the rates of work that the goal rests on, between the quickest and the slowest of the table."""
    if inputs.terms is None:
        return []

    def one(name: str) -> Assumption:
        row = factor_row("rates", name)

        def objective(number: float) -> Objective:
            rates: Mapping[str, float] = {**inputs.terms.rates, name: number}  # type: ignore[union-attr]
            return replace(base, goal=_goal(inputs, inputs.soil, rates=rates))

        likely = inputs.terms.rates.get(name, float(row.value))  # type: ignore[union-attr]
        return Assumption(
            f"rate of {name}", min(float(row.low), likely), likely, max(float(row.high), likely), objective
        )

    return [one(name) for name in inputs.terms.rows]


def front_of(inputs: PlanInputs, one: Goal, other: Goal, effort: ProofEffort | None = None) -> tuple[FrontPoint, ...]:
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
        If no placement keeps the limits.
    """

    def find(goal: Goal) -> SearchResult:
        found = find_spot(replace(inputs, goal=goal), effort=effort)
        _objective(found)
        return found

    return trade_off(find, one, other)
