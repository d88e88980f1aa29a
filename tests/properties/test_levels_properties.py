"""What must hold for any level book."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from books import LOOSE, level_book
from spadework.levels import ReducedLevels, level_book_from_rods, reduce_level_book
from spadework.readings import LevelBook, RodList

Row = tuple[str, float | None, float | None, float | None]
READING = st.integers(0, 5000).map(lambda millimetres: millimetres / 1000)
LEVEL = st.integers(-200_000, 2_000_000).map(lambda millimetres: millimetres / 1000)


@st.composite
def loops(draw: st.DrawFn) -> list[Row]:
    """A walk of set-ups with some shots each, that comes back to its bench mark."""
    rows: list[Row] = [("BM", draw(READING), None, None)]
    setups = draw(st.integers(1, 8))
    for setup in range(1, setups + 1):
        rows += [(f"p{setup}.{i}", None, draw(READING), None) for i in range(draw(st.integers(0, 3)))]
        closing = setup == setups
        rows.append(("BM" if closing else f"T{setup}", None if closing else draw(READING), None, draw(READING)))
    return rows


def solve(rows: list[Row] | LevelBook, level: float = 100.0, **options: object) -> ReducedLevels:
    """The levels of a loop, whatever its misclosure."""
    book = rows if isinstance(rows, LevelBook) else level_book(rows)
    return reduce_level_book(book, {"BM": level}, tolerance=LOOSE, **options)  # type: ignore[arg-type]


@given(loops())
@settings(deadline=None, max_examples=50)
def test_hi_and_rise_and_fall_agree_when_any_loop_is_reduced(rows: list[Row]) -> None:
    """Both ways give one level, and all three sums of the page check agree; rises and falls rebuild the levels."""
    levels = solve(rows, adjust="none")
    assert levels.checks.agrees
    steps = np.nan_to_num(levels.rise) - np.nan_to_num(levels.fall)
    assert np.allclose(100.0 + np.cumsum(steps), levels.initial, atol=1e-9)


@given(loops())
@settings(deadline=None, max_examples=50)
def test_misclosure_flips_when_a_loop_is_walked_backwards(rows: list[Row]) -> None:
    """Backwards every foresight is a backsight and the other way round, and the misclosure changes its sign."""
    chain = [row for row in rows if row[2] is None]
    backwards = [(name, foresight, None, backsight) for name, backsight, _, foresight in reversed(chain)]
    forth, back = solve(chain).runs[0], solve(backwards).runs[0]
    assert abs(forth.misclosure + back.misclosure) < 1e-9
    assert forth.setups == back.setups


@given(loops(), LEVEL)
@settings(deadline=None, max_examples=50)
def test_all_levels_shift_when_the_datum_does(rows: list[Row], shift: float) -> None:
    """Raising the bench mark raises every level by as much, and leaves misclosure and corrections alone."""
    low, high = solve(rows), solve(rows, 100.0 + shift)
    assert np.allclose(high.level - low.level, shift, atol=1e-8)
    assert np.allclose(high.correction, low.correction, atol=1e-8)


@given(loops(), st.sampled_from(["set-ups", "distance"]))
@settings(deadline=None, max_examples=50)
def test_closing_point_has_its_known_level_when_adjusted(rows: list[Row], adjust: str) -> None:
    """After adjustment the last point is exactly the bench mark, and corrections grow evenly from none to all."""
    count = len(rows)
    book = replace(level_book(rows), distance=np.arange(count, dtype=float) * 10)
    levels = solve(book, adjust=adjust)
    assert abs(levels.level[-1] - 100.0) < 1e-9
    sizes = np.abs(levels.correction)
    assert np.all(np.diff(sizes) >= -1e-12)
    assert abs(sizes[-1] - abs(levels.runs[0].misclosure)) < 1e-9


@given(loops())
@settings(deadline=None, max_examples=50)
def test_both_adjustments_agree_when_set_ups_are_equally_long(rows: list[Row]) -> None:
    """Sharing by distance is sharing by set-ups where every set-up is as long as the next."""
    setup = np.cumsum([backsight is not None for _, backsight, _, _ in rows])
    closed = [foresight is not None for *_, foresight in rows]
    distance = np.where(closed, (setup - [backsight is not None for _, backsight, _, _ in rows]) * 25.0, np.nan)
    distance[0] = 0.0
    book = replace(level_book(rows), distance=distance)
    assert np.allclose(solve(book, adjust="distance").level, solve(book).level, atol=1e-9)


@given(loops())
@settings(deadline=None, max_examples=50)
def test_shots_do_not_move_the_chain_when_left_out(rows: list[Row]) -> None:
    """Turning points come out the same with or without the shots between them."""
    chain = [row for row in rows if row[2] is None]
    with_shots = solve(rows)
    keep = [row[2] is None for row in rows]
    assert np.allclose(with_shots.level[keep], solve(chain).level, atol=1e-9)


@given(loops())
@settings(deadline=None, max_examples=50)
def test_a_rod_list_is_its_book_when_written_as_one(rows: list[Row]) -> None:
    """Writing every sight of a book as a row of a rod list, set-up by set-up, gives the same book back."""
    listed: list[tuple[str, str, float]] = []
    setup = 0
    for name, backsight, intermediate, foresight in rows:
        for sight in (intermediate, foresight):
            if sight is not None:
                listed.append((f"S{setup}", name, sight))
        if backsight is not None:
            setup += 1
            listed.append((f"S{setup}", name, backsight))
    blank = np.full(len(listed), np.nan)
    rods = RodList(
        tuple(row[0] for row in listed),
        tuple(row[1] for row in listed),
        blank,
        blank,
        np.array([row[2] for row in listed]),
        ("",) * len(listed),
        np.arange(len(listed)) + 2,
    )
    book, made = level_book(rows), level_book_from_rods(rods, {"BM": 100.0})
    assert made.point == book.point
    for column in ("backsight", "intermediate", "foresight"):
        assert np.array_equal(getattr(made, column), getattr(book, column), equal_nan=True)
