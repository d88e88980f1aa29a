"""Squaring: what the two diagonals of a rectangle say about its corners."""

from __future__ import annotations

import math

from spadework.errors import Fault, InputError

__all__ = ["skew_angle"]


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
