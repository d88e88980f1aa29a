"""Weighted least squares with everything that says how good the answer is: one solver for nets, fits and planes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from spadework.adjust.sparse_inverse import Factorised, factorise
from spadework.readings import FloatArray

__all__ = [
    "LeastSquares",
    "UndeterminedError",
    "Verdict",
    "chi_square_limits",
    "chi_square_share",
    "solve_least_squares",
]

Verdict = Literal["unchecked", "as expected", "better", "worse"]
MOST_DENSE = 40_000
"""Elements of a matrix above which a sparse one is not spread out."""


class UndeterminedError(ValueError):
    """The observations do not fix every unknown.

    Parameters
    ----------
    columns : sequence of int
        The unknowns that could move without any observation noticing, as far as they are told apart.
    """

    def __init__(self, columns: Sequence[int]) -> None:
        self.columns = tuple(int(column) for column in columns)
        super().__init__(f"the observations do not fix unknown{'s' if len(self.columns) > 1 else ''} {self.columns}")


def chi_square_share(value: float, degrees_of_freedom: int) -> float:
    """Return the share of chi-square values with so many degrees of freedom that are larger; NaN for none.

    ``Q(nu / 2, chi2 / 2)``, the regularised upper incomplete gamma function; Abramowitz and Stegun, *Handbook of
    Mathematical Functions*, 26.4.19.
    """
    if degrees_of_freedom < 1:
        return math.nan
    from scipy.special import gammaincc  # noqa: PLC0415 - keeps the start of every command short

    return float(gammaincc(degrees_of_freedom / 2.0, value / 2.0))


def chi_square_limits(degrees_of_freedom: int, risk: float = 0.05) -> tuple[float, float]:
    """Return the two values between which chi-square lies but for ``risk``, half of it on each side."""
    from scipy.special import gammainccinv  # noqa: PLC0415 - as above

    half = degrees_of_freedom / 2.0
    return 2.0 * float(gammainccinv(half, 1.0 - risk / 2.0)), 2.0 * float(gammainccinv(half, risk / 2.0))


@dataclass(frozen=True)
class LeastSquares:
    """A solution, with its n unknowns and m observations.

    Parameters
    ----------
    estimate : array, shape (n,)
        The unknowns.
    residual : array, shape (m,)
        Adjusted less observed: what has to be added to each observation.
    sd : array, shape (m,)
        Standard deviation of each observation as it was given.
    cofactor : array, shape (n,)
        Variance of each unknown if the given standard deviations are true.
    redundancy : array, shape (m,)
        How much of each observation is checked by the others: 0 where nothing checks it, 1 where it adds nothing.
        They sum to the degrees of freedom.
    covariance : array, shape (n, n), optional
        The whole matrix behind ``cofactor``, for a dense solution.
    near_covariance : scipy sparse array, shape (n, n), optional
        For a sparse solution, where asked for, those elements of that matrix whose two unknowns stand in one
        observation, and some others.
    normal_inverse : callable, optional
        Returns the product of that matrix with an array of shape (n,), for a sparse solution too.
    """

    estimate: FloatArray
    residual: FloatArray
    sd: FloatArray
    cofactor: FloatArray
    redundancy: FloatArray
    covariance: FloatArray | None = None
    near_covariance: Any = None
    normal_inverse: Callable[[FloatArray], FloatArray] | None = None

    @property
    def degrees_of_freedom(self) -> int:
        """Observations more than unknowns."""
        return len(self.residual) - len(self.estimate)

    @cached_property
    def chi_square(self) -> float:
        """Sum of the squares of the residuals, each over its standard deviation."""
        return float(np.sum(np.square(self.residual / self.sd)))

    @property
    def variance_factor(self) -> float:
        """``chi_square / degrees_of_freedom``: 1 where the given standard deviations are true; NaN with none over."""
        return self.chi_square / self.degrees_of_freedom if self.degrees_of_freedom > 0 else math.nan

    @property
    def share_worse(self) -> float:
        """How often honest observations of the given standard deviations would fit worse than these do."""
        return chi_square_share(self.chi_square, self.degrees_of_freedom)

    @cached_property
    def limits(self) -> tuple[float, float]:
        """Limits between which chi-square lies for 95 in 100 honest surveys; NaN where nothing is left over."""
        freedom = self.degrees_of_freedom
        return chi_square_limits(freedom) if freedom > 0 else (math.nan, math.nan)

    @property
    def verdict(self) -> Verdict:
        """How the observations agree, by the chi-square test at 95 %."""
        if self.degrees_of_freedom < 1:
            return "unchecked"
        low, high = self.limits
        return "worse" if self.chi_square > high else "better" if self.chi_square < low else "as expected"

    @property
    def widening(self) -> float:
        """Factor on every standard deviation: above 1 where the observations agree worse than they promise to."""
        return math.sqrt(self.variance_factor) if self.verdict == "worse" else 1.0

    @cached_property
    def standard_error(self) -> FloatArray:
        """Standard error of each unknown from how well the observations agree; NaN where none is left over."""
        scaled: FloatArray = np.sqrt(self.cofactor * self.variance_factor)
        return scaled

    @cached_property
    def expected_sd(self) -> FloatArray:
        """Standard deviation of each unknown if the given standard deviations of the observations are true."""
        root: FloatArray = np.sqrt(self.cofactor)
        return root

    @cached_property
    def standardised(self) -> FloatArray:
        """Each residual over its own standard deviation ``sd sqrt(redundancy)``; 0 where nothing checks it.

        Source: W. Baarda, *A testing procedure for use in geodetic networks*, Netherlands Geodetic Commission, 1968: w.
        """
        checked = self.redundancy > 1e-9
        share = np.where(checked, self.redundancy, 1.0)
        return np.where(checked, self.residual / (self.sd * np.sqrt(share)), 0.0)


def solve_least_squares(
    design: Any, observed: npt.ArrayLike, sd: npt.ArrayLike | None = None, *, keep_near: bool = False
) -> LeastSquares:
    """Return the unknowns with the least sum of ``((design @ unknowns - observed) / sd) ** 2``.

    A dense design has its columns brought to one length, is taken apart by Householder's QR with column pivoting, and
    the answer is improved by the augmented system ``[I A; A' 0]`` with residuals in extended precision (A. Bjorck,
    *Iterative refinement of linear least squares solutions*, BIT 7, 1967), so that columns of very different size, or
    nearly alike, cost no digits. A sparse one goes by its normal equations, with one step of refinement, and those
    elements of their inverse that the standard errors and the redundancies ask for.

    Parameters
    ----------
    design : array or scipy sparse array, shape (m, n)
        Change of each observation with each unknown; m at least n.
    observed : array, shape (m,)
        What was observed.
    sd : array or float, optional
        Standard deviation of each observation, above zero; 1 for all unless given. A weight w stands for 1/sqrt(w).
    keep_near : bool
        Whether a sparse solution keeps ``near_covariance``.

    Returns
    -------
    LeastSquares
        Solution, residuals, redundancies.

    Raises
    ------
    UndeterminedError
        When some unknowns are not fixed by the observations.
    """
    target = np.asarray(observed, dtype=np.float64)
    spread = np.broadcast_to(np.asarray(1.0 if sd is None else sd, dtype=np.float64), target.shape)
    if not (np.all(np.isfinite(spread)) and np.all(spread > 0)):
        raise ValueError("every standard deviation is above zero")
    if not np.all(np.isfinite(target)):
        raise ValueError("every observation is a number")
    if hasattr(design, "tocsr"):
        rows, columns = design.shape
        if rows * columns > MOST_DENSE:
            return _sparse(design.tocsr(), target, spread, keep_near=keep_near)
        design = design.toarray()
    return _dense(np.asarray(design, dtype=np.float64), target, spread)


def _dense(design: FloatArray, observed: FloatArray, sd: FloatArray) -> LeastSquares:
    from scipy.linalg import qr, solve_triangular  # noqa: PLC0415 - keeps the start of every command short

    rows, columns = design.shape
    weighted, goal = design / sd[:, None], observed / sd
    length = np.sqrt(np.sum(weighted**2, axis=0))
    empty = np.flatnonzero(length == 0)
    if len(empty) or rows < columns:
        raise UndeterminedError(empty.tolist() or range(rows, columns))
    # By powers of two, which round nothing.
    length = np.exp2(np.round(np.log2(length)))
    scaled = weighted / length
    q, r, order = qr(scaled, mode="economic", pivoting=True)
    diagonal = np.abs(np.diag(r))
    rank = int(np.sum(diagonal > max(rows, columns) * np.finfo(np.float64).eps * diagonal[0]))
    if rank < columns:
        free = np.abs(solve_triangular(r[:rank, :rank], r[:rank, rank:])) > 1e-6
        raise UndeterminedError(sorted([*order[rank:].tolist(), *order[:rank][free.any(axis=1)].tolist()]))

    def improved(lacking: FloatArray, slope: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Solve the augmented system for what is still lacking in the residuals and in their normal equations."""
        upright = solve_triangular(r, slope[order], trans="T")
        along = q.T @ lacking
        step = np.empty(columns)
        step[order] = solve_triangular(r, along - upright)
        return step, lacking - q @ (along - upright)

    wide_design, wide_goal = scaled.astype(np.longdouble), goal.astype(np.longdouble)
    unknown, left = np.zeros(columns, dtype=np.longdouble), np.zeros(rows, dtype=np.longdouble)
    for _ in range(3):
        lacking = np.asarray(wide_goal - left - wide_design @ unknown, dtype=np.float64)
        slope = np.asarray(-(wide_design.T @ left), dtype=np.float64)
        step, change = improved(lacking, slope)
        unknown, left = unknown + step, left + change
    inverse = np.empty((columns, columns))
    inverse[order] = solve_triangular(r, np.eye(columns))
    inverse /= length[:, None]
    covariance = inverse @ inverse.T
    return LeastSquares(
        estimate=np.asarray(unknown / length, dtype=np.float64),
        residual=np.asarray(-left, dtype=np.float64) * sd,
        sd=sd,
        cofactor=np.diag(covariance).copy(),
        redundancy=np.clip(1.0 - np.sum(q**2, axis=1), 0.0, 1.0),
        covariance=covariance,
        normal_inverse=covariance.dot,
    )


