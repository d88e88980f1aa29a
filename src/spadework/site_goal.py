"""What the table ``[goal]`` of a site file asks for: one goal or a mix, and the prices that a cost rests on."""

from __future__ import annotations

import contextlib
import json
import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo

from spadework.errors import UnitError
from spadework.placement.goal_terms import GOAL_WORDS, PRICES, SINGLE, WHOLE
from spadework.site_values import nearest, refuse, shown
from spadework.units import FOOT, LengthUnit, parse_length, parse_volume

__all__ = ["Least", "SoilPrices"]

YARD = 3 * FOOT
_PRICE = re.compile(r"(?P<price>\d+(?:\.\d+)?)\s*(?:/|per|a)\s*(?P<unit>[^\d\s].*)", re.IGNORECASE)


def _least(value: Any) -> str | dict[str, float]:
    """Read one word, or a table of words with weights."""
    if isinstance(value, str):
        if value.strip().casefold() in WHOLE:
            return value.strip().casefold()
        if value.strip().casefold() in SINGLE:
            rule = f"by itself it bounds no level; write a mix such as {{ {value.strip()} = 1, digging = 1 }}"
            raise refuse("can only stand in a mix", rule)
        raise refuse("is not known here", f"it is one of {', '.join(map(json.dumps, WHOLE))}", nearest(value, WHOLE))
    if not isinstance(value, dict):
        raise refuse("is no goal", 'it is a word such as "digging", or a mix such as { digging = 1, wall = 0.5 }')
    if not value:
        raise refuse("is an empty mix", "a mix holds at least one goal with its weight, such as { digging = 1 }")
    mix: dict[str, float] = {}
    for word, weight in value.items():
        if word.casefold() not in GOAL_WORDS:
            rule = f"a mix holds {', '.join(GOAL_WORDS)}"
            raise refuse(f"has {shown(word)}, which is no goal", rule, nearest(word, GOAL_WORDS))
        if isinstance(weight, bool) or not isinstance(weight, int | float) or not math.isfinite(weight):
            raise refuse(f"has {word} = {shown(weight)}, which is no weight", "a weight is a plain number")
        if weight <= 0:
            raise refuse(f"has {word} = {shown(weight)}", "a weight is more than 0", "leave out what does not count")
        mix[word.casefold()] = float(weight)
    return mix


def _prices(value: Any, info: ValidationInfo) -> dict[str, float]:
    """Read prices: a number for the site's unit, or text with its unit; for a cubic metre, or a metre of height."""
    if not isinstance(value, dict):
        raise refuse("is not a table", 'prices are written { dig = 30, cart-away = "45 per m3" }')
    metric = (info.context or {}).get("units") in {LengthUnit.METRE, None}
    prices: dict[str, float] = {}
    for name, given in value.items():
        if name not in PRICES:
            raise refuse(
                f"has {shown(name)}, which is nothing of the digging that has a price",
                f"prices may be given for {', '.join(PRICES)}; those of what is bought stand under [prices]",
                nearest(name, [*PRICES]),
            )
        amount = 1.0 if metric else (FOOT if name == "wall" else YARD**3)
        price = given
        if isinstance(given, str):
            price, amount = _price(given, name)
        if isinstance(price, bool) or not isinstance(price, int | float) or not 0 <= price <= 1e7:
            raise refuse(f"has {name} = {shown(given)}, which is no price", "a price is a number from 0 to 10 000 000")
        prices[name] = float(price) / amount
    return prices


def _price(text: str, name: str) -> tuple[float, float]:
    """Return a price and the amount that it is for, out of ``30 per m3``. [m³, or m]"""
    example = "100 per m" if name == "wall" else "30 per m3"
    found = _PRICE.fullmatch(text.strip())
    amount = 0.0
    if found is not None:
        one = f"1 {found['unit'].strip()}"
        with contextlib.suppress(UnitError):
            amount = parse_length(one) if name == "wall" else parse_volume(one)
    if found is None or amount == 0.0:
        raise refuse(f"has {name} = {shown(text)}, which is no price", f'such as 30, or "{example}"')
    return float(found["price"]), amount


Least = Annotated[str | dict[str, float], BeforeValidator(_least)]
SoilPrices = Annotated[dict[str, float], BeforeValidator(_prices)]
