"""Symmetric sparse equations: their factors, solutions, and those elements of the inverse that an adjustment needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from spadework.readings import FloatArray, IntArray

__all__ = ["Factorised", "factorise"]

SINGULAR = 1e-12
"""A pivot under this share of the largest is none, in equations whose diagonal is 1."""


@dataclass(frozen=True)
class Factorised:
    """Positive definite equations, taken apart as ``P N P' = L D L'``.

    Parameters
    ----------
    factors : object
        What the library keeps.
    place : array of int, shape (n,)
        Row of the permuted equations in which each unknown stands.
    pivot : array, shape (n,)
        Diagonal of D.
    undetermined : tuple of int
        Unknowns whose pivot vanished: the equations do not fix them.
    """

    factors: Any
    place: IntArray
    pivot: FloatArray
    undetermined: tuple[int, ...] = ()

    def solve(self, right: FloatArray) -> FloatArray:
        """Return the unknowns for a right-hand side."""
        solution: FloatArray = self.factors.solve(np.asarray(right, dtype=np.float64))
        return solution

    def selected_inverse(self) -> Any:
        """Return the elements of the inverse where L has elements, as a symmetric sparse array.

        From the last column backwards ``Z[S, j] = -Z[S, S] l`` and ``Z[j, j] = 1 / d - l' Z[S, j]``, with ``l`` the
        elements of column j of L, in rows S. All of ``Z[S, S]`` stands in the block of the column's parent, the first
        of S. Time and memory go with the squares of the column counts, a small number in levelling.

        Source: K. Takahashi, J. Fagan, M. Chin, *Formation of a sparse bus impedance matrix and its application to
        short circuit study*, 8th PICA Conference, 1973.
        """
        from scipy.sparse import csc_array  # noqa: PLC0415 - keeps the start of every command short

        lower = self.factors.L.tocsc()
        lower.sort_indices()
        starts, rows, values = lower.indptr, lower.indices, lower.data
        count = len(self.pivot)
        starts_list = starts.tolist()
        parent = np.full(count, -1, dtype=np.int64)
        long = np.flatnonzero(np.diff(starts) > 1)
        parent[long] = rows[starts[long] + 1]
        children = np.bincount(parent[parent >= 0], minlength=count).tolist()
        parents = parent.tolist()
        pivots = self.pivot.tolist()
        filled = np.empty_like(values)
        blocks: dict[int, tuple[IntArray, FloatArray]] = {}
        for j in range(count - 1, -1, -1):
            first, last = starts_list[j], starts_list[j + 1]
            above = parents[j]
            if above < 0:
                diagonal = 1.0 / pivots[j]
                beside = values[first + 1 : last]
                inner = np.empty((0, 0))
            else:
                names, block = blocks[above]
                below, column = rows[first + 1 : last], values[first + 1 : last]
                if len(below) == len(names):
                    inner = block
                elif len(below) == 1:
                    inner = block[:1, :1]
                else:
                    at = np.searchsorted(names, below)
                    inner = block[at[:, None], at]
                beside = -(inner @ column)
                diagonal = 1.0 / pivots[j] - float(column @ beside)
                children[above] -= 1
                if not children[above]:
                    del blocks[above]
            filled[first] = diagonal
            filled[first + 1 : last] = beside
            if children[j]:
                size = last - first
                own = np.empty((size, size))
                own[0, 0] = diagonal
                own[0, 1:] = own[1:, 0] = beside
                own[1:, 1:] = inner
                blocks[j] = (rows[first:last], own)
        half = csc_array((filled, rows, starts), shape=(count, count)).tocoo()
        row, column = half.coords
        origin = np.argsort(self.place)
        off = row != column
        where = (
            origin[np.concatenate([row, column[off]])],
            origin[np.concatenate([column, row[off]])],
        )
        return csc_array((np.concatenate([half.data, half.data[off]]), where), shape=(count, count))


def factorise(equations: Any) -> Factorised:
    """Return the factors of symmetric positive definite equations with diagonal 1, in an order that keeps them sparse.

    Parameters
    ----------
    equations : scipy sparse array, shape (n, n)
        Symmetric, diagonal 1.

    Returns
    -------
    Factorised
        With the unknowns that are not fixed in ``undetermined``.
    """
    from scipy.sparse.linalg import splu  # noqa: PLC0415 - keeps the start of every command short

    matrix = equations.tocsc()
    options = {"SymmetricMode": True, "Equil": False}
    try:
        factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
    except RuntimeError:
        # The library only says that some pivot is exactly zero; a hair on the diagonal shows which.
        lifted = matrix.copy()
        lifted.setdiag(matrix.diagonal() * (1.0 + 1e-14))
        factors = splu(lifted, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)
    pivot = np.asarray(factors.U.diagonal(), dtype=np.float64)
    place = np.asarray(factors.perm_c, dtype=np.int64)
    origin = np.argsort(place)
    lost = np.flatnonzero(pivot <= SINGULAR)
    return Factorised(factors, place, pivot, tuple(sorted(origin[lost].tolist())))
