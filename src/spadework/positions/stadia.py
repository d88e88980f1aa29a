"""Three wires on a rod: the mean reading, the distance from the interval, and both reduced for an inclined sight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray

__all__ = ["MULTIPLIER", "ThreeWires", "stadia_parts", "three_wires"]

MULTIPLIER = 100.0
"""Distance for each unit of rod between the outer wires: engraved so in nearly every instrument."""


@dataclass(frozen=True)
class ThreeWires:
    """Rod readings at three wires.

    Parameters
    ----------
    mean : array, shape (n,)
        Mean of the three, which stands for the reading. [m]
    interval : array, shape (n,)
        Upper less lower wire. [m]
    unevenness : array, shape (n,)
        Difference between the two halves of the interval; near zero where no wire was misread. [m]
    """

    mean: FloatArray
    interval: FloatArray
    unevenness: FloatArray


def three_wires(upper: npt.ArrayLike, middle: npt.ArrayLike, lower: npt.ArrayLike) -> ThreeWires:
    """Return the mean, the interval and the unevenness of readings at three wires.

    Parameters
    ----------
    upper, middle, lower : array, shape (n,)
        The readings, in either order of the outer two. [m]

    Returns
    -------
    ThreeWires
        (J. Mahun, Open Access Surveying Library, Elevations chapter G section 2.)
    """
    top, mid, low = (np.asarray(wire, dtype=np.float64) for wire in (upper, middle, lower))
    return ThreeWires((top + mid + low) / 3.0, np.abs(top - low), np.abs(np.abs(top - mid) - np.abs(mid - low)))


def stadia_parts(
    interval: npt.ArrayLike, vertical: npt.ArrayLike, *, multiplier: float = MULTIPLIER, addition: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Return how far and how high an inclined sight on an upright rod reaches.

    ``H = K s cos² a + C cos a``; ``V = K s cos a sin a + C sin a``.

    Parameters
    ----------
    interval : array, shape (n,)
        ``s``, rod between the outer wires. [m]
    vertical : array, shape (n,)
        ``a``, inclination of the line of sight, upwards positive. [deg]
    multiplier, addition : float
        ``K`` and ``C`` [m] of the instrument.

    Returns
    -------
    horizontal, vertical : array, shape (n,)
        Distance, and rise of the line of sight over it. [m] (U.S. Navy, Engineering Aid, NAVEDTRA 14070, chapter 8.)
    """
    tilt = np.deg2rad(np.asarray(vertical, dtype=np.float64))
    along = multiplier * np.asarray(interval, dtype=np.float64) * np.cos(tilt) + addition
    return along * np.cos(tilt), along * np.sin(tilt)
