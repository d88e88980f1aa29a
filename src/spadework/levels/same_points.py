"""Which rows of a rod list are readings on one point: the same name, and the same place as far as it is known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from spadework.errors import Fault
from spadework.levels.setups import NAMELESS, point_identity
from spadework.levels.wording import Wording, name_key
from spadework.readings import FloatArray, IntArray, RodList

__all__ = ["SAME_PLACE", "SamePoints", "same_points"]

SAME_PLACE = 0.5
"""Two rows of one name nearer than this are one point, taped twice; farther apart they are two points. [m]"""
MOST_NAMED = 6
WORTH_SAYING = 0.02
"""Two positions of one point that differ by more are mentioned. [m]"""


@dataclass(frozen=True)
class SamePoints:
    """The points behind the n rows of a rod list.

    Parameters
    ----------
    identity : array of int, shape (n,)
        Number of each row's point; -1 for a row whose name is empty or stands for several places.
    faults : tuple of Fault
        A known point at two places; half a position.
    notices : tuple of str
        Names that stand for two points; points with two positions.
    """

    identity: IntArray
    faults: tuple[Fault, ...]
    notices: tuple[str, ...]


def _clusters(rods: RodList, rows: IntArray) -> list[list[int]]:
    """Rows of one name grouped by place; rows without a place belong to the first group."""
    groups: list[list[int]] = []
    placeless: list[int] = []
    # Groups by the square of SAME_PLACE in which their first row stands: only neighbouring squares need a look.
    squares: dict[tuple[int, int], list[int]] = {}
    for row, east, north in zip(rows.tolist(), rods.east[rows].tolist(), rods.north[rows].tolist(), strict=True):
        if not (math.isfinite(east) and math.isfinite(north)):
            placeless.append(row)
            continue
        i, j = math.floor(east / SAME_PLACE), math.floor(north / SAME_PLACE)
        near = (
            number
            for square in product((i - 1, i, i + 1), (j - 1, j, j + 1))
            for number in squares.get(square, ())
            if math.hypot(east - rods.east[groups[number][0]], north - rods.north[groups[number][0]]) <= SAME_PLACE
        )
        number = min(near, default=-1)
        if number >= 0:
            groups[number].append(row)
        else:
            squares.setdefault((i, j), []).append(len(groups))
            groups.append([row])
    groups[0].extend(placeless)
    return groups


def _half_positions(rods: RodList) -> Iterator[Fault]:
    for row in np.flatnonzero(np.isfinite(rods.east) != np.isfinite(rods.north)).tolist():
        missing = "north" if np.isfinite(rods.east[row]) else "east"
        yield Fault(
            what=f"{rods.point[row]} has no {missing}",
            rule="a position is an east and a north; a point off the plan has neither",
            remedy=f"Add the {missing}, or take the other out",
            source=rods.source(row, missing),
        )


def _spreads(rods: RodList, identity: IntArray) -> Iterator[tuple[IntArray, float]]:
    """Rows of each name that has more than one position, and how far apart they lie."""
    placed = np.flatnonzero((identity != NAMELESS) & np.isfinite(rods.east) & np.isfinite(rods.north))
    if not len(placed):
        return
    count = int(identity.max()) + 1
    reach: list[FloatArray] = []
    for coordinate in (rods.east, rods.north):
        low, high = np.full(count, np.inf), np.full(count, -np.inf)
        np.minimum.at(low, identity[placed], coordinate[placed])
        np.maximum.at(high, identity[placed], coordinate[placed])
        reach.append(high - low)
    spread = np.hypot(*reach)
    order = np.argsort(identity, kind="stable")
    bounds = np.searchsorted(identity[order], np.arange(count + 1))
    for number in np.flatnonzero(np.isfinite(spread) & (spread > WORTH_SAYING)).tolist():
        yield order[bounds[number] : bounds[number + 1]], float(spread[number])


def _lines(rods: RodList, rows: IntArray) -> str:
    more = ", ..." if len(rows) > MOST_NAMED else ""
    return ", ".join(str(int(rods.line[row])) for row in rows[:MOST_NAMED].tolist()) + more


def _named(told: list[str]) -> str:
    more = f"; and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    return "; ".join(told[:MOST_NAMED]) + more


def _notices(twice_taped: list[str], several: list[str]) -> Iterator[str]:
    if twice_taped:
        yield f"One point with two positions, of which the first is used: {_named(twice_taped)}."
    if several:
        yield (
            "One name at several places, kept as different points, by which no set-up is tied to another: "
            f"{_named(several)}."
        )


def same_points(rods: RodList, known: Mapping[str, float], words: Wording) -> SamePoints:
    """Return which rows of a rod list are one point.

    Parameters
    ----------
    rods : RodList
        The list, n rows.
    known : mapping of str to float
        Points of known level. [m]
    words : Wording
        For the messages.

    Returns
    -------
    SamePoints
        Names compare without regard to case.
    """
    identity = point_identity(rods.point)
    known_keys = {name_key(name) for name in known}
    faults = list(_half_positions(rods))
    twice_taped: list[str] = []
    several: list[str] = []
    for rows, spread in list(_spreads(rods, identity)):
        name = rods.point[rows[0]]
        groups = _clusters(rods, rows)
        told = f"{name} (lines {_lines(rods, rows)}), {words.length(spread)} apart"
        if len(groups) == 1:
            twice_taped.append(told)
        elif name_key(name) in known_keys:
            faults.append(
                Fault(
                    what=f"{name} stands at {len(groups)} places up to {words.length(spread)} apart "
                    f"(lines {_lines(rods, rows)})",
                    rule="a bench mark is one point",
                    remedy="Correct the position, or give the points different names",
                    source=rods.source(int(groups[1][0]), "point"),
                )
            )
        else:
            # A name of several places says nothing about which of them a row means.
            several.append(told)
            identity[rows] = NAMELESS
    return SamePoints(identity, tuple(faults), tuple(_notices(twice_taped, several)))
