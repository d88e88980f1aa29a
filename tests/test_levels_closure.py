"""Misclosure against its tolerance: when it stops the work, what it says, how it is let pass."""

from __future__ import annotations

import pytest

from books import level_book, reduced, rod_list
from spadework.errors import InputError, MisclosureError
from spadework.levels import reduce_rod_list, tolerance_rule

# Made up: three set-ups back to the start, closing exactly.
CLEAN = [
    ("BM", 1.512, None, None),
    ("TP1", 1.374, None, 2.185),
    ("TP2", 2.096, None, 0.743),
    ("BM", None, None, 2.054),
]
KNOWN = {"BM": 100.0}


def written(row: int, column: int, value: float) -> list[tuple[str, float | None, float | None, float | None]]:
    """The clean book with one reading written differently."""
    rows = [list(cells) for cells in CLEAN]
    rows[row][column] = value
    return [tuple(cells) for cells in rows]  # type: ignore[misc]


def message(rows: list[tuple[str, float | None, float | None, float | None]], known: dict[str, float] = KNOWN) -> str:
    """What a book that does not close is answered with."""
    with pytest.raises(MisclosureError) as caught:
        reduced(level_book(rows), known)
    assert caught.value.exit_status == 1
    return str(caught.value)


def test_clean_loop_when_closed() -> None:
    """1.512 - 2.185 + 1.374 - 0.743 + 2.096 - 2.054 = 0: nothing to share out."""
    levels = reduced(level_book(CLEAN), KNOWN)
    assert levels.runs[0].misclosure == pytest.approx(0.0, abs=1e-12)
    assert levels.runs[0].within is True
    assert not levels.overridden
    assert levels.explanation == ""


def test_message_says_everything_when_a_loop_does_not_close() -> None:
    """File, lines, run, set-ups, both levels, sign, amount, rule, and how to go on."""
    text = message(written(3, 3, 2.154))
    for part in (
        "book.csv lines 2 to 5",
        "from BM to BM (3 set-ups)",
        "comes out at 99.900 m, known is 100.000 m",
        "-0.100 m (observed minus known)",
        "construction (0.02 ft × √n)",
        "allow-misclosure",
        "Look at the turning points first",
    ):
        assert part in text


@pytest.mark.parametrize(
    ("rows", "hint"),
    [
        (written(1, 3, 2.815), "line 3: foresight 2.815 with two digits exchanged is 2.185"),
        (written(2, 1, 2.906), "line 4: backsight 2.906 with two digits exchanged is 2.096"),
        (written(3, 3, 3.054), "about a whole metre"),
        (written(3, 3, 2.154), "about a whole decimetre"),
        (
            [("BM", 2.185, None, None), ("TP1", 1.374, None, 1.512), *CLEAN[2:]],
            "lines 2 to 3: 2.185 and 1.512 may have changed columns",
        ),
        (
            [CLEAN[0], ("TP1", 2.185, None, 1.374), *CLEAN[2:]],
            "line 3: 2.185 and 1.374 may have changed columns",
        ),
    ],
    ids=["exchanged-fs", "exchanged-bs", "metre", "decimetre", "columns", "columns-of-a-row"],
)
def test_hint_when_one_slip_explains_the_amount(
    rows: list[tuple[str, float | None, float | None, float | None]], hint: str
) -> None:
    """The slip that was made on purpose is among those named."""
    assert hint in message(rows)


def test_hint_when_the_rod_stood_on_another_mark() -> None:
    """A run that comes out at the level of another known mark says so."""
    text = message([*CLEAN[:3], ("BM2", None, None, 2.054)], {"BM": 100.0, "BM2": 101.5, "BM3": 100.0})
    assert "BM2 comes out at 100.000 m, known is 101.500 m" in text
    text = message(
        [*CLEAN[:3], ("BM2", None, None, 2.054), ("BM", 1.0, None, None), ("p", None, 1.0, None)],
        {"BM": 100.0, "BM2": 101.5},
    )
    assert "was the rod held on BM?" in text


