"""Goals that rest on prices or on rates of work, and mixes of goals: each comes down to weights.

A price or an hour belongs to soil in one state; the factors of swell and shrink bring it to the state that a `Goal`
counts in: ``loose = bank (1 + swell)``, ``compacted = bank (1 - shrink)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from spadework.errors import Fault, InputError, Source
from spadework.factors import (
    NORM_DAY,
    USUAL_HAUL,
    FactorRow,
    SoilFactors,
    dig_row,
    factor_row,
    haul_row,
    soil_factors,
)
from spadework.placement.goals import GOALS, Goal
from spadework.placement.limits import NOWHERE

__all__ = ["GOAL_WORDS", "PRICES", "SINGLE", "WHOLE", "GoalTerms", "goal_from"]

PRICES: dict[str, str] = {
    "dig": "digging, for soil in the ground",
    "fill": "making up, for soil rammed in place",
    "cart-away": "soil carted away, as it lies loose",
    "buy-soil": "soil brought, as it lies loose",
    "strip": "taking off turf and topsoil",
    "wall": "each unit of the greatest height of the edge",
}
"""What a price may be given for."""
WHOLE = ("digging", "balance", "cost", "hours", "wall", "moved")
SINGLE = ("cut", "fill", "over", "short")
GOAL_WORDS = (*WHOLE, *SINGLE)
"""What may be made least, by itself or in a mix; the last four only in a mix."""
WEIGHTS = ("cut", "fill", "over", "short", "wall", "strip", "moved")
TOPSOIL = "loam"


@dataclass(frozen=True)
class GoalTerms:
    """What prices and hours are worked out from.

    Parameters
    ----------
    soil : SoilFactors
        Swell and shrink.
    stripped : bool
        Whether turf and topsoil are taken off.
    prices : mapping of str to float
        Of `PRICES`, for a cubic metre, or a metre of height. [currency/m³, currency/m]
    currency : str
        What prices are in.
    wage : float, optional
        Price of an hour's work: stands in for prices of digging, making up and stripping that are not given.
    rates : mapping of str to float
        The user's own rates, by row of ``factors/rates.toml``.
    haul : float, optional
        How far soil is barrowed. [m]
    """

    soil: SoilFactors
    stripped: bool = False
    prices: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    currency: str = ""
    wage: float | None = None
    rates: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    haul: float | None = None

    @property
    def rows(self) -> tuple[str, ...]:
        """Rows of ``factors/rates.toml`` that hours and wages rest on."""
        return tuple(dict.fromkeys((dig_row(self.soil.kind), _haul(self), "spread-tamp-grade", "load", "dig-loam")))

    def hours(self, row_name: str, end: str = "value") -> float:
        """Return the hours for one unit of a row of ``factors/rates.toml``, at the user's own rate where there is one.

        Parameters
        ----------
        row_name : str
            The row.
        end : {"value", "low", "high"}
            Which of its rates.
        """
        row: FactorRow = factor_row("rates", row_name)
        rate = self.rates.get(row_name) or float(getattr(row, end))
        return (NORM_DAY if row.unit.endswith("/day") else 1.0) / rate


def goal_from(
    least: str | Mapping[str, float], terms: GoalTerms, source: Source = NOWHERE, prices_source: Source = NOWHERE
) -> Goal:
    """Return the goal that a word, or a mix of words with weights, asks for.

    The value of a mix is the weighted sum of the values of its parts. No soil is bought where one of them buys none.

    Parameters
    ----------
    least : str or mapping of str to float
        One of `GOAL_WORDS`, or several with their weights.
    terms : GoalTerms
        What prices and hours are worked out from.
    source, prices_source : Source
        Where they were written.

    Raises
    ------
    InputError
        With every fault: unknown words, weights below zero, prices that are missing.
    """
    words = {least: 1.0} if isinstance(least, str) else dict(least)
    faults = [
        Fault(
            f"there is no goal {word!r}",
            rule=f"a goal is one of {', '.join(WHOLE)}; a mix may also hold {', '.join(SINGLE)}",
            source=source,
            value=word,
        )
        for word in words
        if word not in (WHOLE if isinstance(least, str) else GOAL_WORDS)
    ]
    if not faults and "cost" in words:
        faults = _missing_prices(terms, prices_source)
    if faults:
        raise InputError(faults)
    if isinstance(least, str):
        return _one(least, terms)
    parts = [(weight, *_part(word, terms)) for word, weight in words.items()]
    cut, fill, over, short, wall, strip, moved = (
        sum(weight * part.get(name, 0.0) for weight, part, _ in parts) for name in WEIGHTS
    )
    named = " + ".join(f"{weight:g} {word}" for word, weight in words.items())
    try:
        buys = all(buys for _, _, buys in parts)
        return Goal(named, cut, fill, over, short, buys, f"least of the mix {named}", wall, strip, moved=moved)
    except InputError as error:
        raise InputError([replace(fault, source=source) for fault in error.faults]) from None


def _part(word: str, terms: GoalTerms) -> tuple[dict[str, float], bool]:
    """Return the weights of one word of a mix, and whether it lets soil be bought."""
    if word in SINGLE:
        return {word: 1.0}, True
    goal = _one(word, terms)
    return goal.weights, goal.buys


def _one(word: str, terms: GoalTerms) -> Goal:
    """Return the goal of one word."""
    if word in GOALS:
        return GOALS[word]
    return _cost(terms) if word == "cost" else _hours(terms)


def _haul(terms: GoalTerms) -> str:
    """Return the row for the barrow."""
    return haul_row(USUAL_HAUL if terms.haul is None else terms.haul)


def _missing_prices(terms: GoalTerms, source: Source) -> list[Fault]:
    """Return one fault that names every price that a cost needs and does not have."""
    by_wage = set() if terms.wage is None else {"dig", "fill", "strip"}
    needed = ["dig", "fill", "cart-away", "buy-soil", *(["strip"] if terms.stripped else [])]
    missing = [name for name in needed if name not in terms.prices and name not in by_wage]
    if not missing:
        return []
    listed = "; ".join(f"{name} ({PRICES[name]})" for name in missing)
    example = ", ".join(f"{name} = ..." for name in missing)
    return [
        Fault(
            f"the goal is cost, and prices are missing: {listed}",
            rule="no price is made up; [crew] wage stands in for those of dig, fill and strip",
            remedy=f"Write under [goal] prices = {{ {example} }}, each for a cubic metre (a cubic yard where the "
            'site\'s unit is feet), or as text with its unit: "30 per m3"',
            source=source,
        )
    ]


def _cost(terms: GoalTerms) -> Goal:
    """Return the goal of least cost: every price has been checked to be there."""
    soil, prices = terms.soil, terms.prices
    wage = 0.0 if terms.wage is None else terms.wage
    haul = terms.hours(_haul(terms))
    dig = prices.get("dig", wage * (terms.hours(dig_row(terms.soil.kind)) + (1 + soil.swell) * haul))
    strip = prices.get("strip", wage * (terms.hours("dig-loam") + (1 + soil_factors(TOPSOIL).swell) * haul))
    return Goal(
        "cost",
        cut=dig,
        fill=prices.get("fill", wage * terms.hours("spread-tamp-grade")),
        over=(1 + soil.swell) * prices["cart-away"],
        short=(1 + soil.swell) / (1 - soil.shrink) * prices["buy-soil"],
        wall=prices.get("wall", 0.0),
        strip=strip if terms.stripped else 0.0,
        sentence="least cost of the soil, at the prices given",
        unit=terms.currency,
    )


def _hours(terms: GoalTerms) -> Goal:
    """Return the goal of fewest hours of work, with those at the quickest and the slowest rates as its ends."""
    soil = terms.soil

    def goal(end: str, *ends: Goal) -> Goal:
        haul = terms.hours(_haul(terms), end)
        return Goal(
            "hours",
            cut=terms.hours(dig_row(terms.soil.kind), end) + (1 + soil.swell) * haul,
            fill=terms.hours("spread-tamp-grade", end),
            short=(1 + soil.swell) / (1 - soil.shrink) * (terms.hours("load", end) + haul),
            strip=terms.hours("dig-loam", end) + (1 + soil_factors(TOPSOIL).swell) * haul,
            sentence="fewest hours of work on the soil: strip, dig, barrow, spread and tamp",
            unit="h",
            ends=ends,
        )

    return goal("value", goal("high"), goal("low"))
