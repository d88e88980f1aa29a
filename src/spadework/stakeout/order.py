"""The order in which corners are set: the surest first, and where two tapes cross flatly, a third one.

A corner that stands already is a point to tape from, as well known as it was set.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from spadework.readings import FloatArray
from spadework.stakeout.taping import (
    THIRD_TIE_CROSSING,
    KnownPoint,
    best_crossing,
    expected_error,
    is_poor,
    tape_covariance,
)

__all__ = ["TapedCorner", "tape_corners"]


@dataclass(frozen=True)
class TapedCorner:
    """How one corner is taped.

    Parameters
    ----------
    name : str
        Corner letter.
    crossing : float
        Angle between the ties to the references. [deg]
    third : (str, float), optional
        Point and distance of a third tie. [m]
    covariance : array, shape (2, 2)
        How well the tapes fix it. [m²]
    """

    name: str
    crossing: float
    third: tuple[str, float] | None
    covariance: FloatArray

    @property
    def error(self) -> float:
        """Expected error. [m]"""
        return expected_error(self.covariance)


def tape_corners(
    names: Sequence[str],
    corners: FloatArray,
    references: Sequence[KnownPoint],
    others: Sequence[KnownPoint],
    *,
    tape: float,
    sd: float,
) -> list[TapedCorner]:
    """Return the corners in the order in which they are set.

    Parameters
    ----------
    names : sequence of str
        Corner letters.
    corners : array, shape (n, 2)
        East and north. [m]
    references : sequence of KnownPoint
        The two or more points that every corner is taped from.
    others : sequence of KnownPoint
        Further fixed points that a third tie may come from.
    tape : float
        Length of the tape; a third tie is no longer. [m]
    sd : float
        Standard deviation of one taped distance. [m]
    """
    waiting = list(range(len(names)))
    done: list[TapedCorner] = []
    standing: list[KnownPoint] = []
    while waiting:
        ways = [(_taped(names[i], corners[i], references, [*others, *standing], tape=tape, sd=sd), i) for i in waiting]
        best, chosen = min(ways, key=lambda way: (round(way[0].error, 9), way[1]))
        waiting.remove(chosen)
        done.append(best)
        if math.isfinite(best.error):
            east, north = (float(value) for value in corners[chosen])
            standing.append(KnownPoint(best.name, east, north, best.covariance))
    return done


def _taped(
    name: str,
    corner: FloatArray,
    references: Sequence[KnownPoint],
    others: Sequence[KnownPoint],
    *,
    tape: float,
    sd: float,
) -> TapedCorner:
    """Return how a corner is taped from what stands, with a third tie where the first two cross flatly."""
    crossing = best_crossing(references, corner)
    plain = tape_covariance(references, corner, sd)
    if not is_poor(crossing, THIRD_TIE_CROSSING):
        return TapedCorner(name, crossing, None, plain)
    near = [point for point in others if 1e-3 < point.distance(corner) <= tape]
    if not near:
        return TapedCorner(name, crossing, None, plain)
    ways = [(tape_covariance([*references, point], corner, sd), point) for point in near]
    covariance, point = min(ways, key=lambda way: round(expected_error(way[0]), 9))
    if not expected_error(covariance) < 0.9 * expected_error(plain):
        return TapedCorner(name, crossing, None, plain)
    return TapedCorner(name, crossing, (point.name, point.distance(corner)), covariance)
