"""What every sheet says of the plan in words: the figures that matter, in the user's unit, and where they come from."""

from __future__ import annotations

from spadework.confidence.words import volume_words
from spadework.plan import Plan
from spadework.units import format_length, format_volume

__all__ = ["kept_together", "origin_words", "pad_words", "summary_rows", "unit_words"]

UNIT_WORDS = {"m": "metres", "ft": "feet and decimals of a foot", "ft-in": "feet and inches"}


def unit_words(plan: Plan) -> str:
    """Return the user's unit in words."""
    return UNIT_WORDS[plan.units.value]


def origin_words(plan: Plan) -> list[tuple[str, str]]:
    """Return name and value of what says where the sheet comes from: date, units, datum, coordinate system."""
    rows = [("Date", plan.date), ("Units", unit_words(plan)), ("Datum", plan.datum or "assumed")]
    return [*rows, ("Coordinates", plan.crs)] if plan.crs else rows


def kept_together(words: str) -> str:
    """Return a length that a line never breaks inside: ``11' 9 3/4"`` with spaces that do not break."""
    return words.replace(" ", "\u00a0")


def pad_words(plan: Plan) -> str:
    """Return the size of the pad in words."""
    sides = plan.pad.sides
    if plan.pad.is_rectangle:
        along, across = (kept_together(format_length(float(side), plan.units)) for side in sides[:2])
        return f"{along} by {across}"
    return f"{len(sides)} corners"


def summary_rows(plan: Plan) -> list[tuple[str, str]]:
    """Return name and value of the figures that matter: size, bearing, levels, volumes.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    unit, placement = plan.units, plan.search.best.placement
    rows = [
        ("Pad", pad_words(plan)),
        ("Bearing A to B", f"{placement.bearing % 360:.1f}°"),
        ("Finish level", format_length(placement.finish, unit)),
        ("Formation level", format_length(placement.formation(plan.pad), unit)),
        ("Strip", format_length(plan.pad.strip, unit)),
        ("Cut after strip", format_volume(plan.earthwork.cut, unit)),
        ("Fill", format_volume(plan.earthwork.fill, unit)),
    ]
    if plan.confidence is not None:
        rows += [
            ("Cut to expect", volume_words(plan.confidence.cut, unit)),
            ("Fill to expect", volume_words(plan.confidence.fill, unit)),
        ]
    return [row for row in rows if row[0] != "Strip" or plan.pad.strip > 0]
