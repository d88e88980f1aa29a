"""The table of which soil goes where, for spreadsheets and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from spadework.plan import Plan
from spadework.units import format_length, to_volume_unit, unit_label, volume_label
from spadework.write.tables import whole_sheet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["soil_moves_table"]


def soil_moves_table(plan: Plan) -> pd.DataFrame:
    """Return the moves of soil, one row for each, in the order of the work.

    Parameters
    ----------
    plan : Plan
        A plan without a haul has no rows.
    """
    moves = plan.haul.moves if plan.haul else ()
    unit = plan.units

    def volume(cubic_metres: float) -> str:
        return f"{to_volume_unit(cubic_metres, unit):.3f}"

    columns: dict[str, Sequence[str]] = {
        "order": [str(number) for number in range(1, len(moves) + 1)],
        "from": [move.start for move in moves],
        "to": [move.end for move in moves],
        "loads": [f"{move.loads:.2f}" for move in moves],
        f"way [{unit_label(unit)}]": [format_length(move.distance, unit, with_unit=False) for move in moves],
        f"in the bank [{volume_label(unit)}]": [volume(move.bank) for move in moves],
        f"loose [{volume_label(unit)}]": [volume(move.loose) for move in moves],
        f"compacted [{volume_label(unit)}]": [volume(move.compacted) for move in moves],
    }
    return whole_sheet(plan, columns)
