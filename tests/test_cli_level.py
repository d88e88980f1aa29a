"""``spadework level``: the reduced book on paper and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from command_line import run

# Made up. By hand: HI 101.500; A 100.300; B 99.900; HI 101.000; C 99.000; BM2 100.050.
BOOK = """\
point,BS (m),IS,FS,note
BM1,1.500,,,bench
A,,1.200,,
B,1.100,,1.600,
C,,2.000,,
BM2,,,0.950,second bench
"""
RODS = """\
setup,point,east (m),north (m),rod (m)
S1,BM1,,,1.352
S1,A,4.0,1.0,1.713
S1,TP,,,2.138
S2,TP,,,1.631
S2,B,9.0,1.5,1.900
S2,BM1,,,0.846
"""


def levels(out: str) -> dict[str, float]:
    """The last reduced level of each point, out of the JSON."""
    return {row["point"]: row["level"] for row in json.loads(out)["rows"]}


def test_levels_are_those_worked_by_hand(tmp_path: Path) -> None:
    """Levels follow from HI less the reading; the expected ones were worked by hand."""
    file = tmp_path / "book.csv"
    file.write_text(BOOK, encoding="utf-8")
    result = run("level", file, "--known", "BM1=100.0", "--json")
    assert result.status == 0, result.err
    expected = {"BM1": 100.0, "A": 100.3, "B": 99.9, "C": 99.0, "BM2": 100.05}
    assert levels(result.out) == pytest.approx(expected, abs=1e-9)


def test_book_lines_up_when_printed(tmp_path: Path) -> None:
    """Every column of the printed book ends where its heading ends, so that a person can read down it."""
    file = tmp_path / "book.csv"
    file.write_text(BOOK, encoding="utf-8")
    lines = run("level", file, "--known", "BM1=100.0").out.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("point"))
    head, rows = lines[start], lines[start + 1 : start + 6]
    for heading, row, value in (("BS", 0, "1.500"), ("IS", 1, "1.200"), ("FS", 4, "0.950"), ("HI", 2, "101.000")):
        end = head.index(f" {heading} ") + 3
        assert rows[row][:end].endswith(value)
    # Four readings of 2 mm lead to it.
    assert rows[4].endswith("100.050  0.0040  second bench")


def test_page_check_is_printed_with_its_sums() -> None:
    """Backsights less foresights, rises less falls, and last less first are 0.050 each, by hand."""
    out = run("level", "-", "--known", "BM1=100", stdin=BOOK).out
    assert "sum BS 2.600 - sum FS 2.550 = 0.050" in out
    assert "sum of rises 1.350 - sum of falls 1.300 = 0.050" in out
    assert "last RL - first RL = 0.050" in out


def test_misclosure_stops_after_the_book_when_over_the_tolerance() -> None:
    """The book is printed all the same, then one explanation, with exit status 1; the option lets it pass."""
    call = ("level", "-", "--known", "BM1=100", "--known", "BM2=100.08", "--tolerance", "5 mm")
    result = run(*call, stdin=BOOK)
    assert result.status == 1
    assert "misclosure -0.0300 m, allowed 0.0050 m, OVER THE TOLERANCE" in result.out
    assert "-0.030 m" in result.err
    let_pass = run(*call, "--allow-misclosure", stdin=BOOK)
    assert let_pass.status == 0
    assert "let pass" in let_pass.out


def test_misclosure_is_shared_over_the_set_ups_when_within() -> None:
    """Two set-ups, 6 mm too low: each takes 3 mm, and a point takes that of its own set-up."""
    result = run("level", "-", "--known", "BM1=100", "--known", "BM2=100.056", "--json", stdin=BOOK)
    assert result.status == 0, result.err
    expected = {"BM1": 100.0, "A": 100.303, "B": 99.903, "C": 99.006, "BM2": 100.056}
    assert levels(result.out) == pytest.approx(expected, abs=1e-9)


def test_rod_list_is_reduced_through_its_turning_point() -> None:
    """By hand: HI 101.352, TP 99.214, HI 100.845, B 98.945; it closes 1 mm low, shared over two set-ups."""
    result = run("level", "-", "--known", "BM1=100.0", "--json", stdin=RODS)
    assert result.status == 0, result.err
    found = levels(result.out)
    assert found["A"] == pytest.approx(99.639 + 0.0005, abs=1e-9)
    assert found["B"] == pytest.approx(98.945 + 0.001, abs=1e-9)
    (closed,) = json.loads(result.out)["runs"]
    assert closed["misclosure"] == pytest.approx(-0.001, abs=1e-9)


def test_known_level_is_asked_for_when_rod_readings_have_none() -> None:
    """The remedy is a call that can be copied, with the first point's name in it."""
    result = run("level", "-", stdin=RODS)
    assert result.status == 2
    assert '--known "BM1=100.0"' in result.err


