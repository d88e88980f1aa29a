"""How soil is carted: how many barrow loads, bags, skips or trucks a loose volume fills."""

from __future__ import annotations

import math

from spadework.earthwork import Range
from spadework.factors import container_volume
from spadework.units import LengthUnit, format_volume

__all__ = ["carting_words", "containers_filled"]

WAYS = (
    ("rubble-sack", "rubble sack", 40),
    ("bulk-bag", "bulk bag", 8),
    ("small-skip", "skip of 4 yd³", 2),
    ("large-skip", "skip of 8 yd³", 4),
    ("tipper-truck", "tipper truck of 10 yd³", 1000),
)
"""Row of the containers' table, its name, and how many of them anybody would fill."""
WORTH_SAYING = 0.02
"""Less is lost on the way. [m³]"""


def containers_filled(loose: float) -> tuple[tuple[str, int], ...]:
    """Return how many of each container a loose volume fills, the last one perhaps in part.

    Those that nobody would use for so much, and those that it fills by less than a quarter, are left out.

    Parameters
    ----------
    loose : float
        Loose volume. [m³]

    Returns
    -------
    tuple of (str, int)
        Name and number, the smallest container first.
    """
    found = []
    for row, name, most in WAYS:
        holds = container_volume(row)
        count = math.ceil(loose / holds - 1e-9)
        if count <= most and loose >= holds / 4:
            found.append((name, count))
    return tuple(found)


def carting_words(what: str, loose: Range, unit: LengthUnit) -> str | None:
    """Return a sentence that says how much soil there is to cart and what it fills, or nothing where there is none.

    Parameters
    ----------
    what : str
        ``Left over`` or ``To bring``.
    loose : Range
        Loose volume. [m³]
    unit : LengthUnit
        The user's unit.
    """
    if loose.likely < WORTH_SAYING:
        return None
    ways = [f"{count} {name if count == 1 else _plural(name)}" for name, count in containers_filled(loose.likely)]
    fills = f": {', or '.join(ways)}" if ways else ""
    spread = ""
    if loose.high - loose.low > WORTH_SAYING:
        spread = f" ({format_volume(loose.low, unit)} to {format_volume(loose.high, unit)})"
    return f"{what}: {format_volume(loose.likely, unit)} of loose soil{spread}{fills}."


def _plural(name: str) -> str:
    """Return several of a container: ``skips of 4 yd³``."""
    first, *rest = name.split(" of ")
    return " of ".join((f"{first}s", *rest))
