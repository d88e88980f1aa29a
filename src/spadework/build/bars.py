"""What holds the frame together: bars into the ground, screws between courses, lag screws at corners and joints."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from spadework.build.corners import taken_off
from spadework.build.courses import SAME, Side
from spadework.build.joints import Piece, through_at
from spadework.build.options import EdgeOptions

__all__ = ["Bar", "Lag", "Screw", "drive_bars", "drive_lags", "drive_screws"]

NEAR = 0.05
"""Bars nearer together than this are one. [m]"""
LAGS = 2
"""Lag screws at each corner of a course and at each joint."""
END = 0.05
"""How far from the end of a timber its first screw stands. [m]"""


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar driven down through every course.

    Parameters
    ----------
    side : str
        Letters of the side's corners.
    distance : float
        Along the side's outer face. [m]
    length : float
        As sold. [m]
    anchor : float
        Length that ends up below the frame; below zero where the bar does not come through. [m]
    why : str
        ``end``, ``joint``, ``step``, ``spacing`` or ``tallest``.
    """

    side: str
    distance: float
    length: float
    anchor: float
    why: str


@dataclass(frozen=True, slots=True)
class Screw:
    """A screw down through one course into the next."""

    side: str
    course: int
    distance: float


@dataclass(frozen=True, slots=True)
class Lag:
    """A lag screw at a corner or a joint of one course; ``number`` counts those at the same place."""

    side: str
    course: int
    distance: float
    number: int


def drive_bars(sides: Sequence[Side], pieces: Sequence[Piece], breadth: float, options: EdgeOptions) -> tuple[Bar, ...]:
    """Return the bars: near the ends of each side and step, at every joint, no further apart than the spacing.

    Each is the shortest that reaches the wanted anchor below the frame; the one in the middle of the tallest side is
    the longest there is.

    Parameters
    ----------
    sides : sequence of Side
    pieces : sequence of Piece
        Timbers of all sides.
    breadth : float
        Of the timber: no bar stands in the corner, where the timbers cross. [m]
    options : EdgeOptions
    """
    tallest = max(range(len(sides)), key=lambda i: sides[i].tallness)
    bars: list[Bar] = []
    for number, side in enumerate(sides):
        # Where the outline turns inward the timbers cross beyond the corner.
        first, last = (max(taken_off(angle, breadth), 0.0) + options.lap / 2 for angle in side.angles)
        ends = {first: "end", side.length - last: "end"} if side.length > first + last else {side.length / 2: "end"}
        wanted = list(ends.items())
        if number == tallest:
            wanted.append((side.length / 2, "tallest"))
        wanted.extend(
            (piece.end - options.lap / 2, "joint") for piece in pieces if piece.side == side.name and piece.joint_end
        )
        for run in side.runs:
            if run.start > SAME:
                wanted.append((run.start + options.lap / 2, "step"))
            if run.end < side.length - SAME:
                wanted.append((run.end - options.lap / 2, "step"))
        bars.extend(_bar(side, at, why, options) for at, why in _spaced(wanted, options.bar_spacing))
    return tuple(bars)


def _spaced(wanted: Sequence[tuple[float, str]], spacing: float) -> list[tuple[float, str]]:
    """Return places in order, one where several fall together, with more between those that are too far apart."""
    order = {"tallest": 0, "joint": 1, "end": 2, "step": 3}
    kept: list[tuple[float, str]] = []
    for at, why in sorted(wanted, key=lambda place: (order[place[1]], place[0])):
        if all(abs(at - other) >= NEAR for other, _ in kept):
            kept.append((at, why))
    kept.sort()
    filled: list[tuple[float, str]] = []
    for (at, why), (following, _) in zip(kept, [*kept[1:], kept[-1]], strict=True):
        filled.append((at, why))
        gaps = math.ceil((following - at) / spacing - SAME)
        filled.extend((at + (following - at) * i / gaps, "spacing") for i in range(1, gaps))
    return filled


def _bar(side: Side, at: float, why: str, options: EdgeOptions) -> Bar:
    """Return the bar for a place."""
    frame = side.top - float(side.underside(at))
    long_enough = [length for length in sorted(options.bar_lengths) if length >= frame + options.bar_anchor - SAME]
    longest = max(options.bar_lengths)
    length = longest if why == "tallest" or not long_enough else long_enough[0]
    return Bar(side.name, at, length, length - frame, why)


def drive_screws(pieces: Sequence[Piece], spacing: float) -> tuple[Screw, ...]:
    """Return the screws down through each timber into the course below it.

    Parameters
    ----------
    pieces : sequence of Piece
    spacing : float
        Greatest distance between screws. [m]
    """
    return tuple(_screws(pieces, spacing))


def _screws(pieces: Sequence[Piece], spacing: float) -> Iterator[Screw]:
    for upper in pieces:
        for lower in pieces:
            if lower.side != upper.side or lower.course != upper.course + 1:
                continue
            start, end = max(upper.start, lower.start) + END, min(upper.end, lower.end) - END
            if end < start:
                continue
            gaps = max(math.ceil((end - start) / spacing - SAME), 1)
            for i in range(gaps + 1):
                yield Screw(upper.side, upper.course, start + (end - start) * i / gaps)


def drive_lags(sides: Sequence[Side], pieces: Sequence[Piece], lap: float) -> tuple[Lag, ...]:
    """Return the lag screws: two at each joint, and two at each corner of a course, through the side that runs through.

    Parameters
    ----------
    sides : sequence of Side
    pieces : sequence of Piece
    lap : float
        Length of a lap joint, which they stand in the middle of. [m]
    """
    return tuple(_lags(sides, pieces, lap))


def _lags(sides: Sequence[Side], pieces: Sequence[Piece], lap: float) -> Iterator[Lag]:
    for piece in pieces:
        if piece.joint_end:
            for number in range(1, LAGS + 1):
                yield Lag(piece.side, piece.course, piece.end - lap / 2, number)
    for i, side in enumerate(sides):
        after = sides[(i + 1) % len(sides)]
        for course in range(1, side.courses + 1):
            if not (side.has(course, side.length) and after.has(course, 0.0)):
                continue
            through = through_at(i, course, len(sides))[1]
            for number in range(1, LAGS + 1):
                yield Lag(side.name if through else after.name, course, side.length if through else 0.0, number)
