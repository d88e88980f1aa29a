"""What cannot be placed, and what is doubtful about what can: one fault or notice for each."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from spadework.errors import InputError, MisclosureError
from spadework.positions import (
    KnownPlace,
    StringLine,
    fit_positions,
    intersect_bearings,
    known_places,
    reduce_radial,
    reduce_slope_walk,
    reduce_string_lines,
    reduce_ties,
)
from spadework.readings_positions import RadialShots, SlopeWalk, StringDrops, TapeTies
from spadework.shots import Shots

AT = {"a": KnownPlace(0.0, 0.0, 100.0), "b": KnownPlace(10.0, 0.0), "c": KnownPlace(5.0, 0.0)}
LINES = np.arange(1, 9)


def ties(*rows: tuple[str, str, float, str]) -> TapeTies:
    """Ties by point, reference, distance and side."""
    point, reference, distance, side = zip(*rows, strict=True)
    count = len(rows)
    return TapeTies(point, ("",) * count, LINES[:count], "t.csv", reference, np.array(distance), side)


REFUSED = [
    ([("P", "A", 3.0, "left"), ("P", "B", 4.0, "left")], "3.000 m are missing"),
    ([("P", "A", 30.0, "left"), ("P", "B", 4.0, "left")], "One arc lies wholly inside the other"),
    ([("P", "A", 6.0, ""), ("P", "B", 7.0, "")], r"could be at east .* \(right\) or at east .* \(left\)"),
    ([("P", "A", 6.0, "left")], "has one distance only"),
    ([("P", "A", 6.0, "left"), ("P", "A", 6.1, "left")], "Two ties start from two places"),
]


@pytest.mark.parametrize(("rows", "message"), REFUSED, ids=[row[1][:20] for row in REFUSED])
def test_tie_is_refused_when_it_fixes_no_place(rows: list[tuple[str, str, float, str]], message: str) -> None:
    """Each way in which distances fail to fix a place has its own message, with the line."""
    with pytest.raises(InputError, match=message) as raised:
        reduce_ties(ties(*rows), AT)
    assert raised.value.faults[0].source.line == 1


def test_tie_is_refused_in_feet_when_it_was_taped_in_feet() -> None:
    """Ties to the eighth of an inch are spoken of in feet and inches: 3 ft and 4 ft do not span 10 m, 32' 9 3/4"."""
    inch = 0.0254
    taped = replace(ties(("P", "A", 36 * inch, "left"), ("P", "B", 48 * inch, "left")), resolution=inch / 8)
    with pytest.raises(InputError) as raised:
        reduce_ties(taped, AT)
    (fault,) = raised.value.faults
    assert fault.what == "P: distances of 3' 0\" and 4' 0\" from A and B, which are 32' 9 3/4\" apart"
    assert fault.rule == "the two arcs do not reach each other: 25' 9 3/4\" are missing"


def test_all_points_are_told_when_several_fix_no_place() -> None:
    """Two bad points are two faults."""
    with pytest.raises(InputError) as raised:
        reduce_ties(ties(("P", "A", 3.0, ""), ("P", "B", 4.0, ""), ("Q", "A", 1.0, "")), AT)
    assert len(raised.value.faults) == 2


def test_points_are_tied_to_tied_points_when_a_file_goes_on() -> None:
    """P hangs on A and B, Q on P, A and B, and its rows stand before those of P; a square of 10 m."""
    shots, _ = reduce_ties(
        ties(
            ("Q", "P", 10.0, ""),
            ("Q", "A", 10.0, ""),
            ("Q", "B", math.sqrt(200.0), ""),
            ("P", "A", math.sqrt(200.0), "left"),
            ("P", "B", 10.0, "left"),
        ),
        AT,
    )
    assert shots.point == ("Q", "P")
    assert (*shots.east, *shots.north) == pytest.approx((0.0, 10.0, 10.0, 10.0))


def test_points_are_told_when_they_hang_on_each_other_only() -> None:
    """Two points tied to one known point and to each other are placed by nothing."""
    with pytest.raises(InputError, match="P is tied to A, Q, and too few of them are placed") as raised:
        reduce_ties(ties(("P", "A", 3.0, ""), ("P", "Q", 4.0, ""), ("Q", "A", 5.0, "")), AT)
    assert len(raised.value.faults) == 2


