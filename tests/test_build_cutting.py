"""The cutting list against every way there is on small cases, and against longest-first on larger ones."""

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import naive_cutting
from spadework.build.cutting import cut_stock, cutting_list
from spadework.build.first_fit import Pattern, Stock, first_fit_decreasing
from spadework.build.lumber import StockLength
from spadework.errors import InputError
from spadework.units import LengthUnit

INCH = 0.0254


def cost_of(patterns: tuple[Pattern, ...], stock: list[Stock]) -> float:
    """What the timbers of a list cost."""
    return math.fsum(stock[pattern.stock].cost for pattern in patterns)


def check(patterns: tuple[Pattern, ...], lengths: list[int], stock: list[Stock], kerf: int) -> None:
    """Every piece is cut once, and every timber is long enough for its pieces and the cuts between them."""
    assert Counter(piece for pattern in patterns for piece in pattern.pieces) == Counter(lengths)
    for pattern in patterns:
        used = sum(pattern.pieces) + kerf * (len(pattern.pieces) - 1)
        assert used <= stock[pattern.stock].length


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    lengths=st.lists(st.integers(3, 40), min_size=1, max_size=8),
    sizes=st.lists(
        st.tuples(st.integers(40, 90), st.integers(5, 40)), min_size=1, max_size=3, unique_by=lambda s: s[0]
    ),
    kerf=st.integers(0, 3),
)
def test_cut_stock_when_every_way_is_tried(lengths: list[int], sizes: list[tuple[int, int]], kerf: int) -> None:
    """On small cases the list costs what the best of all ways costs, and says that it is proved."""
    stock = [Stock(length, float(cost)) for length, cost in sizes]
    patterns, bound, quick = cut_stock(lengths, stock, kerf)
    check(patterns, lengths, stock, kerf)
    best = naive_cutting.cheapest(lengths, sizes, kerf)
    assert cost_of(patterns, stock) == pytest.approx(best)
    assert bound == pytest.approx(best, rel=1e-6)
    assert quick >= best - 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_cut_stock_when_compared_with_longest_first(seed: int) -> None:
    """The list never costs more than longest-first by our quick way or by the plain twin, nor less than its bound."""
    random = np.random.default_rng(seed)
    lengths = [int(length) for length in random.choice(random.integers(30, 180, size=5), size=18)]
    stock = [Stock(240, 9.0 + seed), Stock(300, 11.5), Stock(360, 14.0)]
    patterns, bound, quick = cut_stock(lengths, stock, 2)
    check(patterns, lengths, stock, 2)
    cost = cost_of(patterns, stock)
    plain = naive_cutting.first_fit(lengths, [(one.length, one.cost) for one in stock], 2)
    assert bound - 1e-6 <= cost <= min(quick, plain) + 1e-9


def test_cut_stock_when_longest_first_is_beaten() -> None:
    """Longest first lays 6 + 4, 4 + 4 + 3 and 3 in 12s; 6 + 3 + 3 and 4 + 4 + 4 fill two of them."""
    lengths, stock = [6, 4, 4, 4, 3, 3], [Stock(12, 1.0)]
    assert naive_cutting.first_fit(lengths, [(12, 1.0)], 0) == 3
    patterns, bound, quick = cut_stock(lengths, stock, 0)
    check(patterns, lengths, stock, 0)
    assert (len(patterns), quick) == (2, 3.0)
    assert bound == pytest.approx(2.0)


def test_cut_stock_when_the_last_piece_ends_flush() -> None:
    """Two pieces of 48 and one cut of 4 fill a timber of 100: the cut is between them, none at the end."""
    patterns, _, _ = cut_stock([48, 48], [Stock(100, 1.0)], 4)
    assert len(patterns) == 1
    patterns, _, _ = cut_stock([48, 49], [Stock(100, 1.0)], 4)
    assert len(patterns) == 2


def test_cut_stock_when_few_are_available() -> None:
    """What is there in small number is not bought more often, even where it is cheaper."""
    stock = [Stock(100, 1.0, available=1), Stock(120, 5.0)]
    patterns, bound, _ = cut_stock([90, 90, 90], stock, 3)
    check(patterns, [90, 90, 90], stock, 3)
    assert Counter(pattern.stock for pattern in patterns) == {0: 1, 1: 2}
    assert bound == pytest.approx(11.0)


