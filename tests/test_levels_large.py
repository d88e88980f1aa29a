"""Large books: memory that grows with the rows, and the same levels as the dense way on small ones."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from spadework.levels.reading_net import solve_readings
from studies.large_book import adjusted


def peak(rows: int) -> float:
    """Greatest memory while a book of so many rows is reduced and adjusted. [bytes]"""
    adjusted(50)
    tracemalloc.start()
    try:
        adjusted(rows)
        return float(tracemalloc.get_traced_memory()[1])
    finally:
        tracemalloc.stop()


def test_memory_grows_in_proportion() -> None:
    """Four times the rows take less than five times the memory; a full matrix would take sixteen times."""
    assert peak(8_000) / peak(2_000) < 5


def test_levels_when_the_equations_are_sparse() -> None:
    """A book of 400 rows goes the sparse way; its levels solve the same equations by a dense library call."""
    levels = adjusted(400)
    assert levels.fit is not None
    net = levels.fit.net
    assert net.solution.covariance is None
    dense, *_ = np.linalg.lstsq(
        net.design.toarray() / net.readings.sd[:, None],
        (net.readings.value - _as_near(net)) / net.readings.sd,
        rcond=None,
    )
    assert net.solution.estimate == pytest.approx(dense, abs=1e-9)
    assert solve_readings(net.readings).level == pytest.approx(net.level, abs=1e-12)


def _as_near(net: object) -> np.ndarray:
    """The readings that the levels near the truth would give, known levels in their place."""
    readings = net.readings  # type: ignore[attr-defined]
    level = np.where(np.isfinite(readings.known), readings.known, readings.near)
    return level[readings.points + readings.set_up] - level[readings.node[readings.row]]