def test_side_is_asked_when_all_references_stand_in_a_line() -> None:
    """Three distances from points of one line fit on both sides of it; the side that is written decides."""
    spot = (4.0, 3.0)
    taped = [(name, math.dist(spot, (east, 0.0))) for name, east in (("A", 0.0), ("B", 10.0), ("C", 5.0))]
    with pytest.raises(InputError, match=r"could be at .* \(right\) or at .* \(left\)"):
        reduce_ties(ties(*(("P", name, away, "") for name, away in taped)), AT)
    for hand, north in (("left", 3.0), ("right", -3.0)):
        shots, _ = reduce_ties(ties(*(("P", name, away, hand) for name, away in taped)), AT)
        assert (float(shots.east[0]), float(shots.north[0])) == pytest.approx((4.0, north))


def test_side_is_that_of_the_file_when_rows_have_none() -> None:
    """Left of the line from A to B is north of it here."""
    shots, _ = reduce_ties(ties(("P", "A", 5.0, ""), ("P", "B", math.sqrt(65), "")), AT, side="left")
    assert (shots.east[0], shots.north[0]) == pytest.approx((3.0, 4.0))
    assert np.isnan(shots.level).all()


def test_crossing_is_doubted_when_it_is_flat() -> None:
    """A place nearly on the line of its two references is told to be unsure."""
    _, notices = reduce_ties(ties(("P", "A", 15.0, "left"), ("P", "B", 5.05, "left")), AT)
    assert any("cross at only" in notice for notice in notices)


def test_no_place_when_three_references_stand_in_a_line_with_it() -> None:
    """Three tapes along one line say nothing of how far beside it a point lies."""
    with pytest.raises(InputError, match="on one line with the place"):
        reduce_ties(ties(("P", "A", 3.0, ""), ("P", "C", 2.0, ""), ("P", "B", 7.0, "")), AT)


BEARINGS = [(45.0, 45.0, "are parallel"), (45.0, 60.0, "behind the"), (225.0, 300.0, "behind the first")]


@pytest.mark.parametrize(("first", "second", "message"), BEARINGS, ids=["parallel", "behind", "behind first"])
def test_lines_are_refused_when_they_do_not_meet_ahead(first: float, second: float, message: str) -> None:
    """Parallel lines, and lines that meet behind an instrument."""
    with pytest.raises(InputError, match=message):
        intersect_bearings((0.0, 0.0), first, (10.0, 0.0), second)


def test_fit_is_refused_when_points_are_too_few_or_all_in_one_place() -> None:
    """A turn needs two points that stand apart."""
    with pytest.raises(InputError, match="1 common point to fit on"):
        fit_positions([[0, 0]], [[1, 1]])
    with pytest.raises(InputError, match="all lie in one place"):
        fit_positions([[0, 0], [0, 0]], [[1, 1], [2, 2]])
    shift = fit_positions([[0, 0]], [[1, 1]], turn=False)
    assert (shift.east, shift.north, shift.turn) == (1.0, 1.0, 0.0)
    assert math.isnan(shift.sd)


def test_drops_are_refused_when_their_string_ends_before_them() -> None:
    """A drop past the end, an unknown string and a string without length are three faults."""
    drops = StringDrops(
        ("1", "2", "3"), ("",) * 3, LINES[:3], "d.csv", ("A", "Z", "B"), np.array([12.0, 1.0, 1.0]), np.full(3, 0.5)
    )
    strings = {"a": StringLine((0, 0), (10, 0), 100, 100), "b": StringLine((0, 0), (0, 0), 100, 100)}
    with pytest.raises(InputError) as raised:
        reduce_string_lines(drops, strings)
    told = [str(fault) for fault in raised.value.faults]
    assert "which is 10.00 m long" in told[0]
    assert "where the string 'Z' runs" in told[1]
    assert "lie in one place" in told[2]


def walk(*rows: tuple[str, str, float, float, float]) -> SlopeWalk:
    """Legs by start, end, distance, slope and bearing."""
    start, end, distance, slope, bearing = zip(*rows, strict=True)
    count = len(rows)
    numbers = (np.array(column, dtype=float) for column in (distance, slope, bearing))
    return SlopeWalk(end, ("",) * count, LINES[:count], "w.csv", start, *numbers)


