"""Rod lists as text."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.read import Recognised, read_text
from spadework.readings import RodList
from spadework.units import LengthUnit

SHOTS = """setup,point,east (m),north (m),rod (m),note
S1,BM,,,1.402,step
S1,1,2.10,3.40,1.655,
S1,F1,0.00,0.00,,fence corner
S2,1,2.10,3.40,0.942,again
"""


def rods_of(text: str, units: LengthUnit | None = LengthUnit.METRE) -> tuple[RodList, Recognised]:
    """Read a text that must be a rod list."""
    recognised = read_text(text, units=units)
    assert isinstance(recognised.reading, RodList)
    return recognised.reading, recognised


def test_rows_arrive_when_two_set_ups_are_listed() -> None:
    """Set-ups, names, positions, rods, remarks and lines arrive as written; what has no rod marks a place."""
    rods, recognised = rods_of(SHOTS)
    nan = np.nan
    assert rods.setup == ("S1", "S1", "S1", "S2")
    assert rods.point == ("BM", "1", "F1", "1")
    np.testing.assert_array_equal(rods.east, [nan, 2.1, 0.0, 2.1])
    np.testing.assert_array_equal(rods.rod, [1.402, 1.655, nan, 0.942])
    assert rods.note == ("step", "", "fence corner", "again")
    assert list(rods.line) == [2, 3, 4, 5]
    assert recognised.sentence == "read as rod-list: 3 shots, 1 place without a reading, 2 set-ups, metres"
    assert "line 1" in recognised.reason
    assert "commas" in recognised.reason


def test_units_are_told_apart_when_rods_and_positions_differ() -> None:
    """Positions in metres and rods in feet and inches, each as its heading says."""
    text = "point\teast (m)\tnorth (m)\trod, ft-in\nA\t1.0\t2.0\t3' 6 1/2\"\n"
    rods, recognised = rods_of(text, units=None)
    assert rods.rod[0] == pytest.approx(42.5 * 0.0254, rel=1e-15)
    assert rods.east[0] == 1.0
    assert recognised.sentence.endswith("rods in feet and inches, positions in metres")


def test_heading_wins_when_the_site_has_another_unit() -> None:
    """The unit in the file is used, and it is said that the unit of the site is not."""
    rods, recognised = rods_of("point,east (ft),north (ft),rod (ft)\nA,10,20,4.55\n", units=LengthUnit.METRE)
    assert rods.east[0] == pytest.approx(3.048, rel=1e-15)
    assert any("metres of the site do not apply" in note for note in recognised.notes)


def test_unit_is_taken_over_when_only_one_heading_names_it() -> None:
    """Headings beside one with a unit share it: readings with readings, positions with positions."""
    rods, recognised = rods_of("point,E (ft),N,rod (m)\nA,10,20,1.5\n", units=None)
    assert rods.north[0] == pytest.approx(6.096, rel=1e-15)
    assert rods.rod[0] == 1.5
    north = next(column for column in recognised.columns if column.meaning == "north")
    assert north.unit == "decimal feet"
    assert "beside" in north.why


def test_units_of_cells_are_used_when_nothing_else_says() -> None:
    """Where every cell names its own unit no other is needed."""
    rods, _ = rods_of("point;east;north;rod\nA;10 ft;2 m;1402 mm\n", units=None)
    np.testing.assert_allclose([rods.east[0], rods.north[0], rods.rod[0]], [3.048, 2.0, 1.402], rtol=1e-15)


def test_declared_unit_is_used_when_a_comment_names_it() -> None:
    """A comment ``units: ft`` is the word of the file."""
    rods, _ = rods_of("# units: ft\npoint,east,north,rod\nA,10,20,4.55\n", units=None)
    assert rods.rod[0] == pytest.approx(4.55 * 0.3048, rel=1e-15)


@pytest.mark.parametrize(
    ("units", "message"),
    [("# units: furlongs\n", "'furlongs'"), ("# units: ft\n# units: m\n", "line 1 declares decimal feet")],
    ids=["unknown", "two"],
)
def test_declared_unit_is_refused_when_unclear(units: str, message: str) -> None:
    """A declaration that is no unit, or a second one, is refused."""
    with pytest.raises(InputError, match=message):
        rods_of(f"{units}point,east,north,rod\nA,10,20,4.55\n", units=None)


def test_set_up_is_carried_down_when_cells_below_are_empty() -> None:
    """An empty set-up cell goes on with the one above, and that is said."""
    rods, recognised = rods_of("setup,point,east,north,rod\nS1,A,1,2,1.5\n,B,2,2,1.6\nS2,C,3,2,1.7\n")
    assert rods.setup == ("S1", "S1", "S2")
    assert recognised.notes == ("1 empty set-up cell taken as the set-up above",)


def test_station_is_the_set_up_when_points_have_names() -> None:
    """A column of stations beside point names says where the instrument stood."""
    rods, _ = rods_of("station,point,east,north,rod\nI1,A,1,2,1.5\nI2,B,2,2,1.6\n")
    assert rods.setup == ("I1", "I2")


def test_names_are_made_up_when_there_is_no_column_of_names() -> None:
    """Points without names are called P1, P2, ..., and that is said."""
    rods, recognised = rods_of("across,along,reading\n0,0,1.5\n1,0,1.6\n")
    assert rods.point == ("P1", "P2")
    assert any("no names" in note for note in recognised.notes)


def test_remarks_may_hold_the_separator_when_they_come_last() -> None:
    """Commas within the remarks at the end of a row need no quotation marks; a number there is refused."""
    rods, _ = rods_of("point,east,north,rod,note\nA,1,2,1.5,oak, old, near the gate\n")
    assert rods.note == ("oak, old, near the gate",)
    with pytest.raises(InputError, match="line 2"):
        rods_of("point,east,north,rod,note\nA,1,2,1,432,oak\n")


def test_column_is_named_when_it_is_not_used() -> None:
    """A column that has no meaning here is named, not passed over."""
    _, recognised = rods_of("point,east,north,rod,weather\nA,1,2,1.5,rain\n")
    assert recognised.notes == ("1 column not used: weather",)
    assert recognised.columns[4].meaning == ""
    assert recognised.columns[4].why == "heading not known"


def test_headings_are_skipped_when_they_stand_again_on_each_page() -> None:
    """Headings that repeat are no row, and that is said."""
    rods, recognised = rods_of("point,east,north,rod\nA,1,2,1.5\nPoint,East,North,Rod\nB,1,3,1.5\n")
    assert rods.point == ("A", "B")
    assert recognised.notes == ("headings repeated in line 3",)


def test_title_is_said_when_it_stands_above_the_headings() -> None:
    """A title above the headings is named."""
    rods, recognised = rods_of("Garden of A., 3 May\npoint,east,north,rod\nA,1,2,1.5\n")
    assert list(rods.line) == [3]
    assert recognised.notes == ("read as title: 'Garden of A., 3 May'",)
