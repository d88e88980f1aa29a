"""Which rows of a rod list are readings on one point: the same name, and the same place as far as it is known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault
from spadework.levels.setups import NAMELESS, point_identity
from spadework.levels.wording import Wording, name_key
from spadework.readings import FloatArray, IntArray, RodList

__all__ = ["SAME_PLACE", "SamePoints", "same_points"]

SAME_PLACE = 0.5
"""Two rows of one name nearer than this are one point, taped twice; farther apart they are two points. [m]"""
WORTH_SAYING = 0.02
"""Two positions of one point that differ by more are mentioned. [m]"""


@dataclass(frozen=True)
class SamePoints:
    """The points behind the n rows of a rod list.

    Parameters
    ----------
    identity : array of int, shape (n,)
        Number of each row's point; -1 for a row without a name.
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
    for row in rows.tolist():
        if not np.isfinite(rods.east[row]):
            placeless.append(row)
            continue
        for group in groups:
            apart = np.hypot(rods.east[row] - rods.east[group[0]], rods.north[row] - rods.north[group[0]])
            if apart <= SAME_PLACE:
                group.append(row)
                break
        else:
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
    notices = []
    following = int(identity.max(initial=NAMELESS)) + 1
    for rows, spread in list(_spreads(rods, identity)):
        name = rods.point[rows[0]]
        lines = ", ".join(str(int(rods.line[row])) for row in rows[:6]) + (", ..." if len(rows) > 6 else "")
        groups = _clusters(rods, rows)
        if len(groups) == 1:
            notices.append(f"{name} (lines {lines}) has positions {words.length(spread)} apart; the first one is used.")
        elif name_key(name) in known_keys:
            faults.append(
                Fault(
                    what=f"{name} stands at {len(groups)} places up to {words.length(spread)} apart (lines {lines})",
                    rule="a bench mark is one point",
                    remedy="Correct the position, or give the points different names",
                    source=rods.source(int(groups[1][0]), "point"),
                )
            )
        else:
            notices.append(
                f"{len(groups)} points are called {name} (lines {lines}), up to {words.length(spread)} apart: "
                "kept as different points, and not used to tie one set-up to another."
            )
            # The first keeps the number, so that rows without a place still find it.
            for group in groups[1:]:
                identity[group] = following
                following += 1
    return SamePoints(identity, tuple(faults), tuple(notices))