def test_walk_is_taken_backwards_when_only_its_end_is_known() -> None:
    """A leg that ends on a known point places its start."""
    shots, _ = reduce_slope_walk(walk(("P", "A", 10.0, 30.0, 0.0)), AT)
    row = shots.rows("P")[0]
    place = shots.east[row], shots.north[row], shots.level[row]
    assert place == pytest.approx((0.0, -10 * math.cos(math.radians(30)), 95.0))


def test_walk_says_how_it_closes_when_it_comes_to_a_known_point() -> None:
    """0.5 m off in 9.5 m walked."""
    _, notices = reduce_slope_walk(walk(("A", "B", 9.5, 0.0, 90.0)), AT)
    assert notices == (
        (
            "The walk comes to B 0.500 m from where it is known to be, 1 in 19 of 10 m walked. "
            "It is shared out by the length walked (compass rule)."
        ),
    )


def test_misclosure_is_shared_by_length_when_a_walk_closes() -> None:
    """Legs of 4, 4 and 2 m east fall 0.5 m short and 0.1 m high: 4, 8 and 10 tenths of that are taken off."""
    at = {"a": KnownPlace(0.0, 0.0, 100.0), "b": KnownPlace(10.5, 0.0, 99.9)}
    legs = walk(
        ("A", "P", 4.0, 0.0, 90.0), ("P", "Q", 4.0, 0.0, 90.0), ("Q", "B", 2.0, 0.0, 90.0), ("P", "X", 3.0, 0.0, 0.0)
    )
    shots, notices = reduce_slope_walk(legs, at)
    east = {name: float(value) for name, value in zip(shots.point, shots.east, strict=True)}
    level = {name: float(value) for name, value in zip(shots.point, shots.level, strict=True)}
    assert (east["P"], east["Q"], east["X"], east["B"]) == pytest.approx((4.2, 8.4, 4.2, 10.5))
    assert (level["P"], level["Q"], level["X"], level["B"]) == pytest.approx((99.96, 99.92, 99.96, 99.9))
    assert "0.500 m from where it is known to be, 1 in 20 of 10 m walked, and +0.100 m in level" in notices[0]
    bare, said = reduce_slope_walk(legs, at, adjust="none")
    assert float(bare.east[bare.rows("Q")[0]]) == pytest.approx(8.0)
    assert said[0].endswith("Nothing of this is shared out.")


def test_loop_closes_on_its_own_point_when_nothing_else_is_known() -> None:
    """A loop that comes back 0.4 m east of where it left a point of its own is closed there, and its stem stays."""
    legs = walk(
        ("A", "P", 5.0, 0.0, 0.0),
        ("P", "Q", 4.0, 0.0, 90.0),
        ("Q", "R", 4.0, 0.0, 0.0),
        ("R", "S", 3.6, 0.0, 270.0),
        ("S", "P", 4.0, 0.0, 180.0),
    )
    shots, notices = reduce_slope_walk(legs, AT)
    east = {name: float(value) for name, value in zip(shots.point, shots.east, strict=True)}
    lengths = np.cumsum([4.0, 4.0, 3.6, 4.0])
    shares = 0.4 * lengths / lengths[-1]
    assert east["P"] == pytest.approx(0.0)
    assert (east["Q"], east["R"], east["S"]) == pytest.approx((4.0 - shares[0], 4.0 - shares[1], 0.4 - shares[2]))
    assert "The walk comes to P 0.400 m" in notices[0]


def test_walk_is_stopped_when_it_closes_worse_than_its_legs_allow() -> None:
    """Half a metre after one leg of 50 mm is more than three deviations; with leave the words stay."""
    with pytest.raises(MisclosureError, match=r"more than 1 leg of 50 mm each allow \(0\.150 m\)"):
        reduce_slope_walk(walk(("A", "B", 9.5, 0.0, 90.0)), AT, leg_sd=0.05)
    _, notices = reduce_slope_walk(walk(("A", "B", 9.5, 0.0, 90.0)), AT, leg_sd=0.05, allow_misclosure=True)
    assert "look for a leg with a wrong length, slope or bearing (line 1 and before)" in notices[0]


def test_walk_is_refused_when_a_leg_hangs_on_nothing() -> None:
    """Legs that no known point is reached by, and legs without a bearing."""
    with pytest.raises(InputError, match="hangs on no known point"):
        reduce_slope_walk(walk(("X", "Y", 9.5, 0.0, 90.0)), AT)
    with pytest.raises(InputError, match="has no bearing"):
        reduce_slope_walk(walk(("A", "Y", 9.5, 0.0, math.nan)), AT)


