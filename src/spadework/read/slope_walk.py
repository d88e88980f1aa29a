"""Slope walks: legs taped along the ground with their inclination."""

from __future__ import annotations

import numpy as np

from spadework.read.angles import angle_step, column_angles, column_slopes
from spadework.read.headed import HeadedTable
from spadework.read.table import EMPTY, counted
from spadework.readings_positions import SlopeWalk

__all__ = ["read_slope_walk"]

STEEP = 45.0
"""Steeper ground is not walked with a tape: was percent meant? [deg]"""


def read_slope_walk(table: HeadedTable) -> tuple[SlopeWalk, str]:
    """Return the legs of a walk, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns from, to, distance and slope; bearing and note where there are.

    Raises
    ------
    InputError
        Every row at fault.
    """
    distance = table.lengths("distance")
    slope, bearing = column_slopes(table, "slope"), column_angles(table, "bearing")
    faulty = {fault.source.line for fault in table.faults}
    starts, ends = table.texts("from"), table.texts("to")
    asked = any("percent or degrees" in fault.what for fault in table.faults)
    for row, line in enumerate(table.line.tolist()):
        if line in faulty or table.spoilt or asked:
            continue
        if starts[row] in EMPTY or ends[row] in EMPTY:
            side = "from" if starts[row] in EMPTY else "to"
            table.fault(row, side, f"the leg has no {side}", "a leg runs from one point to another", "fill it in")
        elif np.isnan(distance[row]) or distance[row] <= 0:
            what = f"the leg from {starts[row]} to {ends[row]} has no length"
            table.fault(row, "distance", what, "a leg is longer than nothing", "fill in the distance")
        elif np.isnan(slope[row]):
            what = f"the leg from {starts[row]} to {ends[row]} has no slope"
            table.fault(row, "slope", what, "a leg has an inclination; level ground is 0", "fill it in")
        elif abs(slope[row]) > STEEP:
            table.fault(
                row, "slope", f"the leg rises at {slope[row]:.0f}°", "nobody tapes along that", "is it percent?"
            )
    table.raise_faults()
    walk = SlopeWalk(
        ends,
        table.texts("note"),
        table.line,
        table.file,
        starts,
        distance,
        slope,
        bearing,
        table.step("distance"),
        angle_step(table, "bearing", usual=1.0),
    )
    parts = [counted(len(walk), "leg"), f"{float(distance.sum()):.1f} m along the ground", table.unit_said("distance")]
    return walk, ", ".join(filter(None, parts))
