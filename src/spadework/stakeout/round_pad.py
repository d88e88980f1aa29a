"""How a round pad is set out: its middle, four quarter points a radius away, and points on the arc between them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.pad import Pad
from spadework.readings import FloatArray
from spadework.stakeout.line_points import LinePoint
from spadework.stakeout.taping import expected_error

__all__ = ["MIDDLE", "arc_points", "beyond_quarters", "marked_points"]

MIDDLE = "M"
"""Name of the stake in the middle of a round pad."""


@dataclass(frozen=True)
class ArcPoint(LinePoint):
    """A point on the arc: a radius from the middle, and a chord from the quarter point before it.

    Its two tapes cross at ``90° - φ / 2``, ``φ`` the turn between the two points.
    """

    turn: float = 0.0

    def error(self, covariance: dict[str, FloatArray], sd: float) -> float:
        """Return the expected error by two tapes, the points taped from as unsure every way as they are on the mean.

        With variance ``s² + ½ (½ tr C_M + ½ tr C_A)`` along each tape: ``√2 s / sin γ``, as in `taping`. [m]
        """
        if not {MIDDLE, self.of} <= covariance.keys():
            return math.nan
        from_points = sum(expected_error(covariance[name]) ** 2 for name in (MIDDLE, self.of))
        return math.sqrt(2.0 * (sd**2 + from_points / 4.0)) / math.cos(self.turn / 2.0)


def marked_points(pad: Pad) -> tuple[tuple[str, ...], FloatArray]:
    """Return names and places of the stakes that carry a pad: its corners; of a round pad the middle and quarters. [m]

    Parameters
    ----------
    pad : Pad
    """
    names, places = pad.marked
    if pad.radius is None:
        return names, places
    return (MIDDLE, *names), np.vstack([np.zeros((1, 2)), places])


def beyond_quarters(pad: Pad, offset: float) -> list[LinePoint]:
    """Return an offset stake for each quarter point, on the line from the middle through it and beyond.

    Parameters
    ----------
    pad : Pad
        A round one.
    offset : float
        Distance beyond the quarter point. [m]
    """
    radius = pad.radius or 0.0
    return [
        LinePoint(
            name=f"{name}/{MIDDLE}{name}",
            start=MIDDLE,
            end=name,
            of=name,
            away=offset,
            share=1 + offset / radius,
            place=place * (1 + offset / radius),
            way=place / radius,
        )
        for name, place in zip(*pad.marked, strict=True)
    ]


def arc_points(pad: Pad, spacing: float) -> list[LinePoint]:
    """Return points on the arc between the quarter points, equal turns apart, no farther along it than a spacing.

    Parameters
    ----------
    pad : Pad
        A round one.
    spacing : float
        Greatest distance from one to the next along the arc. [m]
    """
    radius = pad.radius or 0.0
    count = max(math.ceil(0.5 * math.pi * radius / spacing - 0.2 - 1e-9) - 1, 1)
    found: list[LinePoint] = []
    for quarter, name in enumerate("ABCD"):
        for number in range(1, count + 1):
            turn = 0.5 * math.pi * number / (count + 1)
            at = 0.5 * math.pi * quarter + turn
            place = radius * np.array([math.cos(at), math.sin(at)])
            end = "ABCD"[(quarter + 1) % 4]
            chord = 2.0 * radius * math.sin(turn / 2.0)
            found.append(ArcPoint(f"{name}{end}{number}", name, end, name, chord, math.nan, place, turn=turn))
    return found
