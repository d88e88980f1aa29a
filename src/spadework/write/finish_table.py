"""The table of what the chosen position and bearing cost at other finish levels, for spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from spadework.placement.goal_words import value_label, value_scale
from spadework.plan import Plan
from spadework.units import format_length, to_volume_unit, unit_label, volume_label
from spadework.write.tables import whole_sheet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["finish_levels_table"]


def finish_levels_table(plan: Plan) -> pd.DataFrame:
    """Return one row for each finish level; the value is empty where a level breaks a limit.

    Parameters
    ----------
    plan : Plan
        With banks, cut and fill include them.
    """
    curve, unit = plan.search.finish_curve, plan.units
    empty = np.zeros(0)
    finish, value, cut, fill = (empty,) * 4 if curve is None else (curve.finish, curve.value, curve.cut, curve.fill)
    scale = value_scale(plan.goal, unit)

    def volumes(cubic_metres: Sequence[float]) -> list[str]:
        return [f"{to_volume_unit(volume, unit):.3f}" for volume in cubic_metres]

    columns: dict[str, Sequence[str]] = {
        f"finish [{unit_label(unit)}]": [format_length(level, unit, with_unit=False) for level in finish.tolist()],
        value_label(plan.goal, unit): [f"{each * scale:.3f}" if np.isfinite(each) else "" for each in value.tolist()],
        f"cut [{volume_label(unit)}]": volumes(cut.tolist()),
        f"fill [{volume_label(unit)}]": volumes(fill.tolist()),
    }
    return whole_sheet(plan, columns)
