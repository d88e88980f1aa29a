"""The table of where the banks end, for setting out and for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from spadework.earthwork import Banks
from spadework.plan import Plan
from spadework.units import format_length, unit_label
from spadework.write.build_json import Units
from spadework.write.tables import whole_sheet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["bank_stakes_table", "banks_document"]


def bank_stakes_table(plan: Plan) -> pd.DataFrame:
    """Return the toe and top stakes, one row for each.

    Parameters
    ----------
    plan : Plan
        A plan without banks has no rows.
    """
    stakes = plan.banks.stakes if plan.banks else ()
    unit = plan.units

    def length(metres: float) -> str:
        return format_length(metres, unit, with_unit=False)

    label = unit_label(unit)
    columns: dict[str, Sequence[str]] = {
        "stake": [stake.name for stake in stakes],
        "kind": [stake.kind for stake in stakes],
        f"out from the edge [{label}]": [length(stake.out) for stake in stakes],
        f"east [{label}]": [length(stake.east) for stake in stakes],
        f"north [{label}]": [length(stake.north) for stake in stakes],
        f"stripped ground [{label}]": [length(stake.level) for stake in stakes],
    }
    return whole_sheet(plan, columns)


def banks_document(banks: Banks | None, to: Units) -> dict[str, Any] | None:
    """Return the banks as plain values, or nothing where the edge is retained.

    Parameters
    ----------
    banks : Banks, optional
    to : Units
        The document's units.
    """
    if banks is None:
        return None
    return {
        "cut": to.volume(banks.cut),
        "fill": to.volume(banks.fill),
        "cut_area": to.area(banks.cut_area),
        "fill_area": to.area(banks.fill_area),
        "outline": [{"east": to.length(east), "north": to.length(north)} for east, north in banks.outline.tolist()],
        "stakes": [
            {
                "name": stake.name,
                "kind": stake.kind,
                "east": to.length(stake.east),
                "north": to.length(stake.north),
                "level": to.length(stake.level),
                "out": to.length(stake.out),
            }
            for stake in banks.stakes
        ],
    }
