"""Radial shots: directions and distances from set-ups of a transit or total station."""

from __future__ import annotations

import numpy as np

from spadework.read.angles import angle_step, column_angles, column_slopes
from spadework.read.headed import HeadedTable
from spadework.read.plausible import check_rods
from spadework.read.rod_list import made_up_names, setups
from spadework.read.table import counted
from spadework.read.wires import wire_columns
from spadework.readings import FloatArray
from spadework.readings_positions import RadialShots

__all__ = ["read_radial"]


def read_radial(table: HeadedTable) -> tuple[RadialShots, str]:
    """Return radial shots, and what they are in words.

    Parameters
    ----------
    table : HeadedTable
        Columns setup, point, direction or bearing, and a distance or stadia wires; vertical or zenith angle, rod,
        height of instrument and note where there are.

    Raises
    ------
    InputError
        Every row at fault.
    """
    from_north = "bearing" in table.columns
    direction = column_angles(table, "bearing" if from_north else "direction")
    vertical = _vertical(table)
    reach = next((name for name in ("horizontaldistance", "slopedistance", "distance") if name in table.columns), "")
    distance = table.lengths(reach) if reach else np.full(len(table), np.nan)
    rod, interval = table.lengths("rod"), table.lengths("interval")
    if "upper" in table.columns and "lower" in table.columns:
        mean, span = wire_columns(table)
        rod, interval = np.where(np.isnan(rod), mean, rod), np.where(np.isnan(interval), span, interval)
    elif "middle" in table.columns:
        rod = np.where(np.isnan(rod), table.lengths("middle"), rod)
    height = table.lengths("ih")
    faulty = {fault.source.line for fault in table.faults}
    if "rod" in table.columns:
        check_rods(table, "rod", rod)
    station, point = setups(table), made_up_names(table)
    carried = _carried(station, height)
    for row, line in enumerate(table.line.tolist()):
        if line in faulty or table.spoilt:
            continue
        if np.isnan(direction[row]):
            what = f"{point[row]} has no direction"
            table.fault(row, "bearing" if from_north else "direction", what, "a shot has a direction", "fill it in")
        elif distance[row] < 0 or interval[row] < 0:
            table.fault(row, reach, f"the distance to {point[row]} is negative", "a distance is above 0", "correct it")
    table.raise_faults()
    shots = RadialShots(
        point,
        table.texts("note"),
        table.line,
        table.file,
        station,
        direction,
        distance,
        vertical,
        np.where(np.isfinite(distance), np.nan, interval),
        rod,
        carried,
        from_north,
        reach == "horizontaldistance",
        table.step(reach) if reach else 0.001,
        angle_step(table, "bearing" if from_north else "direction", usual=1.0 / 3600.0),
    )
    by_wires = int(np.isfinite(shots.interval).sum())
    parts = [
        counted(len(shots), "shot"),
        counted(len(set(station)), "set-up"),
        "bearings" if from_north else "angles of the circle",
        f"{by_wires} distances by stadia wires" if by_wires else "",
        table.unit_said(reach, "upper", "interval", "rod") if reach else table.unit_said("upper", "interval", "rod"),
    ]
    return shots, ", ".join(filter(None, parts))


def _vertical(table: HeadedTable) -> FloatArray:
    """Return the inclination of each sight: as such, from the zenith, or as a slope. [deg]"""
    if "zenith" in table.columns:
        zenith = column_angles(table, "zenith")
        # On the second face the circle reads 360° less the zenith angle.
        inclination: FloatArray = 90.0 - np.where(zenith > 180.0, 360.0 - zenith, zenith)
        return inclination
    column = table.columns.get("vertical")
    if column is not None and column.heading.meaning == "slope":
        return column_slopes(table, "vertical")
    angles = column_angles(table, "vertical")
    for row in np.flatnonzero(np.abs(angles) >= 89.0).tolist():
        what = f"an inclination of {angles[row]:g}° is straight up or down"
        remedy = "head the column zenith where angles count from straight up"
        table.fault(row, "vertical", what, "an inclination counts from the horizon", remedy)
        if abs(angles[row] - 90.0) < 45.0:
            break
    return angles


def _carried(station: tuple[str, ...], height: FloatArray) -> FloatArray:
    """Return the height of the instrument in every row of a set-up, where its first row or another gives it. [m]"""
    given: dict[str, float] = {}
    for name, value in zip(station, height.tolist(), strict=True):
        if np.isfinite(value):
            given.setdefault(name, value)
    values = [
        value if np.isfinite(value) else given.get(name, np.nan) for name, value in zip(station, height, strict=True)
    ]
    return np.array(values, dtype=np.float64)
