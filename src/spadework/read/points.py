"""Point lists: positions and levels that somebody else made."""

from __future__ import annotations

import numpy as np

from spadework.read.headed import HeadedTable
from spadework.read.plausible import check_levels
from spadework.read.rod_list import made_up_names
from spadework.read.station_offset import has_station, read_station_offset
from spadework.read.table import counted
from spadework.readings import PointList

__all__ = ["read_points"]


def read_points(table: HeadedTable) -> tuple[PointList, str]:
    """Return a point list, and what it holds in words.

    Parameters
    ----------
    table : HeadedTable
        Columns east, north; point, level and note where there are.

    Returns
    -------
    points : PointList
        Lengths in metres; a point without a level only marks a place.
    summary : str
        ``12 points, metres``.

    Raises
    ------
    InputError
        Every row at fault.
    """
    east, north, level = table.lengths("east"), table.lengths("north"), table.lengths("level")
    station = offset = None
    wanted = (("east", east), ("north", north)) if "east" in table.columns or "north" in table.columns else ()
    if has_station(table):
        station, offset = read_station_offset(table)
        wanted = (("station", station), ("offset", offset))
    faulty = {fault.source.line for fault in table.faults}
    check_levels(table, "level", level)
    point = made_up_names(table)
    for meaning, values in () if table.spoilt else wanted:
        for row in np.flatnonzero(np.isnan(values)):
            if int(table.line[row]) not in faulty:
                what = f"{point[row]} has no {meaning}"
                table.fault(
                    int(row),
                    meaning,
                    what,
                    f"every point of a list has {' and '.join(name for name, _ in wanted)}",
                    "fill it in",
                )
    table.raise_faults()
    points = PointList(
        point=point,
        east=east,
        north=north,
        level=level,
        note=table.texts("note"),
        line=table.line,
        file=table.file,
        station=station,
        offset=offset,
    )
    parts = [counted(len(point), "point")]
    if places := int(np.isnan(level).sum()):
        parts.append("none with a level" if places == len(level) else f"{places:,} without a level")
    return points, ", ".join(filter(None, [*parts, table.units_said(("level",), ("east", "north"), "levels")]))
