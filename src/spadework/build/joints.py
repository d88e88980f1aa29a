"""Cuts each course into timbers that can be bought, laps them, and staggers the joints course by course."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from spadework.build.corners import inside_corner, is_square, saw_angle, taken_off
from spadework.build.courses import SAME, Run, Side

__all__ = ["Laying", "Piece", "cut_runs", "through_at"]


@dataclass(frozen=True, slots=True)
class Laying:
    """How courses are cut into timbers. All lengths in metres.

    Parameters
    ----------
    breadth : float
        Of the timber: a side that does not run through stops short by this.
    longest : float
        Longest timber to use.
    lap : float
        Length that each joint uses up.
    stagger : float
        Wanted distance between the joints of neighbouring courses.
    least : float
        Shortest piece.
    """

    breadth: float
    longest: float
    lap: float
    stagger: float
    least: float

    def __post_init__(self) -> None:
        if self.longest <= 2 * self.lap:
            raise ValueError(f"timbers of {self.longest} m cannot be joined with laps of {self.lap} m")


@dataclass(frozen=True, slots=True)
class Piece:
    """One timber in its place.

    Parameters
    ----------
    mark : str
        Written on the timber: side, course, number along it, as ``AB2-1``.
    side : str
        Letters of the side's corners.
    course : int
        Counted from the top.
    start, end : float
        Along the side's outer face, laps included. [m]
    joint_start, joint_end : bool
        Whether it is lapped with the piece before, and with the piece after.
    saw_start, saw_end : float
        How far off square its ends are sawn, at a corner that is not square. [deg]
    """

    mark: str
    side: str
    course: int
    start: float
    end: float
    joint_start: bool = False
    joint_end: bool = False
    saw_start: float = 0.0
    saw_end: float = 0.0

    @property
    def length(self) -> float:
        """Length to cut. [m]"""
        return self.end - self.start


def through_at(side: int, course: int, sides: int) -> tuple[bool, bool]:
    """Say whether a side runs through to the outer corner at its start and at its end.

    In a frame with an even number of sides every other side runs through at both ends, and the next course the other
    way; with an odd number each side runs through at one end.

    Parameters
    ----------
    side : int
        Number of the side, from 0.
    course : int
        Counted from the top, from 1.
    sides : int
        How many there are.
    """
    if sides % 2 == 0:
        through = (side + course) % 2 == 1
        return through, through
    return course % 2 == 1, course % 2 == 0


def cut_runs(sides: Sequence[Side], laying: Laying) -> tuple[Piece, ...]:
    """Return every timber of the frame, side by side, course by course.

    Parameters
    ----------
    sides : sequence of Side
        Clockwise.
    laying : Laying
    """
    pieces: list[Piece] = []
    for number, side in enumerate(sides):
        above: list[float] = []
        for course in range(1, side.courses + 1):
            here: list[float] = []
            made = 0
            for run in (run for run in side.runs if run.course == course):
                extent = _extent(sides, number, run, laying.breadth)
                joints = _best_joints(extent, laying, [joint for joint in above if extent[0] < joint < extent[1]])
                made += 1
                saws = _saws(sides, number, run)
                whole = Piece("", side.name, course, *extent, saw_start=saws[0], saw_end=saws[1])
                pieces.extend(_pieces(whole, made, joints, laying.lap))
                made += len(joints)
                here.extend(joints)
            above = here
    return tuple(pieces)


def _extent(sides: Sequence[Side], number: int, run: Run, breadth: float) -> tuple[float, float]:
    """Return where the timbers of a run start and end: at or beyond the corner, or against the neighbour's face."""
    side, before, after = sides[number], sides[number - 1], sides[(number + 1) % len(sides)]
    through_start, through_end = through_at(number, run.course, len(sides))
    start, end = run.start, run.end
    if start <= SAME and before.has(run.course, before.length):
        start = _set_back(side.angles[0], breadth, through_start)
    if end >= side.length - SAME and after.has(run.course, 0.0):
        end = side.length - _set_back(side.angles[1], breadth, through_end)
    return start, end


def _saws(sides: Sequence[Side], number: int, run: Run) -> tuple[float, float]:
    """Return how far off square both ends of a run are sawn, where a neighbour's timber meets it there. [deg]"""
    side, before, after = sides[number], sides[number - 1], sides[(number + 1) % len(sides)]
    start = run.start <= SAME and before.has(run.course, before.length)
    end = run.end >= side.length - SAME and after.has(run.course, 0.0)
    return saw_angle(side.angles[0]) if start else 0.0, saw_angle(side.angles[1]) if end else 0.0


def _set_back(angle: float, breadth: float, through: bool) -> float:
    """Return how far from the corner of the outline a timber ends, at its longest; below zero beyond it. [m]

    Where the outline turns inward the timbers lie beyond the corner: one that runs through goes on by its thickness. A
    mitre is longest on the outside; where the outline turns inward, on the inside.
    """
    if not is_square(angle):
        return min(taken_off(angle, breadth), 0.0)
    if inside_corner(angle):
        return -breadth if through else 0.0
    return 0.0 if through else breadth


def _pieces(whole: Piece, number: int, joints: Sequence[float], lap: float) -> Iterator[Piece]:
    """Yield the pieces of a run between its joints, each half a lap longer at a joint; the first gets the number."""
    for i, (first, last) in enumerate(zip((whole.start, *joints), (*joints, whole.end), strict=True)):
        yield Piece(
            mark=f"{whole.side}{whole.course}-{number + i}",
            side=whole.side,
            course=whole.course,
            start=first - lap / 2 if i else first,
            end=last + lap / 2 if i < len(joints) else last,
            joint_start=i > 0,
            joint_end=i < len(joints),
            saw_start=0.0 if i else whole.saw_start,
            saw_end=0.0 if i < len(joints) else whole.saw_end,
        )


def _best_joints(extent: tuple[float, float], laying: Laying, above: Sequence[float]) -> tuple[float, ...]:
    """Return the middles of the joints: as staggered as wanted with the fewest pieces, else as staggered as can be."""
    length = extent[1] - extent[0]
    if length <= laying.longest + SAME:
        return ()
    fewest = math.ceil((length - laying.lap) / (laying.longest - laying.lap) - SAME)
    best: tuple[tuple[bool, int, float], tuple[float, ...]] | None = None
    for count in (fewest, fewest + 1):
        for joints in _layouts(extent, count, laying):
            apart = min((abs(one - other) for one in joints for other in above), default=math.inf)
            rank = (apart < laying.stagger - SAME, count, -min(apart, laying.stagger))
            if best is None or rank < best[0]:
                best = (rank, joints)
    assert best is not None  # noqa: S101 - equal pieces always fit
    return best[1]


def _layouts(extent: tuple[float, float], count: int, laying: Laying) -> Iterator[tuple[float, ...]]:
    """Yield ways to divide a run into a number of pieces: whole timbers from either end, half ones first, equal."""
    (start, end), lap, longest = extent, laying.lap, laying.longest
    equal = (end - start + (count - 1) * lap) / count
    for first, others in ((longest, longest), (longest / 2, longest), (equal, equal)):
        forward = [start + first - lap / 2 + i * (others - lap) for i in range(count - 1)]
        for joints in (forward, [start + end - joint for joint in reversed(forward)]):
            starting = [start, *(joint - lap / 2 for joint in joints)]
            ending = [*(joint + lap / 2 for joint in joints), end]
            lengths = [last - begin for begin, last in zip(starting, ending, strict=True)]
            if min(lengths) >= min(laying.least, equal) - SAME and max(lengths) <= longest + SAME:
                yield tuple(joints)
