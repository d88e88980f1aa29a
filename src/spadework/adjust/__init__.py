"""Weighted least squares for levels, places and fits, and the slips of the pen that a reading is tried with."""

from __future__ import annotations

from spadework.adjust.least_squares import (
    LeastSquares,
    UndeterminedError,
    chi_square_limits,
    chi_square_share,
    solve_least_squares,
)
from spadework.adjust.pen import PenSlip, exchanged_digits, meant_readings

__all__ = [
    "LeastSquares",
    "PenSlip",
    "UndeterminedError",
    "chi_square_limits",
    "chi_square_share",
    "exchanged_digits",
    "meant_readings",
    "solve_least_squares",
]