def test_feet_stay_feet_when_the_book_is_in_feet() -> None:
    """A book in decimal feet is printed in feet to its own hundredths, and in metres for programs."""
    book = BOOK.replace("BS (m)", "BS (ft)").replace("1.500", "1.50").replace("1.100", "1.10")
    out = run("level", "-", "--known", "BM1=100", stdin=book).out
    assert "Lengths in ft" in out
    found = levels(run("level", "-", "--known", "BM1=100", "--json", stdin=book).out)
    assert found["C"] == pytest.approx(99.0 * 0.3048, abs=1e-9)


@pytest.mark.parametrize(
    ("options", "wanted"),
    [
        (("--known", "BM1"), '--known "BM1=100.0"'),
        (("--known", "BM1=1O0.0"), "1O0.0"),
        (("--tolerance", "constructon"), "Did you mean 'construction'?"),
        (("--rod-length", "5 furlong"), "furlong"),
        (("--known", "BM9=100"), "BM1"),
    ],
    ids=["known without level", "letter in level", "unknown rule", "unknown unit", "known point not in the book"],
)
def test_option_is_named_when_it_is_wrong(options: tuple[str, ...], wanted: str) -> None:
    """A wrong option is answered with its value and the remedy, exit status 2 and no book."""
    result = run("level", "-", *options, stdin=BOOK)
    assert result.status == 2
    assert wanted in result.err
    assert result.out == ""


def test_site_is_sent_to_the_right_command(tmp_path: Path) -> None:
    """A site given as readings is answered with the command that takes a site."""
    result = run("level", tmp_path)
    assert result.status == 2
    assert "spadework ground" in result.err


def test_grid_is_sent_to_the_right_command() -> None:
    """A grid of drops has no set-ups; the answer says what to do with it."""
    result = run("level", "-", "--units", "m", stdin="drop\t0\t2\t4\n0\t0.51\t0.62\t0.75\n2\t0.55\t0.68\t0.80\n")
    assert result.status == 2
    assert "spadework ground" in result.err


def test_readings_are_listed_when_adjusted_by_least_squares() -> None:
    """Each reading that others check, with its correction: two set-ups share 10 mm over their four readings."""
    book = "point,BS (m),IS (m),FS (m)\nBM1,1.500,,\nA,,1.200,\nT1,1.100,,1.400\nBM1,,,1.190\n"
    out = run("level", "-", "--known", "BM1=100", "--adjust", "least-squares", "--tolerance", "20 mm", stdin=book).out
    listed = [line.split() for line in out.partition("Readings that others check")[2].splitlines()[2:6]]
    assert [(row[0], row[1], row[2], row[3], row[4], row[6]) for row in listed] == [
        ("2", "BM1", "BS", "1.500", "-0.0025", "0.25"),
        ("4", "T1", "FS", "1.400", "0.0025", "0.25"),
        ("4", "T1", "BS", "1.100", "-0.0025", "0.25"),
        ("5", "BM1", "FS", "1.190", "0.0025", "0.25"),
    ]
    assert "5 readings, 1 more than needed" in out


def test_question_is_asked_when_a_reading_is_probably_wrong() -> None:
    """Two digits exchanged: the book and the error ask whether it was meant so, and programs get both values."""
    book = "point,BS (m),IS (m),FS (m)\nBM1,1.500,,\nA,,1.250,\nT1,1.123,,1.387\nA,,0.986,\nBM1,,,1.326\n"
    call = ("level", "-", "--known", "BM1=100")
    result = run(*call, stdin=book)
    assert result.status == 1
    assert "line 6: the foresight 1.326 on BM1: did you mean 1.236 (two digits exchanged)?" in result.out
    assert "did you mean 1.236" in result.err
    (slips,) = json.loads(run(*call, "--allow-misclosure", "--json", stdin=book).out)["fit"]["did_you_mean"]
    assert (slips[0]["line"], slips[0]["was"], slips[0]["meant"]) == (6, 1.326, pytest.approx(1.236))


@pytest.mark.parametrize(
    ("options", "sd"),
    [((), "0.0029"), (("--instrument", "hand-level"), "0.0212"), (("--sd", "5 mm"), "0.0071")],
    ids=["assumed", "instrument", "given"],
)
def test_doubt_of_a_level_is_printed_when_two_readings_lead_to_it(options: tuple[str, ...], sd: str) -> None:
    """Two readings of 2, 15 or 5 mm: times the square root of two, and the rounding of the book."""
    book = "point,BS (m),IS (m),FS (m)\nBM1,1.500,,\nA,,,1.200\n"
    out = run("level", "-", "--known", "BM1=100", *options, stdin=book).out
    (row,) = [line for line in out.splitlines() if line.startswith("A ")]
    assert row.split()[-1] == sd


def test_options_are_refused_when_they_say_nothing() -> None:
    """An unknown instrument and an sd of nothing: exit status 2, with what is known."""
    book = "point,BS (m),IS (m),FS (m)\nBM1,1.500,,\nA,,,1.200\n"
    result = run("level", "-", "--known", "BM1=1", "--instrument", "rotary-lazer", stdin=book)
    assert result.status == 2
    assert "did you mean rotary-laser?" in result.err.lower()
    result = run("level", "-", "--known", "BM1=1", "--sd", "0", stdin=book)
    assert result.status == 2
    assert "a standard deviation lies between" in result.err.lower()
