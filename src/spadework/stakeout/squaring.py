"""Squaring: what the two diagonals of a rectangle say about its corners."""

from __future__ import annotations

import math

from spadework.errors import Fault, InputError

__all__ = ["corner_shift", "skew_angle"]


def skew_angle(along: float, across: float, first_diagonal: float, second_diagonal: float) -> float:
    """Return how far a four-sided figure with equal opposite sides is out of square. [deg]

    ``sin(e) = (d1² - d2²) / (4 a b)``, by the law of cosines on each diagonal.

    Parameters
    ----------
    along, across : float
        Sides a and b. [m]
    first_diagonal, second_diagonal : float
        Diagonals d1 and d2 as taped. [m]

    Returns
    -------
    float
        Positive when the first diagonal is the longer. [deg]

    Raises
    ------
    InputError
        When no figure with those sides has those diagonals.
    """
    sine = (first_diagonal - second_diagonal) * (first_diagonal + second_diagonal) / (4 * along * across)
    if not abs(sine) <= 1:
        raise InputError(
            Fault(
                f"diagonals of {first_diagonal:g} m and {second_diagonal:g} m "
                f"do not fit sides of {along:g} m and {across:g} m",
                "the squares of the diagonals differ by no more than 4 times the product of the sides",
                "tape the sides and the diagonals again",
            )
        )
    return math.degrees(math.asin(sine))


def corner_shift(along: float, across: float, difference: float) -> float:
    """Return how far the far corners of a rectangle stand out of square when its diagonals differ. [m]

    Of a figure with sides a and b and diagonals d1 and d2, the corners beyond the side a lean over by ``b sin(e)``,
    where ``sin(e) = (d1 - d2) (d1 + d2) / (4 a b)`` as in `skew_angle`, and ``d1² + d2² = 2 (a² + b²)``.

    Parameters
    ----------
    along : float
        Side a, which is kept. [m]
    across : float
        Side b, whose far ends lean. [m]
    difference : float
        First diagonal less second. [m]
    """
    total = math.sqrt(max(4 * (along**2 + across**2) - difference**2, 0.0))
    angle = skew_angle(along, across, (total + difference) / 2, (total - difference) / 2)
    return across * math.sin(math.radians(angle))
