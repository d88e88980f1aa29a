"""What breaklines say of the ground: their levels, as observations beside the shots."""

from __future__ import annotations

import math

import numpy as np

from spadework.ground.process import LEVEL_SD
from spadework.ground.surface import Ground
from spadework.readings import FloatArray
from spadework.shots import Shots

__all__ = ["along_sides", "line_shots"]

CLOSER = 0.5
"""Distance of places along a line, as a share of the usual distance between shots."""


def line_shots(ground: Ground, shots: Shots) -> Shots | None:
    """Return what the breaklines of a triangulation say beside its shots: levels at their corners and along them.

    A line is straight between its corners, so it says how high the ground is all along: places are taken half as far
    apart as shots usually are, at most as many as there are shots. A corner that brings a level of its own is as
    sure as the shots usually are, a place between two corners as the less sure of them.

    Parameters
    ----------
    ground : Ground
        The shots, triangulated with their breaklines.
    shots : Shots
        Its shots, in the order of its corners.

    Returns
    -------
    Shots or None
        Without names; None where no breakline runs.
    """
    if not len(ground.kept):
        return None
    count = len(shots)
    own = np.full(count, np.nan) if shots.level_sd is None else shots.level_sd
    own = np.where(np.isfinite(own), own, LEVEL_SD)
    sd = np.concatenate([own, np.full(len(ground.level) - count, float(np.median(own)))])
    drawn = np.unique(ground.kept[ground.kept >= count])
    length = np.hypot(
        ground.east[ground.kept[:, 0]] - ground.east[ground.kept[:, 1]],
        ground.north[ground.kept[:, 0]] - ground.north[ground.kept[:, 1]],
    )
    usual = math.sqrt(ground.area / len(ground.level))
    side, share = along_sides(length, max(CLOSER * usual, float(length.sum()) / count))
    a, b = ground.kept[side].T
    east, north, level = (
        np.concatenate([values[drawn], values[a] + share * (values[b] - values[a])])
        for values in (ground.east, ground.north, ground.level)
    )
    if not len(east):
        return None
    n = len(east)
    return Shots(
        point=("",) * n,
        east=east + ground.origin[0],
        north=north + ground.origin[1],
        level=level,
        note=("",) * n,
        line=np.zeros(n, dtype=np.int64),
        file=("",) * n,
        level_sd=np.concatenate([sd[drawn], np.maximum(sd[a], sd[b])]),
    )


def along_sides(length: FloatArray, step: float) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], FloatArray]:
    """Return places that part sides into pieces no longer than a step: which side, and the share from its first end.

    Parameters
    ----------
    length : array, shape (s,)
        Of each side. [m]
    step : float
        Longest piece. [m]

    Returns
    -------
    side : array of int, shape (k,)
    share : array, shape (k,)
        Between 0 and 1, the ends left out.
    """
    pieces = np.maximum(np.ceil(length / step - 1e-9).astype(np.int64), 1)
    side = np.repeat(np.arange(len(length)), pieces - 1)
    first = np.concatenate([[0], np.cumsum(pieces - 1)])[side]
    return side, (np.arange(len(side)) - first + 1) / pieces[side]
