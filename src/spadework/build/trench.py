"""The trench along each side of the frame: how deep below the dug or stripped ground, and how much soil comes out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.build.courses import Side
from spadework.readings import FloatArray

__all__ = ["Trench", "crossings", "dig_trench", "positive_integral"]


@dataclass(frozen=True)
class Trench:
    """The trench of one side.

    Parameters
    ----------
    side : str
        Letters of its corners.
    width : float
        The timber and room beside it. [m]
    length : float
        Along the side, less the corner that the next side's trench takes; more where the outline turns inward. [m]
    distance, depth : array, shape (n,)
        Where the depth changes its slope, and the depth there below the base; 0 where the frame's foot is above the
        base. Two entries at one distance are a step. [m]
    volume : float
        Bank volume. [m³]
    """

    side: str
    width: float
    length: float
    distance: FloatArray
    depth: FloatArray
    volume: float

    @property
    def deepest(self) -> float:
        """Greatest depth. [m]"""
        return float(self.depth.max(initial=0.0))

    @property
    def shallowest(self) -> float:
        """Least depth. [m]"""
        return float(self.depth.min(initial=self.deepest))


def dig_trench(side: Side, *, formation: float, strip: float, width: float) -> Trench:
    """Return the trench of one side.

    It is dug from the base, ``min(ground - strip, formation)``, down to the frame's foot ``U``, over the whole width:
    ``V = width ∫ max(min(ground - strip, formation) - U, 0) ds``, exactly, as the base is straight between its breaks
    and the foot is level between steps.

    Parameters
    ----------
    side : Side
    formation, strip : float
        Level dug or filled to; depth of turf and topsoil taken off before. [m]
    width : float
        Of the trench. [m]
    """
    length = max(side.length - side.corner(width), 0.0)
    stripped = side.profile.level - strip
    at = np.unique(np.concatenate([side.stations(), crossings(side.profile.distance, stripped - formation)]))
    at = np.append(at, length) if length > side.length else at
    middle = (at[:-1] + at[1:]) / 2
    foot = side.underside(middle)
    base = np.minimum(side.profile.level_at(at) - strip, formation)
    first, last = base[:-1] - foot, base[1:] - foot
    # Only what the next side's trench does not take: the last stretch is cut off at `length`.
    stop = np.minimum(at[1:], length)
    share = np.where(at[1:] > at[:-1], (stop - at[:-1]) / (at[1:] - at[:-1]), 0.0)
    kept = share > 0
    shortened = first + (last - first) * share
    volume = width * float(positive_integral(stop[kept] - at[:-1][kept], first[kept], shortened[kept]).sum())
    distance = np.stack([at[:-1], at[1:]], axis=1).ravel()
    depth = np.maximum(np.stack([first, last], axis=1).ravel(), 0.0)
    return Trench(side.name, width, length, distance, depth, volume)


def positive_integral(length: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
    """Return ``∫ max(f, 0) ds`` over stretches on which ``f`` runs straight from ``first`` to ``last``.

    Both above zero: the mean times the length. One above: the triangle ``length p² / (2 (p - n))``, ``p`` above and
    ``n`` below zero.
    """
    high, low = np.maximum(first, last), np.minimum(first, last)
    with np.errstate(divide="ignore", invalid="ignore"):
        triangle = length * high**2 / (2 * (high - low))
    return np.where(low >= 0, length * (first + last) / 2, np.where(high <= 0, 0.0, triangle))


def crossings(distance: FloatArray, over: FloatArray) -> FloatArray:
    """Return where a broken line crosses zero."""
    sign = over[:-1] * over[1:] < 0
    first, last = over[:-1][sign], over[1:][sign]
    return np.asarray(distance[:-1][sign] + np.diff(distance)[sign] * first / (first - last), dtype=np.float64)
