"""Lists of levels by stake, with what their comments say."""

from __future__ import annotations

import pytest

from spadework.errors import InputError
from spadework.read.check_list import CheckList, read_check_list
from spadework.read.text import lines_of_text
from spadework.readings import DropGrid, LevelBook, PointList, RodList
from spadework.units import FOOT, LengthUnit

EXPORT = """\
# site: Pear court
# units: m
# bench: BM1 reading 1.352
# stage: formation
# date: 2026-05-09
stake,rod,note
A,2.205,
B,2.190,"soft, wet"
"""


def listed(text: str, units: LengthUnit = LengthUnit.METRE, kind: str | None = None) -> CheckList:
    """What a text is read as."""
    return read_check_list(lines_of_text(text, "levels.csv"), units=units, kind=kind)


def test_list_of_the_field_sheet_is_read() -> None:
    """Names, rods, remarks, and what the comments say, each with its line."""
    found = listed(EXPORT)
    rods = found.recognised.reading
    assert isinstance(rods, RodList)
    assert rods.point == ("A", "B")
    assert rods.rod.tolist() == [2.205, 2.19]
    assert rods.note == ("", "soft, wet")
    assert rods.line.tolist() == [7, 8]
    assert found.bench is not None
    assert found.bench[:2] == ("BM1", 1.352)
    assert found.bench[2].line == 3
    assert {key: said.text for key, said in found.said.items() if key != "bench"} == {
        "site": "Pear court",
        "stage": "formation",
        "date": "2026-05-09",
    }
    assert found.recognised.sentence == "read as a list of rods by stake: 2 readings, metres"


@pytest.mark.parametrize(
    ("units", "bench", "rod", "expected"),
    [
        ("ft", "4.44", "7.23", (4.44 * FOOT, 7.23 * FOOT)),
        ("ft-in", "4' 5 1/4\"", "7' 2 3/4\"", (4.4375 * FOOT, (7 + 2.75 / 12) * FOOT)),
        ("mm", "1352", "2205", (1.352, 2.205)),
    ],
)
def test_bench_reading_has_the_unit_of_the_file(
    units: str, bench: str, rod: str, expected: tuple[float, float]
) -> None:
    """The reading in the comment is in the unit that the file declares, like the rods."""
    found = listed(f"# units: {units}\n# bench: BM1 reading {bench}\nstake\trod\nA\t{rod}\n")
    assert found.bench is not None
    rods = found.recognised.reading
    assert isinstance(rods, RodList)
    assert (found.bench[1], float(rods.rod[0])) == pytest.approx(expected, abs=1e-12)


def test_stakes_without_a_reading_are_named() -> None:
    """A stake whose reading was left blank is left out, and said; nothing is dropped in silence."""
    found = listed("stake,rod,note\nA,2.205,\nB,,later\nC,-,\n")
    assert found.recognised.reading.point == ("A",)  # type: ignore[union-attr]
    assert "without a reading, and left out: B, C" in found.recognised.notes


def test_drops_by_stake_are_known_as_drops() -> None:
    """A column of drops is read as how far down from a line."""
    found = listed("stake,drop (mm)\nA,500\n")
    assert found.drops
    assert found.recognised.reading.rod.tolist() == [0.5]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("point,east,north,rod\nBM1,,,1.2\n1,2.0,3.0,1.5\n", RodList),
        ("stake,east,north,rod\nA,2.0,3.0,1.5\n", RodList),
        ("stake,east,north,level\nA,2.0,3.0,99.5\n", PointList),
        ("stake,BS,IS,FS\nBM1,1.2,,\nA,,1.5,\nBM1,,,1.2\n", LevelBook),
        ("drop\t0\t1\n0\t0.5\t0.6\n1\t0.5\t0.6\n", DropGrid),
    ],
)
def test_other_kinds_are_read_as_elsewhere(text: str, kind: type) -> None:
    """Lists with positions, level books and grids are read by their own readers; a heading stake names points."""
    assert isinstance(listed(text).recognised.reading, kind)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("# bench: BM1\nstake,rod\nA,1.2\n", "# bench: BM1 reading 1.352"),
        ("# bench: BM1 reading one\nstake,rod\nA,1.2\n", "line 1"),
        ("# stage: formation\n# stage: finish\nstake,rod\nA,1.2\n", "stage is 'finish' here and 'formation' in line 1"),
        ("stake,rod\nA,\n", "no stake has a reading"),
        ("stake,rod\nA,22.05\n", "22.05"),
        ("stake,rod\nA,2.2O5\n", "Did you mean 2.205"),
        ("stake,depth\nA,1.2\n", "none of the headings is known"),
        ("A 1.2\nB 1.3\n", "headings"),
    ],
)
def test_list_is_refused_when_wrong(text: str, said: str) -> None:
    """What is wrong is named with its line and what to do."""
    with pytest.raises(InputError) as caught:
        listed(text)
    assert said in str(caught.value)


def test_faults_of_comment_and_rows_are_told_together() -> None:
    """A wrong comment and a wrong rod are two faults of one error."""
    with pytest.raises(InputError) as caught:
        listed("# bench: BM1\nstake,rod\nA,22.05\n")
    assert len(caught.value.faults) == 2


@pytest.mark.parametrize("reading", ["1,352", "1.352"])
def test_bench_reading_may_have_the_decimal_mark_of_the_rows(reading: str) -> None:
    """A comma is a decimal comma where the rows have them; the point that the sheet prints stays a point."""
    found = listed(f"# units: m\n# bench: BM1 reading {reading}\nstake;rod;note\nA;2,196;\nB;2,201;\n")
    assert found.bench is not None
    assert found.bench[:2] == ("BM1", 1.352)


@pytest.mark.parametrize("note", ["", "0,5"])
def test_comma_of_the_bench_reading_is_refused_when_the_rows_have_points(note: str) -> None:
    """It could set thousands apart, whatever a remark beside a rod is written with."""
    with pytest.raises(InputError, match=r"line 2: .1,352. has a comma in its number"):
        listed(f"# units: m\n# bench: BM1 reading 1,352\nstake;rod;note\nA;2.196;{note}\nB;2.201;\n")
