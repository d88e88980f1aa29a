"""What is carried out to the ground: stakes, ties, spans and the depth grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.readings import FloatArray
from spadework.stakeout.rods import grade_rod
from spadework.stakeout.taping import TAPE_SD

__all__ = ["DepthGrid", "Span", "Stake", "StakeOut", "Tie"]


@dataclass(frozen=True, slots=True)
class Tie:
    """Tape distance from a reference to a stake.

    Parameters
    ----------
    reference : str
        Name of the reference.
    distance : float
        Plan distance. [m]
    """

    reference: str
    distance: float


@dataclass(frozen=True, slots=True)
class Span:
    """Tape distance between two stakes: a side or a diagonal.

    Parameters
    ----------
    start, end : str
        Names of the stakes.
    length : float
        Plan distance. [m]
    """

    start: str
    end: str
    length: float


@dataclass(frozen=True, slots=True)
class Stake:
    """A point marked on the ground with what to do there.

    Parameters
    ----------
    name : str
        Corner letter; ``A/AB`` for an offset stake, ``AB1`` for a point on a side.
    east, north : float
        Site position. [m]
    ground_level : float
        Level of the ground as it was measured; NaN for an offset stake outside the measured ground. [m]
    strip : float
        Depth of turf and topsoil taken off first; none at an offset stake, which stands clear of it. [m]
    formation, finish : float
        Level of the surface dug or filled to, and of the top of the pad. [m]
    ties : tuple of Tie
        One for each reference.
    side : str
        ``"left"`` or ``"right"`` of the line from the first reference to the second, ``"on"`` it, or ``""`` with
        fewer than two references: two circles cross twice, this says where.
    crossing : float
        Angle at which the best pair of ties cross at the stake, 0 to 180; NaN with fewer than two. [deg]
    kind : str
        ``"corner"``, ``"offset"`` for a stake clear of the digging on the line of a side, or ``"side"`` for a point
        between two corners.
    of : str
        Corner that an offset stake stands for, or from which a point is taped along its side; empty for a corner.
    away : float
        Distance from that corner along the line of the side. [m]
    line : str
        Side on whose line it stands: ``"AB"``; empty for a corner.
    third : Tie, optional
        A third tie, where the first two cross flatly: from a known point, or from a corner that was set before.
    expected_error : float
        Root mean square distance to expect between the stake and its place; NaN where no tape fixes it. [m]
    """

    name: str
    east: float
    north: float
    ground_level: float
    strip: float
    formation: float
    finish: float
    ties: tuple[Tie, ...] = ()
    side: str = ""
    crossing: float = math.nan
    kind: str = "corner"
    of: str = ""
    away: float = 0.0
    line: str = ""
    third: Tie | None = None
    expected_error: float = math.nan

    @property
    def stripped_level(self) -> float:
        """Level of the ground once the strip is off. [m]"""
        return self.ground_level - self.strip

    @property
    def depth(self) -> float:
        """Stripped ground minus formation: cut when positive, fill when negative. [m]"""
        return self.stripped_level - self.formation

    @property
    def cut(self) -> float:
        """Depth to dig after the strip; NaN where the ground is not known. [m]"""
        return self.depth if math.isnan(self.depth) else max(self.depth, 0.0)

    @property
    def fill(self) -> float:
        """Height to make up after the strip; NaN where the ground is not known. [m]"""
        return self.depth if math.isnan(self.depth) else max(-self.depth, 0.0)

    @property
    def dig(self) -> float:
        """Depth to dig in all, from the ground as it stands: strip and cut. [m]"""
        return self.strip + self.cut

    @property
    def exposed(self) -> float:
        """Finish minus ground as it stands: how far the pad stands proud here; negative below ground. [m]"""
        return self.finish - self.ground_level

    def grade_rod(self, hi: float) -> float:
        """Return what the rod reads with its foot on the formation. [m]

        Parameters
        ----------
        hi : float
            Height of instrument. [m]
        """
        return grade_rod(hi, self.formation)

    def finish_rod(self, hi: float) -> float:
        """Return what the rod reads with its foot on the finished pad. [m]

        Parameters
        ----------
        hi : float
            Height of instrument. [m]
        """
        return grade_rod(hi, self.finish)


@dataclass(frozen=True)
class DepthGrid:
    """The cut sheet: what to do on a grid over the pad, taped from its corner A.

    Parameters
    ----------
    along : array, shape (c,)
        Distance from A towards B, edges included. [m]
    across : array, shape (r,)
        Distance from A to the right of the line from A to B, edges included. [m]
    east, north : array, shape (r, c)
        Site position. [m]
    ground_level : array, shape (r, c)
        Level of the ground as it was measured; NaN where the point is not on the pad. [m]
    strip, formation : float
        Depth taken off first, and level dug or filled to. [m]
    """

    along: FloatArray
    across: FloatArray
    east: FloatArray
    north: FloatArray
    ground_level: FloatArray
    strip: float
    formation: float

    @property
    def depth(self) -> FloatArray:
        """Stripped ground minus formation, shape (r, c): cut when positive, fill when negative. [m]"""
        return self.ground_level - self.strip - self.formation

    @property
    def dig(self) -> FloatArray:
        """Depth to dig in all, from the ground as it stands, shape (r, c). [m]"""
        return self.strip + np.maximum(self.depth, 0.0)

    def ties(self, east: float, north: float) -> FloatArray:
        """Return the plan distance of each point from a place, shape (r, c). [m]"""
        distance: FloatArray = np.hypot(self.east - east, self.north - north)
        return distance


@dataclass(frozen=True)
class StakeOut:
    """All that is carried out to the ground to set the pad out.

    Parameters
    ----------
    stakes : tuple of Stake
        One for each corner, clockwise.
    sides, diagonals : tuple of Span
        What to tape between stakes to prove them square.
    grid : DepthGrid
        What to do on a grid over the pad.
    references : tuple of (str, float, float)
        Name, east and north of each point taped from. [m]
    bench : (str, float), optional
        Bench mark to set the instrument up from, and its level. [m]
    hi : float, optional
        Height of instrument that grade rods are worked out for. [m]
    notices : tuple of str
        What is doubtful: poor crossings, ties longer than the tape, references that would be dug away.
    offsets : tuple of Stake
        Offset stakes clear of the digging, on the lines of both sides of each corner.
    side_points : tuple of Stake
        Points between the corners.
    order : tuple of str
        Names of the stakes in the order in which they are set.
    tape_sd : float
        Standard deviation of one taped distance that errors are worked out from. [m]
    """

    stakes: tuple[Stake, ...]
    sides: tuple[Span, ...]
    diagonals: tuple[Span, ...]
    grid: DepthGrid
    references: tuple[tuple[str, float, float], ...] = ()
    bench: tuple[str, float] | None = None
    hi: float | None = None
    notices: tuple[str, ...] = ()
    offsets: tuple[Stake, ...] = ()
    side_points: tuple[Stake, ...] = ()
    order: tuple[str, ...] = ()
    tape_sd: float = TAPE_SD

    @property
    def all_stakes(self) -> tuple[Stake, ...]:
        """Corners, then offset stakes, then points on the sides."""
        return (*self.stakes, *self.offsets, *self.side_points)

    def ordered(self) -> tuple[Stake, ...]:
        """Return all stakes in the order in which they are set."""
        place = {name: row for row, name in enumerate(self.order)}
        return tuple(sorted(self.all_stakes, key=lambda stake: place.get(stake.name, len(place))))
