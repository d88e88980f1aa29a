"""Points on the lines of the sides: offset stakes beyond each corner, clear of the digging, and points between corners.

They are set by a string through two corners and a tape along it, so their error is that of the corners, carried along
the line, and that of the tape.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from spadework.pad import Pad
from spadework.readings import FloatArray
from spadework.stakeout.grid import on_outline
from spadework.stakeout.taping import expected_error
from spadework.units import FOOT, LengthUnit

__all__ = ["LinePoint", "offset_points", "round_side_spacing", "side_points"]


@dataclass(frozen=True)
class LinePoint:
    """A point on the line of a side.

    Parameters
    ----------
    name : str
        ``A/AB``: for corner A, on the line AB; ``AB1``: the first point on the side AB.
    start, end : str
        Corners of the side.
    of : str
        Corner that an offset stake stands for; the side's first corner for a point between.
    away : float
        Distance from that corner. [m]
    share : float
        Where on the side: 0 at its start, 1 at its end; below or above outside it.
    place : array, shape (2,)
        In the pad's frame. [m]
    way : array, shape (2,)
        Direction from the corner to it, in the pad's frame.
    """

    name: str
    start: str
    end: str
    of: str
    away: float
    share: float
    place: FloatArray
    way: FloatArray = field(default_factory=lambda: np.zeros(2))

    def error(self, covariance: dict[str, FloatArray], sd: float) -> float:
        """Return the expected error by string and tape. [m]

        Parameters
        ----------
        covariance : dict of str to array
            Of each corner. [m²]
        sd : float
            Standard deviation of the taped distance along the string. [m]
        """
        if not {self.start, self.end} <= covariance.keys():
            return math.nan
        carried = (1 - self.share) ** 2 * covariance[self.start] + self.share**2 * covariance[self.end]
        return math.sqrt(expected_error(carried) ** 2 + sd**2) if np.isfinite(carried).all() else math.inf


def offset_points(pad: Pad, offset: float) -> tuple[list[LinePoint], list[str]]:
    """Return two offset stakes for each corner, on the lines of both its sides, and what could not be had.

    Parameters
    ----------
    pad : Pad
        The pad.
    offset : float
        Distance beyond the corner. [m]

    Returns
    -------
    points : list of LinePoint
        In the order of the sides.
    inside : list of str
        Names of those that would stand on the pad, at an inner corner; they are left out.
    """
    found = []
    for start, end, a, b in _sides(pad):
        length = math.dist(a, b)
        ahead = (b - a) / length
        for of, corner, way, share in (
            (start, a, -ahead, -offset / length),
            (end, b, ahead, 1 + offset / length),
        ):
            found.append(LinePoint(f"{of}/{start}{end}", start, end, of, offset, share, corner + offset * way, way))
    on_pad = on_outline(pad.outline, np.array([point.place for point in found]))
    return (
        [point for point, inside in zip(found, on_pad, strict=True) if not inside],
        [point.name for point, inside in zip(found, on_pad, strict=True) if inside],
    )


def side_points(pad: Pad, spacing: float) -> list[LinePoint]:
    """Return points on each side, at a spacing from its first corner; none within a fifth of it from the next corner.

    Parameters
    ----------
    pad : Pad
        The pad.
    spacing : float
        Distance from one to the next. [m]
    """
    found = []
    for start, end, a, b in _sides(pad):
        length = math.dist(a, b)
        count = max(math.ceil(length / spacing - 0.2 - 1e-9) - 1, 0)
        for number in range(1, count + 1):
            away = number * spacing
            place = a + (b - a) * away / length
            found.append(LinePoint(f"{start}{end}{number}", start, end, start, away, away / length, place))
    return found


def round_side_spacing(pad: Pad, unit: LengthUnit) -> float:
    """Return a spacing, round in the user's unit, that lays at most three points on the longest side. [m]

    Of a round pad, on a quarter of its rim.

    Parameters
    ----------
    pad : Pad
        The pad.
    unit : LengthUnit
        Unit in which it is round.
    """
    one = 1.0 if unit is LengthUnit.METRE else FOOT
    steps = [base * 10.0**power * one for power in range(-1, 5) for base in (1, 2, 5)]
    longest = float(pad.sides.max()) if pad.radius is None else 0.5 * math.pi * pad.radius
    return next((step for step in steps if step * 4 >= longest - 1e-9 and step >= 0.3), steps[-1])


def _sides(pad: Pad) -> Sequence[tuple[str, str, FloatArray, FloatArray]]:
    """Return names and places of the two corners of each side."""
    names, outline = pad.names, pad.outline
    count = len(names)
    return [(names[i], names[(i + 1) % count], outline[i], outline[(i + 1) % count]) for i in range(count)]
