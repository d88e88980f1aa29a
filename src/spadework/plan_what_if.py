"""What a plan rests on that may be otherwise: soil factors, strip, prices and rates, each with its range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from spadework.build import BuildOptions
from spadework.errors import PlacementError
from spadework.factors import SoilFactors, factor_row
from spadework.placement import Goal, SearchResult, goal_from
from spadework.placement.carrying import Carrying
from spadework.placement.objective import Objective
from spadework.placement.what_if import Assumption, Effect, Kind, what_if
from spadework.plan_objects import PlanInputs
from spadework.plan_soil import edge_soil_at

__all__ = ["assumptions_of", "effects_of"]

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
    return what_if(search, assumptions_of(inputs, search))


def assumptions_of(inputs: PlanInputs, search: SearchResult) -> tuple[Assumption, ...]:
    """Return the numbers that a plan rests on, with their ranges; those that the goal does not count are left out.

    Parameters
    ----------
    inputs : PlanInputs
        With the terms of its goal.
    search : SearchResult
        What was found for the likely numbers.

    Raises
    ------
    PlacementError
        As for `effects_of`.
    """
    base = search.objective
    if base is None:
        raise PlacementError("The search of this spot kept nothing to ask further.")
    soil, change = inputs.soil, _with_soil(inputs, search, base)
    found = [
        Assumption("shrink of the soil", soil.shrink_low, soil.shrink, soil.shrink_high, change("shrink")),
        Assumption("swell of the soil", soil.swell_low, soil.swell, soil.swell_high, change("swell")),
        *_strip(base),
        *_prices(inputs, base),
        *_rates(inputs, base),
    ]
    return tuple(one for one in found if one.low < one.high and _counts(one, base))


def _counts(one: Assumption, base: Objective) -> bool:
    """Tell whether an assumption changes what is asked at all."""
    ends = (one.objective(one.low), one.objective(one.high))

    def asked(end: Objective) -> tuple[object, ...]:
        loads = None if end.carrying is None else end.carrying.carrier.loads
        return end.goal, end.keep, end.reserve, end.pad.strip, loads

    return any(asked(end) != asked(base) for end in ends)


def _goal(inputs: PlanInputs, soil: SoilFactors, **terms: object) -> Goal:
    """Return the goal with other terms; the goal as it is where it does not rest on any."""
    if inputs.terms is None:
        return inputs.goal
    return goal_from(inputs.least, replace(inputs.terms, soil=soil, **terms))  # type: ignore[arg-type]


def _with_soil(
    inputs: PlanInputs, search: SearchResult, base: Objective
) -> Callable[[str], Callable[[float], Objective]]:
    """Return what makes the objective for another shrink or swell of the soil.

    Soil that shrinks otherwise leaves more or less of the edge's trench as well: by as much at every spot as at the
    chosen one.
    """
    options = inputs.build or BuildOptions.usual(inputs.units)
    edge = edge_soil_at(inputs.ground, inputs.pad, search.best.placement, options, inputs.units)

    def reserve(keep: float) -> float:
        return 0.0 if edge is None else edge.reserve(keep)

    def carrying(soil: SoilFactors) -> Carrying | None:
        return None if base.carrying is None else base.carrying.for_soil(soil)

    def change(name: str) -> Callable[[float], Objective]:
        def objective(number: float) -> Objective:
            if name == "swell":
                soil = replace(inputs.soil, swell=number)
                return replace(base, goal=_goal(inputs, soil), carrying=carrying(soil))
            soil, keep = replace(inputs.soil, shrink=number), 1.0 - number
            left = max(base.reserve + reserve(keep) - reserve(base.keep), 0.0)
            return replace(base, keep=keep, goal=_goal(inputs, soil), reserve=left, carrying=carrying(soil))

        return objective

    return change


def _strip(base: Objective) -> list[Assumption]:
    strip = base.pad.strip
    if strip <= 0:
        return []
    low, high = max(strip - STRIP_STEP, 0.0), strip + STRIP_STEP

    def objective(number: float) -> Objective:
        return replace(base, pad=replace(base.pad, strip=number))

    return [Assumption("depth of the strip", low, strip, high, objective, "length")]


def _prices(inputs: PlanInputs, base: Objective) -> list[Assumption]:
    if inputs.terms is None:
        return []
    currency = inputs.terms.currency

    def one(name: str, price: float) -> Assumption:
        def objective(number: float) -> Objective:
            prices: Mapping[str, float] = {**inputs.terms.prices, name: number}  # type: ignore[union-attr]
            return replace(base, goal=_goal(inputs, inputs.soil, prices=prices))

        kind: Kind = "height price" if name == "wall" else "price"
        return Assumption(f"price of {name}", PRICE_DOWN * price, price, PRICE_UP * price, objective, kind, currency)

    found = [one(name, price) for name, price in sorted(inputs.terms.prices.items()) if price > 0]
    wage = inputs.terms.wage
    if wage:

        def paid(number: float) -> Objective:
            return replace(base, goal=_goal(inputs, inputs.soil, wage=number))

        found.append(Assumption("wage", PRICE_DOWN * wage, wage, PRICE_UP * wage, paid, "wage", currency))
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
        low, high = min(float(row.low), likely), max(float(row.high), likely)
        return Assumption(f"rate of {name}", low, likely, high, objective, "rate", row.unit)

    return [one(name) for name in inputs.terms.rows]
