"""The exact cutting list against longest-first on the same pieces, in one run.

Prints what each costs and how long each takes; asserts only that the exact one is no dearer, and not below its bound.
"""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from spadework.build.cutting import cut_stock
from spadework.build.first_fit import Stock, first_fit_decreasing


@pytest.mark.parametrize("seed", [7, 11])
def test_exact_list_against_longest_first(seed: int) -> None:
    """190 pieces of 10 lengths from 3 stock lengths, in sixteenths of an inch, with a saw cut of an eighth."""
    random = np.random.default_rng(seed)
    lengths = [int(length) for length in np.repeat(random.integers(18 * 16, 110 * 16, size=10), 19)]
    stock = [Stock(96 * 16, 9.0), Stock(120 * 16, 11.6), Stock(144 * 16, 14.2)]
    start = time.perf_counter()
    first_fit_decreasing(lengths, stock, 2)
    quick_time = time.perf_counter() - start
    start = time.perf_counter()
    patterns, bound, quick = cut_stock(lengths, stock, 2)
    exact_time = time.perf_counter() - start
    cost = math.fsum(stock[pattern.stock].cost for pattern in patterns)
    assert bound - 1e-6 <= cost <= quick + 1e-9
    print(
        f"\ncutting list, seed {seed}: exact {cost:.2f} (bound {bound:.2f}) in {exact_time:.2f} s; longest first "
        f"{quick:.2f}, {100 * (quick / cost - 1):.1f} % dearer, {exact_time / quick_time:.0f} times as quick"
    )