def test_all_runs_are_named_when_two_do_not_close() -> None:
    """Every run that is out is told at once."""
    rows = [("A", 1.0, None, None), ("B", 1.0, None, 1.5), ("C", None, None, 1.5)]
    text = message(rows, {"A": 10.0, "B": 9.0, "C": 9.0})
    assert "from A to B" in text
    assert "from B to C" in text


def test_override_when_named() -> None:
    """Let pass, the levels are adjusted all the same, and it is recorded for the sheets."""
    levels = reduced(level_book(written(3, 3, 2.154)), KNOWN, allow_misclosure=True)
    assert levels.overridden
    assert levels.level[-1] == pytest.approx(100.0)
    assert "does not close" in levels.explanation
    assert any("let pass by allow-misclosure" in notice for notice in levels.notices)


def test_exactly_the_allowed_amount_when_compared() -> None:
    """10 mm are within "10 mm", although neither is a binary fraction."""
    levels = reduced(level_book(written(3, 3, 2.044)), KNOWN, "10 mm")
    assert levels.runs[0].within is True
    with pytest.raises(MisclosureError):
        reduced(level_book(written(3, 3, 2.043)), KNOWN, "10 mm")


def test_distance_is_asked_for_when_the_rule_needs_it() -> None:
    """A rule by kilometres on a book without distances is refused with both ways out."""
    with pytest.raises(
        InputError, match=r"has no distances.*Add a column distance, or give a rule that goes by set-ups"
    ):
        reduced(level_book(CLEAN), KNOWN, "third-order")


def test_missing_distances_are_all_named_when_adjusting_by_distance() -> None:
    """Every turning point without a distance, with its line."""
    book = level_book(CLEAN, distance=[0.0, None, None, 90.0])
    with pytest.raises(InputError) as caught:
        reduced(book, KNOWN, adjust="distance")
    assert [fault.source.line for fault in caught.value.faults] == [3, 4]


def test_distance_is_refused_when_it_shrinks() -> None:
    """Distances count along the run."""
    book = level_book(CLEAN, distance=[0.0, 50.0, 30.0, 90.0])
    with pytest.raises(InputError, match=r"line 4.*less than at the point before"):
        reduced(book, KNOWN, adjust="distance")


def test_length_zero_is_refused_when_adjusting_by_distance() -> None:
    """A run of no length cannot share anything out."""
    book = level_book(CLEAN, distance=[5.0, 5.0, 5.0, 5.0])
    with pytest.raises(InputError, match="length zero"):
        reduced(book, KNOWN, adjust="distance")


def test_rule_by_kilometres_when_the_book_has_distances() -> None:
    """12 mm per root kilometre over 250 m allows 6 mm."""
    levels = reduced(level_book(CLEAN, distance=[0.0, 80.0, 160.0, 250.0]), KNOWN, "12 mm*sqrt(km)")
    assert levels.runs[0].allowed == pytest.approx(0.006)


def test_second_shared_point_is_a_check_when_two_set_ups_overlap() -> None:
    """The first shared point carries the level; what the second says is compared with the tolerance."""
    rows = [
        ("S1", "BM", None, None, 1.500),
        ("S1", "A", 1.0, 1.0, 1.200),
        ("S1", "B", 5.0, 1.0, 1.700),
        ("S2", "A", None, None, 1.000),
        ("S2", "B", None, None, 1.503),
        ("S2", "C", 9.0, 1.0, 1.100),
    ]
    shots, levels = reduce_rod_list(rod_list(rows), {"BM": 50.0}, tolerance=tolerance_rule())
    repeat = next(run for run in levels.runs if run.kind == "repeat")
    assert repeat.misclosure == pytest.approx(-0.003)
    assert repeat.setups == 2
    assert repeat.within is True
    assert shots.level == pytest.approx([50.3, 49.8, 50.2])
    rows[4] = ("S2", "B", None, None, 1.603)
    with pytest.raises(MisclosureError, match="B was levelled twice"):
        reduce_rod_list(rod_list(rows), {"BM": 50.0}, tolerance=tolerance_rule())
