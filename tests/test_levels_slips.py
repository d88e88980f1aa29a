"""The reading most likely wrong, and what it was meant to be: one planted slip of each kind, and a short benchmark."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from books import FOOT, level_book, reduced, rod_list
from spadework.errors import MisclosureError
from spadework.levels import reduce_level_book, reduce_rod_list, tolerance_rule
from spadework.levels.slips import Slip, exchanged_digits
from studies.mistake_finder import KINDS, STYLES, accused, found_at, random_case, search, shares

Row = tuple[str, float | None, float | None, float | None]

# A yard of three set-ups; A, B and C are read again from the next one. All readings agree to a millimetre.
CLEAN: tuple[Row, ...] = (
    ("BM1", 1.425, None, None),
    ("A", None, 1.482, None),
    ("B", None, 1.513, None),
    ("T1", 1.367, None, 1.546),
    ("A", None, 1.304, None),
    ("B", None, 1.333, None),
    ("C", None, 1.438, None),
    ("T2", 1.582, None, 1.467),
    ("C", None, 1.552, None),
    ("D", None, 1.508, None),
    ("BM1", None, None, 1.361),
)
KNOWN = {"BM1": 100.0}


def first(rows: tuple[Row, ...] | list[Row], **options: float) -> tuple[Slip, str]:
    """The likeliest slip and its sentence."""
    levels = reduced(level_book(rows, **options), KNOWN, allow_misclosure=True)
    assert levels.fit is not None
    return levels.fit.slips[0][0], levels.suspects[-1]


def changed(row: int, column: int, value: float) -> list[Row]:
    """The book with one reading written otherwise."""
    rows = [list(each) for each in CLEAN]
    rows[row][column] = value
    return [tuple(each) for each in rows]  # type: ignore[misc]


def test_nothing_is_asked_when_the_readings_agree() -> None:
    """A clean book accuses nobody, and agrees as its instrument promises or better."""
    levels = reduced(level_book(CLEAN), KNOWN)
    assert levels.fit is not None
    assert levels.fit.slips == ()
    assert levels.fit.verdict != "worse"
    assert levels.suspects == ()


@pytest.mark.parametrize(
    ("row", "column", "wrong", "kind", "words"),
    [
        (3, 3, 1.456, "exchanged", "line 5: the foresight 1.456 on T1: did you mean 1.546 (two digits exchanged)?"),
        (7, 1, 1.852, "exchanged", "line 9: the backsight 1.852 on T2: did you mean 1.582 (two digits exchanged)?"),
        (4, 2, 2.304, "whole", "line 6: the intermediate sight 2.304 on A: did you mean 1.304 (a whole metre out)?"),
        (5, 2, 1.233, "tenth", "line 7: the intermediate sight 1.233 on B: did you mean 1.333 (a decimetre out)?"),
    ],
)
def test_reading_is_named_when_it_was_changed(row: int, column: int, wrong: float, kind: str, words: str) -> None:
    """The slip that was made on purpose comes first, with what stood there before."""
    slip, sentence = first(changed(row, column, wrong))
    assert (slip.kind, slip.row) == (kind, row)
    assert sentence.startswith(words)


def test_columns_are_named_when_they_were_exchanged() -> None:
    """Backsight and foresight of the second set-up in each other's column."""
    rows = [list(each) for each in CLEAN]
    rows[3][1], rows[7][3] = rows[7][3], rows[3][1]
    slip, sentence = first([tuple(each) for each in rows])  # type: ignore[misc]
    assert slip.kind == "columns"
    assert sentence.startswith("lines 5 to 9: did 1.467 and 1.367 change columns, BS for FS?")


def test_columns_are_named_when_they_were_exchanged_at_a_turning_point() -> None:
    """Foresight and backsight of T1, which stand in one row and belong to two set-ups, in each other's column."""
    rows = [list(each) for each in CLEAN]
    rows[3][1], rows[3][3] = rows[3][3], rows[3][1]
    slip, sentence = first([tuple(each) for each in rows])  # type: ignore[misc]
    assert (slip.kind, slip.row, slip.other_row) == ("columns", 3, 3)
    assert sentence.startswith("line 5: did 1.546 and 1.367 change columns, BS for FS?")


def test_minus_is_named_when_it_was_lost() -> None:
    """A mark under the eaves, read with the rod upside down from two set-ups; one of them written without its minus."""
    rows = list(CLEAN)
    rows.insert(3, ("eaves", None, -1.204, None))
    rows.insert(5, ("eaves", None, 1.383, None))
    # From the second set-up: line of sight 100 + 1.425 - 1.546 + 1.367 = 101.246; eaves 101.425 + 1.204 = 102.629.
    slip, sentence = first(rows)
    assert slip.kind == "minus"
    assert slip.meant == pytest.approx(-1.383)
    assert "the rod was held upside down" in sentence


def test_inches_are_named_when_written_as_tenths() -> None:
    """5 ft 4 in written as 5.4 ft."""
    rows: list[Row] = [
        ("BM1", 4.32, None, None),
        ("A", None, 5.10, None),
        ("B", None, 4.87, None),
        ("C", None, 5.02, None),
        ("T1", 4.95, None, 5.40),
        ("A", None, 4.72, None),
        ("B", None, 4.49, None),
        ("C", None, 4.64, None),
        ("BM1", None, None, 3.94),
    ]
    levels = reduced(level_book(rows, unit=FOOT, step=0.01), {"BM1": 30.0}, allow_misclosure=True)
    assert levels.fit is not None
    slip = levels.fit.slips[0][0]
    assert slip.kind == "inches"
    assert slip.meant / FOOT == pytest.approx(5 + 4 / 12)
    assert "inches written as decimals of a foot" in levels.suspects[-1]


