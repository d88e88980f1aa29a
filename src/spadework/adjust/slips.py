"""When slips are looked for, which of those tried are named, and in which words: alike for books, lines and places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spadework.adjust.least_squares import LeastSquares, chi_square_share
from spadework.adjust.pen import PenSlip
from spadework.units import LengthUnit

__all__ = ["GAIN", "RARE", "disagrees", "named_slips", "one_question", "pen_reasons"]

RARE = 1e-3
"""A chi-square that honest observations exceed less often than this starts the search."""
LARGE = 4.0
"""So does a standardised residual of this size."""
GAIN = 16.0
"""A slip is named when it takes this much off the chi-square: four standard deviations."""
LEAST_SHARE = 0.03
"""Besides the likeliest, only slips of this share are named."""


def disagrees(solution: LeastSquares) -> bool:
    """Tell whether observations disagree as honest ones hardly ever do; never where nothing is left over."""
    freedom = solution.degrees_of_freedom
    if freedom < 1:
        return False
    loud = float(np.abs(solution.standardised).max(initial=0.0)) > LARGE
    return loud or chi_square_share(solution.chi_square, freedom) <= RARE


def named_slips(scores: npt.ArrayLike, most: int) -> list[tuple[int, float]]:
    """Return which of the slips tried are named, the likeliest first, each with its share of all.

    Parameters
    ----------
    scores : array, shape (n,)
        Log of how likely each is, but for one number that is common to all; at least one.
    most : int
        So many are named at the most.

    Returns
    -------
    list of (int, float)
        Place among ``scores``, and share between 0 and 1: ``exp(score)`` over the sum of them.
    """
    log = np.asarray(scores, dtype=np.float64)
    weights = np.exp(log - log.max())
    shares = weights / weights.sum()
    ranked = np.argsort(-shares, kind="stable")[:most].tolist()
    return [(place, float(shares[place])) for place in ranked if place == ranked[0] or shares[place] >= LEAST_SHARE]


def pen_reasons(unit: LengthUnit) -> dict[PenSlip, str]:
    """Return what is said of each slip of the pen in a length that is written in this unit."""
    whole, more = ("metre", "metres") if unit is LengthUnit.METRE else ("foot", "feet")
    part = {LengthUnit.METRE: "a decimetre", LengthUnit.FOOT: "a tenth of a foot", LengthUnit.FOOT_INCH: "an inch"}
    return {
        "exchanged": "two digits exchanged",
        "whole": f"a whole {whole} out",
        "ten": f"ten {more} out",
        "tenth": f"{part[unit]} out",
        "inches": "inches written as decimals of a foot",
        "dropped": "a digit left out",
        "doubled": "a digit too many",
    }


def one_question(questions: Sequence[str]) -> str:
    """Return the likeliest question, then the less likely ones."""
    first, *others = questions
    return f"{first} Less likely: {' Or '.join(others)}" if others else first
