"""What an edge that is sunk into the ground gives and takes of soil: its trench, and the place that it stands in."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from spadework.readings import FloatArray

__all__ = ["EdgeSoil"]


@dataclass(frozen=True)
class EdgeSoil:
    """The soil of an edge, stretch by stretch along it, n of them.

    Parameters
    ----------
    side : tuple of str
        Letters of the side's corners, for each stretch.
    place : array, shape (n, 2)
        Middle of each stretch in the pad's frame, ``u, v``. [m]
    level : array, shape (n,)
        Middle of the trench's depth. [m]
    dug : array, shape (n,)
        Out of the trench, in the bank. [m³]
    packed : array, shape (n,)
        Rammed back into the trench beside the edge, compacted; below zero where a stretch of the edge stands in a
        trench that is counted with its neighbour. [m³]
    spared : array, shape (n,)
        Fill that is not wanted because the edge stands in its place, compacted. [m³]
    """

    side: tuple[str, ...]
    place: FloatArray
    level: FloatArray
    dug: FloatArray
    packed: FloatArray
    spared: FloatArray

    @property
    def trench(self) -> float:
        """Soil out of the trench, in the bank. [m³]"""
        return math.fsum(self.dug.tolist())

    @property
    def wanted(self) -> float:
        """Soil that the edge asks for besides the fill: what is rammed back less what is spared, compacted. [m³]"""
        return math.fsum(self.packed.tolist()) - math.fsum(self.spared.tolist())

    def reserve(self, keep: float) -> float:
        """Return the soil that the edge leaves for the fill, in the bank; 0 where it takes more than it gives. [m³]

        ``R = trench - (packed - spared) / k``.

        Parameters
        ----------
        keep : float
            Compacted volume that one volume in the bank makes.
        """
        return max(self.trench - self.wanted / keep, 0.0)

    def within(self, fill: float) -> EdgeSoil:
        """Return the same with no more spared than there is fill: where the fill's wedge is thinner than the edge.

        Parameters
        ----------
        fill : float
            Fill of the pad, compacted. [m³]
        """
        spared = math.fsum(self.spared.tolist())
        return self if spared <= fill else replace(self, spared=self.spared * (fill / spared))