def test_cut_stock_when_there_is_not_enough() -> None:
    """Too few timbers is an error that says so, not a shorter list."""
    with pytest.raises(InputError, match="not timbers enough"):
        cut_stock([90, 90, 90], [Stock(100, 1.0, available=2)], 3)


def test_cut_stock_when_there_is_nothing_to_cut() -> None:
    """No pieces, no timbers."""
    assert cut_stock([], [Stock(100, 1.0)], 3) == ((), 0.0, 0.0)


def test_cut_stock_when_there_is_no_time() -> None:
    """Without time for the proof the list is still right, no dearer than the quick way, above a bound that holds."""
    random = np.random.default_rng(1)
    lengths = [int(length) for length in random.integers(200, 1900, size=40)]
    stock = [Stock(2400, 2.4), Stock(3600, 3.5)]
    patterns, bound, quick = cut_stock(lengths, stock, 3, time_limit=0.01)
    check(patterns, lengths, stock, 3)
    assert bound <= cost_of(patterns, stock) <= quick
    assert bound >= (sum(lengths) + 3 * 40) * 3.5 / 3603 - 1e-9


def test_first_fit_when_a_shorter_timber_does() -> None:
    """A timber opened long is exchanged for the cheapest that holds its pieces."""
    stock = [Stock(100, 10.0), Stock(60, 5.0)]
    patterns = first_fit_decreasing([70, 55], stock, 0)
    assert patterns is not None
    assert cost_of(patterns, stock) == 15.0


def test_cutting_list_when_in_feet_and_inches() -> None:
    """In sixteenths: three pieces of 3 ft 11 7/8 in and two cuts of 1/8 in make 11 ft 11 7/8 in, from one of 12 ft.

    3 x 47 7/8 = 143 5/8; + 2 x 1/8 = 143 7/8; 12 ft is 144, so 1/8 is left, which is the last cut.
    """
    piece = 47.875 * INCH
    found = cutting_list(
        [("a", piece), ("b", piece), ("c", piece)],
        [StockLength(12 * 0.3048), StockLength(8 * 0.3048)],
        section="4x6",
        kerf=INCH / 8,
        unit=LengthUnit.FOOT_INCH,
    )
    assert found.counts == {12 * 0.3048: 1}
    assert found.timbers[0].marks == ("a", "b", "c")
    assert (found.cuts, found.timbers[0].offcut) == (3, 0.0)
    assert found.proved
    assert not found.priced
    assert found.waste == pytest.approx(0.375 * INCH)


def test_cutting_list_when_prices_decide() -> None:
    """Two pieces of 1.7 m: two timbers of 1.8 m at 9.00 beat one of 3.6 m at 20.00, and lose to one at 17.00."""
    pieces = [("a", 1.7), ("b", 1.7)]
    dear = [StockLength(3.6, 20.0), StockLength(1.8, 9.0)]
    found = cutting_list(pieces, dear, section="100 x 100", kerf=0.003, unit=LengthUnit.METRE)
    assert (found.counts, found.value, found.priced) == ({1.8: 2}, 18.0, True)
    cheap = [StockLength(3.6, 17.0), StockLength(1.8, 9.0)]
    found = cutting_list(pieces, cheap, section="100 x 100", kerf=0.003, unit=LengthUnit.METRE)
    assert (found.counts, found.value) == ({3.6: 1}, 17.0)


def test_cutting_list_when_ends_are_squared() -> None:
    """A trim of 10 mm makes two pieces of 1.795 m too much for 3.6 m: 3.590 + 0.003 + 0.010 is 3.603."""
    pieces, stock = [("a", 1.795), ("b", 1.795)], [StockLength(3.6)]
    plain = cutting_list(pieces, stock, section="s", kerf=0.003, unit=LengthUnit.METRE)
    squared = cutting_list(pieces, stock, section="s", kerf=0.003, trim=0.01, unit=LengthUnit.METRE)
    assert (len(plain.timbers), len(squared.timbers)) == (1, 2)


def test_cutting_list_when_a_piece_is_too_long() -> None:
    """Every piece that no timber can give is named with its length."""
    with pytest.raises(InputError) as caught:
        cutting_list(
            [("AB1-1", 5.0), ("BC1-1", 4.9), ("CD1-1", 2.0)],
            [StockLength(4.8)],
            section="s",
            kerf=0.003,
            unit=LengthUnit.METRE,
        )
    assert len(caught.value.faults) == 2
    assert "piece AB1-1 is 5.000 m long, and the longest timber gives 4.800 m" in str(caught.value)