def _sparse(design: Any, observed: FloatArray, sd: FloatArray, *, keep_near: bool = False) -> LeastSquares:
    from scipy.sparse import diags_array  # noqa: PLC0415 - keeps the start of every command short

    weighted = diags_array(1.0 / sd) @ design
    goal = observed / sd
    length = np.sqrt(np.asarray(weighted.multiply(weighted).sum(axis=0)).ravel())
    empty = np.flatnonzero(length == 0)
    if len(empty) or design.shape[0] < design.shape[1]:
        raise UndeterminedError(empty.tolist() or range(*design.shape))
    scaled = (weighted @ diags_array(1.0 / length)).tocsr()
    factors: Factorised = factorise(scaled.T @ scaled)
    if factors.undetermined:
        raise UndeterminedError(factors.undetermined)
    unknown = factors.solve(scaled.T @ goal)
    for _ in range(2):
        unknown += factors.solve(scaled.T @ (goal - scaled @ unknown))
    inverse = factors.selected_inverse()
    explained = np.asarray((scaled @ inverse).multiply(scaled).sum(axis=1)).ravel()
    return LeastSquares(
        estimate=unknown / length,
        residual=(scaled @ unknown - goal) * sd,
        sd=sd,
        cofactor=inverse.diagonal() / length**2,
        near_covariance=(diags_array(1.0 / length) @ inverse @ diags_array(1.0 / length)).tocsc()
        if keep_near
        else None,
        redundancy=np.clip(1.0 - explained, 0.0, 1.0),
        normal_inverse=lambda direction: factors.solve(direction / length) / length,
    )
