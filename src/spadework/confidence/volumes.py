"""Cut and fill of a ground that is known only so well: what to expect, and between which bounds."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from spadework.readings import FloatArray

__all__ = ["Expected", "cut_fill_of", "expected_cut_fill", "levels_that_leave"]

HALVINGS = 48


class Expected(NamedTuple):
    """Expected cut and fill [m³], and the probability at each point that there is something to dig, shape (k,)."""

    cut: float
    fill: float
    above: FloatArray


def expected_cut_fill(
    mean: FloatArray, sd: FloatArray, area: FloatArray, level: FloatArray | float, share: FloatArray | None = None
) -> Expected:
    """Return the expected volumes above and below a level.

    ``E max(z - h, 0) = sd φ(u) + (m - h) Φ(u)`` with ``u = (m - h) / sd``: never less than ``max(m - h, 0)``, which is
    why a mean surface understates digging. From the integral of the normal density by parts.

    Parameters
    ----------
    mean, sd : array, shape (k,) or (p, k)
        Expected level of the ground at each point and its standard deviation; a row for each of several models. [m]
    area : array, shape (k,)
        Area that each point stands for. [m²]
    level : float or array, shape (k,)
        Level dug to, the strip added: ``h``. [m]
    share : array, shape (p,), optional
        How likely each model is.
    """
    mean, sd = np.atleast_2d(mean), np.atleast_2d(sd)
    share = np.ones(1) if share is None else share
    height = mean - level
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.where(sd > 0, height / sd, np.where(height > 0, np.inf, -np.inf))
    density = np.exp(-0.5 * np.minimum(u * u, 1e4)) / math.sqrt(2 * math.pi)
    above = ndtr(u)
    high = sd * density + height * above
    return Expected(float(share @ high @ area), float(share @ (high - height) @ area), share @ above)


def cut_fill_of(levels: FloatArray, area: FloatArray, level: FloatArray | float) -> tuple[FloatArray, FloatArray]:
    """Return cut and fill of each of many grounds, shape (m,) each. [m³]

    Parameters
    ----------
    levels : array, shape (m, k)
        Grounds, drawn jointly at the points. [m]
    area : array, shape (k,)
        Area that each point stands for. [m²]
    level : float or array, shape (k,)
        Level dug to, the strip added. [m]
    """
    height = levels - level
    return np.maximum(height, 0.0) @ area, np.maximum(-height, 0.0) @ area


def levels_that_leave(  # noqa: PLR0917 -- the terms of the balance
    levels: FloatArray,
    area: FloatArray,
    keep: float,
    left: float,
    rise: FloatArray | float = 0.0,
    fall: FloatArray | float = 0.0,
) -> FloatArray:
    """Return for each of many grounds the level at which ``keep cut - fill = left``, shape (m,). [m]

    Parameters
    ----------
    levels : array, shape (m, k)
        Grounds. [m]
    area : array, shape (k,)
        Area that each point stands for. [m²]
    keep : float
        Compacted volume that one volume in the bank makes.
    left : float
        Compacted volume that is to be over; below zero where it is to be short. [m³]
    rise, fall : float or array, shape (k,)
        How far above the level cut begins, and below it fill, at each point: on banks. [m]
    """
    inside = float(area[(rise == 0) & (fall == 0)].sum()) if np.ndim(rise) else float(area.sum())
    low = (levels - np.asarray(rise)).min(axis=1) - max(left, 0.0) / (keep * inside)
    high = (levels + np.asarray(fall)).max(axis=1) + max(-left, 0.0) / inside
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        height = levels - middle[:, None]
        over = ((keep * np.maximum(height - rise, 0.0) - np.maximum(-height - fall, 0.0)) @ area) > left
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    found: FloatArray = (low + high) / 2
    return found
