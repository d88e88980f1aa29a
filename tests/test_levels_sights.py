"""Lengths of sights: read, put to use for distances and weights, and corrected for where a site asks for it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from command_line import run, says_no_traceback
from spadework.errors import InputError
from spadework.levels import reduce_level_book, tolerance_rule
from spadework.levels.fit import Precision
from spadework.levels.pegs import curvature, refraction
from spadework.levels.sights import SightRules, balance_notices, corrected_book, with_distances, with_stadia
from spadework.levels.wording import Wording
from spadework.read import read_text
from spadework.read.peg_file import read_peg_test
from spadework.readings import LevelBook
from spadework.site import load_site
from spadework.survey import load_survey
from spadework.units import LengthUnit

SLANT = 0.0003
"""Rise of the line of sight: 30 mm in 100 m, ten times the field limit. [m/m]"""
# Point, level, length of its backsight, length of its foresight.
RUN = (
    ("BM1", 100.0, 60.0, 0.0),
    ("TP1", 100.834, 55.0, 20.0),
    ("TP2", 101.216, 50.0, 15.0),
    ("BM2", 101.955, 0.0, 18.0),
)
WORDS = Wording.of_book(0.001, LengthUnit.METRE)
PEGS = "setup,peg,rod (m),distance (m)\n1,A,{a1},30\n1,B,{b1},30\n2,A,{a2},3\n2,B,{b2},63\n"


def excess(length: float, slant: float = SLANT) -> float:
    """What a slanting line and the curve of the earth add to a reading, by the closed form. [m]"""
    return slant * length + float(curvature(length) - refraction(length))


def book(
    *, lengths: bool = True, wires: bool = False, slant: float = SLANT, changed: dict[str, str] | None = None
) -> str:
    """The run as an instrument with that slant reads it, to a tenth of a millimetre."""
    rows = ["point,BS (m),BS distance (m),FS (m),FS distance (m)" if lengths else "point,BS (m),FS (m)"]
    height = 0.0
    for name, level, back, fore in RUN:
        sights = []
        for length, reading in ((back, 1.2 + level - level), (fore, height - level)):
            value = f"{reading + excess(length, slant):.4f}" if length else ""
            value = (changed or {}).get(f"{name}{'B' if length == back else 'F'}", value)
            if wires and length:
                middle = float(value)
                value = "/".join(f"{middle + side * length / 200.0:.4f}" for side in (1, 0, -1))
            sights.append(f"{value},{length or ''}" if lengths else value)
        height = level + 1.2
        rows.append(f"{name},{','.join(sights)}")
    return "\n".join(rows) + "\n"


def read(text: str) -> LevelBook:
    """The book of a text."""
    found = read_text(text, units=LengthUnit.METRE)
    assert found.kind == "level-book"
    assert isinstance(found.reading, LevelBook)
    return found.reading


def peg_text() -> str:
    """A peg test of the same instrument; B lies 0.214 m above A."""
    first = {"a1": 1.432 + excess(30), "b1": 1.218 + excess(30)}
    second = {"a2": 1.503 + excess(3), "b2": 1.289 + excess(63)}
    return PEGS.format(**{name: f"{value:.6f}" for name, value in {**first, **second}.items()})


def test_run_is_right_when_its_readings_are_corrected() -> None:
    """112 m of backsights more than foresights and a slant of 3 in 10,000: 34 mm low, and right once corrected."""
    bare = reduce_level_book(read(book()), {"BM1": 100.0}, tolerance=tolerance_rule("1 m"))
    backs, fores = (60.0, 55.0, 50.0), (20.0, 15.0, 18.0)
    wrong = sum(map(excess, backs)) - sum(map(excess, fores))
    assert bare.level_of("BM2") == pytest.approx(101.955 + wrong, abs=3e-4)
    mended, said, notices = corrected_book(read(book()), SightRules(SLANT, "a slant"), WORDS)
    right = reduce_level_book(mended, {"BM1": 100.0}, tolerance=tolerance_rule("1 m"))
    assert right.level_of("BM2") == pytest.approx(101.955, abs=3e-4)
    assert "by 0.0182 m at most" in said[0]
    assert notices == []
    assert mended.as_written().backsight[0] == pytest.approx(read(book()).backsight[0])


def test_curve_of_the_earth_is_taken_off_when_only_that_is_asked_for() -> None:
    """A sight of 300 m reads 6.1 mm too much: (1 - 0.14) d^2 / 2 R."""
    text = "point,BS (m),BS distance (m),FS (m),FS distance (m)\nA,1.5000,300,,\nB,,,1.2000,10\n"
    mended, _, _ = corrected_book(read(text), SightRules(), WORDS)
    drop = 0.86 * 300.0**2 / (2 * 20_906_000 * 0.3048)
    assert drop == pytest.approx(0.00607, abs=5e-6)
    assert mended.backsight[0] == pytest.approx(1.5 - drop)
    assert mended.foresight[1] == pytest.approx(1.2, abs=1e-5)


def test_lengths_are_those_of_the_wires_when_each_cell_holds_three() -> None:
    """Wires 1.525, 1.325, 1.125 are 40 m off at 100, and 40.4 m at 101."""
    found = read(book(lengths=False, wires=True))
    assert found.by_wires
    assert found.backsight_length is not None
    assert found.backsight_length[:3] == pytest.approx([60.0, 55.0, 50.0])
    assert found.sight_length is not None
    assert found.sight_length[1:] == pytest.approx([20.0, 15.0, 18.0])
    other = with_stadia(found, 101.0).backsight_length
    assert other is not None
    assert other[:3] == pytest.approx([60.6, 55.55, 50.5])


def test_lengths_are_those_of_the_wires_when_they_stand_in_columns() -> None:
    """Six columns, without one for BS and FS: the readings are the means of their wires."""
    head = "point,BS upper (m),BS middle (m),BS lower (m),FS upper (m),FS middle (m),FS lower (m)"
    found = read(f"{head}\nA,1.525,1.325,1.125,,,\nB,,,,0.580,0.470,0.363\n")
    assert found.backsight[0] == pytest.approx(1.325)
    assert found.foresight[1] == pytest.approx((0.580 + 0.470 + 0.363) / 3)
    assert found.backsight_length is not None
    assert found.sight_length is not None
    assert (found.backsight_length[0], found.sight_length[1]) == pytest.approx((40.0, 21.7))


def test_lengths_are_those_of_two_wires_when_each_row_has_one_sight() -> None:
    """Upper and lower beside BS and IS: 40 m and 30 m; a turning point in one row is refused with what would do."""
    head = "point,BS (m),IS (m),FS (m),upper (m),lower (m)"
    found = read(f"{head}\nA,1.325,,,1.525,1.125\nB,,1.480,,1.630,1.330\n")
    assert found.backsight_length is not None
    assert found.sight_length is not None
    assert (found.backsight_length[0], found.sight_length[1]) == pytest.approx((40.0, 30.0))
    with pytest.raises(InputError, match="Head columns BS upper, BS lower, FS upper and FS lower"):
        read(f"{head}\nA,1.325,,,1.525,1.125\nB,1.2,,1.480,1.630,1.330\nC,,,1.1,1.2,1.0\n")


def test_distances_run_on_when_a_book_has_lengths_only() -> None:
    """Each set-up is as long as both its sights: 80, 70 and 68 m, 218 m in all; a distance that is written stays."""
    found = with_distances(read(book()))
    assert found.distance == pytest.approx([0.0, 80.0, 150.0, 218.0])
    text = "point,BS (m),FS (m),FS distance (m),distance (m)\nA,1.5,,,0\nB,,1.2,10,77\n"
    assert with_distances(read(text)).distance == pytest.approx([0.0, 77.0])


def test_misclosure_is_shared_by_the_lengths_when_a_book_has_no_distances() -> None:
    """218 m that close by 22 mm: 80, 70 and 68 parts of 218 for the set-ups; 218 m are allowed 50 mm sqrt(0.218)."""
    found = with_distances(read(book(slant=0.0)))
    rule = tolerance_rule("50 mm*sqrt(km)")
    reduced = reduce_level_book(found, {"BM1": 100.0, "BM2": 101.9332}, tolerance=rule, adjust="distance")
    misclosure = reduced.runs[0].misclosure
    assert misclosure == pytest.approx(0.0218, abs=1e-3)
    assert reduced.runs[0].allowed == pytest.approx(0.05 * math.sqrt(0.218))
    assert reduced.correction[1:] == pytest.approx(-misclosure * np.array([80, 150, 218]) / 218)


def test_each_reading_weighs_by_its_own_length_when_weights_go_by_distance() -> None:
    """2 mm at 30 m is 2 mm x sqrt(2 x 1000 / 60) a kilometre: variance grows with the length of the sight."""
    found = with_distances(read(book(slant=0.0)))
    precision = Precision(0.002, "distance")
    rule = tolerance_rule("50 mm")
    reduced = reduce_level_book(found, {"BM1": 100.0}, tolerance=rule, adjust="least-squares", precision=precision)
    assert reduced.fit is not None
    rounding = found.reading_resolution / math.sqrt(12.0)
    expected = [math.hypot(0.002 * math.sqrt(length / 30.0), rounding) for length in (60, 55, 50, 20, 15, 18)]
    assert reduced.fit.net.readings.sd == pytest.approx(expected)


def test_digits_are_those_that_were_written_when_readings_are_corrected() -> None:
    """A foresight with two digits exchanged is asked about as it stands in the book, corrections of 18 mm or not."""
    true = f"{1.2 + 101.216 - 101.955 + excess(18.0):.4f}"
    assert true == "0.4664"
    mended, _, _ = corrected_book(read(book(changed={"BM2F": "0.6464"})), SightRules(SLANT, "a slant"), WORDS)
    known = {"BM1": 100.0, "TP2": 101.216, "BM2": 101.955}
    reduced = reduce_level_book(mended, known, tolerance=tolerance_rule("5 mm"), allow_misclosure=True)
    assert any("the foresight 0.6464 on BM2: did you mean 0.4664 (two digits exchanged)?" in text
               for text in reduced.suspects)  # fmt: skip


def test_unequal_sights_are_named_when_nothing_corrects_them() -> None:
    """All three set-ups are more than 10 m unequal, by up to 40 m; 112 m in all at 0.003 in 100 make 3.4 mm."""
    told = list(balance_notices(read(book()), WORDS))
    assert told[0].startswith(
        "3 set-ups (ending in line 3, 4, 5) with backsight and foresight more than 10.000 m unlike"
    )
    assert "by up to 40.000 m" in told[0]
    assert "112.000 m longer than the foresights" in told[1]
    assert "makes 0.0034 m" in told[1]
    mended, _, _ = corrected_book(read(book()), SightRules(SLANT, "a slant"), WORDS)
    assert list(balance_notices(mended, WORDS)) == []


@pytest.mark.parametrize("inline", [False, True], ids=["file", "table"])
def test_site_corrects_a_book_when_it_gives_the_peg_test(tmp_path: Path, *, inline: bool) -> None:
    """The test stands in a file, or in the site file itself."""
    (tmp_path / "peg.csv").write_text(peg_text(), encoding="utf-8")
    numbers = [line.split(",")[2] for line in peg_text().splitlines()[1:]]
    table = "{{ a1 = {}, b1 = {}, a2 = {}, b2 = {}, apart = 60, near = 3 }}".format(*numbers)
    (tmp_path / "book.csv").write_text(book(), encoding="utf-8")
    points = "".join(
        f"{name},{east},{north}\n" for name, east, north in (("BM1", 0, 0), ("TP1", 9, 0), ("TP2", 0, 9), ("BM2", 9, 9))
    )
    (tmp_path / "points.csv").write_text(f"point,east (m),north (m)\n{points}", encoding="utf-8")
    asked = table if inline else '"peg.csv"'
    site = (
        f'[site]\nunits = "m"\ndatum = {{ point = "BM1", level = 100.0 }}\n\n[[readings]]\nfile = "book.csv"\n'
        f'peg-test = {asked}\n\n[[readings]]\nfile = "points.csv"\n'
    )
    (tmp_path / "site.toml").write_text(site, encoding="utf-8")
    survey = load_survey(load_site(tmp_path))
    assert survey.shots is not None
    for row, name in enumerate(survey.shots.point):
        level = next(level for point, level, *_ in RUN if point == name)
        assert survey.shots.level[row] == pytest.approx(level, abs=4e-4)
    assert any("a line of sight that rises 0.0300" in sentence for sentence in survey.sentences)


def test_book_is_corrected_on_the_command_line_when_a_peg_test_is_named(tmp_path: Path) -> None:
    """The corrections and the lengths stand beside the readings for programs, and the words say what was done."""
    (tmp_path / "peg.csv").write_text(peg_text(), encoding="utf-8")
    (tmp_path / "book.csv").write_text(book(), encoding="utf-8")
    done = run("level", tmp_path / "book.csv", "--known", "BM1=100", "--peg-test", tmp_path / "peg.csv", "--json")
    rows = json.loads(done.out)["rows"]
    assert rows[-1]["level"] == pytest.approx(101.955, abs=4e-4)
    assert rows[0]["backsight_length"] == pytest.approx(60.0)
    assert rows[0]["backsight_correction"] == pytest.approx(excess(60.0), abs=2e-6)
    shown = run("level", tmp_path / "book.csv", "--known", "BM1=100", "--peg-test", tmp_path / "peg.csv")
    assert "stand as corrected for the lengths of their sights" in shown.out


BAD = [
    ("point,BS (m),FS (m),sight distance (m)\nA,1.2,,10\nB,1.1,1.3,20\nC,,0.9,15\n", "one length", 3),
    ("point,BS (m),BS distance (m),FS (m)\nA,1.2,-5,\nB,,,1.3\n", "less than nothing", 2),
    ("point,BS (m),BS distance (m),FS (m)\nA,1.2,4000,\nB,,,1.3\n", "a sight of 4000", 2),
    ("point,BS (m),BS distance (m),FS (m)\nA,1.2,40,\nB,,30,1.3\n", "the row has no backsight", 3),
]


@pytest.mark.parametrize(("text", "words", "line"), BAD, ids=["two sights", "negative", "far", "no sight"])
def test_length_is_refused_when_it_cannot_be_one(text: str, words: str, line: int) -> None:
    """Each with its line, and what would do."""
    with pytest.raises(InputError, match=words) as raised:
        read(text)
    assert raised.value.faults[0].source.line == line


def test_correction_is_refused_when_the_book_has_no_lengths(tmp_path: Path) -> None:
    """A peg test alone corrects nothing: the columns that are missing are named."""
    (tmp_path / "peg.csv").write_text(peg_text(), encoding="utf-8")
    (tmp_path / "book.csv").write_text(book(lengths=False), encoding="utf-8")
    done = run("level", tmp_path / "book.csv", "--known", "BM1=100", "--peg-test", tmp_path / "peg.csv")
    assert done.status == 2
    assert "Add columns BS distance and FS distance" in done.err
    assert says_no_traceback(done)


def test_correction_is_refused_when_the_readings_are_no_book(tmp_path: Path) -> None:
    """A rod list has no lengths of sights: on the command line and in a site file."""
    rods = "setup,point,east (m),north (m),rod (m)\nS1,BM1,,,1.3\nS1,A,0,0,1.6\nS1,B,4,0,1.7\nS1,C,0,4,1.8\n"
    (tmp_path / "rods.csv").write_text(rods, encoding="utf-8")
    done = run("level", tmp_path / "rods.csv", "--known", "BM1=100", "--curvature")
    assert (done.status, "Only a level book has lengths of sights" in done.err) == (2, True)
    site = '[site]\nunits = "m"\ndatum = { point = "BM1", level = 100 }\n[[readings]]\nfile = "rods.csv"\n'
    site += "curvature = true\n"
    (tmp_path / "site.toml").write_text(site, encoding="utf-8")
    shown = run("ground", tmp_path)
    assert (shown.status, "Only a level book has lengths of sights" in shown.err) == (2, True)
    assert says_no_traceback(shown)


def test_curve_is_taken_off_on_the_command_line_when_asked_for(tmp_path: Path) -> None:
    """Without a slant the book closes to the rounding once the earth is taken off."""
    (tmp_path / "book.csv").write_text(book(slant=0.0), encoding="utf-8")
    done = run("level", tmp_path / "book.csv", "--known", "BM1=100", "--curvature", "--json")
    assert json.loads(done.out)["rows"][-1]["level"] == pytest.approx(101.955, abs=3e-4)
    assert any("the curve of the earth and the air" in text for text in json.loads(done.out)["notices"])


PEG_FAULTS = [
    ("setup,peg,rod (m)\n1,A,1.4\n", "no column distance"),
    ("setup,peg,rod (m),distance (m)\n1,A,1.4,30\n1,B,1.2,30\n2,A,1.5,3\n", "3 rows, 2 set-ups and 2 pegs"),
    ("setup,peg,rod (m),distance (m)\n1,A,,30\n1,B,1.2,30\n2,A,1.5,3\n2,B,1.3,63\n", "the sight on A has no reading"),
    (
        PEGS.format(a1=1.4, b1=1.2, a2=1.5, b2=1.3).replace("2,A,1.5,3\n2,B,1.3,63", "2,A,1.5,30\n2,B,1.3,30"),
        "nearly the same",
    ),
]


@pytest.mark.parametrize(("text", "words"), PEG_FAULTS, ids=["column", "row", "reading", "alike"])
def test_peg_file_is_refused_when_it_is_none(tmp_path: Path, text: str, words: str) -> None:
    """What is missing is named, and the shape that it should have."""
    path = tmp_path / "peg.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_peg_test(path)


def test_peg_file_gives_the_slant_when_it_is_sound(tmp_path: Path) -> None:
    """Whichever set-up comes first: 3 in 10,000, and B 0.214 m above A."""
    path = tmp_path / "peg.csv"
    head, *rows = peg_text().splitlines()
    for order in (rows, rows[2:] + rows[:2]):
        path.write_text("\n".join([head, *order]) + "\n", encoding="utf-8")
        test = read_peg_test(path)
        assert test.collimation == pytest.approx(SLANT, abs=1e-7)
        assert test.fall == pytest.approx(-0.214, abs=1e-6)
