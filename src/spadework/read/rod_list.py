"""Rod lists: shots from the set-ups of a level or laser, each with a position and a rod reading."""

from __future__ import annotations

import numpy as np

from spadework.read.headed import HeadedTable
from spadework.read.plausible import check_rods
from spadework.read.station_offset import has_station, read_station_offset
from spadework.read.table import EMPTY, counted
from spadework.read.wires import wire_columns
from spadework.readings import RodList

__all__ = ["made_up_names", "read_rod_list", "setups"]


def read_rod_list(table: HeadedTable) -> tuple[RodList, str]:
    """Return a rod list, and what it holds in words.

    A row needs a rod reading, or else a position: a point without a reading only marks a place. East and north stand
    together or not at all: a bench mark off the plan has neither.

    Parameters
    ----------
    table : HeadedTable
        Columns point, east, north, rod; set-up and note where there are.

    Returns
    -------
    rods : RodList
        Lengths in metres.
    summary : str
        ``41 shots, 2 set-ups, decimal feet``.

    Raises
    ------
    InputError
        Every row at fault.
    """
    east, north, rod = table.lengths("east"), table.lengths("north"), table.lengths("rod")
    if "rod" not in table.columns:
        rod, _ = wire_columns(table)
    station = offset = None
    if has_station(table):
        station, offset = read_station_offset(table)
    faulty = {fault.source.line for fault in table.faults}
    if "rod" in table.columns:
        check_rods(table, "rod", rod)
    setup = setups(table)
    point = made_up_names(table)
    placed = np.isfinite(east) & np.isfinite(north)
    if station is not None and offset is not None:
        placed = np.isfinite(station) & np.isfinite(offset)
    rows = [] if table.spoilt else [row for row, line in enumerate(table.line.tolist()) if line not in faulty]
    for row in rows:
        if np.isfinite(east[row]) != np.isfinite(north[row]):
            empty = "north" if np.isnan(north[row]) else "east"
            table.fault(row, empty, f"{point[row]} has no {empty}", "a position is east and north", "fill it in")
        elif np.isnan(rod[row]) and not placed[row]:
            what = f"{point[row]} has neither a rod reading nor a position"
            table.fault(row, "rod", what, "a row is a shot or a place", "fill in the reading")
    table.raise_faults()
    rods = RodList(
        setup=setup,
        point=point,
        east=east,
        north=north,
        rod=rod,
        note=table.texts("note"),
        line=table.line,
        file=table.file,
        reading_resolution=table.step("rod", "middle"),
        station=station,
        offset=offset,
    )
    shots = int(np.isfinite(rod).sum())
    parts = [
        counted(shots, "shot"),
        counted(len(set(setup)), "set-up"),
        table.units_said(("rod",), ("east", "north"), "rods"),
    ]
    if places := len(rod) - shots:
        parts.insert(1, f"{counted(places, 'place')} without a reading")
    return rods, ", ".join(filter(None, parts))


def setups(table: HeadedTable) -> tuple[str, ...]:
    """Return the set-up of each row: an empty cell goes on with the one above; without a column all is one set-up."""
    if "setup" not in table.columns:
        return ("1",) * len(table)
    names: list[str] = []
    carried = 0
    for row, cell in enumerate(table.texts("setup")):
        if cell not in EMPTY:
            names.append(cell)
            continue
        if not names:
            table.fault(row, "setup", "the first row names no set-up", "every shot belongs to a set-up", "fill it in")
        names.append(names[-1] if names else "")
        carried += 1
    if carried:
        table.notes.append(f"{counted(carried, 'empty set-up cell')} taken as the set-up above")
    return tuple(names)


def made_up_names(table: HeadedTable) -> tuple[str, ...]:
    """Return the point names, ``P1, P2, ...`` where the list has no column of them; an empty cell is a fault."""
    if "point" not in table.columns:
        table.notes.append("points have no names: called P1, P2, ... in their order")
        return tuple(f"P{number}" for number in range(1, len(table) + 1))
    names = table.texts("point")
    for row, name in enumerate(names):
        if name in EMPTY:
            table.fault(row, "point", "the row has no point name", "every point has a name", "give it one")
    return names
