"""Lengths as builders say them: small ones in millimetres or inches."""

from __future__ import annotations

from spadework.units import FOOT, LengthUnit, format_inches, format_length, format_millimetres

__all__ = ["listed", "small"]


def small(metres: float, unit: LengthUnit) -> str:
    """Return ``150 mm`` or ``5 1/2"`` for what is shorter than a metre or two feet, else the length in full."""
    if unit is LengthUnit.METRE and abs(metres) < 0.9995:
        return format_millimetres(metres)
    if unit is LengthUnit.FOOT_INCH and abs(metres) < 2 * FOOT:
        return format_inches(metres)
    return format_length(metres, unit)


def listed(words: list[str]) -> str:
    """Return words in a row: ``AB, BC and CD``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
