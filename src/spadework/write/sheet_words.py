"""What every sheet says of the plan in words: the figures that matter, in the user's unit, and where they come from."""

from __future__ import annotations

import math

import numpy as np

from spadework.confidence.words import level_words, reason_words, volume_words
from spadework.factors import container_volume
from spadework.plan import Plan
from spadework.units import format_length, format_volume

__all__ = [
    "barrow_of",
    "bearing_name",
    "grid_start",
    "grid_words",
    "kept_together",
    "origin_words",
    "pad_words",
    "summary_rows",
    "sure_words",
    "unit_words",
]

UNIT_WORDS = {"m": "metres", "ft": "feet and decimals of a foot", "ft-in": "feet and inches"}


def unit_words(plan: Plan) -> str:
    """Return the user's unit in words."""
    return UNIT_WORDS[plan.units.value]


def barrow_of(plan: Plan) -> float:
    """Return what one barrow load holds, loose: as the site file says, or a garden barrow. [m³]"""
    return container_volume() if plan.haul is None else plan.haul.barrow


def origin_words(plan: Plan) -> list[tuple[str, str]]:
    """Return name and value of what says where the sheet comes from: date, units, datum, coordinate system."""
    rows = [("Date", plan.date), ("Units", unit_words(plan)), ("Datum", plan.datum or "assumed")]
    return [*rows, ("Coordinates", plan.crs)] if plan.crs else rows


def kept_together(words: str) -> str:
    """Return a length that a line never breaks inside: ``11' 9 3/4"`` with spaces that do not break."""
    return words.replace(" ", "\u00a0")


def pad_words(plan: Plan) -> str:
    """Return the size of the pad in words."""
    pad = plan.pad

    def length(value: float) -> str:
        return kept_together(format_length(float(value), plan.units))

    if pad.radius is not None:
        return f"round, {length(2 * pad.radius)} across"
    along, across = (length(value) for value in np.ptp(pad.outline, axis=0))
    if pad.is_rectangle:
        return f"{along} by {across}"
    shape = "L" if pad.sized == "L" else f"{len(pad.outline)} corners"
    return f"{shape}, {along} by {across} over all"


def bearing_name(plan: Plan) -> str:
    """Return what the pad's bearing is called: from A to B where that side runs along it."""
    pad = plan.pad
    if pad.radius is not None:
        return "Bearing M to A"
    ahead = pad.outline[1] - pad.outline[0]
    return "Bearing A to B" if abs(ahead[1]) < 1e-9 < ahead[0] else "Bearing"


def grid_start(plan: Plan) -> str:
    """Return the point that the depth grid is taped from: corner A, or the corner of the frame round the pad."""
    return "A" if _from_a(plan) else "the frame"


def grid_words(plan: Plan) -> str:
    """Return a sentence on where the frame of the depth grid lies, and a blank; empty where it starts at corner A."""
    if _from_a(plan):
        return ""
    behind, left = -plan.pad.outline.min(axis=0)
    if plan.pad.radius is not None:
        name, (u, v) = "M", (0.0, 0.0)
    else:
        name, (u, v) = "A", plan.pad.outline[0]
    ahead, right = (kept_together(format_length(float(value), plan.units)) for value in (u + behind, v + left))
    return (
        "The grid counts from the near left corner of the frame round the pad, the smallest rectangle along its "
        f"bearing: {name} stands {ahead} ahead of it and {right} to the right. "
    )


def _from_a(plan: Plan) -> bool:
    """Tell whether corner A stands at the near left corner of the frame round the pad."""
    outline = plan.pad.outline
    return plan.pad.radius is None and bool(np.allclose(outline[0], outline.min(axis=0), atol=1e-9))


def sure_words(plan: Plan) -> str:
    """Return in one sentence what to expect and how sure it is, or why that cannot be said.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    found, unit = plan.confidence, plan.units
    if found is None:
        return plan.unsure
    words = f"To expect: {volume_words(found.cut, unit)} cut, {volume_words(found.fill, unit)} fill"
    if found.finish is not None:
        words += f"; the level that leaves the soil as planned is {level_words(found.finish, unit)}"
    known = [stake.give_or_take for stake in found.stakes if math.isfinite(stake.give_or_take)]
    if known:
        least, most = format_length(min(known), unit), format_length(max(known), unit)
        words += f"; marks are good to ± {least} to {most}"
    return f"{words}; {reason_words(found, unit)}."


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
        (bearing_name(plan), f"{placement.bearing % 360:.1f}°"),
        ("Front", plan.pad.front),
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
        if plan.confidence.finish is not None:
            rows.append(("Level that leaves it", level_words(plan.confidence.finish, unit)))
    else:
        rows.append(("How sure", plan.unsure))
    return [row for row in rows if (row[0] != "Strip" or plan.pad.strip > 0) and row[1]]