def radial(*rows: tuple[str, str, float, float, float, float, float]) -> RadialShots:
    """Shots by station, point, direction, distance, vertical angle, rod and height of instrument."""
    station, point, *numbers = zip(*rows, strict=True)
    count = len(rows)
    direction, distance, vertical, rod, height = (np.array(column, dtype=float) for column in numbers)
    nothing = np.full(count, np.nan)
    return RadialShots(
        point, ("",) * count, LINES[:count], "r.csv", station, direction, distance, vertical, nothing, rod, height
    )


NONE = math.nan


def test_heights_follow_from_a_rod_when_the_sight_is_level() -> None:
    """The axis follows from a rod on A, whose level is known: 100 + 1.5; the new point is 101.5 - 1.2."""
    at = {**AT, "s": KnownPlace(0.0, -5.0)}
    shots, _ = reduce_radial(radial(("S", "A", 0.0, 5.0, NONE, 1.5, NONE), ("S", "P", 90.0, 7.0, NONE, 1.2, NONE)), at)
    row = shots.rows("P")[0]
    assert (shots.east[row], shots.north[row], shots.level[row]) == pytest.approx((7.0, -5.0, 100.3))


def test_sight_is_taken_as_parallel_when_no_height_is_written() -> None:
    """Vertical angles alone are taken as aimed as high as the instrument stood, and that is said."""
    at = {**AT, "a": KnownPlace(0.0, 0.0, 100.0)}
    shots, notices = reduce_radial(radial(("A", "P", 0.0, 10.0, 30.0, NONE, NONE)), at, zeros={"a": 0.0})
    row = shots.rows("P")[0]
    assert shots.level[row] == pytest.approx(105.0)
    assert any("aimed as high over its point" in notice for notice in notices)


def test_stations_are_told_when_two_heights_are_written_for_one() -> None:
    """One set-up has one height of instrument."""
    rows = (("A", "P", 0.0, 10.0, 1.0, 1.5, 1.5), ("A", "Q", 0.0, 10.0, 1.0, 1.5, 1.6))
    with pytest.raises(InputError, match=r"two heights of instrument, 1\.500 m and 1\.600 m"):
        reduce_radial(radial(*rows), AT, zeros={"a": 0.0})


def test_second_station_is_refused_when_nothing_sighted_it() -> None:
    """Only stations that a chain of sights reaches are placed; the others are told all at once."""
    rows = (("A", "P", 0.0, 10.0, NONE, NONE, NONE), ("X", "Q", 0.0, 10.0, NONE, NONE, NONE))
    with pytest.raises(InputError, match="where the station X is"):
        reduce_radial(radial(*rows), AT, zeros={"a": 0.0})


def test_station_is_placed_when_it_sees_two_known_points() -> None:
    """A free station at (3, 4), its circle turned by 30 degrees, sees A and B, and places P."""
    station, turn = (3.0, 4.0), 30.0
    rows = []
    for name, east, north in (("A", 0.0, 0.0), ("B", 10.0, 0.0), ("P", 7.0, 9.0)):
        de, dn = east - station[0], north - station[1]
        rows.append(
            ("S", name, (math.degrees(math.atan2(de, dn)) - turn) % 360.0, math.hypot(de, dn), NONE, NONE, NONE)
        )
    shots, notices = reduce_radial(radial(*rows), AT)
    row = shots.rows("P")[0]
    assert (shots.east[row], shots.north[row]) == pytest.approx((7.0, 9.0))
    assert any("Station S is placed by its own sights on A, B" in notice for notice in notices)


def test_first_place_and_first_level_count_when_names_repeat() -> None:
    """A point placed in one file and levelled in another is known with both; given levels come first."""
    one = Shots(
        ("A", "B"), np.array([1.0, NONE]), np.array([2.0, NONE]), np.array([NONE, 7.0]), ("", ""), LINES[:2], ("f", "f")
    )
    two = Shots(("a",), np.array([9.0]), np.array([9.0]), np.array([5.0]), ("",), LINES[:1], ("g",))
    found = known_places([one, two], {"b": 6.0})
    assert found["a"] == KnownPlace(1.0, 2.0, 5.0)
    assert found["b"].level == 6.0
    assert not found["b"].placed
