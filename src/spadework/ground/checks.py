"""What is looked at before shots become ground: places shot twice, too few, all on a line, levels far off.

Position and level tolerances here are common practice of taping and rod reading, without a published source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.errors import GroundError
from spadework.ground.outliers import far_off
from spadework.readings import FloatArray, IntArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_fine, format_length

__all__ = ["CheckedShots", "check_shots"]

SAME_PLACE = 0.010
"""Shots closer than this in plan are one place: a rod foot is set down no better. [m]"""

SAME_LEVEL = 0.010
"""Levels of one place that differ by no more than this agree, unless their standard deviations allow more. [m]"""

NARROWEST = 0.05
"""Shots within a strip narrower than this are on one line. [m]"""


@dataclass(frozen=True)
class CheckedShots:
    """Shots fit to be joined by triangles: finite, one for each place, not all on a line.

    Parameters
    ----------
    point : tuple of str, length n
        Names.
    east, north, level : array, shape (n,)
        Site axes. [m]
    notices : tuple of str
        What was done to the shots, and what looks odd about them.
    row : array of int, shape (n,)
        Row of each among the shots given, ascending.
    """

    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    level: FloatArray
    notices: tuple[str, ...]
    row: IntArray


def check_shots(
    shots: Shots, *, accept_outliers: Sequence[str] = (), unit: LengthUnit = LengthUnit.METRE
) -> CheckedShots:
    """Return the shots that describe the ground, or say everything that stands in the way.

    Parameters
    ----------
    shots : Shots
        Rows without a level or a position only mark a place and are left out, with a notice.
    accept_outliers : sequence of str
        Names of shots whose level is right however far it is from its neighbours.
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    CheckedShots

    Raises
    ------
    GroundError
        Naming every pair of shots at one place with different levels, or every shot whose level is far off its
        neighbours; or that there are fewer than three places, or that they all lie on one line.
    """
    bad = [row for row in range(len(shots)) if _infinite(shots, row)]
    if bad:
        lines = [f"{_label(shots, row)} has a position or level without end." for row in bad]
        raise GroundError("\n".join([*lines, "Correct these lines."]))
    rows = np.flatnonzero(np.isfinite(shots.east) & np.isfinite(shots.north) & np.isfinite(shots.level))
    notices: list[str] = []
    if len(rows) < len(shots):
        left_out = [shots.point[row] for row in sorted(set(range(len(shots))) - set(rows.tolist()))]
        notices.append(
            f"{_listed(left_out)} {_have(left_out)} no level or no position and {_are(left_out)} not ground."
        )
    kept, merged = _one_for_each_place(shots, rows, unit)
    notices += merged
    if len(kept.point) < 3:
        raise GroundError(
            f"There {_are(kept.point)} {len(kept.point)} shot{'' if len(kept.point) == 1 else 's'} with position and "
            f"level at different places ({_listed(list(kept.point)) or 'none'}); ground needs at least three that are "
            "not on one line. Take more shots around the place where the pad may go."
        )
    _refuse_line(kept, unit)
    notices += far_off(shots, kept.row, kept.east, kept.north, kept.level, accept_outliers, unit)
    return CheckedShots(kept.point, kept.east, kept.north, kept.level, tuple(notices), kept.row)


@dataclass(frozen=True)
class _Places:
    row: IntArray
    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    level: FloatArray


def _one_for_each_place(shots: Shots, rows: IntArray, unit: LengthUnit) -> tuple[_Places, list[str]]:
    """Return one shot for each place, the mean level where several agree, and what was done as sentences."""
    east, north, level = shots.east[rows], shots.north[rows], shots.level[rows].copy()
    notices, faults = [], []
    keep = np.ones(len(rows), dtype=bool)
    for group in _groups(east, north):
        low, high = group[int(level[group].argmin())], group[int(level[group].argmax())]
        apart, allowed = float(level[high] - level[low]), _allowed(shots, rows[low], rows[high])
        if apart > allowed:
            faults.append(
                f"{_label(shots, rows[low])} and {_label(shots, rows[high])} are the same place "
                f"({_apart(east, north, low, high, unit)}) but their levels are {format_length(level[low], unit)} and "
                f"{format_length(level[high], unit)}, {format_length(apart, unit)} apart."
            )
            continue
        first, rest = group[0], group[1:]
        level[first] = level[group].mean() if apart else level[first]
        keep[rest] = False
        others = _listed([_label(shots, rows[i]) for i in rest])
        did = (
            f"their levels agree to {format_length(apart, unit)} and the mean, {format_length(level[first], unit)}, is "
            "used"
            if apart
            else "one is kept"
        )
        notices.append(f"{_label(shots, rows[first])} was shot again as {others}: {did}.")
    if faults:
        raise GroundError(
            "\n".join(
                [*faults, "One place has one level: correct the position or the level, or take one of the two out."]
            )
        )
    row = rows[keep]
    return _Places(row, tuple(shots.point[i] for i in row), east[keep], north[keep], level[keep]), notices


def _groups(east: FloatArray, north: FloatArray) -> list[IntArray]:
    """Return the rows of every place that was shot more than once, in the order of the first row."""
    if len(east) < 2:
        return []
    from scipy.sparse import coo_array  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415 -- the same
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- the same

    place = np.column_stack([east - east[0], north - north[0]])
    pairs = cKDTree(place).query_pairs(SAME_PLACE, output_type="ndarray")
    if not len(pairs):
        return []
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(east), len(east)))
    _, label = connected_components(links, directed=False)
    order = np.argsort(label, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    return sorted((group for group in groups if len(group) > 1), key=lambda group: int(group[0]))


def _allowed(shots: Shots, one: int, other: int) -> float:
    """Return by how much the levels of two shots of one place may differ: three standard deviations, 10 mm at least."""
    if shots.level_sd is None:
        return SAME_LEVEL
    spread = 3.0 * math.hypot(*(float(shots.level_sd[row]) for row in (one, other)))
    return max(SAME_LEVEL, spread) if math.isfinite(spread) else SAME_LEVEL


def _refuse_line(places: _Places, unit: LengthUnit) -> None:
    """Raise if all places lie in a strip narrower than `NARROWEST`."""
    east, north = places.east - places.east.mean(), places.north - places.north.mean()
    along = np.linalg.svd(np.column_stack([east, north]), full_matrices=False)[2][0]
    off = east * along[1] - north * along[0]
    if float(np.ptp(off)) < NARROWEST:
        run = float(np.ptp(east * along[0] + north * along[1]))
        raise GroundError(
            f"All {len(places.point)} shots ({places.point[0]} ... {places.point[-1]}) lie on one line "
            f"{format_length(run, unit)} long and {format_fine(float(np.ptp(off)), unit)} wide; a line has no area, so "
            "there is no ground to put a pad on. Take shots to both sides of it, or check whether the east and north "
            "columns are the same."
        )


def _infinite(shots: Shots, row: int) -> bool:
    return any(math.isinf(float(values[row])) for values in (shots.east, shots.north, shots.level))


def _label(shots: Shots, row: int) -> str:
    where = str(shots.source(row))
    return f"{shots.point[row]} ({where})" if where else shots.point[row]


def _apart(east: FloatArray, north: FloatArray, one: int, other: int, unit: LengthUnit) -> str:
    gap = math.hypot(float(east[one] - east[other]), float(north[one] - north[other]))
    return "exactly" if gap == 0 else f"{format_fine(gap, unit)} apart in plan"


def _listed(names: Sequence[str], most: int = 8) -> str:
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else list(names))


def _are(names: Sequence[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _have(names: Sequence[str]) -> str:
    return "has" if len(names) == 1 else "have"