def test_both_are_named_when_two_readings_are_wrong() -> None:
    """Once the first is mended in thought, the search goes on for the second."""
    rows = changed(4, 2, 2.304)
    rows[7] = ("T2", 1.582, None, 1.764)
    levels = reduced(level_book(rows), KNOWN, allow_misclosure=True)
    assert levels.fit is not None
    named = {(slips[0].row, round(slips[0].meant, 3)) for slips in levels.fit.slips}
    assert named == {(4, 1.304), (7, 1.467)}


def test_nothing_is_changed_when_a_reading_is_doubted() -> None:
    """The question is asked; the reading in the book, and the level from it, stay as they were written."""
    rows = changed(4, 2, 2.304)
    levels = reduce_level_book(level_book(rows), KNOWN, tolerance=tolerance_rule("2 m"), adjust="none")
    assert levels.book.intermediate[4] == 2.304
    assert levels.initial[4] == pytest.approx(100 + 1.425 - 1.546 + 1.367 - 2.304)
    assert any("did you mean 1.304" in sentence for sentence in levels.suspects)


def test_misclosure_message_says_the_likeliest() -> None:
    """The error that stops the work ends with what was tried over all readings, and how to go on."""
    with pytest.raises(
        MisclosureError, match=r"(?s)the likeliest:\n  - line 5: .*did you mean 1\.546.*allow-misclosure"
    ):
        reduced(level_book(changed(3, 3, 1.456)), KNOWN)


def test_rows_of_a_rod_list_are_named_without_columns() -> None:
    """A rod list has one column of readings, so a sentence speaks of the reading."""
    rows = [
        ("S1", "BM1", None, None, 1.425),
        ("S1", "A", 2.0, 1.0, 1.482),
        ("S1", "B", 5.0, 2.0, 1.513),
        ("S1", "T1", 8.0, 3.0, 1.546),
        ("S2", "T1", 8.0, 3.0, 1.367),
        ("S2", "A", 2.0, 1.0, 1.340),
        ("S2", "B", 5.0, 2.0, 1.333),
        ("S2", "BM1", None, None, 1.246),
    ]
    _, levels = reduce_rod_list(rod_list(rows), KNOWN, tolerance=tolerance_rule(), allow_misclosure=True)
    assert levels.suspects[-1].startswith("line 7: the reading 1.340 on A: did you mean 1.304 (two digits exchanged)?")


def test_common_names_are_not_one_point() -> None:
    """Turning points that are all called TP are different points, and disagree with nobody."""
    rows = [("TP" if name in {"T1", "T2"} else name, *rest) for name, *rest in CLEAN]
    levels = reduced(level_book(rows), KNOWN)  # type: ignore[arg-type]
    assert levels.fit is not None
    assert levels.fit.slips == ()


def test_numbers_counted_anew_are_not_one_point() -> None:
    """Shots numbered from 1 at every set-up are different points when most of them lie at different levels."""
    rows = [
        ("BM1", 1.425, None, None),
        ("1", None, 1.482, None),
        ("2", None, 1.913, None),
        ("T1", 1.367, None, 1.546),
        ("1", None, 1.804, None),
        ("2", None, 1.333, None),
        ("BM1", None, None, 1.246),
    ]
    levels = reduced(level_book(rows), KNOWN)
    assert levels.fit is not None
    assert levels.fit.slips == ()
    assert levels.fit.solution.degrees_of_freedom == 1


def test_exchanged_digits_when_listed() -> None:
    """All pairs of the four digits, neighbours weighing more; equal digits give nothing."""
    assert exchanged_digits(1352) == {3152: 5, 5312: 1, 2351: 1, 1532: 5, 1253: 1, 1325: 5}
    assert exchanged_digits(1111) == {}


@pytest.mark.parametrize("kind", KINDS)
def test_share_when_slips_are_planted(kind: str) -> None:
    """A short run of the study: the true reading comes first in at least so many of 20 books, and slips are noticed.

    The floors lie three standard deviations under the shares of the long run that the documentation prints.
    """
    floors = {"exchanged": 0.65, "whole": 0.23, "minus": 0.90, "inches": 0.43, "columns": 0.80, "turning point": 0.90}
    places, noticed = [], 0
    for number in range(20):
        case = random_case(random.Random(f"{kind} {number}"), STYLES[number % 4], kind)  # noqa: S311 - not a secret
        slips = search(case.book, case.known)
        places.append(found_at(case, slips)[0])
        noticed += bool(slips)
    assert places.count(1) / 20 >= floors[kind]
    assert noticed >= 18


def test_clean_books_are_not_accused() -> None:
    """Of 60 clean books none is called wrong; fewer than one in a hundred is what the documentation promises."""
    assert accused(60) == 0.0


def test_study_prints_shares_for_every_style() -> None:
    """The committed study runs: one line for each kind and style."""
    lines = list(shares(1))
    assert [(kind, style) for kind, style, *_ in lines] == [(kind, style) for kind in KINDS for style in STYLES]


def test_search_ends_when_the_book_is_hopeless() -> None:
    """Readings at random disagree everywhere: the search gives up after a few, and the book is still reduced."""
    chance = np.random.default_rng(3)
    book = level_book(CLEAN)
    noise = replace(book, intermediate=book.intermediate + chance.normal(0, 0.5, len(book)))
    levels = reduce_level_book(noise, KNOWN, tolerance=tolerance_rule("5 m"), adjust="least-squares")
    assert levels.fit is not None
    assert 1 <= len(levels.fit.slips) <= 4
