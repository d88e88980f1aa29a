"""Which row of the table of rates a kind of soil and a way for the barrow ask for."""

from __future__ import annotations

from spadework.factors._rows import load_table

__all__ = ["NORM_DAY", "USUAL_HAUL", "dig_row", "haul_row"]

NORM_DAY = 8.0
"""Hours of the day that the norms per day count. [h]"""
USUAL_HAUL = 20.0
"""How far things are barrowed where nothing is known of it. [m]"""
CLAY = ("clay",)
ROCK = ("rock", "coral")


def dig_row(soil: str) -> str:
    """Return the row for digging a kind of soil."""
    if any(word in soil for word in ROCK):
        return "dig-rock"
    return "dig-clay" if any(word in soil for word in CLAY) else "dig-loam"


def haul_row(distance: float) -> str:
    """Return the row for a barrow haul: the nearest distance that reaches as far, else the furthest there is.

    Parameters
    ----------
    distance : float
        Mean way of a load. [m]
    """
    rows = [row for row in load_table("rates") if "to_m" in row.extra]
    reaching = [row for row in rows if float(str(row.extra["to_m"])) >= distance]
    return (reaching[0] if reaching else rows[-1]).name
